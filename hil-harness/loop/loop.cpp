#include "hil-harness/loop/loop.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "hil-harness/loop/fast_forward.hpp"
#include "hil-harness/loop/fault_trigger.hpp"
#include "hil-harness/loop/loop_run.hpp"
#include "hil-harness/loop/operator_desk.hpp"
#include "hil-harness/loop/pacer.hpp"
#include "hil-harness/loop/plant_stepper.hpp"
#include "hil-harness/loop/service.hpp"
#include "hil-harness/loop/sides.hpp"
#include "plant-model/environment/environment.hpp"
#include "plant-model/gas/transport.hpp"
#include "plant-model/stack/crack.hpp"
#include "plant-model/wear.hpp"
#include "scenarios/reader/draw.hpp"

namespace duskline::harness {

struct LoopRun::Impl {
  static constexpr double kTurning = 10.0;  // rad/s from which the compressor counts as turning

  Impl(const scenarios::Case& c, const Controllers& controllers, LoopOptions options, Surroundings around)
      : scenario_(c.scenario),
        options_(std::move(options)),
        notes_(std::move(around.notes)),
        air_(std::move(around.settings)),
        environment_(air_, c.scenario.period),
        acts_(options_.acts == nullptr ? scenarios::Acts{} : *options_.acts),
        healthy_(scenarios::drawn_plant(c.plant, c.scenario.plant_draw, c.scenario.structure_draw)),
        plant_(healthy_),
        faults_(c.scenario.faults),
        stepper_(make_stepper(c.scenario.integrator, plant_.layout())),
        x_(initial_state(c, plant_.layout(), environment_.mean_at(0.0), healthy_)),
        sides_(c, controllers, faults_, plant_, healthy_, x_, log_) {
    plant_.parameters() = healthy_;
    // the weather of faults may be ended: from here on it stands in weather_ alone
    air_.storms = c.scenario.storms;
    air_.vortices = c.scenario.vortices;
    air_.gusts = c.scenario.gusts;
    for (const plant::FaultEvent& fault : c.scenario.faults) {
      if (!fault.when.empty()) add_trigger(fault);
      if (fault.when.empty() && is_weather(fault)) weather_.push_back(fault);
    }
    stepper_.stop_when(options_.interrupted);
    s_.state = &x_;
  }

  bool ended() const { return !going_ || next_ >= ticks_; }

  bool step() {
    if (ended()) return false;
    if (!keep_pace(next_)) return going_ = false;
    if (at_checkpoint()) {
      wear_compressor();
      start_anew();
    }
    s_.sols_stepped = 0;
    if (forward_.at_midnight(next_)) fast_forward();
    disturb(next_);
    sense();
    if (!control()) return going_ = false;
    actuate();
    going_ = integrate();
    going_ = record() && going_;
    if (!going_) return false;
    if ((next_ & 1023) == 0 && options_.progress)
      options_.progress(static_cast<double>(next_) / static_cast<double>(ticks_));
    if (++next_ < ticks_ && interrupted()) {
      end_ = {plant::RunEnd::interrupted, static_cast<double>(next_) * scenario_.period, "user"};
      going_ = false;
    }
    return !ended();
  }

  bool at_checkpoint() const {
    return next_ > 0 && next_ % sol_ == 0 && scenario_.duration >= kLongRun && !ended();
  }

  /// Behind a local midnight: over whole sols, or none, to the sol that is simulated next.
  void fast_forward() {
    const std::vector<double> planned = planned_times(scenario_, acts_, faults_);
    const FastForward::Step step = forward_.step_from(next_, ticks_, environment_, planned);
    if (step.sols > 0) {
      forward_.carry(step.sols, plant_.layout(), x_);
      for (std::size_t sol = 0; sol < step.sols; ++sol)
        plant::wear_compressor(healthy_, plant::ProductionTime::of_all(forward_.turned()));
      summary_.repeat_sol(step.sols);
      recompute_parameters();
      start_anew();
      audit_.start(plant_, x_);
    }
    forward_.begin_sol(next_, step, environment_, x_);
    summary_.begin_sol();
    if (step.sols > 0) next_ = step.to;
    s_.sols_stepped = step.sols;
  }

