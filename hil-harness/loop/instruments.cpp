#include "hil-harness/loop/instruments.hpp"

#include "plant-model/flow/bearing.hpp"

namespace duskline::harness {

void true_values(const plant::PlantParameters& p, const Snapshot& s, Channels& out) {
  namespace at = plant::at;
  const plant::State& x = *s.state;
  // what each instrument looks at, under its name in the controller's list
  const double ambient_pressure = s.ambient.pressure, ambient_temperature = s.ambient.temperature;
  const double plenum_pressure = s.plant.plenum_pressure, plenum_temperature = x[at::plenum_wall];
  const double cathode_pressure = s.plant.cathode_pressure, anode_pressure = s.plant.anode_pressure;
  const double feed_flow = s.plant.feed_flow, compressor_speed = x[at::speed],
               compressor_temperature = x[at::shell];
  const double preheater_temperature = x[at::preheater], housing_temperature = x[at::housing];
  const double stack_current = x[at::current], outlet_co_fraction = s.plant.cathode_gas[plant::CO];
  const double product_oxygen_fraction = s.plant.anode_gas[plant::O2], product_flow = s.plant.product_flow;
  const double bus_voltage = p.power.bus_voltage, bus_power = s.plant.bus_power;
  const double filter_differential_pressure = s.ambient.pressure - s.plant.suction_pressure;
  const double bearing_vibration =
      plant::bearing_tone(p.compressor.tone, p.compressor.bearing_wear, compressor_speed);
  const double* end_temperature = &x[at::end_plate];
  const double* zone_temperature = s.plant.zone_temperature.data();
  const double* cell_voltage = s.plant.cells.voltage.data();
  std::size_t n = 0;
#define SCALAR(name, unit, lower, upper, meaning) out[n++] = name;
#define ARRAY(name, count, unit, lower, upper, meaning) \
  for (std::size_t i = 0; i < (count); ++i) out[n++] = name[i];
  CTL_INPUT_LIST(SCALAR, ARRAY)
#undef SCALAR
#undef ARRAY
}

void put_readings(const Channels& readings, ctl_inputs& in) {
  std::size_t n = 0;
#define SCALAR(name, unit, lower, upper, meaning) in.name = static_cast<float>(readings[n++]);
#define ARRAY(name, count, unit, lower, upper, meaning) \
  for (std::size_t i = 0; i < (count); ++i) in.name[i] = static_cast<float>(readings[n++]);
  CTL_INPUT_LIST(SCALAR, ARRAY)
#undef SCALAR
#undef ARRAY
}

ActuatorBank::ActuatorBank(const plant::PlantParameters& p, const plant::State& start)
    : speed_{"compressor_speed", "rad s-1", 0.0, p.power.speed_max, p.compressor.acceleration, 0.05},
      current_{"stack_current", "A", 0.0, p.power.current_max, p.power.current_slew, 0.001},
      end_power_{"end_power", "W", 0.0, p.heat.end_heater_max, 50.0, 0.05},
      preheater_power_{"preheater_power", "W", 0.0, p.heat.preheater_max, 50.0, 0.05},
      recycle_{"recycle_opening", "1", 0.0, 1.0, 0.2, 0.001} {
  namespace at = plant::at;
  speed_state_.position = start[at::speed];
  current_state_.position = start[at::current];
  preheater_state_.position = start[at::preheater_power];
  recycle_state_.position = start[at::recycle_opening];
  for (std::size_t e = 0; e < plant::kEnds; ++e) end_state_[e].position = start[at::end_power + e];
}

void ActuatorBank::set_fault(std::string_view command, int item, plant::ActuatorFault fault) {
  if (command == "compressor_speed") speed_state_.fault = fault;
  if (command == "stack_current") current_state_.fault = fault;
  if (command == "preheater_power") preheater_state_.fault = fault;
  if (command == "recycle_opening") recycle_state_.fault = fault;
  if (command == "end_power" && item >= 0 && item < CTL_ENDS)
    end_state_[static_cast<std::size_t>(item)].fault = fault;
}

plant::Commands ActuatorBank::actuate(const ctl_outputs& out, double period, bool powered) {
  plant::Commands u;
  if (!powered) {
    speed_state_.position = current_state_.position = preheater_state_.position = 0.0;
    for (auto& end : end_state_) end.position = 0.0;
    u.recycle_opening = recycle_state_.position;
    return u;
  }
  u.speed = plant::actuate(speed_, speed_state_, out.compressor_speed, period);
  u.current = plant::actuate(current_, current_state_, out.stack_current, period);
  for (std::size_t e = 0; e < plant::kEnds; ++e)
    u.end_power[e] = plant::actuate(end_power_, end_state_[e], out.end_power[e], period);
  u.preheater_power = plant::actuate(preheater_power_, preheater_state_, out.preheater_power, period);
  u.recycle_opening = plant::actuate(recycle_, recycle_state_, out.recycle_opening, period);
  return u;
}

}  // namespace duskline::harness
