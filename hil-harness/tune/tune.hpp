/// The search for gains: candidates on the training draws, the margins of their loops, and the proof on held-out draws.
///
/// The draws of the search are seeds `seed`, `seed + 1`, ...; the held-out ones `seed + 1000000`, ... No candidate
/// is chosen by the latter. Same task, same bytes, whatever the number of threads and however often it was stopped.
#pragma once

#include <span>

#include "hil-harness/tune/held_out.hpp"
#include "hil-harness/tune/journal.hpp"
#include "hil-harness/tune/margins.hpp"

namespace duskline::harness {

struct TuneTask {
  std::vector<scenarios::Case> cases;  ///< the first one holds the tuning and the controller of the start
  std::vector<scenarios::Objective> objectives;
  std::vector<std::vector<double>>
      starts;  ///< values of the gains; the first one is compared with the result
  unsigned threads = 1;
  const std::atomic<bool>* interrupted = nullptr;
  std::function<void(double share)> progress;

  const scenarios::Tuning& tuning() const { return cases.front().scenario.tuning; }
};

/// Why a search ended before its time.
enum class TuneEnd { complete, interrupted, disk, no_point };

struct TuneResult {
  TuneEnd end = TuneEnd::complete;
  std::string problem;                ///< of an operating point that cannot be reached
  std::vector<Candidate> candidates;  ///< in the order in which they were tried first
  std::size_t best = 0;               ///< of them, the first is the start
  std::vector<std::size_t> front;  ///< of them: no other is better in one objective and as good in the rest
  HeldOutComparison held_out;
  std::vector<PointMargins> margins_before, margins_after;
  double margins_lack_before{}, margins_lack_after{};  ///< MarginCheck::lack of them
};

/// Everything that decides the result, as a number.
std::uint64_t task_hash(const TuneTask& task);

TuneResult tune(const TuneTask& task, Journal& journal);

/// The front once the margins of every candidate on it are known: `look` works them out and marks what lacks; false: it
/// was stopped.
std::vector<std::size_t> front_with_margins(std::vector<Candidate>& candidates,
                                            std::span<const scenarios::Objective> objectives,
                                            const std::function<bool(Candidate&)>& look);

/// Candidates that lack nothing and that no other dominates; objectives by their costs.
std::vector<std::size_t> front_of(std::span<const Candidate> candidates,
                                  std::span<const scenarios::Objective> objectives);

}  // namespace duskline::harness
