#include "hil-harness/loop/loop.hpp"

#include <fmt/format.h>

#include <cmath>

#include "hil-harness/loop/faults.hpp"
#include "hil-harness/loop/instruments.hpp"
#include "plant-model/environment/environment.hpp"
#include "plant-model/environment/weather_file.hpp"
#include "plant-model/gas/transport.hpp"
#include "plant-model/integrate/advance.hpp"
#include "plant-model/integrate/events.hpp"
#include "plant-model/wear.hpp"

namespace duskline::harness {
namespace {

using plant::Plant;
using plant::State;
using Stepper = plant::Integrator<plant::kImplicit, plant::kQuadratures, plant::kSlow>;
using Watched = plant::Guard<plant::kStates>;

/// The absolute tolerances of the state table belong to a relative one of 1e-3 and scale with it.
plant::Tolerances<plant::kStates> tolerances(double relative) {
  plant::Tolerances<plant::kStates> t;
  t.relative = relative;
  for (std::size_t i = 0; i < plant::kStates; ++i)
    t.absolute[i] = plant::state_table()[i].tolerance * relative * 1e3;
  return t;
}

State initial_state(const scenarios::Case& c, const plant::Ambient& ambient) {
  const auto& p = c.plant.parameters;
  const auto& start = c.scenario.initial;
  switch (start.state) {
    case scenarios::InitialState::cold:
      return plant::cold_state(p, ambient, start.stack_temperature, start.cathode_co);
    case scenarios::InitialState::hot_standby:
      return plant::hot_state(p, ambient, start.stack_temperature, start.cathode_co);
    case scenarios::InitialState::producing:
      return plant::producing_state(p, ambient, start.stack_temperature, start.cathode_co);
  }
  return {};
}

const char* mode_word(std::uint32_t mode) {
  switch (mode) {
#define WORD(identifier, value, word, meaning) \
  case identifier:                             \
    return word;
    CTL_MODE_LIST(WORD)
#undef WORD
    default:
      return "unknown";
  }
}

std::string condition_words(std::uint32_t bits) {
  std::string text;
#define WORD(identifier, bit, word, meaning) \
  if ((bits & (1u << (bit))) != 0) text += text.empty() ? word : std::string(", ") + word;
  CTL_CONDITION_LIST(WORD)
#undef WORD
  return text;
}

std::string correction_words(std::uint32_t number, double value) {
#define WORD(identifier, n, input, unit, bound, meaning) \
  if (number == (n))                                     \
    return fmt::format("{}: {:.3g}{}", meaning, value, std::string_view(unit) == "1" ? "" : " " unit);
  CTL_CORRECTION_LIST(WORD)
#undef WORD
  return "";
}

/// Fills what is derived from the plant's outputs: only hot cells count for the limits.
void watch_limits(const plant::PlantParameters& p, Snapshot& s) {
  s.coke_margin = s.nickel_ratio = std::numeric_limits<double>::infinity();
  s.coldest = s.hottest = s.plant.zone_temperature[0];
  for (const double T : s.plant.zone_temperature) {
    s.coldest = std::min(s.coldest, T);
    s.hottest = std::max(s.hottest, T);
  }
  bool hot = false;
  s.worst_cell = s.plant.worst_cell;
  for (std::size_t c = 0; c < plant::kCells; ++c) {
    if (s.plant.zone_temperature[static_cast<std::size_t>(p.stack.zone[c])] < kWatchedTemperature) continue;
    hot = true;
    if (s.plant.cells.margin[c] < s.coke_margin) {
      s.coke_margin = s.plant.cells.margin[c];
      s.worst_cell = c;
    }
    s.nickel_ratio = std::min(s.nickel_ratio, s.plant.cells.nickel_ratio[c]);
  }
  if (!hot) s.coke_margin = s.nickel_ratio = std::numeric_limits<double>::quiet_NaN();
}

/// Instant in the tick at which a watched quantity of the plant changes sign; the tick is integrated again.
double locate(const Plant& plant, const Stepper& stepper, const State& x, double t, double end,
              const std::function<double(const Snapshot&)>& quantity) {
  Plant copy = plant, probe = plant;
  auto integrator = stepper;
  State y = x;
  const Watched guard{[&](const State& at, double) {
                        Snapshot s;
                        State scratch;
                        probe.observe(at, scratch, s.plant);
                        watch_limits(probe.parameters(), s);
                        return quantity(s);
                      },
                      plant::Crossing::either};
  const auto found =
      plant::advance_to_event(integrator.stepper(), copy, y, t, end, std::span(&guard, 1), {1e-3, 0});
  return found.fired.empty() ? end : found.advance.time;
}

class Run {
 public:
  Run(const scenarios::Case& c, Link& link, const LoopOptions& options,
      const plant::EnvironmentSettings& settings)
      : scenario_(c.scenario),
        link_(link),
        options_(options),
        environment_(settings, c.scenario.period),
        healthy_(c.plant.parameters),
        plant_(c.plant.parameters),
        faults_(c.scenario.faults),
        stepper_(static_cast<plant::Method>(c.scenario.integrator.method),
                 tolerances(c.scenario.integrator.relative_tolerance)),
        specs_(plant::expand(plant::kInstrumentTable)),
        sensors_(specs_, c.scenario.seed, c.scenario.period),
        x_(initial_state(c, environment_.mean_at(0.0))),
        actuators_(c.plant.parameters, x_) {
    if (scenario_.initial.operating_hours > 0.0)
      plant::wear(healthy_, x_, environment_.mean_at(0.0), scenario_.initial.operating_hours);
    plant_.parameters() = healthy_;
    s_.state = &x_;
    s_.rates = &f_;
    s_.model = &plant_;
    s_.sensors = &sensors_;
    s_.control.mode = CTL_OFF;
  }

