/// The fault matrix: every fault of the table in four situations, against a twin without it.
///
///   duskline_fault_matrix            writes the page to standard output
///   duskline_fault_matrix FILE       compares the page with FILE (docs/reference/fault-matrix.md)
///
/// Detected: a diagnosis, a suspect measurement or an interlock that the twin has not at that tick. Exit code 1: a
/// fault was not detected for which the table has no reason, a twin had an alarm, a run broke off, or FILE differs.
#include <fstream>
#include <iterator>
#include <map>

#include "tests/matrix/runs.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

#define PRODUCING                                                                               \
  "duration: 2 h\ninitial: {state: producing, stack_temperature: 800 degC, cathode_co: 65 %}\n" \
  "commands:\n  - {at: 0 s, mode: production, demand: 10 g/h}\n"

constexpr Situation kSituations[] = {
    {"noon", "10 g/h from 11 h on; the fault sets in after 20 min",
     "start: {season: 180 deg, local_time: 11 h}\n" PRODUCING, 1200.0},
    {"dawn", "10 g/h from 5 h 30 min on, the density falling; after 20 min",
     "start: {season: 180 deg, local_time: 5.5 h}\n" PRODUCING, 1200.0},
    {"dusk", "10 g/h from 16 h 30 min on, the density climbing; after 20 min",
     "start: {season: 180 deg, local_time: 16.5 h}\n" PRODUCING, 1200.0},
    {"cold", "a cold plant at night, warm-up, production from 3 h 40 min on; after 30 min",
     "start: {season: 180 deg, local_time: 20 h}\nduration: 4 h 40 min\n"
     "initial: {state: cold, stack_temperature: 230 K, cathode_co: 30 %}\n"
     "commands:\n  - {at: 0 s, mode: warm-up, demand: 0 g/h}\n"
     "  - {at: 3 h 40 min, mode: production, demand: 10 g/h}\n",
     1800.0}};
constexpr std::size_t kPlaces = std::size(kSituations);
constexpr std::uint64_t kTwinSeeds[] = {7, 8, 9};  // the first is that of the faults

scenarios::Case make_case(const Situation& situation, std::uint64_t seed, const plant::FaultRow* fault) {
  auto c = case_of(situation, seed);
  if (fault != nullptr) c.scenario.faults = {plant::usual_fault(*fault, situation.at)};
  return c;
}

struct Twin {
  std::vector<Reported> reported;
  std::vector<std::uint32_t> mode;
  double oxygen = 0.0;  // kg after the fault of the others
  Reported ever{};
  double margin = INFINITY;
};

struct Result {
  double detected = NAN;  // s
  std::vector<std::string> words;
  std::uint32_t response = 0;
  bool tripped = false, stood_by = false;
  double margin = INFINITY;  // V
  double oxygen = 0.0;       // kg
  std::string end;
};

Twin run_twin(const Situation& situation, const scenarios::Case& c) {
  Twin twin;
  run_seen(c, [&](const harness::Snapshot& s) {
    const Reported reported = reported_by(s.control);
    twin.reported.push_back(reported);
    twin.mode.push_back(s.control.mode);
    twin.ever = {twin.ever.diagnosed | reported.diagnosed,
                 {twin.ever.suspect[0] | reported.suspect[0], twin.ever.suspect[1] | reported.suspect[1]},
                 twin.ever.tripped | reported.tripped};
    if (s.time < situation.at) return;
    twin.oxygen += s.plant.oxygen_made;
    twin.margin = std::fmin(twin.margin, s.coke_margin);
  });
  return twin;
}

