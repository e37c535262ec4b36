#include "hil-harness/cli/progress.hpp"

#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <string_view>

#include "hil-harness/cli/output.hpp"

namespace duskline::harness {
namespace {

constexpr double kSilence = 15.0;  // s

bool is_terminal() {
  const char* term = std::getenv("TERM");
  return isatty(STDERR_FILENO) == 1 && (term == nullptr || std::string_view{term} != "dumb");
}

/// Places that a bar may take beside `taken` places of text.
std::size_t bar_width(std::size_t taken) {
  winsize size{};
  const bool known = ioctl(STDERR_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0;
  const std::size_t columns = known ? size.ws_col : 80;
  return columns > taken + 1 ? std::min<std::size_t>(columns - taken - 1, 40) : 0;
}

}  // namespace

std::string duration_words(double seconds) {
  const auto s = static_cast<long long>(std::ceil(std::clamp(seconds, 0.0, 1e12)));
  if (s < 60) return fmt::format("{} s", s);
  if (s < 3600) return fmt::format("{} min {:02} s", s / 60, s % 60);
  return fmt::format("{} h {:02} min", s / 3600, s / 60 % 60);
}

bool PlainLines::due(double share, double gone) {
  if (share < next_share_ && gone - last_ < kSilence) return false;
  next_share_ = std::max(next_share_, 0.25 * (std::floor(share * 4.0) + 1.0));
  last_ = gone;
  return true;
}

Progress::Progress(std::string what, bool quiet)
    : what_(std::move(what)), quiet_(quiet), terminal_(is_terminal()) {}

void Progress::show(double share) {
  if (quiet_ || !(share > 0.0)) return;
  const double gone = std::chrono::duration<double>(std::chrono::steady_clock::now() - start_).count();
  if (terminal_) {
    if (shown_ < 0.0 || gone - shown_ >= 0.1) show_bar(share, gone);
  } else if (lines_.due(share, gone)) {
    print_error(fmt::format("{}: {:.0f} %, {} left\n", what_, share * 100.0,
                            duration_words(gone * (1.0 - share) / share)));
  }
}

void Progress::show_bar(double share, double gone) {
  shown_ = gone;
  const std::string text =
      fmt::format(" {:3.0f} %, {} left", share * 100.0, duration_words(gone * (1.0 - share) / share));
  const std::size_t width = bar_width(what_.size() + text.size() + 3);
  const auto full = static_cast<std::size_t>(std::min(share, 1.0) * static_cast<double>(width));
  print_error(fmt::format("\r{} [{}{}]{}\033[K", what_, std::string(full, '='),
                          std::string(width - full, ' '), text));
}

void Progress::clear() {
  if (terminal_ && shown_ >= 0.0) print_error("\r\033[K");
  shown_ = -1.0;
}

}  // namespace duskline::harness
