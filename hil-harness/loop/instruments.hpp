/// Where plant and controller meet: what the instruments see of the plant, and what the actuators are driven with.
/// Both walk the controller's lists; a row whose field the plant lacks does not compile.
#pragma once

#include "hil-harness/loop/snapshot.hpp"
#include "plant-model/instruments/actuator.hpp"
#include "plant-model/instruments/sensor.hpp"
#include "scenarios/reader/instruments.hpp"
#include "scenarios/requirements/keeper.hpp"

namespace duskline::harness {

using Channels = std::array<double, scenarios::kReadingChannels>;

/// True values of all channels, in the order of CTL_INPUT_LIST.
void true_values(const Snapshot& s, Channels& out);

/// Readings into the measurement part of the controller's inputs.
void put_readings(const Channels& readings, ctl_inputs& in);

/// The command path of every actuator: saturation and slew by the plant's ratings, from where the plant stands.
/// Without power everything is off at once, except what stays where it is.
class ActuatorBank {
 public:
  ActuatorBank(const plant::PlantParameters& p, const plant::Commands& start);
  plant::Commands actuate(const ctl_outputs& out, double period, bool powered = true);
  /// `command` is a name of CTL_OUTPUT_LIST, `item` the one of its items, from 0.
  void set_fault(std::string_view command, int item, plant::ActuatorFault fault);
  void keep(scenarios::Keeper& k) {
    auto& [channels] = *this;
    for (Actuator& a : channels) k(a.state);  // the rest is made from the plant
  }

 private:
  struct Actuator {
    plant::ActuatorSpec spec;
    plant::ActuatorState state;
    bool stays;
  };
  std::array<Actuator, scenarios::kCommandChannels> channels_{};
};

}  // namespace duskline::harness
