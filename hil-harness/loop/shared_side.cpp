#include "hil-harness/loop/shared_side.hpp"

#include <cmath>

#include "scenarios/reader/instruments.hpp"

namespace duskline::harness {
namespace {

// Their random numbers are those of the plant: modules have instruments of the same names.
#define PLANT_SENSOR(name, unit, lower, upper, first, sheet, meaning, source) \
  scenarios::instrument_row("plant." #name, 1, unit, lower, upper, ctl_data_sheet sheet, meaning, source),
constexpr std::array<scenarios::InstrumentRow, CTL_PLANT_INSTRUMENTS> kRows{
    CTL_PLANT_INPUT_LIST(PLANT_SENSOR)};
#undef PLANT_SENSOR

std::array<plant::SensorSpec, CTL_PLANT_INSTRUMENTS> sensor_specs() {
  std::array<plant::SensorSpec, CTL_PLANT_INSTRUMENTS> specs;
  for (std::size_t n = 0; n < specs.size(); ++n) {
    specs[n] = kRows[n].spec;
    specs[n].random_walk = kRows[n].walk / std::sqrt(kRows[n].walk_time);
  }
  return specs;
}

}  // namespace

SharedSide::SharedSide(const plant::PlantParameters& p, const ctl_plant_params& params,
                       const plant::SharedCommands& start, std::uint64_t seed)
    : params_(params),
      status_(ctl_plant_init(&state_, &params_)),
      sensors_(sensor_specs(), seed, static_cast<double>(params.period)) {
  const auto rated = plant::shared_ratings(p);
  std::size_t n = 0;
#define PLANT_DRIVE(name, unit, least, most, step, unpowered, meaning) \
  drives_[n++] = {{#name, unit, least, rated.name.upper, rated.name.slew, step}, unpowered, {start.name, {}}};
  CTL_PLANT_OUTPUT_LIST(PLANT_DRIVE)
#undef PLANT_DRIVE
}

void SharedSide::sense(const plant::SharedOutputs& seen, std::int64_t tick) {
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
  s_.measured.tick = static_cast<std::uint32_t>(tick);
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
