/// Holds a run to the clock: tick n begins at its instant, never before.
///
/// What it is   absolute deadlines on a monotonic clock, so that no error adds up; a measure of how well they are kept
/// Equation     tick n is due at origin + n * period / speed; the origin is the instant of the first answer, so that waiting
///              for a controller that has yet to connect is no delay of the run
/// Symbols      period [s of plant], speed [s of plant in a second of the clock]
/// Validity     a tick that is late begins at once and the next ones catch up; one that is further behind than the limit
///              ends the run. Waiting changes when things happen and nothing of what happens
/// Source       POSIX.1-2017, clock_nanosleep with TIMER_ABSTIME on CLOCK_MONOTONIC
/// Left out     a clock that is shared with the other side of a link
#pragma once

#include <atomic>
#include <cstdint>

#include "hil-harness/loop/timing.hpp"

namespace duskline::harness {

/// Nanoseconds that only go forward.
class PaceClock {
 public:
  virtual ~PaceClock() = default;
  virtual std::int64_t now() = 0;
  /// May return early.
  virtual void sleep_until(std::int64_t instant) = 0;
};
PaceClock& monotonic_clock();

inline constexpr double kSpeedMin = 1.0, kSpeedMax = 600.0;
inline constexpr double kBehindMax = 5.0;  ///< s of the clock

class Pacer {
 public:
  Pacer(double period, double speed, PaceClock& clock = monotonic_clock());

  enum class Begin { due, stopped, behind };
  /// Waits for the instant of the next tick; the first one is due at once.
  Begin begin_tick(const std::atomic<bool>* stop = nullptr);
  /// Around the question to the controller.
  void asked() { asked_ = clock_.now(); }
  void answered();

  Timing& timing() { return timing_; }

 private:
  std::int64_t due() const;

  PaceClock& clock_;
  double length_{};  ///< ns of the clock in a tick
  std::int64_t origin_{}, began_{}, asked_{}, tick_{};
  bool going_ = false, answered_ = false;
  Timing timing_;
};

/// As long as it lives this thread has the first call on a processor and its memory stays in place, as far as the
/// operating system permits; says so in `timing`.
class RealTimeThread {
 public:
  explicit RealTimeThread(Timing& timing);
  ~RealTimeThread();
  RealTimeThread(const RealTimeThread&) = delete;
  RealTimeThread& operator=(const RealTimeThread&) = delete;

 private:
  bool first_ = false, locked_ = false;
};

}  // namespace duskline::harness
