/// One instrument fault, then one plant fault, and the reverse: every pair in six situations.
///
///   duskline_fault_pairs            writes a page of all pairs to standard output (an hour of two cores)
///   duskline_fault_pairs N [WORD]   one pair in N, of those whose line holds WORD, each as a line
#include "tests/matrix/pairs.hpp"

#include <map>

using namespace duskline;
using namespace duskline::tests;

namespace {

constexpr const char* kHead = R"(# Pairs of faults

This page is written by `duskline_fault_pairs` (built with the tests).
One fault of an instrument and one of the plant ([faults.md](faults.md); both signs of a size where it may have both,
ramps of 3 min), the first at 8 min, the second at 12 min, the run to 22 min, under the law that is the default, seed 7.

* *below*: seconds in which the true coke margin of a hot cell was negative; *bare*: seconds in which CO/CO2 at a hot
  inlet was below the limit of nickel oxide; a pair counts as harmful when either is more than 10 s.
  A run ends after a minute of either, or when a cell has lost its gas.
* A harmful pair stands in a line of its own; the others are in the sums.
* *alone*: the same two numbers of the plant fault without the other.

)";

struct Job {
  Pair pair;
  Outcome result;
};

std::string label(const std::vector<Variant>& i, const std::vector<Variant>& f, const Pair& p) {
  const auto &a = i[p.instrument].word, &b = f[p.fault].word;
  return p.reversed ? fmt::format("`{}`, then `{}`", b, a) : fmt::format("`{}`, then `{}`", a, b);
}

std::string line(const std::string& name, const Job& job, const Outcome& alone) {
  const Outcome& r = job.result;
  return fmt::format(
      "| {} | {} | {:.0f} mV | {:.0f} s | {:.2f} | {:.0f} s | {:.0f} s, {:.0f} s | {:.3g} umol, {:.3g} umol "
      "| "
      "{} | {}{} |\n",
      name, kPairSituations[job.pair.place].word, r.margin * 1e3, r.below, r.nickel, r.bare, alone.below,
      alone.bare, r.carbon * 1e6, r.oxide * 1e6, fmt::join(r.words, ", "),
      harness::word_of(harness::response_words(), r.response), r.tripped ? ", trip" : "");
}

}  // namespace

int main(int argc, char** argv) {
  const std::size_t one_in = argc > 1 ? std::stoul(argv[1]) : 1;
  const std::string word = argc > 2 ? argv[2] : "";
  const auto instruments = instrument_variants(), faults = plant_variants();
  std::vector<scenarios::Case> cases;
  for (const auto& s : kPairSituations) cases.push_back(case_of(s, 7));
  std::vector<Job> jobs;
  std::size_t count = 0;
  for (std::size_t i = 0; i < instruments.size(); ++i)
    for (std::size_t f = 0; f < faults.size(); ++f)
      for (const bool reversed : {false, true})
        for (std::size_t k = 0; k < kPairPlaces; ++k) {
          const Pair p{i, f, reversed, k};
          if ((label(instruments, faults, p) + kPairSituations[k].word).find(word) == std::string::npos)
            continue;
          if (count++ % one_in == 0) jobs.push_back({p, {}});
        }
  std::vector<Outcome> alone(faults.size() * kPairPlaces), sound(kPairPlaces);
  std::vector<char> asked(alone.size(), 0);
  for (const Job& j : jobs) asked[j.pair.fault * kPairPlaces + j.pair.place] = 1;
  in_parallel(alone.size() + sound.size(), [&](std::size_t n) {
    if (n >= sound.size() && asked[n - sound.size()] == 0) return;
    if (n < sound.size())
      sound[n] = run_pair(cases[n], {});
    else
      alone[n - sound.size()] =
          run_pair(cases[(n - sound.size()) % kPairPlaces],
                   pair_events(nullptr, &faults[(n - sound.size()) / kPairPlaces], true));
  });
  in_parallel(jobs.size(), [&](std::size_t n) {
    const Pair& p = jobs[n].pair;
    jobs[n].result =
        run_pair(cases[p.place], pair_events(&instruments[p.instrument], &faults[p.fault], p.reversed));
  });

  fmt::print("{}{} instrument faults, {} plant faults, {} runs.\n\n", kHead, instruments.size(),
             faults.size(), jobs.size());
  fmt::print(
      "| situation | meaning | runs | harmful | harmful alone | least margin | longest below | longest bare "
      "| "
      "most carbon | most oxide | trips | oxygen against no fault |\n"
      "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n");
  for (std::size_t k = 0; k < kPairPlaces; ++k) {
    Outcome worst;
    std::size_t runs = 0, bad = 0, trips = 0, bad_alone = 0;
    for (const Job& j : jobs) {
      if (j.pair.place != k) continue;
      const Outcome& r = j.result;
      ++runs, bad += harmed(r), trips += r.tripped;
      worst.margin = std::fmin(worst.margin, r.margin), worst.below = std::fmax(worst.below, r.below);
      worst.bare = std::fmax(worst.bare, r.bare), worst.carbon = std::fmax(worst.carbon, r.carbon);
      worst.oxide = std::fmax(worst.oxide, r.oxide), worst.oxygen += r.oxygen;
    }
    for (std::size_t f = 0; f < faults.size(); ++f) bad_alone += harmed(alone[f * kPairPlaces + k]);
    if (runs == 0) continue;
    fmt::print(
        "| {} | {} | {} | {} | {} of {} | {:.0f} mV | {:.0f} s | {:.0f} s | {:.3g} umol | {:.3g} umol | {} | "
        "{:.1f} % |\n",
        kPairSituations[k].word, kPairSituations[k].meaning, runs, bad, bad_alone, faults.size(),
        worst.margin * 1e3, worst.below, worst.bare, worst.carbon * 1e6, worst.oxide * 1e6, trips,
        100.0 * worst.oxygen / static_cast<double>(runs) / sound[k].oxygen);
  }
  std::map<std::string, std::size_t> by_fault, by_instrument;
  std::vector<const Job*> bad;
  for (const Job& j : jobs)
    if (harmed(j.result)) {
      bad.push_back(&j);
      ++by_fault[faults[j.pair.fault].word], ++by_instrument[instruments[j.pair.instrument].word];
    }
  const auto share = [](const char* title, const std::map<std::string, std::size_t>& counts) {
    fmt::print("\n| {} | harmful pairs |\n| --- | --- |\n", title);
    for (const auto& [name, n] : counts) fmt::print("| `{}` | {} |\n", name, n);
  };
  if (!bad.empty()) share("plant fault", by_fault), share("instrument fault", by_instrument);
  const auto harm = [](const Job& j) { return std::fmax(j.result.below, j.result.bare); };
  std::stable_sort(bad.begin(), bad.end(), [&](const Job* a, const Job* b) { return harm(*a) > harm(*b); });
  constexpr std::size_t kListed = 400;
  const bool each = argc > 1;
  fmt::print(
      "\n## {}\n\n| pair | situation | least margin | below | least ratio | bare | alone | carbon, oxide | "
      "reported | "
      "response |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
      each ? "Runs" : "Harmful pairs");
  const auto write = [&](const Job& j) {
    fmt::print("{}",
               line(label(instruments, faults, j.pair), j, alone[j.pair.fault * kPairPlaces + j.pair.place]));
  };
  if (each && jobs.size() <= 300)
    for (const Job& j : jobs) write(j);
  else
    for (std::size_t n = 0; n < bad.size() && n < kListed; ++n) write(*bad[n]);
  return 0;
}
