/// How the alarms of a run load the person who answers them.
///
/// What it is   activations (a row comes to "unacknowledged") and the figures that alarm standards ask for
/// Equation     bins of 10 min, one after the other, for average and most; a sliding window of 10 min for
///              floods: one begins with the 10th activation in it and ends when fewer than 5 are left
/// Symbols      times in s
/// Validity     any run; the standards ask for 30 days of data before the figures are compared with targets
/// Source       ANSI/ISA-18.2-2016 and IEC 62682:2014 (figures), EEMUA 191 (flood); chattering: 3 in 60 s
/// Left out     response times of the operator
#pragma once

#include <array>
#include <deque>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "controller/include/controller.h"
#include "controller/include/plant_controller.h"
#include "hil-harness/loop/snapshot.hpp"
#include "scenarios/requirements/keeper.hpp"

namespace duskline::harness {

struct AlarmInfo {
  const char *word, *priority, *action;
};
const AlarmInfo& alarm_info(std::size_t alarm);

/// Priority of an alarm of the plant controller, by ctl_plant_alarm.
std::string_view plant_alarm_priority(std::size_t alarm);

/// The condition went: neither shelved nor suppressed nor out of service.
bool is_gone(std::uint8_t alarm_state);

struct AlarmFigures {
  std::size_t count{};       ///< activations
  double per_ten_minutes{};  ///< mean
  std::size_t max_in_ten_minutes{};
  double share_over_ten{};  ///< of the bins with more than 10
  double time_in_flood{};   ///< s
  double share_in_flood{};
  double top_ten_share{};  ///< of the activations, by the ten most frequent
  std::vector<std::string> most_frequent, chattering, stale, standing, unacknowledged;  ///< words
  std::uint32_t ignored{};  ///< actions that could not be carried out
};

/// An alarm that has just become unacknowledged, or whose condition has just gone.
struct AlarmChange {
  std::size_t alarm;
  bool begins;
};

/// Words of the alarms of a module, in the order of ctl_outputs::alarm_state.
std::vector<std::string> module_alarm_names();
/// Those of a plant with several modules: its own, then those of each module with its name before.
std::vector<std::string> plant_alarm_names(std::size_t modules);

/// The states of all alarms of a run at a tick, in the order of those names.
struct AlarmStates {
  static constexpr std::size_t kMost =
      std::size_t{CTL_PLANT_ALARMS} + plant::kMostModules * std::size_t{CTL_ALARMS};
  std::array<std::uint8_t, kMost> state{};
  std::size_t count{};
  std::span<const std::uint8_t> all() const { return {state.data(), count}; }
};
AlarmStates alarm_states(const Snapshot& s);
/// Actions on alarms that could not be carried out so far, of all controllers.
std::uint32_t alarms_ignored(const Snapshot& s);
std::uint32_t alarms_unacknowledged(const Snapshot& s);

class AlarmLog {
 public:
  /// `names` of the alarms, in the order in which tick() takes their states.
  explicit AlarmLog(std::vector<std::string> names) : names_(std::move(names)), rows_(names_.size()) {}

  /// Called once a tick; what changed in it. `ignored`: actions so far that could not be carried out.
  std::span<const AlarmChange> tick(std::span<const std::uint8_t> states, std::uint32_t ignored, double time,
                                    double period);
  AlarmFigures figures() const;
  void keep(scenarios::Keeper& k) {
    auto& [names, rows, window, bins, in_bin, max_in_bin, bins_over, changes, flood, time, flood_time, count,
           ignored] = *this;
    k(rows, window, bins, in_bin, max_in_bin, bins_over, flood, time, flood_time, count, ignored);
  }

 private:
  struct Row {
    std::uint8_t state{};
    std::size_t count{};
    double since{};  ///< s when it began to stand
    std::deque<double> recent;
    bool chattered{}, stale{};
    void keep(scenarios::Keeper& k) {
      auto& [now, activations, begin, latest, chatters, stood] = *this;
      k(now, activations, begin, latest, chatters, stood);
    }
  };
  std::vector<std::string> names_;
  std::vector<Row> rows_;
  std::deque<double> window_;
  std::size_t bins_{}, in_bin_{}, max_in_bin_{}, bins_over_{};  ///< of ten minutes, the present one included
  std::vector<AlarmChange> changes_;
  bool flood_{};
  double time_{}, flood_time_{};
  std::size_t count_{};
  std::uint32_t ignored_{};
};

}  // namespace duskline::harness
