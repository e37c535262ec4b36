/// The faults of a scenario at work: what begins and ends at a tick, and what each does to its target.
///
/// What it is   a schedule over the fault table; parameters, channels, commands, clocks and air are given to
///              it in turn, and it corrupts them as far as the faults that act have come
/// Equation     as in plant-model/instruments/fault_table.hpp; parameters ramp in 1 % steps
/// Symbols      t [s] since the start of the run
/// Validity     parameters are always worked out from the healthy ones, so that they return exactly; of
///              two faults on one channel or command the later one of the list prevails; a fault acts on the parts of
///              its scope: a module that is named, else all of them, or what they share
/// Source       the two voltages are estimates: converters of a 28 V bus give up near 16 V, small regulators
///              near 9 V
/// Left out     storms, gusts and vortices, which the environment is given before the run
#pragma once

#include <functional>
#include <vector>

#include "hil-harness/links/faulty_wire.hpp"
#include "hil-harness/loop/instruments.hpp"
#include "plant-model/environment/climate.hpp"
#include "plant-model/instruments/fault_table.hpp"
#include "scenarios/reader/acts.hpp"
#include "scenarios/requirements/keeper.hpp"

namespace duskline::harness {

/// A part of the plant with instruments and commands of its own: a module, from 0, or what several share.
using Part = int;
inline constexpr Part kSharedPart = -1;

class Faults {
 public:
  /// Those that wait for a condition are left out until they are added (fault_trigger.hpp).
  explicit Faults(std::span<const plant::FaultEvent> events);

  /// A fault more, from its own time on.
  void add(const plant::FaultEvent& event);
  /// Ends those that are meant at t, or before they begin; false: there is none.
  bool clear(const scenarios::FaultClearing& meant, double t);

  using News = std::function<void(const plant::FaultEvent&, bool begins)>;
  /// Goes to t, tick by tick; true when parameters must be worked out anew.
  bool move_to(double t, const News& news);

  /// The parameters of a module; kSharedPart: of the plant, which those of a single module do not touch.
  void inject(plant::PlantParameters& healthy, Part part = kSharedPart) const;
  void inject(plant::Ambient& air) const;
  void inject(plant::SensorBank& sensors, std::int64_t tick, Part part = 0) const;
  void inject(Channels& readings, Part module = 0) const;
  /// `Actuators` has set_fault(command, item, fault).
  template <class Actuators>
  void inject(Actuators& actuators, Part part = 0) const requires requires {
    actuators.set_fault(std::string_view{}, 0, plant::ActuatorFault{});
  }
  {
    drive(part, [&](const auto&... what) { actuators.set_fault(what...); });
  }
  void inject(ctl_inputs& in, double period, Part module = 0) const;

  /// Whether any fault of the wire to the controller is among them, now or later.
  bool on_wire(Part module = 0) const;
  WireState wire(double period, Part module = 0) const;
  bool link_lost() const { return count(plant::FaultEffect::link) > 0; }
  /// The controller is reset at this tick, with its memory or without.
  bool resets(Part module = 0) const;
  bool memory_intact(Part module = 0) const;
  double acting() const;
  /// All that it goes by, now or later.
  std::vector<plant::FaultEvent> events() const;
  void keep(scenarios::Keeper& k);

 private:
  struct ActiveFault {
    plant::FaultEvent event;
    const plant::FaultRow* row;
    double share;  ///< 0 to 1, for parameters in steps of 1 %
    bool acts;
    bool resets;  ///< the controller, at this tick
    bool on(Part part) const;
  };
  int count(plant::FaultEffect effect) const;
  using SetFault = std::function<void(std::string_view, int, plant::ActuatorFault)>;
  void drive(Part part, const SetFault& set) const;

  std::vector<ActiveFault> faults_;
  bool touched_ = false;  ///< a fault of channels or commands acts or has just ended
};

/// Adds the storms, gusts and vortices among the faults that wait for no condition to the surroundings.
void add_weather(std::span<const plant::FaultEvent> faults, plant::EnvironmentSettings& settings);

/// Storms, gusts, vortices and cold air, distinguished from what goes wrong with the plant.
bool is_weather(const plant::FaultEvent& event);

/// "filter-blocked, size 0.1", with item and module where they are named.
std::string fault_text(const plant::FaultEvent& event);

}  // namespace duskline::harness
