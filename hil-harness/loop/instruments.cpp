#include "hil-harness/loop/instruments.hpp"

namespace duskline::harness {
namespace {

/// Calls what is given for each of the items of a row, a single one or an array.
template <class X, class Y, class Act>
void pair_items(X& x, Y& y, const Act& act) {
  if constexpr (requires { x[0]; })
    for (std::size_t k = 0; k < std::size(x); ++k) act(x[k], y[k]);
  else
    act(x, y);
}

}  // namespace

void true_values(const Snapshot& s, Channels& out) {
  const plant::TrueValues<double>& truth = s.plant.truth;
  std::size_t n = 0;
#define TRUE_VALUE(name, ...) out[n++] = truth.name;
#define TRUE_VALUES(name, count, ...)                        \
  static_assert(std::size(decltype(truth.name){}) == count); \
  for (const double one : truth.name) out[n++] = one;
  CTL_INPUT_LIST(TRUE_VALUE, TRUE_VALUES)
#undef TRUE_VALUE
#undef TRUE_VALUES
}

void put_readings(const Channels& readings, ctl_inputs& in) {
  std::size_t n = 0;
#define READING(name, ...) in.name = static_cast<float>(readings[n++]);
#define READINGS(name, ...) \
  for (float& one : in.name) one = static_cast<float>(readings[n++]);
  CTL_INPUT_LIST(READING, READINGS)
#undef READING
#undef READINGS
}

ActuatorBank::ActuatorBank(const plant::PlantParameters& p, const plant::Commands& start) {
  const auto rated = plant::ratings(p);
  std::size_t row = 0, n = 0;
  const auto add = [&](const plant::Rating& rating, double position) {
    const scenarios::CommandRow& r = scenarios::kCommandTable[row];
    channels_[n].spec = {r.name, r.unit, r.lower, rating.upper, rating.slew, r.step};
    channels_[n].stays = r.stays;
    channels_[n++].state.position = position;
  };
#define ACTUATOR(name, ...)                \
  pair_items(rated.name, start.name, add); \
  ++row;
  CTL_OUTPUT_LIST(ACTUATOR, ACTUATOR)
#undef ACTUATOR
}

void ActuatorBank::set_fault(std::string_view command, int item, plant::ActuatorFault fault) {
  const std::size_t channel =
      scenarios::command_channel(command) + (item > 0 ? static_cast<std::size_t>(item) : 0);
  if (channel < channels_.size()) channels_[channel].state.fault = fault;
}

plant::Commands ActuatorBank::actuate(const ctl_outputs& out, double period, bool powered) {
  plant::Commands u;
  std::size_t n = 0;
  const auto drive = [&](double& driven, const float& command) {
    Actuator& a = channels_[n++];
    if (powered)
      driven = plant::actuate(a.spec, a.state, static_cast<double>(command), period);
    else
      driven = a.stays ? a.state.position : a.state.position = 0.0;
  };
#define DRIVE(name, ...) pair_items(u.name, out.name, drive);
  CTL_OUTPUT_LIST(DRIVE, DRIVE)
#undef DRIVE
  return u;
}

}  // namespace duskline::harness
