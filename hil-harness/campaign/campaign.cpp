#include "hil-harness/campaign/campaign.hpp"

#include <fmt/format.h>

#include <chrono>
#include <limits>
#include <mutex>
#include <thread>

#include "hil-harness/batch/threads.hpp"
#include "hil-harness/campaign/subset.hpp"

namespace duskline::harness {
namespace {

struct Job {
  std::uint64_t run;
  std::string law;
};

constexpr std::string_view kNoMore = "no more", kFailed = "failed: ";

void wait_a_moment() {
  std::this_thread::sleep_for(std::chrono::milliseconds(1));
}

/// Whoever is free takes the next run and brings its row.
class Exchange {
 public:
  /// For the runs from `first` to `last`.
  Exchange(const CampaignPlan& plan, CampaignFile& file, const CampaignOptions& options, std::uint64_t first,
           std::uint64_t last)
      : file_(file),
        options_(options),
        all_(static_cast<double>(plan.runs * plan.laws.size())),
        after_(static_cast<double>((plan.runs - last) * plan.laws.size())) {
    for (std::uint64_t run = first; run <= last; ++run)
      for (const std::string& law : plan.laws)
        if (!file.holds(run, law)) jobs_.push_back({run, law});
  }

  /// Null when there are none left, or the work has to end.
  const Job* take() {
    const std::lock_guard lock(mutex_);
    if (!problem_.empty() || next_ == jobs_.size() || interrupted()) return nullptr;
    return &jobs_[next_++];
  }
  void bring(const CampaignRow& row) {
    const std::lock_guard lock(mutex_);
    if (!problem_.empty()) return;
    if (!file_.add(row)) {
      problem_ = file_.problem();
    } else if (++brought_; options_.progress) {
      options_.progress(1.0 - (after_ + static_cast<double>(jobs_.size() - brought_)) / all_);
    }
  }
  void give_up(const std::string& why) {
    const std::lock_guard lock(mutex_);
    if (problem_.empty()) problem_ = why;
  }
  bool interrupted() const {
    return options_.interrupted != nullptr && options_.interrupted->load(std::memory_order_relaxed);
  }
  std::string outcome() const {
    if (!problem_.empty()) return problem_;
    return brought_ < jobs_.size() ? "interrupted" : "";
  }

