/// Carries out the runs of a campaign, on threads of this process or on the processes of mpirun.
///
/// What it is   runs that the file does not hold yet, each taken by whoever is free; a row is written when its run is over
/// Validity     the rows depend on the plan alone: not on the number of workers, the sittings, or who took which run
/// Left out     giving a run that was begun to another worker
#pragma once

#include <atomic>
#include <functional>
#include <optional>

#include "hil-harness/campaign/campaign_file.hpp"
#include "hil-harness/campaign/ranks.hpp"

namespace duskline::harness {

struct CampaignOptions {
  unsigned threads = 1;
  const std::atomic<bool>* interrupted = nullptr;
  std::function<void(double)> progress;  ///< share done; called by one thread at a time
  Ranks* ranks = nullptr;                ///< null: this process alone
};

/// How likely the coke limit is passed in a run, by subset simulation.
struct RareEvent {
  double probability{}, variation{};  ///< and its coefficient of variation
  bool reached{};                     ///< else the probability is an upper end
};

struct CampaignOutcome {
  std::string
      missing;  ///< empty: all runs are in the file; "interrupted", or why the file could not be written
  std::optional<RareEvent> rare;
};

CampaignOutcome complete_runs(const CampaignPlan& plan, Draws& draws, CampaignFile& file,
                              const CampaignOptions& options);

/// Tells the other ranks that there is nothing to do; instead of complete_runs.
void dismiss(Ranks& ranks);

/// Takes runs from rank 0 until it has no more.
void serve_rank(const CampaignPlan& plan, const Draws& draws, Ranks& ranks,
                const std::atomic<bool>& interrupted);

/// Runs one of the rows in the file again and compares: empty, or what differs.
std::string check_again(const CampaignPlan& plan, const Draws& draws, const CampaignFile& file,
                        const std::atomic<bool>* interrupted);

}  // namespace duskline::harness
