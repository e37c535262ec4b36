/// Statistics of a run, sol by sol: what remains of a long run when its trace is coarse.
///
/// What it is   a row for each sol that the run touches, from the local midnight before it (the first row: from the
///              start of the run), with sums, means and extremes of every tick; and the same for each hour of the sol. A
///              sol that a fast-forward stepped over has a row too, marked as an estimate
/// Equation     sums weigh a tick with the period; a mean is a sum over the time that the row covers
/// Symbols      hour 1 is the first after local midnight (true solar time, 24 hours a sol)
/// Validity     local time only moves on; memory does not grow with the run
/// Left out     quantiles
#pragma once

#include <array>
#include <functional>
#include <limits>
#include <map>
#include <string>
#include <vector>

#include "hil-harness/loop/alarm_log.hpp"
#include "hil-harness/loop/snapshot.hpp"
#include "hil-harness/trace/trace_writer.hpp"
#include "scenarios/requirements/keeper.hpp"

namespace duskline::harness {

inline constexpr std::size_t kHours = 24;
using Hours = std::array<double, kHours>;

/// What a row gathers: plain numbers, so that a checkpoint keeps them as they are.
struct SolSums {
  double sol{}, begin{}, time{};                         ///< number from 1; s; s covered
  double season{};                                       ///< rad at the beginning
  double pressure{}, density{}, temperature{}, depth{};  ///< integrals over time
  double density_min = std::numeric_limits<double>::infinity();
  double made{}, delivered{}, demanded{}, energy{};  ///< kg, J
  double current_time{}, producing{};                ///< A s and s in production
  double power_max{}, gradient_max{}, utilisation_max{};
  double coke_margin = std::numeric_limits<double>::infinity();
  double nickel_ratio = std::numeric_limits<double>::infinity();
  double above_onset{}, above_ceiling{};  ///< s
  std::array<double, CTL_MODES> in_mode{};
  std::array<double, CTL_LIMITERS> limited{};  ///< s in production
  double alarms{}, trips{}, starts{};
  // as they are at the latest tick
  double dust{}, loading{}, wear{}, wear_estimate{}, leakage{}, efficiency{};
  double ageing{}, ageing_max{}, added_resistance{}, damage_max{}, carbon{}, oxide{};
  double corrections{}, suspects{};
  double estimated{};  ///< 1: of a sol that was stepped over
  // between headers
  double modules_producing{};  ///< s, summed over the modules
  double surge_margin = std::numeric_limits<double>::infinity();
  Hours hour_time{}, hour_made{}, hour_energy{}, hour_density{}, hour_margin{};
  std::array<Hours, CTL_LIMITERS> hour_limited{};
};

struct SolColumn {
  SignalInfo info;
  std::function<void(const SolSums&, double*)> read;
};

/// What a run has besides that of a plant of one module, simulated at every tick.
struct SolForm {
  bool fast_forward{}, headers{};
};

/// The dictionary of what a row says.
std::vector<SolColumn> sol_table(const SolForm& form = {});

/// The row of a sol that was stepped over, the i-th of n between the last one simulated and the present one: sums,
/// means and extremes as in the last one, wear and dust on a straight line between the two.
SolSums estimated_row(const SolSums& last, const SolSums& present, std::size_t i, std::size_t n);

/// Gathers the rows; `row` is called with each that is complete.
class SolStatistics {
 public:
  /// Plain data, all that is remembered from tick to tick.
  struct Memory {
    SolSums sums;
    double local_time = -1.0;
    std::uint32_t mode = CTL_OFF;
    std::array<std::uint8_t, AlarmStates::kMost> alarms{};
  };

  explicit SolStatistics(double period);
  /// Once a tick, with the commands in force; true when the tick began a new row: the one before is in last().
  bool tick(const Snapshot& s);
  /// What has been gathered since.
  const SolSums& present() const { return m_.sums; }
  const SolSums& last() const { return last_; }

  Memory& memory() { return m_; }

 private:
  void begin(const Snapshot& s);
  void add(const Snapshot& s);
  void note_hour(const Snapshot& s, std::size_t limiter);
  void note_state(const Snapshot& s);

  double period_;
  Memory m_{};
  SolSums last_{};
};

/// Writes them to a file like that of a trace, whose time is that of the beginning of each row.
class SolRecorder {
 public:
  SolRecorder(const std::string& path, const TraceAttributes& attributes, double period,
              const TraceOptions& options = {1, 1}, const SolForm& form = {});
  void watch(const Snapshot& s);
  /// Writes what has been gathered of the sol that the run ends in.
  void end();
  TraceWriter& file() { return file_; }
  void keep(scenarios::Keeper& k) { k(statistics_.memory()); }

 private:
  void write(const SolSums& sums);

  SolStatistics statistics_;
  std::vector<SolColumn> table_;
  TraceWriter file_;
  std::vector<double> row_;
};

}  // namespace duskline::harness
