// Plants in order: how many sols carry a diagnosis, a doubt or an alarm, and which.
//
//   healthy_sols [SOLS] [narrow|drawn] [SCENARIO] [SETTING...]   narrow: resistance, flow and displacement dispersed;
//                                                   drawn: every parameter from its range (plant_draw). Default: 50
//                                                   narrow dawn-dusk/equinox-sol.yaml; settings as of --set
#include <map>

#include "hil-harness/batch/dispersion.hpp"
#include "tests/matrix/runs.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;

int main(int argc, char** argv) {
  const std::size_t sols = argc > 1 ? std::stoul(argv[1]) : 50;
  const bool drawn = argc > 2 && std::string(argv[2]) == "drawn";
  const std::string scenario = argc > 3 ? argv[3] : "dawn-dusk/equinox-sol.yaml";
  std::vector<scenarios::Case> cases;
  for (std::size_t n = 1; n <= sols; ++n) {
    std::vector<std::string> settings{fmt::format("seed={}", n)};
    for (int a = 4; a < argc; ++a) settings.emplace_back(argv[a]);
    if (drawn) settings.push_back(fmt::format("plant_draw={}", n));
    cases.push_back(read_shipped(library() / scenario, settings));
    if (!drawn) harness::disperse(cases.back().plant.parameters, {}, n);
  }
  std::vector<std::vector<std::string>> words(sols);
  std::vector<std::vector<double>> first(sols);  // s, when each word came first
  std::vector<double> oxygen(sols), nickel(sols), margin(sols);
  in_parallel(sols, [&](std::size_t n) {
    const auto r = run_seen(cases[n], [&](const harness::Snapshot& s) {
      add_words(reported_by(s.control), words[n]);
      for (std::size_t k = 0; k < CTL_ALARMS; ++k) {
        const bool stands = s.control.alarm_state[k] == CTL_ALARM_UNACKNOWLEDGED;
        const std::string word = stands ? fmt::format("alarm {}", harness::alarm_words()[k].word) : "";
        if (stands && std::find(words[n].begin(), words[n].end(), word) == words[n].end())
          words[n].push_back(word);
      }
      first[n].resize(words[n].size(), s.time);
    });
    oxygen[n] = r.figures.oxygen_made;
    nickel[n] = r.figures.nickel_ratio.value;
    margin[n] = r.figures.coke_margin.value;
  });
  std::map<std::string, std::size_t> count;
  std::size_t said = 0;
  double sum = 0.0;
  for (std::size_t n = 0; n < sols; ++n) {
    said += words[n].empty() ? 0 : 1;
    sum += oxygen[n];
    for (const auto& w : words[n]) ++count[w];
  }
  fmt::print("{} of {} sols carry something; oxygen {:.1f} g in the mean\n", said, sols,
             1e3 * sum / static_cast<double>(sols));
  for (std::size_t n = 0; n < sols; ++n) {
    fmt::print("  sol {}: {:.1f} g, nickel ratio {:.2f}, margin {:.1f} mV", n + 1, 1e3 * oxygen[n], nickel[n],
               1e3 * margin[n]);
    for (std::size_t k = 0; k < words[n].size(); ++k)
      fmt::print("; {} at {:.0f} s", words[n][k], first[n][k]);
    fmt::print("\n");
  }
  for (const auto& [w, n] : count) fmt::print("{:4} {}\n", n, w);
  return 0;
}