  RunRecord run() {
    const auto ticks = static_cast<std::int64_t>(scenarios::periods(scenario_));
    plant::RunResult end{plant::RunEnd::reached_end, 0.0, {}};
    std::int64_t n = 0;
    const auto stride = std::max<std::int64_t>(1, std::llround(scenario_.record / scenario_.period));
    bool going = true;
    for (; going && n < ticks; ++n) {
      disturb(n);
      if (n == 0) audit_.start(plant_, x_);
      sense();
      if (!control()) {
        end = {plant::RunEnd::link_lost, s_.time, link_.error()};
        break;
      }
      note_changes();
      summary_.tick(s_, scenario_.period);
      if (options_.watch) options_.watch(s_);
      if (options_.record && n % stride == 0 && !options_.record(s_)) {
        end = {plant::RunEnd::disk_full, s_.time, "trace"};
        break;
      }
      if (!integrate(end)) break;
      audit_.check(plant_, x_);
      if ((n & 1023) == 0) {
        if (options_.progress) options_.progress(static_cast<double>(n) / static_cast<double>(ticks));
        going = options_.interrupted == nullptr || !options_.interrupted->load(std::memory_order_relaxed);
      }
    }
    if (!going) end = {plant::RunEnd::interrupted, static_cast<double>(n) * scenario_.period, "user"};
    if (end.reason == plant::RunEnd::reached_end) end.time = static_cast<double>(n) * scenario_.period;
    RunRecord r;
    r.end = end;
    r.figures = summary_.figures();
    r.alarms = summary_.alarms();
    r.log_events = summary_.log_events();
    r.log_events_left_out = summary_.log_events_left_out();
    r.atom_residual = audit_.worst_atoms();
    r.energy_residual = audit_.worst_energy();
    r.steps = stepper_.statistics();
    r.ticks = n;
    r.final_state = x_;
    return r;
  }

