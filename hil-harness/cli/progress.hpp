/// Progress of a long job: a bar with the time left on a terminal, plain lines elsewhere, nothing when quiet.
#pragma once

#include <chrono>
#include <string>

namespace duskline::harness {

/// When a plain line is due: after each quarter of the job, and whenever none was printed for a while.
class PlainLines {
 public:
  /// `gone` seconds since the start.
  bool due(double share, double gone);

 private:
  double next_share_ = 0.25, last_ = 0.0;
};

class Progress {
 public:
  Progress(std::string what, bool quiet);
  ~Progress() { clear(); }
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;

  /// `share` of the job is done, 0 to 1.
  void show(double share);
  /// Takes the bar off the terminal.
  void clear();

 private:
  void show_bar(double share, double gone);

  std::string what_;
  bool quiet_, terminal_;
  std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
  double shown_ = -1.0;  ///< s, when the bar was last drawn; negative: there is none
  PlainLines lines_;
};

/// `47 s`, `3 min 05 s`, `2 h 07 min`.
std::string duration_words(double seconds);

}  // namespace duskline::harness