 private:
  CampaignFile& file_;
  const CampaignOptions& options_;
  double all_, after_;  ///< runs of the campaign, and those behind the last of these
  std::vector<Job> jobs_;
  std::mutex mutex_;
  std::size_t next_ = 0, brought_ = 0;
  std::string problem_;
};

void work_off(const CampaignPlan& plan, const Draws& draws, Exchange& exchange,
              const std::atomic<bool>* interrupted) {
  try {
    while (const Job* job = exchange.take())
      if (const auto row = run_row(plan, draws, job->run, job->law, interrupted)) exchange.bring(*row);
  } catch (const std::exception& error) {
    exchange.give_up(error.what());
  }
}

/// A rank says "ready" or brings a row; either way it gets the next run, or that there are no more.
void hand_out(const CampaignPlan& plan, Exchange& exchange, Ranks& ranks) {
  const std::string ready = "ready " + campaign_identity(plan);
  int left = ranks.size() - 1;
  while (left > 0) {
    const auto message = ranks.take();
    if (!message) {
      wait_a_moment();
      continue;
    }
    if (const auto row = row_of(message->text))
      exchange.bring(*row);
    else if (message->text.starts_with(kFailed))
      exchange.give_up(message->text.substr(kFailed.size()));
    else if (message->text != ready && message->text != kNoMore)
      exchange.give_up(
          fmt::format("rank {} reads another campaign: its scenario or plant differs", message->from));
    const Job* const job = message->text == kNoMore ? nullptr : exchange.take();
    if (job == nullptr) --left;
    ranks.send(message->from,
               job == nullptr ? std::string(kNoMore) : fmt::format("{} {}", job->run, job->law));
  }
}

/// Runs `first` to `last`; what is missing.
std::string complete_range(const CampaignPlan& plan, const Draws& draws, CampaignFile& file,
                           const CampaignOptions& options, std::uint64_t first, std::uint64_t last) {
  Exchange exchange(plan, file, options, first, last);
  if (options.ranks == nullptr) {
    on_threads(options.threads, options.threads,
               [&](std::size_t) { work_off(plan, draws, exchange, options.interrupted); });
    return exchange.outcome();
  }
  // this thread alone speaks with the other ranks; beside it one works like every other rank
  std::thread worker([&] { work_off(plan, draws, exchange, options.interrupted); });
  hand_out(plan, exchange, *options.ranks);
  worker.join();
  return exchange.outcome();
}

/// Each level is a few batches, and a batch depends on the rows before it.
CampaignOutcome complete_subset(const CampaignPlan& plan, Draws& draws, CampaignFile& file,
                                const CampaignOptions& options) {
  constexpr std::size_t kLevelsMax = 5;  // down to a probability of 1e-5
  const std::size_t points = std::max<std::size_t>(10, plan.runs / kLevelsMax / 10 * 10);
  SubsetSimulation subset(draws.dimensions(), points, kLevelsMax, plan.seed);
  std::uint64_t done = 0;
  for (auto batch = subset.ask(); !batch.empty(); batch = subset.ask()) {
    draws.append(batch);
    const std::uint64_t last = done + batch.size();
    if (std::string missing = complete_range(plan, draws, file, options, done + 1, last); !missing.empty())
      return {missing, std::nullopt};
    std::vector<double> values;
    for (const CampaignRow& row : file.rows(plan.laws.front(), last)) {
      if (row.run <= done) continue;
      const double margin = row.at(figure("coke_margin"));
      values.push_back(std::isnan(margin) ? std::numeric_limits<double>::infinity() : margin);
    }
    subset.tell(values);
    done = last;
  }
  return {"", RareEvent{subset.probability(), subset.variation(), subset.reached()}};
}

}  // namespace

CampaignOutcome complete_runs(const CampaignPlan& plan, Draws& draws, CampaignFile& file,
                              const CampaignOptions& options) {
  if (plan.sampling == Sampling::subset) return complete_subset(plan, draws, file, options);
  return {complete_range(plan, draws, file, options, 1, plan.runs), std::nullopt};
}

void dismiss(Ranks& ranks) {
  for (int left = ranks.size() - 1; left > 0;)
    if (const auto message = ranks.take()) {
      ranks.send(message->from, std::string(kNoMore));
      --left;
    } else {
      wait_a_moment();
    }
}

void serve_rank(const CampaignPlan& plan, const Draws& draws, Ranks& ranks,
                const std::atomic<bool>& interrupted) {
  ranks.send(0, "ready " + campaign_identity(plan));
  for (;;) {
    auto message = ranks.take();
    for (; !message; message = ranks.take()) wait_a_moment();
    if (message->text == kNoMore) return;
    const std::size_t space = message->text.find(' ');
    std::string answer(kNoMore);
    try {
      if (const auto row =
              run_row(plan, draws, std::stoull(message->text), message->text.substr(space + 1), &interrupted))
        answer = line_of(*row);
    } catch (const std::exception& error) {
      answer = std::string(kFailed) + error.what();
    }
    ranks.send(0, answer);
  }
}

std::string check_again(const CampaignPlan& plan, const Draws& draws, const CampaignFile& file,
                        const std::atomic<bool>* interrupted) {
  if (plan.sampling == Sampling::subset) return {};  // its points come with the rows before them
  for (const std::string& law : file.laws()) {
    const auto rows = file.rows(law, plan.runs);
    if (rows.empty()) continue;
    const CampaignRow& before = rows.front();
    const auto now = run_row(plan, draws, before.run, law, interrupted);
    if (!now || line_of(*now) == line_of(before)) return {};
    return fmt::format(
        "run {} with the law {} comes to other numbers now: another version of the program or of the "
        "machine wrote it; --force starts over, another --out keeps it",
        before.run, law);
  }
  return {};
}

}  // namespace duskline::harness
