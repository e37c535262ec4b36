// A run that stops at the instant, watched from both sides of the link.
#include "hil-harness/linearize/operating_point.hpp"
#include "hil-harness/linearize/linearize.hpp"
#include "hil-harness/loop/loop.hpp"

#include <cmath>
#include <deque>

namespace duskline::harness {
namespace {

/// The controller in this program, with its latest memories kept.
class Watched final : public Link {
 public:
  explicit Watched(const ctl_params& params) : params_(params), status_(ctl_init(&state_, &params_)) {}

  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    if (status_ != CTL_OK) return status_;
    moments_.push_back({state_, in});
    if (moments_.size() > kMoments) moments_.pop_front();
    return ctl_step(&state_, &params_, &in, &out);
  }

  ctl_status restart(bool intact) override {
    moments_.clear();
    ctl_retained memory;
    ctl_retain(&state_, &memory);
    if (!intact) memory.checksum ^= 1u;
    return ctl_restart(&state_, &params_, &memory);
  }

  const std::deque<Moment>& moments() const { return moments_; }

 private:
  ctl_params params_;
  ctl_state state_{};
  ctl_status status_;
  std::deque<Moment> moments_;
};

}  // namespace

std::shared_ptr<const OperatingPoint> operating_point(const scenarios::Case& c, double at,
                                                      std::string& problem, const RunUpTo& up_to) {
  scenarios::Case part = c;
  const auto tick = static_cast<std::int64_t>(std::llround(at / c.scenario.period));
  part.scenario.duration = static_cast<double>(tick + 1) * c.scenario.period;
  auto point = std::make_shared<OperatingPoint>();
  Watched link(part.scenario.controller);
  LoopOptions options;
  options.progress = up_to.progress;
  options.interrupted = up_to.interrupted;
  bool there = false;
  options.watch = [&](const Snapshot& s) {
    if (s.tick != tick) return;
    there = true;
    point->time = s.time;
    point->local_time = s.ambient.local_time;
    point->plant = *s.model;
    point->state = *s.state;
    point->outputs = s.plant;
    point->sensors = *s.sensors;
    point->control = s.control;
  };
  const RunRecord run = run_loop(part, link, options);
  if (!there) {
    problem = "the run ends before that: " + std::string(plant::word(run.end.reason));
    return nullptr;
  }
  point->period = c.scenario.period;
  point->params = part.scenario.controller;
  point->moments.assign(link.moments().begin(), link.moments().end());
  return point;
}

}  // namespace duskline::harness