Result run_fault(const Situation& situation, const scenarios::Case& c, const Twin& twin) {
  Result r;
  const auto record = run_seen(c, [&](const harness::Snapshot& s) {
    if (s.time < situation.at) return;
    const auto n = static_cast<std::size_t>(s.tick);
    const Reported fresh = less(reported_by(s.control), twin.reported[n]);
    if (fresh.any()) {
      if (std::isnan(r.detected)) r.detected = s.time - situation.at;
      add_words(fresh, r.words);
    }
    r.response = std::max(r.response, s.control.response);
    r.tripped = r.tripped || (s.control.mode == CTL_SAFE && twin.mode[n] != CTL_SAFE);
    r.stood_by = r.stood_by || (s.control.mode == CTL_STANDBY && twin.mode[n] == CTL_PRODUCTION);
    r.oxygen += s.plant.oxygen_made;
    r.margin = std::fmin(r.margin, s.coke_margin);
  });
  if (record.end.reason != plant::RunEnd::reached_end)
    r.end =
        fmt::format("{} at {:.0f} s ({})", plant::word(record.end.reason), record.end.time, record.end.who);
  return r;
}

/// The name that the controller should find: the diagnosis, or the channels that are corrupted.
std::vector<std::string> right_words(const plant::FaultRow& row) {
  using plant::FaultEffect;
  if (!row.diagnosis.empty()) return {std::string(row.diagnosis)};
  if (row.effect != FaultEffect::sensor && row.effect != FaultEffect::swap) return {};
  const std::string name(row.target);
  if (row.item < 0) return {name};
  const auto item = [&](std::size_t i) { return fmt::format("{}[{}]", name, i); };
  const auto first = static_cast<std::size_t>(row.item);
  if (row.effect == FaultEffect::swap) return {item(first), item((first + 1) % scenarios::fault_items(row))};
  return {item(first)};
}

const char* isolation(const plant::FaultRow& row, const Result& r) {
  const auto right = right_words(row);
  const auto said = [&](const std::string& word) {
    return std::find(r.words.begin(), r.words.end(), word) != r.words.end();
  };
  if (r.words.empty()) return "";
  if (!std::any_of(right.begin(), right.end(), said)) return "as another";
  const auto others = std::count_if(r.words.begin(), r.words.end(), [&](const std::string& word) {
    return std::find(right.begin(), right.end(), word) == right.end() && word.find("interlock") == word.npos;
  });
  return others == 0 ? "right" : "among others";
}

constexpr const char* kHead = R"(# Fault matrix

This page is written by `duskline_fault_matrix` (built with the tests; `docs/reference/generate` calls it). Do not edit it.
Every fault of [faults.md](faults.md), with its usual size and course, in four situations of the plant `bench` under the
law that is the default, against a twin that differs in nothing but the fault (seed 7).

* *detected in*: from the onset of the fault to the first diagnosis, suspect measurement or interlock that the twin
  does not have at that tick.
* *isolated as*: all that was reported from then on, in order; *right*: the fault's own diagnosis or measurement and
  nothing else; *among others*: that, and more; *as another*: only something else.
* *response*: the highest level; *then*: what became of production.
* *least margin*: least true coke margin of a hot cell after the onset; *lost*: oxygen made by the twin less that of
  the run, after the onset (negative: the run made more).

)";

struct Matrix {
  std::vector<Twin> twins;  // seeds by situations
  std::vector<Result> results;
  std::string page;
  std::vector<std::string> faults;  // of the matrix itself
};