 private:
  void disturb(std::int64_t n) {
    s_.tick = n;
    s_.time = static_cast<double>(n) * scenario_.period;
    bool anew = faults_.move_to(s_.time, [this](const plant::FaultEvent& e, bool begins) {
      summary_.log(s_.time, "fault", fault_text(e) + (begins ? "" : ", is over"));
    });
    s_.active_faults = faults_.acting();
    while (next_event_ < scenario_.events.size() && scenario_.events[next_event_].at <= s_.time) {
      const auto& e = scenario_.events[next_event_++];
      scenarios::apply(e, healthy_);
      anew = true;
      summary_.log(s_.time, "fault", fmt::format("{} becomes {:.4g}", e.parameter, e.to));
    }
    if (anew) recompute_parameters();
    read_commands();
    s_.ambient = environment_.at(n);
    faults_.inject(s_.ambient);
    s_.ambient_density = plant::density(s_.ambient.pressure, s_.ambient.temperature, s_.ambient.composition);
    plant_.set_boundary(s_.ambient, x_[plant::kImplicit + plant::kQuadratures + plant::at::dust]);
    plant_.observe(x_, f_, s_.plant);
    watch_limits(plant_.parameters(), s_);
    crack();
    // a limit counts as regained a little beyond it, so that a quantity that sits on it is told once
    constexpr double kMarginRegained = 2e-3, kRatioRegained = 0.05;
    watch_crossing(
        coke_below_, s_.coke_margin < (coke_below_ ? kMarginRegained : 0.0),
        [](const Snapshot& s) { return s.coke_margin; }, "a cell passed its coke-onset voltage",
        "every cell is below its coke-onset voltage again");
    watch_crossing(
        nickel_below_, s_.nickel_ratio < (nickel_below_ ? 1.0 + kRatioRegained : 1.0),
        [](const Snapshot& s) { return s.nickel_ratio - 1.0; }, "nickel began to oxidise at an inlet",
        "nickel is protected again");
  }

  void recompute_parameters() {
    plant_.parameters() = healthy_;
    faults_.inject(plant_.parameters());
    if (plant_.parameters().power.bus_voltage < kControllerOff) plant_.parameters().power.electronics = 0.0;
    stepper_.stepper().request_jacobian();
  }

  /// The operator's side repeats its standing request every tick: what was missed arrives with the link.
  void read_commands() {
    const bool lost = faults_.link_lost();
    s_.measured.command_age = lost ? s_.measured.command_age + static_cast<float>(scenario_.period) : 0.0f;
    for (; next_command_ < scenario_.commands.size() && scenario_.commands[next_command_].at <= s_.time &&
           !lost;
         ++next_command_) {
      const auto& c = scenario_.commands[next_command_];
      s_.measured.requested_mode = static_cast<std::uint32_t>(c.mode);
      s_.measured.oxygen_demand = static_cast<float>(c.oxygen_demand);
      s_.measured.power_ceiling = static_cast<float>(c.power_ceiling);
      summary_.log(s_.time, "command",
                   fmt::format("asked for {}, {:.3g} g/h", mode_word(s_.measured.requested_mode),
                               c.oxygen_demand * 3.6e6));
    }
  }

  void sense() {
    true_values(plant_.parameters(), s_, truth_);
    faults_.inject(sensors_, s_.tick);
    sensors_.sample(truth_, s_.tick, readings_);
    faults_.inject(readings_);
    put_readings(readings_, s_.measured);
    s_.measured.local_time = static_cast<float>(s_.ambient.local_time);
    s_.measured.tick = static_cast<std::uint32_t>(s_.tick);
    announce_ceiling();
    act_on_alarms();
    faults_.inject(s_.measured, scenario_.period);
  }

