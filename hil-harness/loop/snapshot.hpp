/// Everything that is known at one tick: what a recorder, a summary or a person may look at.
#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "controller/include/controller.h"
#include "controller/include/plant_controller.h"
#include "plant-model/instruments/sensor.hpp"
#include "plant-model/plant.hpp"

namespace duskline::harness {

/// What is known of the part that the modules of a plant with headers share.
struct SharedSnapshot {
  plant::SharedOutputs plant{};
  ctl_plant_inputs measured{};
  ctl_plant_outputs control{};
  const ctl_plant_params* params{};  ///< of the plant controller
  const ctl_plant_state* memory{};   ///< of its controller, as this tick left it; null: outside this program
  const plant::SensorBank* sensors{};  ///< as they are after the reading of this tick
};

/// Besides the number of a module: whose alarms an action is about.
inline constexpr int kActionForPlant = -1, kActionForAll = -2;

/// Of one module, with what the run has once. In a plant with headers each module has its own; the first one's is that of the
/// run, from which the others are reached.
struct Snapshot {
  std::int64_t tick{};
  std::int64_t ticks_run{};    ///< before this one: `tick`, less what a fast-forward stepped over
  std::size_t sols_stepped{};  ///< whole sols stepped over just before this tick
  double time{};               ///< s since the start of the run
  plant::Ambient ambient{};
  double ambient_density{};  ///< kg/m3
  const plant::State* state{};
  const plant::Plant* model{};         ///< with the surroundings, parameters and commands of this tick
  const plant::SensorBank* sensors{};  ///< as they are after the reading of this tick
  plant::PlantOutputs plant{};
  ctl_inputs measured{};
  ctl_outputs control{};
  const ctl_state* memory{};  ///< of its controller, as this tick left it; null: nobody can look into it
  double coke_margin{};       ///< V, least of the cells that are hot enough to coke; NaN: none is
  double nickel_ratio{};      ///< least of the cells that are hot enough to oxidise; NaN: none is
  std::size_t worst_cell{};
  double coldest{}, hottest{};   ///< K, zones
  double answer_age{};           ///< s since the readings that the commands in force answer
  double active_faults{};        ///< faults of the scenario that act
  std::uint32_t named_causes{};  ///< ctl_diagnosis bits that the operator has named so far
  std::span<const Snapshot* const>
      modules{};  ///< all modules between headers, this one first; on the bench none
  std::array<std::uint32_t, plant::kMostModules>
      service{};  ///< ctl_service that the operator says of each of them
  int action_for{
      kActionForAll};  ///< of several modules, whose alarms `measured.alarm_action` is about: from 0
  const SharedSnapshot* shared{};  ///< what they share; on the bench null
};

/// `f` of the snapshot of each stack module; on the bench of `s` itself.
template <class F>
void for_each_module(const Snapshot& s, F f) {
  if (s.modules.empty()) return f(s);
  for (const Snapshot* module : s.modules) f(*module);
}

/// Zone temperature above which carbon and nickel oxide are watched: below it both are frozen out.
inline constexpr double kWatchedTemperature = 873.15;

}  // namespace duskline::harness
