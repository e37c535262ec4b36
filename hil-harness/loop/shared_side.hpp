/// What stands between the part of a plant that several modules share and its controller: instruments, plant controller,
/// actuators.
///
/// What it is   the rows of CTL_PLANT_INPUT_LIST as sensors of what the modules share, the rows of CTL_PLANT_OUTPUT_LIST
///              with the ratings of its machine and valves; a row whose field the plant lacks does not compile
/// Validity     called in the order of a tick (loop.hpp): sense, control, actuate; requests and reports of the modules are
///              put into `inputs()` between sense and control
#pragma once

#include <cstdint>
#include <optional>

#include "hil-harness/links/link.hpp"
#include "hil-harness/loop/snapshot.hpp"
#include "plant-model/instruments/actuator.hpp"
#include "scenarios/requirements/keeper.hpp"

namespace duskline::harness {

class SharedSide {
 public:
  /// `params`: of the plant controller behind the link, which must outlive it; `start`: where the actuators stand.
  SharedSide(const plant::PlantParameters& p, const ctl_plant_params& params, PlantLink& link,
             const plant::SharedCommands& start, std::uint64_t seed);

  ctl_plant_inputs& inputs() { return s_.measured; }
  const ctl_plant_outputs& orders() const { return s_.control; }
  SharedSnapshot& snapshot() { return s_; }
  plant::SensorBank& sensors() { return sensors_; }

  void sense(const plant::SharedOutputs& seen, std::int64_t tick);
  /// Asks the controller. Anything but reached_end ends the run; `time` [s] is that of the run.
  plant::RunResult control(double time);
  /// What the controller would answer to this request now, without moving; none: it is outside this program.
  std::optional<ctl_plant_outputs> try_request(std::uint32_t mode) const;
  /// Whether the controller shows its memory.
  bool can_be_kept() { return link_.own_memory() != nullptr; }
  /// Without power each goes where its row says.
  plant::SharedCommands actuate(bool powered);
  /// `command` is a name of CTL_PLANT_OUTPUT_LIST.
  void set_fault(std::string_view command, int item, plant::ActuatorFault fault);

  void keep(scenarios::Keeper& k) {
    auto& [params, link, snapshot, sensors, drives] = *this;
    k(*link.own_memory(), snapshot.measured, snapshot.control);
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
  PlantLink& link_;
  SharedSnapshot s_;
  plant::SensorBank sensors_;
  std::array<Drive, CTL_PLANT_COMMANDS> drives_;
};

}  // namespace duskline::harness
