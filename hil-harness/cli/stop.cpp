#include "hil-harness/cli/stop.hpp"

#include <csignal>
#include <utility>

namespace duskline::harness {
namespace {

std::atomic<bool> wanted{false};
static_assert(std::atomic<bool>::is_always_lock_free);  // or a signal handler may not touch it

void on_signal(int signal) {
  wanted.store(true, std::memory_order_relaxed);
  if (signal == SIGINT) std::signal(SIGINT, SIG_DFL);
}

}  // namespace

void listen_for_stop() {
  static bool listens = false;
  if (std::exchange(listens, true)) return;
  for (const int signal : {SIGINT, SIGTERM, SIGHUP})
    if (std::signal(signal, on_signal) == SIG_IGN) std::signal(signal, SIG_IGN);
  std::signal(SIGXFSZ, SIG_IGN);
}

const std::atomic<bool>& stop_wanted() {
  return wanted;
}

}  // namespace duskline::harness