  /// In a long run the compressor wears sol by sol, by the time that it has turned.
  void wear_compressor() {
    plant::wear_compressor(healthy_, plant::ProductionTime::of_all(turned_));
    turned_ = 0.0;
    recompute_parameters();
  }

  /// What the plant and its integrator remember of how they came here is dropped.
  void start_anew() {
    const auto commands = plant_.commands_in_force();
    plant_ = plant::Plant(plant_.parameters());
    plant_.set_commands(commands);
    give_parameters();
    stepper_.start_anew(stepper_.statistics());
  }

  void add_trigger(const plant::FaultEvent& fault) { triggers_.emplace_back(fault, s_.modules.size()); }

  /// Module n as it is without the faults that act.
  plant::PlantParameters& healthy(std::size_t n) { return modules_.empty() ? healthy_ : modules_[n]; }

  /// Every member of the run, by name: what is made of the case, and what is kept.
  void keep(scenarios::Keeper& k) {
    auto& [scenario, options, notes, air, environment, acts, healthy, modules, new_leakage, plant, states,
           forward, faults, triggers, stepper, log, desk, summary, audit, x, f, before, sides, s,
           ambient_before, stride, ticks, sol, next, going, weather, next_event, next_service, next_fault,
           next_clearing, next_change, turned, end] = *this;
    k(next, x, before, ambient_before, weather, next_event, next_service, next_fault, next_clearing,
      next_change, turned);
    for (const plant::ParameterInfo& parameter : plant::parameter_table())
      for (double& value : parameter.get(healthy)) k(value);
    for (plant::PlantParameters& module : modules)
      for (const plant::ParameterInfo& parameter : plant::parameter_table())
        for (double& value : parameter.get(module)) k(value);
    auto commands = plant.commands_in_force();
    plant::StepStatistics statistics = stepper.statistics();
    k(commands, statistics, forward, faults, log, desk, summary, audit, sides, s.active_faults,
      s.named_causes);
    keep_triggers(k);
    if (!k.loads()) return;
    change_weather();
    recompute_parameters();
    start_anew();
    plant.set_commands(commands);
    stepper.start_anew(statistics);
  }

  void keep_triggers(scenarios::Keeper& k) {
    std::uint64_t count = triggers_.size();
    k(count);
    if (k.loads()) triggers_.clear();
    for (std::uint64_t i = 0; i < count && k.well(); ++i) {
      plant::FaultEvent fault = k.loads() ? plant::FaultEvent{} : triggers_[i].fault();
      k(fault);
      if (k.loads()) add_trigger(fault);
      k(triggers_[i]);
    }
  }

  /// Waits for the instant of tick n, if the run is held to the clock; false: it ends before this tick.
  bool keep_pace(std::int64_t n) {
    if (options_.pacer == nullptr) return true;
    const auto begin = options_.pacer->begin_tick(options_.interrupted);
    const double time = static_cast<double>(n) * scenario_.period;
    if (begin == Pacer::Begin::behind)
      end_ = {plant::RunEnd::deadline_missed, time, fmt::format("more than {:g} s behind", kBehindMax)};
    if (begin == Pacer::Begin::stopped) end_ = {plant::RunEnd::interrupted, time, "user"};
    return begin == Pacer::Begin::due;
  }

  void disturb(std::int64_t n) {
    s_.tick = n;
    s_.ticks_run = n - forward_.ticks_stepped();
    s_.time = static_cast<double>(n) * scenario_.period;
    s_.state = &x_;
    take_acts();
    if (change_parameters()) recompute_parameters();
    desk_.note_words(s_);
    desk_.read_commands(s_, faults_.link_lost());
    s_.ambient = environment_.at(n);
    faults_.inject(s_.ambient);
    s_.ambient_density = plant::density(s_.ambient.pressure, s_.ambient.temperature, s_.ambient.composition);
    plant_.set_boundary(s_.ambient, x_);
    sides_.observe(x_, f_);
    if (n == 0) audit_.start(plant_, x_);
    for (const std::size_t module : sides_.look()) {
      plant::crack(healthy(module).stack, sides_.module(module).snapshot().worst_cell);
      recompute_parameters();
    }
    sides_.note_limits(stepper_, before_, ambient_before_);
    ambient_before_ = s_.ambient;
  }

