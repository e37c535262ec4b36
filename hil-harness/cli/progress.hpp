/// Progress of a long job: a bar with the time left on a terminal, plain lines elsewhere, nothing when quiet.
#pragma once

#include <fmt/format.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <string>

namespace duskline::harness {

class Progress {
 public:
  Progress(std::string what, bool quiet)
      : what_(std::move(what)), quiet_(quiet), terminal_(isatty(STDERR_FILENO) == 1) {}
  ~Progress() { clear(); }

  void show(double share) {
    if (quiet_) return;
    const double gone = std::chrono::duration<double>(std::chrono::steady_clock::now() - start_).count();
    if (!terminal_) {
      if (share < next_line_) return;
      fmt::print(stderr, "{}: {:3.0f} %\n", what_, share * 100.0);
      next_line_ += 0.25;
      return;
    }
    if (gone - shown_ < 0.1) return;
    shown_ = gone;
    const int full = static_cast<int>(share * 30.0);
    fmt::print(stderr, "\r{} [{}{}] {:3.0f} %, {:.0f} s left ", what_,
               std::string(static_cast<std::size_t>(full), '='),
               std::string(static_cast<std::size_t>(30 - full), ' '), share * 100.0,
               share > 0.0 ? gone * (1.0 - share) / share : 0.0);
    std::fflush(stderr);
  }
  void clear() {
    if (terminal_ && shown_ > 0.0) fmt::print(stderr, "\r\033[K");
    shown_ = 0.0;
  }

 private:
  std::string what_;
  bool quiet_, terminal_;
  std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
  double shown_ = 0.0, next_line_ = 0.25;
};

}  // namespace duskline::harness
