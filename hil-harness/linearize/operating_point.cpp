// A run that stops at the instant, watched from both sides of the link.
#include "hil-harness/linearize/operating_point.hpp"
#include "hil-harness/linearize/linearize.hpp"
#include "hil-harness/loop/loop.hpp"
#include "scenarios/reader/draw.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstring>
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

/// The controllers of a plant with headers, watched from the snapshots: what a memory was before a tick is what the tick
/// before it left.
class WatchedSides {
 public:
  void look(const Snapshot& s) {
    if (s.shared == nullptr) return;
    modules_.resize(s.modules.size());
    for (std::size_t n = 0; n < modules_.size(); ++n)
      keep(modules_[n], s.modules[n]->memory, s.modules[n]->measured);
    // the plant controller is given what the modules reported in the tick before; by now this tick's reports stand there
    ctl_plant_inputs given = s.shared->measured;
    std::swap(given.module, reports_);
    keep(plant_, s.shared->memory, given);
  }
  void give(const Snapshot& s, const scenarios::Case& c, OperatingPoint& point) const {
    if (s.shared == nullptr) return;
    const auto built = scenarios::drawn_plant(c.plant, c.scenario.plant_draw, c.scenario.structure_draw);
    for (std::size_t n = 0; n < modules_.size(); ++n) {
      const ctl_params params = scenarios::module_controller_of(c, built, n);
      ModulePoint module{point.period, *s.modules[n]->sensors,
                         params,       s.modules[n]->control,
                         {},           std::make_shared<InProcess>(params)};
      module.moments = modules_[n].moments<Moment>([&](ctl_state& state, const ctl_inputs& in) {
        ctl_outputs out;
        return module.controller->step_from(state, params, in, out);
      });
      point.modules.push_back(std::move(module));
    }
    SharedPoint shared{*s.shared->sensors, *s.shared->params, s.shared->control, {}};
    shared.moments = plant_.moments<PlantMoment>([&](ctl_plant_state& state, const ctl_plant_inputs& in) {
      ctl_plant_outputs out;
      return ctl_plant_step(&state, &shared.params, &in, &out);
    });
    point.shared = std::move(shared);
  }

 private:
  template <class State, class Inputs>
  struct Ticks {
    struct Tick {
      State before;
      Inputs in;
      State after;
    };
    std::optional<State> left;  ///< by the latest tick
    std::deque<Tick> ticks;

    /// The latest ticks that the controller made undisturbed: not those before a restart or a faulty wire.
    template <class M, class Step>
    std::vector<M> moments(Step step) const {
      std::vector<M> all;
      for (const Tick& t : ticks) {
        State state = t.before;
        if (step(state, t.in) != CTL_OK || std::memcmp(&state, &t.after, sizeof(State)) != 0)
          all.clear();
        else
          all.push_back({t.before, t.in});
      }
      return all;
    }
  };
  template <class State, class Inputs>
  static void keep(Ticks<State, Inputs>& t, const State* memory, const Inputs& in) {
    if (memory == nullptr) return;
    if (t.left) t.ticks.push_back({*t.left, in, *memory});
    if (t.ticks.size() > kMoments) t.ticks.pop_front();
    t.left = *memory;
  }

  std::vector<Ticks<ctl_state, ctl_inputs>> modules_;
  Ticks<ctl_plant_state, ctl_plant_inputs> plant_;
  ctl_module_report reports_[CTL_PLANT_MODULES]{};
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
  WatchedSides sides;
  point->period = c.scenario.period;
  options.watch = [&](const Snapshot& s) {
    if (s.tick + static_cast<std::int64_t>(kMoments) >= tick) sides.look(s);
    if (s.tick != tick) return;
    there = true;
    point->time = s.time;
    point->local_time = s.ambient.local_time;
    point->plant = *s.model;
    point->state = *s.state;
    point->outputs = s.plant;
    point->sensors = *s.sensors;
    point->control = s.control;
    sides.give(s, part, *point);
  };
  const bool headers = plant::has_headers(c.plant.parameters.form);  // watched from the snapshots
  const RunRecord run = run_loop(part, headers ? Controllers() : Controllers(link), options);
  if (!there) {
    problem = "the run ends before that: " + std::string(plant::word(run.end.reason));
    if (!run.end.who.empty()) problem += " (" + run.end.who + ")";
    return nullptr;
  }
  if (point->shared) {
    static_cast<ModulePoint&>(*point) = point->modules.front();
    return point;
  }
  point->params = part.scenario.controller;
  point->controller = std::move(controller);
  point->moments.assign(link.moments().begin(), link.moments().end());
  return point;
}

}  // namespace duskline::harness
