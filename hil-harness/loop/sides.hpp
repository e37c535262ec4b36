/// Everything between a plant and its controllers: the sides of all modules and, behind headers, of what they share.
///
/// What it is   each step of a tick (loop.hpp) for every module in turn. Between headers the plant controller comes before
///              the modules: it gets what the operator asks for and what the modules reported in the tick before, and is
///              their operator
/// Validity     a plant of one module with apertures has one side and nothing shared
#pragma once

#include <array>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "hil-harness/links/controllers.hpp"
#include "hil-harness/loop/module_side.hpp"
#include "hil-harness/loop/shared_side.hpp"

namespace duskline::harness {

class Sides {
 public:
  /// All that is referred to must outlive it.
  Sides(const scenarios::Case& c, const Controllers& controllers, const Faults& faults, plant::Plant& plant,
        const plant::PlantParameters& healthy, const plant::State& start, EventLog& log);
  Sides(const Sides&) = delete;
  Sides& operator=(const Sides&) = delete;

  /// Of the run. Between headers it holds the whole plant: what the operator asks for, the mode of the plant controller, sums
  /// of what the modules make and draw, and the cells and the active limit of the module with the least margin.
  Snapshot& snapshot() { return shared_ ? whole_ : modules_[0]->snapshot(); }
  std::size_t size() const { return modules_.size(); }
  ModuleSide& module(std::size_t n) { return *modules_[n]; }
  /// Of all controllers.
  AlarmFigures alarms() const { return shared_ ? alarms_.figures() : modules_[0]->alarms(); }

  /// What the plant shows at x, and its rates there.
  void observe(const plant::State& x, plant::State& rates);
  /// Margins and temperatures. The modules in which a cell cracks at this tick: their worst one.
  std::vector<std::size_t> look();
  void note_limits(const PlantStepper& stepper, const plant::State& before, const plant::Ambient& ambient);
  void sense();
  /// Anything but reached_end ends the run.
  plant::RunResult control(double bus_voltage, Pacer* pacer);
  /// Commands to the plant.
  void actuate();
  void note_changes();
  void fit_wire();
  /// The instruments of the modules have been calibrated, and those that they share are; controllers of modules get to know.
  void calibrated();
  /// Whether every controller shows its memory.
  bool can_be_kept();

  /// What keeps the plant controller from entering a mode at this tick.
  std::vector<std::string> plant_reasons_against(std::uint32_t mode) const;

  void keep(scenarios::Keeper& k);

 private:
  void hand_down();
  void sum_up();
  void first_reports();
  void note_plant();
  void note_alarms();
  /// The action on alarms of this tick, to those whom it is about.
  void hand_action();

  plant::Plant& plant_;
  const scenarios::Case& case_;
  const Faults& faults_;
  EventLog& log_;
  std::vector<std::shared_ptr<Link>> links_;  ///< of each module
  std::shared_ptr<PlantLink> plant_link_;
  std::vector<std::unique_ptr<ModuleSide>> modules_;
  std::vector<const Snapshot*> snapshots_;
  std::optional<SharedSide> shared_;
  std::vector<plant::PlantOutputs> seen_;
  std::vector<plant::ModuleCommands> commands_;
  Snapshot whole_;
  std::uint32_t plant_mode_ = CTL_PLANT_OFF, plant_diagnosed_ = 0;
  AlarmLog alarms_;          ///< of the plant controller and of all modules behind headers
  const Snapshot* worst_{};  ///< the module with the least coke margin at this tick
};

}  // namespace duskline::harness