  /// The next fall of the power ceiling, as a bus with a schedule would tell it.
  void announce_ceiling() {
    ctl_inputs& in = s_.measured;
    in.ceiling_in = 0.0F;
    in.next_power_ceiling = std::numeric_limits<float>::quiet_NaN();
    for (std::size_t k = next_command_; k < scenario_.commands.size(); ++k) {
      const auto& c = scenario_.commands[k];
      if (!(c.power_ceiling < static_cast<double>(in.power_ceiling)) && !std::isnan(in.power_ceiling))
        continue;
      if (std::isnan(c.power_ceiling)) continue;
      in.next_power_ceiling = static_cast<float>(c.power_ceiling);
      in.ceiling_in = static_cast<float>(c.at - s_.time);
      return;
    }
  }

  /// One action a tick; what is due at the same instant follows in the next ticks.
  void act_on_alarms() {
    ctl_inputs& in = s_.measured;
    in.alarm_action = CTL_ALARM_NO_ACTION;
    in.alarm_number = in.maintenance = 0;
    in.shelve_time = 0.0F;
    const auto& actions = scenario_.operator_actions;
    if (next_action_ >= actions.size() || actions[next_action_].at > s_.time) return;
    const auto& a = actions[next_action_++];
    in.alarm_action = static_cast<std::uint32_t>(a.action);
    in.alarm_number = static_cast<std::uint32_t>(a.alarm);
    in.shelve_time = static_cast<float>(a.duration);
    in.maintenance = a.action == CTL_ALARM_REMOVE || a.action == CTL_ALARM_RETURN ? 1 : 0;
  }

  bool control() {
    const double bus = plant_.parameters().power.bus_voltage;
    const bool powered = bus >= kBrownOut, controller_powered = bus >= kControllerOff;
    if (powered != powered_)
      summary_.log(s_.time, "power",
                   powered ? "heaters, drive and converter have power again"
                           : "heaters, drive and converter lost power");
    if (controller_powered_ && !controller_powered)
      summary_.log(s_.time, "power", "the controller lost power");
    if (controller_powered && (!controller_powered_ || faults_.resets()) && !restart(faults_.memory_intact()))
      return false;
    powered_ = powered;
    controller_powered_ = controller_powered;
    if (!controller_powered)
      s_.control = ctl_outputs{};
    else if (link_.step(s_.measured, s_.control) != CTL_OK)
      return false;
    faults_.inject(actuators_);
    plant_.set_commands(actuators_.actuate(s_.control, scenario_.period, powered));
    return true;
  }

  bool restart(bool intact) {
    const ctl_status status = link_.restart(intact);
    if (status != CTL_OK && status != CTL_NOT_RETAINED) return false;
    summary_.log(s_.time, "power",
                 status == CTL_OK ? "the controller started again from its retained memory"
                                  : "the controller started afresh: its memory was not retained");
    return true;
  }

  bool integrate(plant::RunResult& end) {
    before_ = x_;
    const double t1 = static_cast<double>(s_.tick + 1) * scenario_.period;
    // rates at x were observed before the new commands: only the actuators' own lags depend on them
    plant_.command_rates(x_, f_);
    const plant::Advance done = stepper_.advance_with(plant_, x_, f_, s_.time, t1);
    if (!done.ok()) {
      end = {done.reason, done.time, plant::state_table()[done.state].name};
      return false;
    }
    const auto table = plant::state_table();
    for (std::size_t i = 0; i < plant::kStates; ++i)
      if (!(x_[i] >= table[i].lower && x_[i] <= table[i].upper)) {
        end = {plant::RunEnd::state_out_of_range, t1, table[i].name};
        return false;
      }
    return true;
  }

  void watch_crossing(bool& below, bool now, const std::function<double(const Snapshot&)>& quantity,
                      const char* down, const char* up) {
    if (now == below) return;
    below = now;
    double t = s_.time;
    if (now && s_.tick > 0 && scenario_.integrator.method == scenarios::Integration::linearly_implicit) {
      Plant then = plant_;
      then.set_boundary(ambient_before_, before_[plant::kImplicit + plant::kQuadratures + plant::at::dust]);
      t = locate(then, stepper_, before_, s_.time - scenario_.period, s_.time, quantity);
    }
    summary_.log(t, "limit", now ? down : up);
  }

