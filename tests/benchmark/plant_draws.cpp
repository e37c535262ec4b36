// Laws on plants that they do not know: every parameter of the plant drawn from its range (plant_draw), another
// plant, weather and noise each run; what the true coke margin, nickel ratio and oxygen make of it.
//
//   plant_draws [DRAWS] [DEMAND] [SCENARIO]   draws (default 100), demand (default "10 g/h"), scenario of the library
//                                             (default dawn-dusk/equinox-sol.yaml)
//
// Prints the rows of the table in docs/models/controller.md: share of draws that pass a limit, with the upper bound of
// Clopper and Pearson at 95 %; quantiles of 5 %, 50 %. `duskline run SCENARIO --set plant_draw=N --set seed=N` runs one again.
#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <thread>

#include "hil-harness/falsify/statistics.hpp"
#include "tests/support/shipped_case.hpp"

namespace {

using namespace duskline;
using namespace duskline::tests;

constexpr const char* kLaws[] = {"fixed", "cascade", "adaptive", "predictive"};
constexpr std::size_t kLawCount = std::size(kLaws);

struct Drawn {
  double margin{}, below{}, nickel{}, oxygen{}, carbon{};
  bool tripped{}, said{}, early{};
};

double quantile(std::vector<double> values, double share) {
  std::sort(values.begin(), values.end());
  return values[std::min(values.size() - 1,
                         static_cast<std::size_t>(share * static_cast<double>(values.size())))];
}

}  // namespace

int main(int argc, char** argv) {
  const std::size_t draws = argc > 1 ? std::stoul(argv[1]) : 100;
  const std::string demand = argc > 2 ? argv[2] : "10 g/h";
  const std::string scenario = argc > 3 ? argv[3] : "dawn-dusk/equinox-sol.yaml";
  std::vector<std::array<Drawn, kLawCount>> all(draws);
  std::atomic<std::size_t> next{0};
  const auto work = [&] {
    for (std::size_t k = next++; k < draws; k = next++)
      for (std::size_t l = 0; l < kLawCount; ++l) {
        const auto r = run_case(read_shipped(
            library() / scenario, {"controller.law=" + std::string(kLaws[l]), fmt::format("seed={}", k + 1),
                                   fmt::format("plant_draw={}", k + 1), "commands[1].demand=" + demand}));
        const auto& f = r.figures;
        all[k][l] = {f.coke_margin.value,  f.time_below_onset,
                     f.nickel_ratio.value, f.oxygen_made,
                     f.carbon_greatest,    f.time_in_mode[CTL_SAFE] > 0.0,
                     r.alarms.count > 0,   r.end.reason != plant::RunEnd::reached_end};
      }
  };
  std::vector<std::thread> threads;
  for (unsigned t = 0; t < std::max(1U, std::thread::hardware_concurrency()); ++t) threads.emplace_back(work);
  for (auto& thread : threads) thread.join();

  fmt::print(
      "| law | draws | coke limit passed | at most | least margin, 5 %, median | nickel limit passed | "
      "oxygen, mean "
      "(5 %) | trips | with an alarm | not completed |\n|---|---|---|---|---|---|---|---|---|---|\n");
  for (std::size_t l = 0; l < kLawCount; ++l) {
    std::vector<double> margins, oxygen;
    std::size_t coke = 0, nickel = 0, trips = 0, said = 0, early = 0;
    double sum = 0.0;
    for (const auto& one : all) {
      const Drawn& d = one[l];
      margins.push_back(d.margin), oxygen.push_back(d.oxygen);
      sum += d.oxygen;
      coke += d.below > 0.0, nickel += d.nickel < 1.0, trips += d.tripped, said += d.said, early += d.early;
    }
    fmt::print(
        "| {} | {} | {} | {:.1f} % | {:.1f}, {:.1f}, {:.1f} mV | {} | {:.1f} g ({:.1f} g) | {} | {} | {} |\n",
        kLaws[l], draws, coke, 100.0 * harness::upper_share(coke, draws, 0.95), 1e3 * quantile(margins, 0.0),
        1e3 * quantile(margins, 0.05), 1e3 * quantile(margins, 0.5), nickel,
        1e3 * sum / static_cast<double>(draws), 1e3 * quantile(oxygen, 0.05), trips, said, early);
  }
  return 0;
}
