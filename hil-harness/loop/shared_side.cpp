#include "hil-harness/loop/shared_side.hpp"

#include <fmt/format.h>

#include <cmath>

#include "hil-harness/links/answer.hpp"
#include "scenarios/reader/instruments.hpp"

namespace duskline::harness {
namespace {

std::array<plant::SensorSpec, CTL_PLANT_INSTRUMENTS> sensor_specs() {
  std::array<plant::SensorSpec, CTL_PLANT_INSTRUMENTS> specs;
  for (std::size_t n = 0; n < specs.size(); ++n) {
    const scenarios::InstrumentRow& row = scenarios::kSharedInstruments[n];
    specs[n] = row.spec;
    specs[n].random_walk = row.walk / std::sqrt(row.walk_time);
  }
  return specs;
}

}  // namespace

SharedSide::SharedSide(const plant::PlantParameters& p, const ctl_plant_params& params, PlantLink& link,
                       const plant::SharedCommands& start, std::uint64_t seed)
    : params_(params), link_(link), sensors_(sensor_specs(), seed, static_cast<double>(params.period)) {
  const auto rated = plant::shared_ratings(p);
  std::size_t n = 0;
#define PLANT_DRIVE(name, unit, least, most, step, unpowered, meaning) \
  drives_[n++] = {{#name, unit, least, rated.name.upper, rated.name.slew, step}, unpowered, {start.name, {}}};
  CTL_PLANT_OUTPUT_LIST(PLANT_DRIVE)
#undef PLANT_DRIVE
}

void SharedSide::sense(const plant::SharedOutputs& seen, std::int64_t tick) {
  s_.params = &params_, s_.memory = link_.own_memory(), s_.sensors = &sensors_;
  std::array<double, CTL_PLANT_INSTRUMENTS> truth{}, readings{};
  std::size_t n = 0;
#define TRUE_VALUE(name, ...) truth[n++] = seen.truth.name;
  CTL_PLANT_INPUT_LIST(TRUE_VALUE)
#undef TRUE_VALUE
  sensors_.sample(truth, tick, readings);
  n = 0;
#define READING(name, ...) s_.measured.name = static_cast<float>(readings[n++]);
  CTL_PLANT_INPUT_LIST(READING)
#undef READING
}

plant::RunResult SharedSide::control(double time) {
  const std::string own = PlantController::kName;
  const auto named = [&](const std::string& who) { return who == own ? who : own + ": " + who; };
  if (link_.step(s_.measured, s_.control) != CTL_OK) return {link_.end(), time, named(link_.error())};
  const std::string what = unusable(s_.control);
  if (what.empty()) return {};
  return {plant::RunEnd::answer_unusable, time, named(fmt::format("{}: {}", link_.name(), what))};
}

std::optional<ctl_plant_outputs> SharedSide::try_request(std::uint32_t mode) const {
  const ctl_plant_state* now = link_.own_memory();
  if (now == nullptr) return {};
  ctl_plant_inputs in = s_.measured;
  in.requested_mode = mode;
  in.alarm_action = CTL_ALARM_NO_ACTION;
  ++in.tick;
  ctl_plant_state state = *now;
  ctl_plant_outputs out = s_.control;
  link_.step_from(state, params_, in, out);
  return out;
}

void SharedSide::set_fault(std::string_view command, int, plant::ActuatorFault fault) {
  for (Drive& d : drives_)
    if (d.spec.name == command) d.state.fault = fault;
}

plant::SharedCommands SharedSide::actuate(bool powered) {
  const auto drive = [&](Drive& d, float command) {
    if (powered)
      return plant::actuate(d.spec, d.state, static_cast<double>(command),
                            static_cast<double>(params_.period));
    if (d.unpowered != 1) d.state.position = d.unpowered == 2 ? d.spec.upper : 0.0;
    return d.state.position;
  };
  plant::SharedCommands u;
  std::size_t n = 0;
#define DRIVE(name, ...) u.name = drive(drives_[n++], s_.control.name);
  CTL_PLANT_OUTPUT_LIST(DRIVE)
#undef DRIVE
  return u;
}

}  // namespace duskline::harness
