/// The page of a campaign: figures and bounds, distributions, what drives the margin, the worst runs with their commands.
#pragma once

#include <string>
#include <vector>

#include "hil-harness/campaign/law_table.hpp"

namespace duskline::harness {

struct LawRows {
  LawFigures figures;
  std::vector<CampaignRow> rows;
};

/// How strongly an input goes with the least coke margin of a law.
struct Driver {
  std::size_t input{};
  double correlation{};  ///< of ranks
};
/// Strongest first.
std::vector<Driver> drivers_of(const std::vector<CampaignRow>& rows, const std::vector<DrawnInput>& inputs);

/// The runs with the least coke margin, worst first; those without one come last.
std::vector<const CampaignRow*> worst_of(const std::vector<CampaignRow>& rows, std::size_t count);

/// The command that runs a row again; empty: only the scenario file in the folder does.
std::string replay_command(const CampaignPlan& plan, const Draws& draws, const CampaignRow& row);
/// Name of that scenario file.
std::string replay_file(const CampaignRow& row);
inline constexpr std::size_t kWorstRuns = 5;

std::string campaign_page(const CampaignPlan& plan, const Draws& draws, const std::vector<LawRows>& laws,
                          const std::string& rare);

}  // namespace duskline::harness