  /// A gradient or a pressure difference beyond what the ceramic stands cracks one cell for good.
  void crack() {
    const auto& p = plant_.parameters();
    const double load = std::abs(s_.plant.cathode_pressure - s_.plant.anode_pressure);
    if (cracked_ || (s_.plant.gradient < p.stack.crack_gradient && load < p.stack.crack_pressure)) return;
    cracked_ = true;
    healthy_.stack.crack_leak[s_.worst_cell] += p.stack.crack_size;
    recompute_parameters();
    summary_.log(s_.time, "fault",
                 fmt::format("cell {} cracked: {:.0f} K between zones, {:.1f} kPa across", s_.worst_cell,
                             s_.plant.gradient, load * 1e-3));
  }

  void note_changes() {
    if (s_.control.mode != mode_) {
      mode_ = s_.control.mode;
      summary_.log(s_.time, mode_ == CTL_SAFE ? "interlock" : "mode",
                   mode_ == CTL_SAFE ? fmt::format("safe: {}", condition_words(s_.control.tripped))
                                     : std::string(mode_word(mode_)));
    }
    const std::uint32_t found = s_.control.corrected & ~corrected_;
    corrected_ = s_.control.corrected;
    for (std::uint32_t n = 0; n < CTL_CORRECTIONS; ++n)
      if ((found & (1u << n)) != 0)
        summary_.log(s_.time, "calibration", correction_words(n, s_.control.correction[n]));
    ambient_before_ = s_.ambient;
  }

  const scenarios::Scenario& scenario_;
  Link& link_;
  const LoopOptions& options_;
  plant::Environment environment_;
  plant::PlantParameters healthy_;  ///< without the faults that act
  Plant plant_;
  Faults faults_;
  Stepper stepper_;
  std::array<plant::SensorSpec, plant::kInstruments> specs_;
  plant::SensorBank sensors_;
  Summary summary_;
  Audit audit_;
  Snapshot s_;
  State x_, f_{}, before_{};
  ActuatorBank actuators_;
  plant::Ambient ambient_before_{};
  Channels truth_{}, readings_{};
  std::size_t next_event_{}, next_command_{}, next_action_{};
  std::uint32_t mode_ = CTL_OFF, corrected_ = 0;
  bool powered_ = true, controller_powered_ = true;
  bool coke_below_ = false, nickel_below_ = false, cracked_ = false;
};

}  // namespace

Surroundings surroundings(const scenarios::Case& c) {
  Surroundings s;
  auto& e = s.settings;
  if (const plant::Site* site = plant::find_site(c.scenario.site)) e.site = *site;
  e.start_ls = c.scenario.start.season;
  e.start_local_time = c.scenario.start.local_time_h / 24.0;
  e.seed = c.scenario.seed;
  e.turbulence = e.synoptic = c.scenario.turbulence;
  e.storms = c.scenario.storms;
  e.vortices = c.scenario.vortices;
  e.gusts = c.scenario.gusts;
  add_weather(c.scenario.faults, e);
  if (!c.weather_file.empty()) {
    plant::WeatherFile file = plant::read_weather_file(c.weather_file.string());
    for (const auto& problem : file.problems) s.problems.push_back(problem.text());
    s.notes = file.notes;
    if (file.series) e.weather = std::make_shared<const plant::WeatherSeries>(std::move(*file.series));
  }
  return s;
}

RunRecord run_loop(const scenarios::Case& c, Link& link, const LoopOptions& options) {
  const Surroundings around = surroundings(c);
  RunRecord r = Run(c, link, options, around.settings).run();
  r.notes = around.notes;
  return r;
}

}  // namespace duskline::harness
