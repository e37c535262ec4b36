/// One instrument fault and one plant fault, in either order: what becomes of coke margin and nickel.
///
/// Every fault of an instrument in the table, its size with both signs where it may have both, some greater ones, and
/// every fault of the plant; ramps are shortened to kRise. The second fault sets in when the first has shown itself or
/// has not. A fault of a cell sits in the cell whose tap is wrong.
#pragma once

#include "tests/matrix/runs.hpp"

namespace duskline::tests {

inline constexpr double kFirstAt = 480.0, kSecondAt = 720.0, kRise = 180.0;  // s

#define PAIRED(hour, demand)                                                                \
  "start: {season: 180 deg, local_time: " hour                                              \
  " h}\nduration: 22 min\n"                                                                 \
  "initial: {state: producing, stack_temperature: 800 degC, cathode_co: 65 %}\ncommands:\n" \
  "  - {at: 0 s, mode: production, demand: " demand " g/h}\n"
inline constexpr Situation kPairSituations[] = {
    {"noon", "10 g/h at 11 h", PAIRED("11", "10"), kFirstAt},
    {"dawn", "10 g/h at 6 h 30 min, the density falling", PAIRED("6.5", "10"), kFirstAt},
    {"dusk", "10 g/h at 17 h, the density climbing", PAIRED("17", "10"), kFirstAt},
    {"noon, limit", "20 g/h asked for at 11 h", PAIRED("11", "20"), kFirstAt},
    {"dawn, limit", "20 g/h asked for at 6 h 30 min", PAIRED("6.5", "20"), kFirstAt},
    {"dusk, limit", "20 g/h asked for at 17 h", PAIRED("17", "20"), kFirstAt}};
#undef PAIRED
inline constexpr std::size_t kPairPlaces = std::size(kPairSituations);

struct Variant {
  const plant::FaultRow* row;
  double size;
  std::string word;
};

inline Variant variant(const plant::FaultRow& row, double size) {
  std::string word{row.name};
  if (row.has_size() && size != row.size) word += fmt::format(" {:+.3g}", size);
  return {&row, size, std::move(word)};
}

inline bool of_instrument(const plant::FaultRow& row) {
  return row.effect == plant::FaultEffect::sensor || row.effect == plant::FaultEffect::swap;
}

inline std::vector<Variant> instrument_variants() {
  std::vector<Variant> all;
  for (const plant::FaultRow* here : bench_faults()) {
    const plant::FaultRow& row = *here;
    if (!of_instrument(row)) continue;
    all.push_back(variant(row, row.size));
    if (row.has_size() && row.lower < 0.0 && row.upper > 0.0 && -row.size >= row.lower &&
        -row.size <= row.upper)
      all.push_back(variant(row, -row.size));
  }
  all.push_back(variant(*plant::find_fault("feed-flow-gain"), 0.25));
  all.push_back(variant(*plant::find_fault("ambient-pressure-bias"), 100.0));
  return all;
}

inline std::vector<Variant> plant_variants() {
  using plant::FaultEffect;
  std::vector<Variant> all;
  for (const plant::FaultRow* here : bench_faults())
    if (const plant::FaultRow& row = *here;
        row.effect == FaultEffect::scale || row.effect == FaultEffect::set ||
        row.effect == FaultEffect::add || row.effect == FaultEffect::actuator)
      all.push_back(variant(row, row.size));
  all.push_back(variant(*plant::find_fault("cell-starved"), 0.75));
  all.push_back(variant(*plant::find_fault("recycle-lost"), 0.3));
  return all;
}

struct Pair {
  std::size_t instrument, fault;  // of the variants
  bool reversed;                  // the plant fault comes first
  std::size_t place;              // of kPairSituations
};

inline plant::FaultEvent event_of(const Variant& v, double at) {
  plant::FaultEvent e = plant::usual_fault(*v.row, at);
  e.size = v.size;
  e.rise = std::fmin(e.rise, kRise);
  return e;
}

/// The two as events; `fault` alone where `instrument` is null, and the reverse.
inline std::vector<plant::FaultEvent> pair_events(const Variant* instrument, const Variant* fault,
                                                  bool reversed) {
  std::vector<plant::FaultEvent> events;
  if (instrument != nullptr) events.push_back(event_of(*instrument, reversed ? kSecondAt : kFirstAt));
  if (fault != nullptr) {
    events.push_back(event_of(*fault, reversed ? kFirstAt : kSecondAt));
    const bool tap = instrument != nullptr && instrument->row->target == "cell_voltage";
    const bool cell = fault->row->component == "cell";
    if (tap && cell) events.back().item = instrument->row->item;
  }
  return events;
}

/// What became of a run after the first fault.
struct Outcome {
  double margin = INFINITY, below = 0.0;  // V, s below the onset of coke
  double nickel = INFINITY, bare = 0.0;   // least ratio, s below one
  double oxide = 0.0, carbon = 0.0;       // mol
  double oxygen = 0.0;                    // kg
  double reported = NAN;                  // s after the first fault
  std::vector<std::string> words;
  std::uint32_t response = 0;
  bool tripped = false, ended = false, harm_done = false;
};

inline constexpr double kTimeToAct = 10.0;  // s, for which a limit may be passed (docs/models/detection.md)
inline bool harmed(const Outcome& r) {
  return r.below > kTimeToAct || r.bare > kTimeToAct || r.ended;
}

/// Ends when harm is done: a minute of it, or a cell that has no gas left (such a plant takes long to integrate).
inline Outcome run_pair(const scenarios::Case& base, std::vector<plant::FaultEvent> events) {
  scenarios::Case c = base;
  c.scenario.faults = std::move(events);
  Outcome r;
  harness::InProcess link(c.scenario.controller);
  harness::LoopOptions options;
  options.record = [&](const harness::Snapshot& s) {
    if (s.time < kFirstAt) return true;
    const Reported reported = reported_by(s.control);
    if (reported.any()) {
      if (std::isnan(r.reported)) r.reported = s.time - kFirstAt;
      add_words(reported, r.words);
    }
    r.response = std::max(r.response, s.control.response);
    r.tripped = r.tripped || s.control.mode == CTL_SAFE;
    r.oxygen += s.plant.oxygen_made;
    r.margin = std::fmin(r.margin, s.coke_margin);
    r.nickel = std::fmin(r.nickel, s.nickel_ratio);
    r.below += s.coke_margin < 0.0 ? 1.0 : 0.0;
    r.bare += s.nickel_ratio < 1.0 ? 1.0 : 0.0;
    const bool starved = s.coke_margin < -0.2;
    r.harm_done = std::fmax(r.below, r.bare) >= 60.0 || (r.below > kTimeToAct && starved);
    return !r.harm_done;
  };
  const auto record = harness::run_loop(c, link, options);
  r.oxide = record.figures.oxide_greatest;
  r.carbon = record.figures.carbon_greatest;
  r.ended = !r.harm_done && record.end.reason != plant::RunEnd::reached_end;
  return r;
}

}  // namespace duskline::tests
