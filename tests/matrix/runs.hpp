/// What the fault matrix and the matrix of pairs share: situations, runs with a look at every tick, words of what a
/// controller reported, and all cores.
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>
#include <string>
#include <thread>
#include <vector>

#include "hil-harness/batch/threads.hpp"
#include "hil-harness/loop/loop.hpp"
#include "hil-harness/loop/words.hpp"
#include "plant-model/instruments/fault_table.hpp"
#include "scenarios/reader/fault_fit.hpp"
#include "scenarios/reader/instruments.hpp"

namespace duskline::tests {

struct Situation {
  const char *word, *meaning, *keys;
  double at;  // s, when the fault sets in
};

inline scenarios::Case case_of(const Situation& situation, std::uint64_t seed) {
  const std::string text =
      fmt::format("format: duskline-scenario/1\ntitle: {}\nplant: bench\nseed: {}\nsite: ember-hollow\n{}",
                  situation.word, seed, situation.keys);
  auto read = scenarios::parse_case(text, situation.word, ".", DUSKLINE_SOURCE_DIR "/plant-model/plants");
  if (!read) {
    fmt::print(stderr, "{}", scenarios::to_text(read.problems));
    std::exit(2);
  }
  return std::move(*read.value);
}

/// The faults that the bench can have.
inline const std::vector<const plant::FaultRow*>& bench_faults() {
  static const auto rows =
      scenarios::faults_of(case_of({"the plant", "", "duration: 1 s\n", 0.0}, 1).plant.parameters);
  return rows;
}

/// What a controller reported at a tick: diagnoses, doubts, interlock.
struct Reported {
  std::uint32_t diagnosed, suspect[2], tripped;
  bool any() const { return (diagnosed | suspect[0] | suspect[1] | tripped) != 0; }
};
/// What it reported in `a` and not in `b`.
inline Reported less(const Reported& a, const Reported& b) {
  return {a.diagnosed & ~b.diagnosed,
          {a.suspect[0] & ~b.suspect[0], a.suspect[1] & ~b.suspect[1]},
          a.tripped & ~b.tripped};
}
inline Reported reported_by(const ctl_outputs& out) {
  return {out.diagnosed, {out.suspect[0], out.suspect[1]}, out.tripped};
}

/// Adds the words of what is reported that are not there yet.
inline void add_words(const Reported& reported, std::vector<std::string>& words) {
  const auto add = [&](bool said, std::string word) {
    if (said && std::find(words.begin(), words.end(), word) == words.end()) words.push_back(std::move(word));
  };
#define WORD(identifier, bit, word, response, meaning) add((reported.diagnosed & (1u << (bit))) != 0, word);
  CTL_DIAGNOSIS_LIST(WORD)
#undef WORD
  for (std::size_t i = 0; i < scenarios::kReadingChannels; ++i)
    add((reported.suspect[i / 32] & (1u << (i % 32))) != 0, scenarios::reading_channels()[i].name);
#define WORD(identifier, bit, word, meaning) add((reported.tripped & (1u << (bit))) != 0, "interlock: " word);
  CTL_CONDITION_LIST(WORD)
#undef WORD
}

inline std::string words_of(const Reported& reported) {
  std::vector<std::string> words;
  add_words(reported, words);
  return fmt::format("{}", fmt::join(words, ", "));
}

/// A closed loop with a look at every tick.
template <class See>
harness::RunRecord run_seen(const scenarios::Case& c, const See& see) {
  harness::InProcess link(c.scenario.controller);
  harness::LoopOptions options;
  options.record = [&](const harness::Snapshot& s) {
    see(s);
    return true;
  };
  return harness::run_loop(c, link, options);
}

inline void in_parallel(std::size_t jobs, const std::function<void(std::size_t)>& job) {
  harness::on_threads(jobs, std::max(1u, std::thread::hardware_concurrency()), job);
}

}  // namespace duskline::tests