  void sense() {
    sides_.sense();
    desk_.announce_ceiling(s_);
    desk_.act_on_alarms(s_, faults_.link_lost());
    for (std::size_t k = 0; k < sides_.size(); ++k)
      faults_.inject(sides_.module(k).snapshot().measured, scenario_.period, static_cast<Part>(k));
  }

  bool control() {
    const plant::RunResult asked = sides_.control(plant_.parameters().power.bus_voltage, options_.pacer);
    if (asked.reason == plant::RunEnd::reached_end) return true;
    end_ = interrupted() ? plant::RunResult{plant::RunEnd::interrupted, s_.time, "user"} : asked;
    return false;
  }

  void actuate() {
    sides_.actuate();
    desk_.note_replies(s_);
    sides_.note_changes();
    for (FaultTrigger& trigger : triggers_) trigger.watch(s_);
    if (options_.watch) options_.watch(s_);
  }

  bool integrate() {
    before_ = x_;
    s_.state = &before_;
    const double t1 = static_cast<double>(s_.tick + 1) * scenario_.period;
    // rates at x were observed before the new commands: only the actuators' own lags depend on them
    plant_.command_rates(x_, f_);
    const plant::Advance done = stepper_.advance_with(plant_, x_, f_, s_.time, t1);
    if (done.reason == plant::RunEnd::interrupted)
      end_ = {done.reason, done.time, "user"};
    else if (!done.ok())
      end_ = {done.reason, done.time, states_[done.state].name};
    else if (const std::size_t i = out_of_range(); i < states_.size())
      end_ = {plant::RunEnd::state_out_of_range, t1, states_[i].name};
    else if (audit_.check(plant_, x_); !audit_.open().empty())
      end_ = {plant::RunEnd::balance_open, t1, audit_.open()};
    return end_.reason == plant::RunEnd::reached_end;
  }

  bool record() {
    summary_.tick(s_, scenario_.period);
    const bool turns = s_.plant.truth.compressor_speed > kTurning;
    if (turns) turned_ += scenario_.period;
    forward_.watch(s_, turns);
    if (!options_.record || s_.tick % stride_ != 0 || options_.record(s_)) return true;
    if (end_.reason == plant::RunEnd::reached_end) end_ = {plant::RunEnd::trace_failed, s_.time, "trace"};
    return false;
  }

  /// Faults of people up to a time, not at it; true when there is weather among them.
  bool take_faults(double end) {
    bool new_weather = false;
    for (; next_fault_ < acts_.faults.size() && acts_.faults[next_fault_].at < end; ++next_fault_) {
      const plant::FaultEvent& fault = acts_.faults[next_fault_];
      if (fault.when.empty())
        new_weather = bring_in(fault) || new_weather;
      else
        add_trigger(fault);
    }
    return new_weather;
  }

  /// Faults and weather that people bring in or end, from this tick on. At one instant faults end before others
  /// begin.
  void take_acts() {
    const auto clears = [this] {
      return next_clearing_ < acts_.cleared.size() && acts_.cleared[next_clearing_].at <= s_.time;
    };
    const double behind = std::nextafter(s_.time, HUGE_VAL);
    bool new_weather = take_faults(clears() ? acts_.cleared[next_clearing_].at : behind);
    for (FaultTrigger& trigger : triggers_) {
      if (!trigger.came_true()) continue;
      plant::FaultEvent fault = trigger.fault();
      fault.at = s_.time;
      new_weather = bring_in(fault) || new_weather;
    }
    std::erase_if(triggers_, [](const FaultTrigger& trigger) { return trigger.came_true(); });
    for (; clears(); ++next_clearing_) {
      const scenarios::FaultClearing& c = acts_.cleared[next_clearing_];
      new_weather = take_faults(c.at) || new_weather;
      new_weather = end_faults(c) || new_weather;
    }
    new_weather = take_faults(behind) || new_weather;
    if (new_weather) change_weather();
  }

