/// Key figures of a run, gathered tick by tick, and all that a run leaves behind.
#pragma once

#include <limits>
#include <string>
#include <vector>

#include "hil-harness/loop/alarm_log.hpp"
#include "hil-harness/loop/audit.hpp"
#include "hil-harness/loop/event_log.hpp"
#include "hil-harness/loop/snapshot.hpp"
#include "plant-model/integrate/run_end.hpp"
#include "plant-model/integrate/step_control.hpp"

namespace duskline::harness {

/// The least value of something, where and when.
struct Least {
  double value = std::numeric_limits<double>::infinity();
  double time = 0.0;
  std::size_t cell = 0, segment = 0;
};

/// Of one module between headers.
struct ModuleFigures {
  double oxygen_made{};  ///< kg
  Least coke_margin, nickel_ratio;
  double time_below_onset{}, time_in_production{};  ///< s
  double greatest_gradient{}, greatest_ramp{},
      damage{};  ///< K between zones; K/s of a zone; 1, of the worst cell
};

/// Of what modules between headers share.
struct SharedFigures {
  Least surge_margin;        ///< 1, of the stage that is nearest to surge
  std::size_t surges{};      ///< how often the flow through the machine turned back
  double greatest_across{};  ///< Pa, between product and exhaust header
  double stacks{}, heaters{}, compressor{}, liquefier{};  ///< J from the bus; liquefier with dryer
  double others{};                                        ///< J, of others on the bus
};

struct Figures {
  double oxygen_made{}, oxygen_delivered{}, oxygen_demanded{};  ///< kg, whole run; demanded: in production
  double oxygen_in_production{};                                ///< kg made in production
  double energy{};                                              ///< J from the bus
  double production_energy{};                                   ///< J from the bus in production
  double purity{};  ///< mole fraction of O2 in what was delivered in production
  Least coke_margin, nickel_ratio;
  double time_below_onset{};                             ///< s with a hot cell above its coke-onset voltage
  double greatest_gradient{}, greatest_ramp{};           ///< K between zones; K/s of a zone
  double greatest_power{}, greatest_production_power{};  ///< W
  double time_above_ceiling{}, energy_above_ceiling{};   ///< s and J with more drawn than the bus allowed
  double greatest_voltage{};                             ///< V
  double carbon{}, carbon_greatest{}, oxide{}, oxide_greatest{},
      damage{};                                     ///< mol on all cells together; 1, of the worst cell
  double travel_speed{}, travel_current{};          ///< rad/s and A, summed absolute changes of the commands
  std::array<double, CTL_MODES> time_in_mode{};     ///< s
  std::array<double, CTL_LIMITERS> time_limited{};  ///< s in production
  double oxygen_estimated{}, time_estimated{};      ///< kg and s of the above in sols that were stepped over
  std::size_t modules{};  ///< between headers; 0: none, and what follows is of no use
  std::array<ModuleFigures, plant::kMostModules> module{};
  SharedFigures shared{};
};

class Summary {
 public:
  /// Called once a tick, after control; `period` is the time that the tick stands for.
  void tick(const Snapshot& s, double period);
  const Figures& figures() const { return f_; }
  /// With a fast-forward: a sol begins, and the sums of the latest one are taken so many times more.
  void begin_sol() { at_sol_ = f_; }
  void repeat_sol(std::size_t times);

 private:
  void between_headers(const Snapshot& s, double period);

  Figures f_, at_sol_;  ///< now, and when the latest sol began
  bool reversed_ = false;
  double product_{}, product_oxygen_{};
  double last_speed_{}, last_current_{};
};

struct RunRecord {
  plant::RunResult end;
  Figures figures;
  AlarmFigures alarms;
  std::vector<LogEvent> log_events;
  std::size_t log_events_left_out{};
  std::array<double, plant::kElements> atom_residual{};
  double energy_residual{};
  plant::StepStatistics steps;
  std::int64_t ticks{};
  plant::State final_state{};
  std::vector<std::string> notes;  ///< about the weather file and such
  std::string controlled_by;       ///< "plug-in mine.so", "Modbus client"; empty: our controller
};

}  // namespace duskline::harness
