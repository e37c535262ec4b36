#include "hil-harness/loop/pacer.hpp"

#include <fmt/format.h>
#include <sched.h>
#include <sys/mman.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <ctime>
#include <utility>

namespace duskline::harness {
namespace {

constexpr double kNano = 1e-9;                   // s
constexpr std::int64_t kLookForStop = 50000000;  // ns between two looks whether the run is to end
constexpr int kPriority = 50;                    // of 1 to 99: below the kernel's own threads

class MonotonicClock final : public PaceClock {
 public:
  std::int64_t now() override {
    timespec t{};
    clock_gettime(CLOCK_MONOTONIC, &t);
    return std::int64_t{t.tv_sec} * 1000000000 + t.tv_nsec;
  }
  void sleep_until(std::int64_t instant) override {
    const timespec t{instant / 1000000000, instant % 1000000000};
    clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &t, nullptr);
  }
};

double seconds(std::int64_t nanoseconds) {
  return static_cast<double>(nanoseconds) * kNano;
}

}  // namespace

PaceClock& monotonic_clock() {
  static MonotonicClock clock;
  return clock;
}

Pacer::Pacer(double period, double speed, PaceClock& clock) : clock_(clock), length_(period / speed / kNano) {
  timing_.period = period;
  timing_.speed = speed;
}

std::int64_t Pacer::due() const {
  return origin_ + std::llround(static_cast<double>(tick_) * length_);
}

Pacer::Begin Pacer::begin_tick(const std::atomic<bool>* stop) {
  std::int64_t now = clock_.now();
  if (!going_) {
    origin_ = now;
    tick_ = 0;
  } else {
    if (tick_ > 0) timing_.work.add(seconds(now - began_));
    ++tick_;
    timing_.overruns += now > due() ? 1 : 0;
  }
  for (; now < due(); now = clock_.now()) {
    if (stop != nullptr && stop->load(std::memory_order_relaxed)) return Begin::stopped;
    clock_.sleep_until(std::min(due(), now + kLookForStop));
  }
  const double late = seconds(now - due());
  if (going_) {
    timing_.begin.add(late);
    timing_.step.add(std::abs(static_cast<double>(now - began_) - length_) * kNano);
  }
  timing_.behind = std::max(timing_.behind, late);
  began_ = now;
  going_ = true;
  if (late > kBehindMax) return Begin::behind;
  ++timing_.ticks;
  return Begin::due;
}

void Pacer::answered() {
  const std::int64_t now = clock_.now(), took = now - asked_;
  if (tick_ == 0 && !std::exchange(answered_, true)) {
    origin_ = began_ = now;
    return;
  }
  timing_.answer.add(seconds(took));
  timing_.late += static_cast<double>(took) > length_ ? 1 : 0;
}

RealTimeThread::RealTimeThread(Timing& timing) {
  sched_param param{};
  param.sched_priority = kPriority;
  first_ = sched_setscheduler(0, SCHED_FIFO | SCHED_RESET_ON_FORK, &param) == 0;
  timing.scheduling = first_ ? fmt::format("SCHED_FIFO, priority {}", kPriority)
                             : fmt::format("ordinary ({})", std::strerror(errno));
  locked_ = mlockall(MCL_CURRENT | MCL_FUTURE) == 0;
  timing.memory = locked_ ? "locked" : fmt::format("not locked ({})", std::strerror(errno));
}

RealTimeThread::~RealTimeThread() {
  if (locked_) munlockall();
  if (!first_) return;
  const sched_param ordinary{};
  sched_setscheduler(0, SCHED_OTHER, &ordinary);
}

}  // namespace duskline::harness
