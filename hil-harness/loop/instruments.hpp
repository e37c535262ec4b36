/// What the instruments see of the plant, and what the controller gets of that.
#pragma once

#include "hil-harness/loop/snapshot.hpp"
#include "plant-model/instruments/actuator.hpp"
#include "plant-model/instruments/instrument_table.hpp"
#include "plant-model/instruments/sensor.hpp"

namespace duskline::harness {

using Channels = std::array<double, plant::kInstruments>;

/// True values of all channels, in the order of CTL_INPUT_LIST.
void true_values(const plant::PlantParameters& p, const Snapshot& s, Channels& out);

/// Readings into the measurement part of the controller's inputs.
void put_readings(const Channels& readings, ctl_inputs& in);

/// The command path of every actuator: saturation and slew by the plant's parameters, from where the plant
/// stands. Without power drive, converter and heaters are off at once and the valve stays where it is.
class ActuatorBank {
 public:
  ActuatorBank(const plant::PlantParameters& p, const plant::State& start);
  plant::Commands actuate(const ctl_outputs& out, double period, bool powered = true);
  /// `command` is a name of CTL_OUTPUT_LIST, `item` the one of its items.
  void set_fault(std::string_view command, int item, plant::ActuatorFault fault);

 private:
  plant::ActuatorSpec speed_, current_, end_power_, preheater_power_, recycle_;
  plant::ActuatorState speed_state_, current_state_, preheater_state_, recycle_state_;
  std::array<plant::ActuatorState, plant::kEnds> end_state_;
};

}  // namespace duskline::harness
