#include "hil-harness/cli/output.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstring>

#include "hil-harness/cli/exit_codes.hpp"

namespace duskline::harness {
namespace {

int output_error = 0;  // errno of the first failure on standard output

}  // namespace

void prepare_output() {
  for (const int file : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO})
    if (fcntl(file, F_GETFD) < 0 && open("/dev/null", file == STDIN_FILENO ? O_RDONLY : O_WRONLY) < 0) return;
  std::signal(SIGPIPE, SIG_IGN);
}

void print(std::string_view text) {
  if (output_error != 0) return;
  errno = 0;
  if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size() || std::fflush(stdout) != 0)
    output_error = errno != 0 ? errno : EIO;
}

void print_error(std::string_view text) {
  if (std::fwrite(text.data(), 1, text.size(), stderr) == text.size()) std::fflush(stderr);
}

int with_output_checked(int code) {
  if (output_error == 0 || output_error == EPIPE) return code;
  print_error(fmt::format("standard output: cannot be written: {}\n", std::strerror(output_error)));
  return code == kSuccess ? kNotCompleted : code;
}

}  // namespace duskline::harness