void write_page(Matrix& m) {
  const auto& table = bench_faults();
  m.page = kHead;
  m.page +=
      "## Situations and false alarms\n\n| situation | meaning | detected | isolated right or among others | "
      "least margin of the twin | reported without a fault |\n| --- | --- | --- | --- | --- | --- |\n";
  for (std::size_t k = 0; k < kPlaces; ++k) {
    std::size_t detected = 0, right = 0;
    for (std::size_t f = 0; f < table.size(); ++f) {
      const Result& r = m.results[f * kPlaces + k];
      detected += std::isnan(r.detected) ? 0 : 1;
      const std::string how = isolation(*table[f], r);
      right += how == "right" || how == "among others" ? 1 : 0;
    }
    std::string alarms;
    for (std::size_t s = 0; s < std::size(kTwinSeeds); ++s) {
      const Reported& ever = m.twins[s * kPlaces + k].ever;
      if (!ever.any()) continue;
      alarms += fmt::format("seed {}: {}; ", kTwinSeeds[s], words_of(ever));
      m.faults.push_back(fmt::format("false alarm in {} with seed {}: {}", kSituations[k].word, kTwinSeeds[s],
                                     words_of(ever)));
    }
    m.page +=
        fmt::format("| {} | {} | {} of {} | {} | {:.0f} mV | {} |\n", kSituations[k].word,
                    kSituations[k].meaning, detected, table.size(), right, m.twins[k].margin * 1e3, alarms);
  }
  m.page +=
      "\nTwins were run with the seeds 7, 8 and 9.\n\n## Faults\n\n| fault | situation | detected in | "
      "isolated "
      "as | isolation | response | then | least margin | lost |\n"
      "| --- | --- | --- | --- | --- | --- | --- | --- | --- |\n";
  std::map<std::string, std::string> unseen;
  for (std::size_t f = 0; f < table.size(); ++f)
    for (std::size_t k = 0; k < kPlaces; ++k) {
      const Result& r = m.results[f * kPlaces + k];
      const std::string name(table[f]->name);
      if (!r.end.empty()) m.faults.push_back(fmt::format("{} at {}: {}", name, kSituations[k].word, r.end));
      const bool undetected = std::isnan(r.detected);
      if (undetected) {
        unseen[name] += (unseen[name].empty() ? "" : ", ") + std::string(kSituations[k].word);
        if (table[f]->unseen.empty())
          m.faults.push_back(fmt::format("{} at {} was not detected: margin {:.0f} mV, {:.2f} g lost", name,
                                         kSituations[k].word, r.margin * 1e3,
                                         (m.twins[k].oxygen - r.oxygen) * 1e3));
      }
      m.page += fmt::format("| {} | {} | {} | {} | {} | {} | {} | {} | {:.2f} g |\n",
                            k == 0 ? "`" + name + "`" : "", kSituations[k].word,
                            undetected ? "-" : fmt::format("{:.0f} s", r.detected),
                            fmt::format("{}", fmt::join(r.words, ", ")), isolation(*table[f], r),
                            harness::word_of(harness::response_words(), r.response),
                            r.tripped    ? "trip"
                            : r.stood_by ? "standby"
                                         : "",
                            std::isfinite(r.margin) ? fmt::format("{:.0f} mV", r.margin * 1e3) : "-",
                            (m.twins[k].oxygen - r.oxygen) * 1e3);
    }
  m.page += "\n## What may stay unseen\n\n| fault | unseen at | why |\n| --- | --- | --- |\n";
  for (const plant::FaultRow* row : table)
    if (const auto found = unseen.find(std::string(row->name)); found != unseen.end())
      m.page += fmt::format("| `{}` | {} | {} |\n", row->name, found->second,
                            row->unseen.empty() ? "**no reason known**" : row->unseen);
}

Matrix make_matrix() {
  Matrix m;
  const auto& table = bench_faults();
  std::vector<scenarios::Case> twins, faults;  // read here: the reader is not meant for several threads
  for (const std::uint64_t seed : kTwinSeeds)
    for (const Situation& s : kSituations) twins.push_back(make_case(s, seed, nullptr));
  for (const plant::FaultRow* row : table)
    for (const Situation& s : kSituations) faults.push_back(make_case(s, kTwinSeeds[0], row));
  m.twins.resize(twins.size());
  m.results.resize(faults.size());
  in_parallel(twins.size(),
              [&](std::size_t i) { m.twins[i] = run_twin(kSituations[i % kPlaces], twins[i]); });
  in_parallel(faults.size(), [&](std::size_t i) {
    m.results[i] = run_fault(kSituations[i % kPlaces], faults[i], m.twins[i % kPlaces]);
  });
  write_page(m);
  return m;
}

}  // namespace

int main(int argc, char** argv) {
  const Matrix m = make_matrix();
  for (const auto& fault : m.faults) fmt::print(stderr, "{}\n", fault);
  bool well = m.faults.empty();
  if (argc > 1) {
    std::ifstream file(argv[1], std::ios::binary);
    const std::string there{std::istreambuf_iterator<char>{file}, {}};
    if (there != m.page) {
      fmt::print(stderr, "{} differs; write it anew with docs/reference/generate\n", argv[1]);
      well = false;
    }
  } else {
    fmt::print("{}", m.page);
  }
  return well ? 0 : 1;
}
