#include "hil-harness/loop/sides.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "hil-harness/loop/pacer.hpp"
#include "hil-harness/loop/words.hpp"
#include "scenarios/reader/scenario_keys.hpp"

namespace duskline::harness {
namespace {

// a mode of the plant controller is the mode of a module with its number
static_assert(int{CTL_PLANT_OFF} == int{CTL_OFF} && int{CTL_PLANT_START_UP} == int{CTL_WARM_UP} &&
              int{CTL_PLANT_STANDBY} == int{CTL_STANDBY} &&
              int{CTL_PLANT_PRODUCTION} == int{CTL_PRODUCTION} &&
              int{CTL_PLANT_SHUT_DOWN} == int{CTL_COOL_DOWN} && int{CTL_PLANT_SAFE} == int{CTL_SAFE});

/// What a module is taken to report before its controller has estimated anything, V.
constexpr double kAssumedMargin = 0.05, kAssumedSigma = 0.01;

/// The plant controller is asked for off, standby or production alone.
std::uint32_t request_of(std::uint32_t mode) {
  if (mode == CTL_WARM_UP) return CTL_PLANT_STANDBY;
  return mode == CTL_STANDBY || mode == CTL_PRODUCTION ? mode : std::uint32_t{CTL_PLANT_OFF};
}

plant::Commands positions_of(const plant::Plant& plant, const plant::State& x, std::size_t n) {
  if (!plant::has_headers(plant.parameters().form)) return plant::actuator_positions(plant.layout(), x);
  const std::string prefix = plant.modules() > 1 ? fmt::format("module[{}].", n + 1) : std::string{};
  const auto at = [&](const char* name) { return x[plant.layout().index(prefix + name)]; };
  return {.compressor_speed = 0.0,
          .stack_current = at("stack.current"),
          .preheater_power = at("preheater.power"),
          .recycle_opening = 0.0,
          .feed_opening = at("feed.opening"),
          .end_power = {at("end_plate.power[1]"), at("end_plate.power[2]")}};
}

plant::SharedCommands shared_positions(const plant::Plant& plant, const plant::State& x) {
  const auto at = [&](const char* name) { return x[plant.layout().index(name)]; };
  const bool turns = plant.parameters().form.intake != plant::kFreezer;
  return {turns ? at("compressor.speed") : 0.0,
          at("anti_surge.opening"),
          at("header_recycle.opening"),
          at("exhaust.opening"),
          at("product.opening"),
          at("product.opening") > 0.0 ? 1.0 : 0.0};
}

}  // namespace

Sides::Sides(const scenarios::Case& c, const Controllers& controllers, const Faults& faults,
             plant::Plant& plant, const plant::PlantParameters& healthy, const plant::State& start,
             EventLog& log)
    : plant_(plant), case_(c), faults_(faults), log_(log), alarms_(plant_alarm_names(plant.modules())) {
  const bool headers = plant::has_headers(healthy.form);
  for (std::size_t n = 0; n < plant.modules(); ++n) {
    const plant::Commands at = positions_of(plant, start, n);
    links_.push_back(controllers.of(n));
    if (!links_[n]) links_[n] = std::make_shared<InProcess>(scenarios::module_controller_of(c, healthy, n));
    modules_.push_back(std::make_unique<ModuleSide>(c, *links_[n], faults, plant, healthy, at, log, n));
    snapshots_.push_back(&modules_[n]->snapshot());
  }
  seen_.resize(modules_.size());
  commands_.resize(modules_.size());
  if (!headers) return;
  const ctl_plant_params params = scenarios::plant_controller_of(healthy, c.scenario);
  plant_link_ = controllers.of_plant();
  if (!plant_link_) plant_link_ = std::make_shared<InProcessOf<PlantController>>(params);
  shared_.emplace(healthy, params, *plant_link_, shared_positions(plant, start), c.scenario.seed);
  whole_.model = &plant;
  whole_.sensors = modules_[0]->snapshot().sensors;
  whole_.control.mode = CTL_OFF;
  worst_ = snapshots_[0];
  whole_.modules = snapshots_;
  std::fill_n(whole_.service.begin(), modules_.size(), std::uint32_t{CTL_SERVICE_IN});
  whole_.shared = &shared_->snapshot();
}

void Sides::observe(const plant::State& x, plant::State& rates) {
  if (!shared_) return plant_.observe(x, rates, modules_[0]->snapshot().plant);
  plant_.observe(x, rates, seen_, shared_->snapshot().plant);
  for (std::size_t n = 0; n < modules_.size(); ++n) modules_[n]->snapshot().plant = seen_[n];
  hand_down();
}

/// What the run has once, into the snapshot of each module.
void Sides::hand_down() {
  if (!shared_) return;
  for (const auto& side : modules_) {
    Snapshot& s = side->snapshot();
    s.tick = whole_.tick, s.ticks_run = whole_.ticks_run, s.time = whole_.time, s.state = whole_.state;
    s.ambient = whole_.ambient, s.ambient_density = whole_.ambient_density;
    s.active_faults = whole_.active_faults, s.named_causes = whole_.named_causes;
  }
}

std::vector<std::size_t> Sides::look() {
  std::vector<std::size_t> cracked;
  for (std::size_t n = 0; n < modules_.size(); ++n)
    if (modules_[n]->look(plant_.module_parameters(n))) cracked.push_back(n);
  if (shared_) sum_up();
  return cracked;
}

void Sides::sum_up() {
  const Snapshot* worst = snapshots_[0];
  for (const Snapshot* s : snapshots_)
    if (s->coke_margin < worst->coke_margin || std::isnan(worst->coke_margin)) worst = s;
  worst_ = worst;
  whole_.plant = worst->plant;
  whole_.coke_margin = worst->coke_margin;
  whole_.worst_cell = worst->worst_cell;
  const plant::SharedOutputs& shared = shared_->snapshot().plant;
  plant::PlantOutputs& all = whole_.plant;
  all.oxygen_made = all.stack_power = all.heater_power = all.feed_flow = 0.0;
  for (const Snapshot* s : snapshots_) {
    all.oxygen_made += s->plant.oxygen_made;
    all.stack_power += s->plant.stack_power;
    all.heater_power += s->plant.heater_power;
    all.feed_flow += s->plant.feed_flow;
    all.gradient = std::max(all.gradient, s->plant.gradient);
  }
  all.oxygen_delivered = shared.oxygen_delivered;
  all.compressor_power = shared.compressor_power;
  all.exhaust_flow = shared.exhaust_flow, all.recycle_flow = shared.recycle_flow;
  all.intake_flow = shared.intake_flow;
  const auto least = [&](double Snapshot::*member, double sign) {
    double found = snapshots_[0]->*member;
    for (const Snapshot* s : snapshots_)
      if (sign * (s->*member) < sign * found || std::isnan(found)) found = s->*member;
    return found;
  };
  whole_.nickel_ratio = least(&Snapshot::nickel_ratio, 1.0);
  whole_.coldest = least(&Snapshot::coldest, 1.0);
  whole_.hottest = least(&Snapshot::hottest, -1.0);
}

void Sides::note_limits(const PlantStepper& stepper, const plant::State& before,
                        const plant::Ambient& ambient) {
  for (const auto& side : modules_) side->note_limits(stepper, before, ambient);
}

void Sides::sense() {
  for (const auto& side : modules_) side->sense();
  if (!shared_) return;
  faults_.inject(shared_->sensors(), whole_.tick, kSharedPart);
  shared_->sense(shared_->snapshot().plant, whole_.tick);
  shared_->snapshot().measured.tick = static_cast<std::uint32_t>(whole_.ticks_run);
  if (whole_.tick == 0) first_reports();
}

/// Before any controller of a module has worked, what its readings tell has to do.
void Sides::first_reports() {
  for (std::size_t n = 0; n < modules_.size(); ++n) {
    const ctl_inputs& in = modules_[n]->snapshot().measured;
    ctl_outputs out{};
    out.feed_setpoint = std::isfinite(in.feed_flow) ? std::max(0.0F, in.feed_flow) : 0.0F;
    out.oxygen_rate = static_cast<float>(modules_[n]->snapshot().plant.oxygen_made);
    out.coke_margin = static_cast<float>(kAssumedMargin);
    out.coke_sigma = static_cast<float>(kAssumedSigma);
    out.mode = CTL_OFF;
    if (in.zone_temperature[0] > static_cast<float>(kWatchedTemperature))
      out.mode = out.oxygen_rate > 2e-5F ? CTL_PRODUCTION : CTL_STANDBY;
    ctl_plant_report_of_module(&case_.scenario.controller, &in, &out, &shared_->inputs().module[n]);
  }
}

plant::RunResult Sides::control(double bus_voltage, Pacer* pacer) {
  if (!shared_) return modules_[0]->control(bus_voltage, pacer);
  ctl_plant_inputs& in = shared_->inputs();
  in.requested_mode = request_of(whole_.measured.requested_mode);
  in.oxygen_demand = whole_.measured.oxygen_demand;
  in.power_ceiling = whole_.measured.power_ceiling;
  for (std::size_t n = 0; n < modules_.size(); ++n) in.service[n] = whole_.service[n];
  hand_action();
  if (pacer != nullptr) pacer->asked();
  const plant::RunResult ordered = shared_->control(whole_.time);
  if (pacer != nullptr) pacer->answered();
  if (ordered.reason != plant::RunEnd::reached_end) return ordered;
  for (std::size_t n = 0; n < modules_.size(); ++n) {
    Snapshot& s = modules_[n]->snapshot();
    ctl_plant_orders_to_module(&in, &shared_->orders(), static_cast<std::uint32_t>(n), &s.measured);
    const plant::RunResult asked = modules_[n]->control(bus_voltage, pacer);
    if (asked.reason != plant::RunEnd::reached_end) return asked;
    ctl_plant_report_of_module(&case_.scenario.controller, &s.measured, &s.control, &in.module[n]);
  }
  const ctl_plant_outputs& orders = shared_->orders();
  whole_.control.mode = orders.mode;
  whole_.control.compressor_speed = orders.compressor_speed;
  whole_.control.coke_margin = static_cast<float>(whole_.coke_margin);
  whole_.control.limiter = worst_->control.limiter;
  whole_.control.alarms_active = orders.alarms_active;
  whole_.control.alarms_unacknowledged = orders.alarms_unacknowledged;
  whole_.control.stack_current = 0.0F;
  for (const Snapshot* s : snapshots_) whole_.control.stack_current += s->control.stack_current;
  return {};
}

void Sides::hand_action() {
  const ctl_inputs& asked = whole_.measured;
  const auto hand = [&](auto& to, int whose, std::uint32_t number) {
    const bool meant = whole_.action_for == whose || whole_.action_for == kActionForAll;
    to.alarm_action = meant ? asked.alarm_action : std::uint32_t{CTL_ALARM_NO_ACTION};
    to.alarm_number = meant ? number : 0;
    to.shelve_time = meant ? asked.shelve_time : 0.0F;
    to.maintenance = meant ? asked.maintenance : 0;
  };
  const int of_plant = scenarios::plant_alarm_of(static_cast<int>(asked.alarm_number));
  hand(shared_->inputs(), kActionForPlant,
       of_plant < 0 ? std::uint32_t{CTL_PLANT_ALARMS} : static_cast<std::uint32_t>(of_plant));
  for (std::size_t n = 0; n < modules_.size(); ++n)
    hand(modules_[n]->snapshot().measured, static_cast<int>(n), asked.alarm_number);
}

void Sides::actuate() {
  if (!shared_) return plant_.set_commands(modules_[0]->actuate());
  for (std::size_t n = 0; n < modules_.size(); ++n) {
    const plant::Commands u =
        modules_[n]->actuate(static_cast<double>(shared_->orders().order[n].feed_opening_max));
    commands_[n] = {u.stack_current, u.preheater_power, u.feed_opening, u.end_power};
  }
  faults_.inject(*shared_, kSharedPart);
  plant_.set_commands(commands_, shared_->actuate(modules_[0]->powered()));
}

void Sides::note_changes() {
  for (const auto& side : modules_) side->note_changes();
  if (shared_) note_plant();
}

void Sides::note_plant() {
  const ctl_plant_outputs& out = shared_->orders();
  if (out.mode != plant_mode_) {
    plant_mode_ = out.mode;
    if (out.mode == CTL_PLANT_SAFE)
      log_.log(whole_.time, LogKind::interlock, "safe: " + words_of(plant_condition_words(), out.tripped));
    else
      log_.log(whole_.time, LogKind::mode, std::string(word_of(plant_mode_words(), out.mode)));
  }
  for (std::uint32_t n = 0; n < plant_diagnosis_words().size(); ++n) {
    const std::uint32_t bit = 1U << n;
    if ((out.diagnosed & bit) == (plant_diagnosed_ & bit)) continue;
    const bool stands = (out.diagnosed & bit) != 0;
    const std::string what(plant_diagnosis_words()[n].word);
    log_.log(whole_.time, LogKind::diagnosis, stands ? what : what + ", is over", what, stands);
  }
  plant_diagnosed_ = out.diagnosed;
  note_alarms();
}

void Sides::note_alarms() {
  const AlarmStates states = alarm_states(whole_);
  for (const AlarmChange& change :
       alarms_.tick(states.all(), alarms_ignored(whole_), whole_.time, case_.scenario.period)) {
    if (change.alarm >= CTL_PLANT_ALARMS) continue;  // its module has logged it
    const ListWord& alarm = plant_alarm_words()[change.alarm];
    const std::string word(alarm.word);
    if (change.begins)
      log_.log(whole_.time, LogKind::alarm,
               fmt::format("{} ({}): {}", word, plant_alarm_priority(change.alarm), alarm.meaning), word);
    else
      log_.log(whole_.time, LogKind::alarm_return, word + " returned", word, false);
  }
}

void Sides::fit_wire() {
  for (const auto& side : modules_) side->fit_wire();
}
void Sides::calibrated() {
  for (const auto& side : modules_) side->calibrated();
  if (shared_) shared_->sensors().calibrate(whole_.tick);
}

std::vector<std::string> Sides::plant_reasons_against(std::uint32_t mode) const {
  if (!shared_) return {};
  const auto out = shared_->try_request(mode);
  std::vector<std::string> reasons;
  if (!out || out->mode == mode) return reasons;
  const auto words = plant_condition_words();
  for (std::size_t bit = 0; bit < words.size(); ++bit)
    if ((out->unmet_permissives >> bit & 1U) != 0) reasons.emplace_back(words[bit].word);
  return reasons;
}

bool Sides::can_be_kept() {
  return std::all_of(modules_.begin(), modules_.end(),
                     [](const auto& side) { return side->can_be_kept(); }) &&
         (!shared_ || shared_->can_be_kept());
}

void Sides::keep(scenarios::Keeper& k) {
  for (const auto& side : modules_) k(*side);
  if (!shared_) return;
  k(*shared_, whole_.measured, whole_.control, whole_.service, plant_mode_, plant_diagnosed_, alarms_);
  hand_down();
}

}  // namespace duskline::harness