  /// True when there was weather among them.
  bool end_faults(const scenarios::FaultClearing& c) {
    const auto meant = [&c](const plant::FaultEvent& fault) { return scenarios::is_meant(c, fault); };
    const bool waited =
        std::erase_if(triggers_, [&](const FaultTrigger& trigger) { return meant(trigger.fault()); }) > 0;
    const bool ended = faults_.clear(c, s_.time);
    if (c.withdrawn > 0)
      log_.log(s_.time, LogKind::fault, fmt::format("{}, withdrawn before it began", c.fault), {}, false);
    else if (!ended && !waited)
      log_.log(s_.time, LogKind::fault, fmt::format("{} cannot be ended: it does not act", c.fault), {},
               false);
    return ended && std::erase_if(weather_, meant) > 0;
  }

  void change_weather() {
    plant::EnvironmentSettings settings = air_;
    add_weather(weather_, settings);
    environment_ = plant::Environment(settings, scenario_.period);
  }

  /// A fault that sets in now or later; true when it is weather.
  bool bring_in(const plant::FaultEvent& fault) {
    faults_.add(fault);
    sides_.fit_wire();
    if (!is_weather(fault)) return false;
    weather_.push_back(fault);
    weather_.back().when.clear();
    return true;
  }

  /// Faults and events that set in or end at this tick; true when a parameter moved.
  bool change_parameters() {
    bool anew = faults_.move_to(s_.time, [this](const plant::FaultEvent& e, bool begins) {
      const std::string text = fault_text(e);
      log_.log(s_.time, is_weather(e) ? LogKind::weather : LogKind::fault,
               text + (!begins          ? ", is over"
                       : e.when.empty() ? ""
                                        : ", as it has come true that " + e.when),
               text, begins);
    });
    s_.active_faults = faults_.acting();
    const auto due = [t = s_.time](std::size_t n, const auto& all) {
      return n < all.size() && all[n].at <= t;
    };
    for (; due(next_event_, scenario_.events); anew = true) change(scenario_.events[next_event_++]);
    for (; due(next_change_, acts_.events); anew = true) change(acts_.events[next_change_++]);
    for (; due(next_service_, scenario_.services); anew = true) service(scenario_.services[next_service_++]);
    return anew;
  }

  void service(const scenarios::Service& work) {
    double& dust = x_[plant_.layout().index("filter.dust")];
    for (std::size_t n = 0; n < sides_.size(); ++n)
      renew(work.part, {dust, healthy_.compressor, new_leakage_, sides_.module(n).sensors(), s_.tick});
    if (work.part == scenarios::ServicedPart::instruments) sides_.calibrated();
    log_.log(s_.time, LogKind::parameter, fmt::format("serviced: {}", scenarios::word_of(work.part)));
  }

  void change(const scenarios::Event& e) {
    scenarios::apply(e, healthy_);
    for (plant::PlantParameters& module : modules_) scenarios::apply(e, module);
    log_.log(s_.time, LogKind::parameter, fmt::format("{} becomes {:.4g}", e.parameter, e.to), e.parameter);
  }

  void recompute_parameters() {
    give_parameters();
    stepper_.stepper().request_jacobian();
  }

  /// The healthy ones with the faults that act.
  void give_parameters() {
    plant_.parameters() = healthy_;
    faults_.inject(plant_.parameters());
    if (plant_.parameters().power.bus_voltage < kControllerOff) plant_.parameters().power.electronics = 0.0;
    for (std::size_t n = 0; n < modules_.size(); ++n) {
      plant_.module_parameters(n) = modules_[n];
      faults_.inject(plant_.module_parameters(n), static_cast<Part>(n));
    }
  }

  /// The first state outside the range in which the model holds; behind the last: none.
  std::size_t out_of_range() const {
    std::size_t i = 0;
    while (i < states_.size() && x_[i] >= states_[i].lower && x_[i] <= states_[i].upper) ++i;
    return i;
  }

  bool interrupted() const {
    return options_.interrupted != nullptr && options_.interrupted->load(std::memory_order_relaxed);
  }

  RunRecord result() const {
    RunRecord r;
    r.end = end_;
    if (end_.reason == plant::RunEnd::reached_end) r.end.time = static_cast<double>(next_) * scenario_.period;
    r.notes = notes_;
    if (forward_.on()) r.notes.push_back(forward_.note(next_));
    r.figures = summary_.figures();
    r.alarms = sides_.alarms();
    r.log_events = log_.events();
    r.log_events_left_out = log_.left_out();
    r.atom_residual = audit_.worst_atoms();
    r.energy_residual = audit_.worst_energy();
    r.steps = stepper_.statistics();
    r.ticks = next_ - forward_.ticks_stepped();
    r.final_state = x_;
    return r;
  }

