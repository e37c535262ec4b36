// How honest the estimated coke margin is: plants drawn from their ranges, brought up and commissioned by the controller itself
// from hot standby, the estimate held against the true margin at each tick of production.
//
//   margin_draws [DRAWS] [DEMAND] [LAW...] [PATH=VALUE...] [each] [late]
//
// DRAWS (default 40) or `ends`: the constants of the cell at the ends of their ranges; demand (default "10 g/h"); laws
// (default cascade, adaptive); what is held (the share of the overpotential that drives coke is held at 1,
// the end that the controller assumes, unless set otherwise); each: a row for each draw as well; late: the
// error over the last half hour alone.
//
// Prints the rows of the table in docs/models/estimation.md: estimated less true margin over all ticks of production,
// the same over its stated deviation, share of ticks bold (too high) and timid (too low) by more than two deviations,
// bold by more than three; true least margin; oxygen; runs with a diagnosis.
#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <thread>

#include "tests/support/brought_up.hpp"

namespace {

using namespace duskline;
using namespace duskline::tests;

struct Sums : BroughtUp {
  double ticks{}, error{}, square{}, sigma{}, z{}, zz{}, bold{}, timid{}, far{};
};

struct End {
  const char* name;
  std::vector<std::string> settings;
};
const End kEnds[] = {
    {"as the file", {}},
    {"cathode exchange current at its lower end", kSlowCathode},
    {"cathode exchange current at its upper end", {"plant.cell.cathode_exchange=0.35 A cm-2"}},
    {"kinetics and diffusion at their slow ends", kSlowCell},
    {"cathode slow, all else quick: the voltage shows nothing", kHiddenSlowCathode},
    {"resistance 8 % up", {"plant.stack.resistance_factor=[1.11,1.06,1.08,1.10,1.05,1.14,1.07,1.13]"}},
};

std::vector<std::string> joined(std::vector<std::string> a, const std::vector<std::string>& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

Sums run(const std::string& law, const std::string& demand, const std::vector<std::string>& settings,
         double from) {
  Sums s;
  static_cast<BroughtUp&>(s) =
      brought_up(law, demand, settings, [&](double error, double sigma, double time) {
        if (time < from) return;
        const double z = error / sigma;
        s.ticks += 1.0, s.error += error, s.square += error * error, s.sigma += sigma;
        s.z += z, s.zz += z * z, s.bold += z > 2.0, s.timid += z<-2.0, s.far += z> 3.0;
      });
  return s;
}

void print(const std::string& name, const std::vector<Sums>& all) {
  Sums t;
  std::size_t below = 0, said = 0, trips = 0;
  std::vector<double> oxygen;
  for (const Sums& s : all) {
    t.ticks += s.ticks, t.error += s.error, t.square += s.square, t.sigma += s.sigma, t.z += s.z,
        t.zz += s.zz;
    t.bold += s.bold, t.timid += s.timid, t.far += s.far;
    t.margin_min = std::min(t.margin_min, s.margin_min),
    t.early_margin_min = std::min(t.early_margin_min, s.early_margin_min);
    below += s.margin_min < 0.0, said += s.diagnosed, trips += s.tripped;
    oxygen.push_back(1e3 * s.oxygen);
    t.oxygen += 1e3 * s.oxygen;
  }
  std::sort(oxygen.begin(), oxygen.end());
  const double n = std::max(1.0, t.ticks), mean = t.error / n, z = t.z / n;
  fmt::print(
      "| {} | {} | {:+.1f} mV | {:.1f} mV | {:.1f} mV | {:+.2f} | {:.2f} | {:.1f} % | {:.1f} % | {:.1f} % | "
      "{:.1f} mV | {:.1f} mV | {} | {:.1f} g ({:.1f} g) | {} | {} |\n",
      name, all.size(), 1e3 * mean, 1e3 * std::sqrt(std::max(0.0, t.square / n - mean * mean)),
      1e3 * t.sigma / n, z, std::sqrt(std::max(0.0, t.zz / n - z * z)), 100.0 * t.bold / n,
      100.0 * t.timid / n, 100.0 * t.far / n, 1e3 * t.margin_min, 1e3 * t.early_margin_min, below,
      t.oxygen / static_cast<double>(all.size()), oxygen[oxygen.size() / 20], said, trips);
  std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
  const std::string first = argc > 1 ? argv[1] : "40", demand = argc > 2 ? argv[2] : "10 g/h";
  std::vector<std::string> laws, held{"plant.cell.overpotential_share=1"};
  bool each = false;
  double from = 0.0;  // s
  for (int n = 3; n < argc; ++n) {
    const std::string word = argv[n];
    if (word == "each")
      each = true;
    else if (word == "late")
      from = 3.5 * 3600.0;
    else
      (word.find('=') == std::string::npos ? laws : held).push_back(word);
  }
  if (laws.empty()) laws = {"cascade", "adaptive"};
  fmt::print(
      "| plants, law | runs | error | spread | stated | z | z spread | bold by 2 | timid by 2 | bold by 3 | "
      "true least | of it in the first 10 min | below 0 | oxygen, mean (5 %) | diagnosed | trips |\n"
      "|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|\n");
  for (const std::string& law : laws) {
    if (first == "ends") {
      for (const End& end : kEnds)
        print(std::string(end.name) + ", " + law, {run(law, demand, joined(held, end.settings), from)});
      continue;
    }
    std::vector<Sums> all(std::stoul(first));
    std::atomic<std::size_t> next{0};
    const auto work = [&] {
      for (std::size_t k = next++; k < all.size(); k = next++)
        all[k] =
            run(law, demand,
                joined(held, {fmt::format("seed={}", k + 1), fmt::format("plant_draw={}", k + 1)}), from);
    };
    std::vector<std::thread> threads;
    for (unsigned t = 0; t < std::max(1U, std::thread::hardware_concurrency()); ++t)
      threads.emplace_back(work);
    for (auto& thread : threads) thread.join();
    for (std::size_t k = 0; each && k < all.size(); ++k)
      print(fmt::format("draw {}, {}", k + 1, law), {all[k]});
    print("drawn, " + law, all);
  }
  return 0;
}
