#include "hil-harness/cli/output.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <cstring>

#include "hil-harness/cli/verbs.hpp"

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

bool has_colour(Stream stream) {
  const char *no = std::getenv("NO_COLOR"), *term = std::getenv("TERM");
  if (no != nullptr && *no != '\0') return false;
  if (term == nullptr || std::string_view{term} == "dumb") return false;
  return isatty(stream == Stream::out ? STDOUT_FILENO : STDERR_FILENO) == 1;
}

std::string with_coloured_verdicts(std::string text) {
  if (!has_colour(Stream::out)) return text;
  struct Colour {
    std::string_view word, code;
  };
  constexpr Colour kColours[] = {
      {"satisfied", "32"}, {"violated", "31;1"}, {"undecided", "33"}, {"refused", "31;1"}};
  std::string out;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('\n', at), text.size() - 1) + 1;
    std::string line = text.substr(at, end - at);
    const std::size_t first = line.find_first_not_of(' ');
    for (const auto& [word, code] : kColours)
      if (first != std::string::npos && std::string_view{line}.substr(first).starts_with(word)) {
        line.insert(first + word.size(), "\033[0m");
        line.insert(first, fmt::format("\033[{}m", code));
        break;
      }
    out += line;
    at = end;
  }
  return out;
}

int print_text(const std::string& text) {
  print(text);
  return kSuccess;
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