  const scenarios::Scenario& scenario_;
  LoopOptions options_;
  std::vector<std::string> notes_;  ///< about the weather file
  plant::EnvironmentSettings air_;  ///< without the weather of faults
  plant::Environment environment_;
  scenarios::Acts acts_;
  plant::PlantParameters healthy_;  ///< without the faults that act
  std::vector<plant::PlantParameters> modules_ = plant::module_parameters(healthy_);  ///< of each of several
  const double new_leakage_ = healthy_.compressor.leakage;  ///< with seals as at the start of the run
  plant::Plant plant_;
  const std::vector<plant::StateInfo> states_{plant_.layout().table()};
  FastForward forward_{scenario_, environment_};
  Faults faults_;
  std::vector<FaultTrigger> triggers_;  ///< of faults that wait for their condition
  PlantStepper stepper_;
  EventLog log_;
  OperatorDesk desk_{scenario_, acts_, log_};
  Summary summary_;
  Audit audit_;
  plant::State x_, f_{}, before_{};
  Sides sides_;
  Snapshot& s_ = sides_.snapshot();
  plant::Ambient ambient_before_{};
  const std::int64_t stride_ = std::max<std::int64_t>(1, std::llround(scenario_.record / scenario_.period));
  const std::int64_t ticks_ = static_cast<std::int64_t>(scenarios::periods(scenario_));
  const std::int64_t sol_ = std::llround(plant::kSolSeconds / scenario_.period);  ///< ticks
  std::int64_t next_{};
  bool going_ = true;
  std::vector<plant::FaultEvent> weather_;     ///< of faults, in the order in which they came
  std::size_t next_event_{}, next_service_{};  ///< of the scenario
  std::size_t next_fault_{}, next_clearing_{}, next_change_{};  ///< of people
  double turned_{};  ///< s that the compressor has turned since its wear was reckoned
  plant::RunResult end_{plant::RunEnd::reached_end, 0.0, {}};
};

LoopRun::LoopRun(const scenarios::Case& c, const Controllers& controllers, LoopOptions options)
    : impl_(std::make_unique<Impl>(c, controllers, std::move(options), surroundings(c))) {}
LoopRun::~LoopRun() = default;

bool LoopRun::step() {
  return impl_->step();
}
bool LoopRun::ended() const {
  return impl_->ended();
}
std::int64_t LoopRun::next_tick() const {
  return impl_->next_;
}
double LoopRun::next_time() const {
  return static_cast<double>(impl_->next_) * impl_->scenario_.period;
}
const Snapshot& LoopRun::snapshot() const {
  return impl_->s_;
}
const std::vector<LogEvent>& LoopRun::events() const {
  return impl_->log_.events();
}
std::vector<plant::FaultEvent> LoopRun::waiting() const {
  std::vector<plant::FaultEvent> all;
  for (const FaultTrigger& trigger : impl_->triggers_) all.push_back(trigger.fault());
  return all;
}
scenarios::Acts& LoopRun::acts() {
  return impl_->acts_;
}
RunRecord LoopRun::result() const {
  return impl_->result();
}
std::vector<std::string> LoopRun::plant_reasons_against(std::uint32_t mode) const {
  return impl_->sides_.plant_reasons_against(mode);
}
bool LoopRun::at_checkpoint() const {
  return impl_->at_checkpoint();
}
std::optional<std::string> LoopRun::checkpoint() {
  if (!impl_->sides_.can_be_kept()) return {};
  impl_->start_anew();
  scenarios::Keeper k;
  impl_->keep(k);
  return k.bytes();
}
bool LoopRun::go_on_from(const std::string& checkpoint) {
  if (!impl_->sides_.can_be_kept()) return false;
  scenarios::Keeper k(checkpoint);
  impl_->keep(k);
  return k.complete();
}

RunRecord run_loop(const scenarios::Case& c, const Controllers& controllers, const LoopOptions& options) {
  LoopRun run(c, controllers, options);
  while (run.step()) {
  }
  return run.result();
}

}  // namespace duskline::harness
