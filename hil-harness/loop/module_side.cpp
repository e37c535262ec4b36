#include "hil-harness/loop/module_side.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "hil-harness/links/answer.hpp"
#include "hil-harness/loop/pacer.hpp"
#include "plant-model/random/noise.hpp"
#include "plant-model/stack/crack.hpp"

namespace duskline::harness {
namespace {

std::string name_of(const plant::Plant& plant, std::size_t number) {
  return plant.modules() > 1 ? fmt::format("module {}", number + 1) : std::string{};
}

/// The first module has the random numbers of a plant of one.
std::uint64_t seed_of(std::uint64_t seed, std::size_t number) {
  return number == 0 ? seed : seed ^ plant::stream_hash(fmt::format("module[{}]", number + 1));
}

}  // namespace

ModuleSide::ModuleSide(const scenarios::Case& c, Link& link, const Faults& faults, const plant::Plant& plant,
                       const plant::PlantParameters& built, const plant::Commands& start, EventLog& log,
                       std::size_t number)
    : period_(c.scenario.period),
      number_(static_cast<Part>(number)),
      link_(link),
      faults_(faults),
      log_(log, name_of(plant, number)),
      faulty_wire_(link, seed_of(c.scenario.seed, number)),
      wired_(faults.on_wire(number_)),
      specs_(scenarios::expand(c.plant.instruments)),
      sensors_(specs_, seed_of(c.scenario.seed, number), period_),
      actuators_(built, start),
      supply_(log_),
      limits_(period_, number, log_),
      changes_(log_) {
  s_.model = &plant;
  s_.sensors = &sensors_;
  s_.memory = link.memory();
  s_.control.mode = CTL_OFF;
}

void ModuleSide::fit_wire() {
  if (wired_ || !faults_.on_wire(number_)) return;
  faulty_wire_.begin(s_.ticks_run, s_.control);
  wired_ = true;
}

bool ModuleSide::look(const plant::PlantParameters& p) {
  watch_limits(p, s_);
  // a gradient or a pressure difference beyond what the ceramic stands cracks one cell for good
  const double load = std::abs(s_.plant.cathode_pressure - s_.plant.anode_pressure);
  if (cracked_ || !plant::overloaded(p.stack, s_.plant.gradient, load)) return false;
  log_.log(s_.time, LogKind::fault,
           fmt::format("cell {} cracked: {:.0f} K between zones, {:.1f} kPa across", s_.worst_cell + 1,
                       s_.plant.gradient, load * 1e-3));
  return cracked_ = true;
}

void ModuleSide::sense() {
  true_values(s_, truth_);
  faults_.inject(sensors_, s_.tick, number_);
  sensors_.sample(truth_, s_.tick, readings_);
  faults_.inject(readings_, number_);
  put_readings(readings_, s_.measured);
  s_.measured.local_time = static_cast<float>(s_.ambient.local_time);
  s_.measured.tick = static_cast<std::uint32_t>(s_.ticks_run);
  s_.measured.clear_corrections = std::exchange(calibrated_, false) ? CTL_CALIBRATED : 0u;
}

plant::RunResult ModuleSide::control(double bus_voltage, Pacer* pacer) {
  Link& link = wired_ ? faulty_wire_ : link_;
  if (wired_) faulty_wire_.set(faults_.wire(period_, number_));
  if (!supply_.follow(bus_voltage, s_.time, faults_.resets(number_), faults_.memory_intact(number_), link))
    return {link_.end(), s_.time, log_.of_module(link_.error())};
  plant::RunResult asked = ask_controller(link, pacer);
  if (wired_ && asked.reason == plant::RunEnd::reached_end) note_wire();
  return asked;
}

plant::RunResult ModuleSide::ask_controller(Link& link, Pacer* pacer) {
  if (!supply_.controller_powered()) {
    s_.control = ctl_outputs{};
    return {};
  }
  if (pacer != nullptr) pacer->asked();
  const bool well = link.step(s_.measured, s_.control) == CTL_OK;
  if (pacer != nullptr) pacer->answered();
  if (!well) return {link_.end(), s_.time, log_.of_module(link_.error())};
  const std::string what = unusable(s_.control);
  if (what.empty()) return {};
  return {plant::RunEnd::answer_unusable, s_.time, log_.of_module(fmt::format("{}: {}", link_.name(), what))};
}

/// How old the commands are, and whether the outputs are armed.
void ModuleSide::note_wire() {
  s_.answer_age = period_ * faulty_wire_.age();
  const bool armed = faulty_wire_.armed();
  if (armed == armed_) return;
  armed_ = armed;
  log_.log(s_.time, LogKind::wire,
           armed ? "outputs armed again: the controller takes over the plant as it finds it"
                 : fmt::format("outputs off: no valid answer for {} ticks", kBlindTicks),
           "outputs", !armed);
}

plant::Commands ModuleSide::actuate(double most) {
  faults_.inject(actuators_, number_);
  s_.control.feed_opening = std::min(s_.control.feed_opening, static_cast<float>(most));
  return actuators_.actuate(s_.control, period_, supply_.powered());
}

void ModuleSide::keep(scenarios::Keeper& k) {
  auto& [period, number, link, faults, log, wire, wired, armed, specs, sensors, actuators, supply, limits,
         changes, s, truth, readings, cracked, calibrated] = *this;
  k(wire, wired, armed, actuators, supply, limits, changes, cracked, calibrated);
  for (plant::SensorState& state : sensors.states()) k(state);
  k(s.measured, s.control, s.answer_age, *link.own_memory());
}

}  // namespace duskline::harness
