// A campaign on two workers against one, and a run of a campaign against the same run by itself.
//
//   campaign_bench [RUNS]    runs of each way (default 8), of 30 minutes of the sol at equinox
//
// Both ways are run in turn in one call, so that other work on the machine weighs on both alike; times of the clock for the
// workers, of the processor for the single run. Prints two ratios and the memory that was used.
#include <fmt/format.h>
#include <sys/resource.h>

#include <chrono>
#include <ctime>
#include <filesystem>

#include "hil-harness/campaign/campaign.hpp"
#include "hil-harness/verify/judge.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/shipped_case.hpp"

namespace {

using namespace duskline;
using namespace duskline::harness;

CampaignPlan plan_of(std::uint64_t runs) {
  CampaignPlan plan;
  const auto path = tests::library() / "dawn-dusk" / "equinox-sol.yaml";
  plan.source = {tests::bytes_of(path.string()),
                 path.string(),
                 path.parent_path(),
                 std::filesystem::path(DUSKLINE_SOURCE_DIR) / "plant-model" / "plants",
                 {"duration=30 min"}};
  plan.base = *plan.source.read().value;
  plan.laws = {"adaptive"};
  plan.differs = {Differs::parameters, Differs::surroundings};
  plan.runs = runs;
  return plan;
}

double clock_of_campaign(const CampaignPlan& plan, unsigned threads) {
  const tests::Folder folder("campaign-bench");
  Draws draws(plan);
  CampaignFile file;
  if (!file.open(folder.file("campaign.db"), plan, draws).empty()) return std::nan("");
  CampaignOptions options;
  options.threads = threads;
  const auto begin = std::chrono::steady_clock::now();
  complete_runs(plan, draws, file, options);
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
}

double processor_time() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

}  // namespace

int main(int argc, char** argv) {
  const auto plan = plan_of(argc > 1 ? std::stoull(argv[1]) : 8);
  double one = 0.0, two = 0.0;
  for (int k = 0; k < 4; ++k) {
    one += clock_of_campaign(plan, 1);
    two += clock_of_campaign(plan, 2);
  }
  fmt::print("two workers against one: {:.2f} times as fast\n", one / two);

  const Draws draws(plan);
  double campaign = 0.0, bare = 0.0;
  for (int k = 0; k < 4; ++k)
    for (std::uint64_t run = 1; run <= plan.runs; ++run) {
      const auto c = draws.case_of(draws.draw(run), plan.laws.front());
      double before = processor_time();
      tests::run_case(c);
      bare += processor_time() - before;
      before = processor_time();
      run_row(plan, draws, run, plan.laws.front(), nullptr);
      campaign += processor_time() - before;
    }
  fmt::print("a run of a campaign against the closed loop alone: {:.3f} times as long\n", campaign / bare);
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  fmt::print("memory: {} MB\n", usage.ru_maxrss / 1024);
  return 0;
}
