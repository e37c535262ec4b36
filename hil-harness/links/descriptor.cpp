#include "hil-harness/links/descriptor.hpp"

#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cerrno>

namespace duskline::harness {
namespace {

/// Waits until the descriptor is ready for `what`; false: not within the time, or an error that read and write show.
bool wait_for(int descriptor, short what, double seconds) {
  pollfd wait{descriptor, what, 0};
  int ready = 0;
  do ready = poll(&wait, 1, static_cast<int>(seconds * 1e3));
  while (ready < 0 && errno == EINTR);
  return ready > 0;
}

}  // namespace

bool write_all(int descriptor, std::span<const std::uint8_t> bytes, double seconds) {
  while (!bytes.empty()) {
    ssize_t sent = send(descriptor, bytes.data(), bytes.size(), MSG_NOSIGNAL);
    if (sent < 0 && errno == ENOTSOCK) sent = ::write(descriptor, bytes.data(), bytes.size());
    if (sent > 0) {
      bytes = bytes.subspan(static_cast<std::size_t>(sent));
      continue;
    }
    if (sent < 0 && errno == EINTR) continue;
    if (sent < 0 && errno != EAGAIN && errno != EWOULDBLOCK) return false;
    if (!wait_for(descriptor, POLLOUT, seconds)) return true;
  }
  return true;
}

long read_some(int descriptor, std::span<std::uint8_t> bytes, double seconds) {
  if (!wait_for(descriptor, POLLIN, seconds)) return 0;
  ssize_t got = 0;
  do got = ::read(descriptor, bytes.data(), bytes.size());
  while (got < 0 && errno == EINTR);
  return got > 0 ? got : -1;
}

}  // namespace duskline::harness
