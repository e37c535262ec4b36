/// One row of a campaign: what a run with one law came to.
///
/// What it is   figures by the table kCampaignFigures, the verdicts, what was reported and how it ended
/// Validity     numbers read back to the last bit; a number that a run did not come to is NULL
/// Left out     the trace: the run is run again for it
#pragma once

#include <array>
#include <cmath>
#include <cstdint>
#include <string>
#include <string_view>

#include "hil-harness/campaign/plan.hpp"
#include "hil-harness/loop/loop.hpp"

namespace duskline::harness {

struct CampaignFigure {
  std::string_view name, unit, meaning;
  double (*of)(const RunRecord& record);
};

/// How often something of a kind began.
double count_of(const RunRecord& record, LogKind kind);

/// Runs 1, 11, 21, ... are held against the upper bound on their oxygen (batch/upper_bound.hpp), which takes about as long
/// as half of a run at the limit.
inline constexpr std::uint64_t kBoundEvery = 10;
inline bool has_bound(std::uint64_t run) {
  return run % kBoundEvery == 1;
}
/// Of a machine that can surge.
double surge_margin_of(const RunRecord& record);
/// Filled by run_row.
inline double not_in_record(const RunRecord&) {
  return std::nan("");
}

// clang-format off
inline constexpr std::array kCampaignFigures{
    CampaignFigure{"coke_margin", "V", "least true margin to the voltage at which coke forms, of any hot cell", [](const RunRecord& r) { return r.figures.coke_margin.value; }},
    CampaignFigure{"coke_margin_time", "s", "when that was", [](const RunRecord& r) { return r.figures.coke_margin.time; }},
    CampaignFigure{"time_below_onset", "s", "with a hot cell beyond that voltage", [](const RunRecord& r) { return r.figures.time_below_onset; }},
    CampaignFigure{"carbon", "mol", "most at an instant, on all cells together", [](const RunRecord& r) { return r.figures.carbon_greatest; }},
    CampaignFigure{"nickel_ratio", "1", "least true ratio to the limit below which nickel oxidises", [](const RunRecord& r) { return r.figures.nickel_ratio.value; }},
    CampaignFigure{"surge_margin", "1", "least true margin to surge of the stage that is nearest to it; NULL: the machine cannot surge", surge_margin_of},
    CampaignFigure{"oxide", "mol", "most nickel oxide at an instant, in all cells together", [](const RunRecord& r) { return r.figures.oxide_greatest; }},
    CampaignFigure{"oxygen", "kg", "oxygen made", [](const RunRecord& r) { return r.figures.oxygen_made; }},
    CampaignFigure{"oxygen_demanded", "kg", "asked for in production", [](const RunRecord& r) { return r.figures.oxygen_demanded; }},
    CampaignFigure{"energy", "J", "from the bus", [](const RunRecord& r) { return r.figures.energy; }},
    CampaignFigure{"gradient", "K", "greatest between zones of the stack", [](const RunRecord& r) { return r.figures.greatest_gradient; }},
    CampaignFigure{"purity", "1", "of the oxygen delivered in production", [](const RunRecord& r) { return r.figures.purity; }},
    CampaignFigure{"time_in_production", "s", "in the mode production", [](const RunRecord& r) { return r.figures.time_in_mode[CTL_PRODUCTION]; }},
    CampaignFigure{"time_in_safe", "s", "in the mode safe", [](const RunRecord& r) { return r.figures.time_in_mode[CTL_SAFE]; }},
    CampaignFigure{"trips", "1", "times that the controller moved the plant to safe", [](const RunRecord& r) { return count_of(r, LogKind::interlock); }},
    CampaignFigure{"diagnoses", "1", "times that the controller found a fault", [](const RunRecord& r) { return count_of(r, LogKind::diagnosis); }},
    CampaignFigure{"suspect", "1", "times that a measurement became suspect", not_in_record},
    CampaignFigure{"alarms", "1", "activations of alarms", [](const RunRecord& r) { return static_cast<double>(r.alarms.count); }},
    CampaignFigure{"oxygen_counted", "kg", "made since the first production, as far as asked for; runs 1, 11, 21, ...", not_in_record},
    CampaignFigure{"oxygen_bound", "kg", "the most of that for any law that keeps the least true margins of this run", not_in_record},
};
// clang-format on
inline constexpr std::size_t kFigureCount = kCampaignFigures.size();

/// Place of a figure in the table; an unknown name does not compile.
consteval std::size_t figure(std::string_view name) {
  for (std::size_t i = 0; i < kFigureCount; ++i)
    if (kCampaignFigures[i].name == name) return i;
  throw "there is no such figure";
}

struct CampaignRow {
  std::uint64_t run{};  ///< from 1
  std::string law;
  std::uint64_t plant_draw{}, seed{};  ///< 0: as the scenario says
  std::array<double, kFigureCount> figures{};
  std::string ended;     ///< a word of plant::kRunEnds
  double ended_at{};     ///< s
  std::string draws;     ///< JSON object: the value of each input
  std::string verdicts;  ///< JSON list: requirement, verdict, margin, unit, time
  std::string events;    ///< JSON list: time, kind, subject, of trips, limits, diagnoses and alarms

  double at(std::size_t figure) const { return figures[figure]; }
  bool completed() const { return ended == plant::word(plant::RunEnd::reached_end); }
  /// A requirement was violated, or left undecided.
  bool violated() const;
};

/// Runs a run; nothing when it was interrupted. Throws std::runtime_error when a link cannot be opened: no run is made up.
std::optional<CampaignRow> run_row(const CampaignPlan& plan, const Draws& draws, std::uint64_t run,
                                   const std::string& law, const std::atomic<bool>* interrupted);

/// One line of JSON and back; what is no row gives nothing.
std::string line_of(const CampaignRow& row);
std::optional<CampaignRow> row_of(const std::string& line);

}  // namespace duskline::harness
