/// A schedule of set-points for a long run: the most oxygen that each season allows, found on sols of that season.
///
/// What it is   the run is cut into seasons of whole sols, the last with the part of a sol in which the run ends; in each, one sol is run with the plant as worn as it will be,
///              at set-points of a grid, until the greatest is known at which every requirement of the scenario holds
/// Equation     k* = max k with all requirements satisfied at least + k step, by halving; equivalent time of the filter
///              t' = integral of c over the time since it was cleaned / c on that sol
/// Symbols      least, step [kg/s] oxygen asked for; c [kg/m3] dust in the air
/// Validity     a set-point below one that holds also holds (a requirement on the demand itself may differ); the sol is the
///              one of the season with the thinnest air of the afternoon, so that the others are easier; wear is that
///              of steady production at the rated point (plant-model/wear.hpp)
/// Source       common practice: set-points by season from a forecast, proved by simulation before they are used. The
///              forecast is the climate of the site with the storms of the scenario
/// Left out     faults, stops and services on the sol, drift of the instruments, wear that depends on the set-point,
///              measured weather (it covers a few sols)
#pragma once

#include <atomic>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {

struct ScheduleTask {
  scenarios::Case base;
  std::size_t seasons = 12;
  double least{}, most{}, step{};  ///< kg/s, the grid of set-points
  unsigned threads = 1;
  const std::atomic<bool>* interrupted = nullptr;
  std::function<void(double share)> progress;

  /// Set-points on the grid.
  std::size_t grid() const { return static_cast<std::size_t>((most - least) / step + 1e-6) + 1; }
};

/// What a sol at one set-point gave.
struct TriedSol {
  double demand{}, oxygen{}, energy{};   ///< kg/s; kg and J of the whole sol
  double coke_margin{}, nickel_ratio{};  ///< least true ones, V and 1
  std::vector<std::string> violated;     ///< names of the requirements; a run that broke off says how
  bool holds() const { return violated.empty(); }
};

struct SeasonSchedule {
  std::size_t first_sol{}, end_sol{}, sampled_sol{};  ///< counted from 0; end is the first of the next
  double
      rest{};  ///< sols of the run behind end_sol, of the last season: less than one, below 0 in a shorter run
  double season{}, density{};   ///< rad at the beginning; kg/m3 of the thin afternoon
  std::vector<TriedSol> tried;  ///< by demand
  std::optional<double> best;   ///< kg/s, the greatest that holds; nothing: none does
  double sols() const { return static_cast<double>(end_sol - first_sol) + rest; }
  /// The sol tried at this demand; null when it was not.
  const TriedSol* at(double demand) const;
};

struct Schedule {
  std::vector<SeasonSchedule> seasons;
  std::optional<double> constant;  ///< kg/s, the greatest set-point that holds in every season
  bool interrupted = false;
  bool holds() const;
  /// What a set-point of each season gives over the run. `demand` of a season: kg/s; NaN where there is none.
  struct Total {
    double oxygen{}, energy{}, coke_margin{}, nickel_ratio{};  ///< kg, J, V, 1
    std::size_t violated{};  ///< seasons in which a requirement does not hold
  };
  Total total(const std::function<double(const SeasonSchedule&)>& demand) const;
};

/// The sol `sol` of the run as a case of its own, in production at this demand.
scenarios::Case sol_of(const scenarios::Case& base, std::size_t sol, double demand);

Schedule make_schedule(const ScheduleTask& task);

/// The scenario with the set-points of the schedule in its commands, whose modes and ceilings stay; `least` kg/s where
/// none holds.
scenarios::Scenario scheduled(const scenarios::Case& base, const Schedule& schedule, double least);

std::string schedule_json(const ScheduleTask& task, const Schedule& schedule);
std::string schedule_page(const ScheduleTask& task, const Schedule& schedule);

}  // namespace duskline::harness
