/// What stands between the part of a plant that several modules share and its controller: instruments, plant controller,
/// actuators.
///
/// What it is   the rows of CTL_PLANT_INPUT_LIST as sensors of what the modules share, the rows of CTL_PLANT_OUTPUT_LIST
///              with the ratings of its machine and valves; a row whose field the plant lacks does not compile
/// Validity     called in the order of a tick (loop.hpp): sense, control, actuate; requests and reports of the modules are
///              put into `inputs()` between sense and control
#pragma once

#include <cstdint>

#include "hil-harness/loop/snapshot.hpp"
#include "plant-model/instruments/actuator.hpp"
#include "scenarios/requirements/keeper.hpp"

namespace duskline::harness {

/// The plant controller by its C interface: that of this program, or of a shared object.
struct PlantControllerCalls {
  decltype(&ctl_plant_default_params) default_params = ctl_plant_default_params;
  decltype(&ctl_plant_init) init = ctl_plant_init;
  decltype(&ctl_plant_step) step = ctl_plant_step;
  decltype(&ctl_plant_orders_to_module) orders_to_module = ctl_plant_orders_to_module;
  decltype(&ctl_plant_report_of_module) report_of_module = ctl_plant_report_of_module;
};

class SharedSide {
 public:
  /// `start`: where the actuators stand.
  SharedSide(const plant::PlantParameters& p, const ctl_plant_params& params,
             const PlantControllerCalls& calls, const plant::SharedCommands& start, std::uint64_t seed);

  ctl_plant_inputs& inputs() { return s_.measured; }
  const ctl_plant_outputs& orders() const { return s_.control; }
  SharedSnapshot& snapshot() { return s_; }
  plant::SensorBank& sensors() { return sensors_; }

  void sense(const plant::SharedOutputs& seen, std::int64_t tick);
  ctl_status control() {
    return status_ == CTL_OK ? calls_.step(&state_, &params_, &s_.measured, &s_.control) : status_;
  }
  /// What the controller would answer to this request now; it does not move.
  ctl_plant_outputs try_request(std::uint32_t mode) const {
    ctl_plant_inputs in = s_.measured;
    in.requested_mode = mode;
    in.alarm_action = CTL_ALARM_NO_ACTION;
    ++in.tick;
    ctl_plant_state state = state_;
    ctl_plant_outputs out = s_.control;
    if (status_ == CTL_OK) ctl_plant_step(&state, &params_, &in, &out);
    return out;
  }
  /// Without power each goes where its row says.
  plant::SharedCommands actuate(bool powered);
  /// `command` is a name of CTL_PLANT_OUTPUT_LIST.
  void set_fault(std::string_view command, int item, plant::ActuatorFault fault);

  void keep(scenarios::Keeper& k) {
    auto& [params, calls, state, status, snapshot, sensors, drives] = *this;
    k(state, snapshot.measured, snapshot.control);
    for (plant::SensorState& sensor : sensors.states()) k(sensor);
    for (Drive& drive : drives) k(drive.state);
  }

 private:
  struct Drive {
    plant::ActuatorSpec spec;
    int unpowered;  ///< 0: to zero; 1: stays; 2: to its upper end
    plant::ActuatorState state;
  };

  ctl_plant_params params_;
  PlantControllerCalls calls_;
  ctl_plant_state state_{};
  ctl_status status_;
  SharedSnapshot s_;
  plant::SensorBank sensors_;
  std::array<Drive, CTL_PLANT_COMMANDS> drives_;
};

}  // namespace duskline::harness
