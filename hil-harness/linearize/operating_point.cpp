// A run that stops at the instant, watched from both sides of the link.
#include "hil-harness/linearize/operating_point.hpp"
#include "hil-harness/linearize/linearize.hpp"
#include "hil-harness/loop/loop.hpp"

#include <fmt/format.h>

#include <cmath>
#include <deque>

namespace duskline::harness {
namespace {

/// A controller with its latest memories kept.
class Watched final : public Link {
 public:
  explicit Watched(Link& link) : link_(link) {}

  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    const ctl_state* memory = link_.memory();
    if (memory != nullptr) moments_.push_back({*memory, in});
    if (moments_.size() > kMoments) moments_.pop_front();
    return link_.step(in, out);
  }
  ctl_status restart(bool intact) override {
    moments_.clear();
    return link_.restart(intact);
  }
  std::string name() const override { return link_.name(); }
  std::string error() const override { return link_.error(); }
  plant::RunEnd end() const override { return link_.end(); }

  const std::deque<Moment>& moments() const { return moments_; }

 private:
  Link& link_;
  std::deque<Moment> moments_;
};

}  // namespace

std::string layout_problem(const Link& controller) {
  if (controller.memory() == nullptr)
    return "it runs elsewhere; a linear model looks into the controller's memory: in-process, or plugin:FILE";
  const auto fields = controller.layout();
  if (fields.empty())
    return "it does not say what its state consists of; a linear model needs the function ctl_state_layout "
           "of "
           "controller/include/controller.h";
  std::uint64_t at = 0;
  for (const ctl_field& f : fields) {
    const std::string name = f.name != nullptr ? f.name : "";
    if (name.empty() || f.unit == nullptr || f.kind > CTL_FIELD_BYTE)
      return fmt::format("its ctl_state_layout gives a field without name, unit or kind at byte {}", at);
    if (f.offset != at)
      return fmt::format("its ctl_state_layout puts {} at byte {}, the fields before it end at {}", name,
                         f.offset, at);
    at += std::uint64_t{f.count} * (f.kind == CTL_FIELD_BYTE ? 1U : 4U);
    if (at > sizeof(ctl_state::words))
      return fmt::format("its ctl_state_layout goes beyond the state, with {}", name);
  }
  return {};
}

std::shared_ptr<const OperatingPoint> operating_point(const scenarios::Case& c, double at,
                                                      std::string& problem, const RunUpTo& up_to,
                                                      std::shared_ptr<Link> controller) {
  if (!controller) controller = std::make_shared<InProcess>(c.scenario.controller);
  problem = layout_problem(*controller);
  if (!problem.empty()) return nullptr;
  scenarios::Case part = c;
  const auto tick = static_cast<std::int64_t>(std::llround(at / c.scenario.period));
  part.scenario.duration = static_cast<double>(tick + 1) * c.scenario.period;
  auto point = std::make_shared<OperatingPoint>();
  Watched link(*controller);
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
    if (!run.end.who.empty()) problem += " (" + run.end.who + ")";
    return nullptr;
  }
  point->period = c.scenario.period;
  point->params = part.scenario.controller;
  point->controller = std::move(controller);
  point->moments.assign(link.moments().begin(), link.moments().end());
  return point;
}

}  // namespace duskline::harness
