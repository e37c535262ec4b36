#include "hil-harness/campaign/row.hpp"

#include <bit>
#include <memory>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "hil-harness/batch/upper_bound.hpp"
#include "hil-harness/links/controllers.hpp"
#include "hil-harness/verify/judge.hpp"
#include "plant-model/compressors/intake_readings.hpp"

namespace duskline::harness {
namespace {

using Json = nlohmann::ordered_json;

Json number(double v) {
  return std::isfinite(v) ? Json(v) : Json(nullptr);
}
double number_of(const Json& j) {
  return j.is_number() ? j.get<double>() : std::nan("");
}

std::string draws_json(const Draws& draws, const Draw& draw) {
  Json j = Json::object();
  const std::size_t numbers = draw.values.size();
  for (std::size_t i = 0; i < numbers; ++i) j[draws.inputs()[i].name] = number(draw.values[i]);
  for (std::size_t i = 0; i < draw.words.size(); ++i) j[draws.inputs()[numbers + i].name] = draw.words[i];
  return j.dump();
}

std::string verdicts_json(const std::vector<RequirementResult>& judged) {
  Json j = Json::array();
  for (const RequirementResult& one : judged)
    j.push_back({{"requirement", one.name},
                 {"verdict", std::string(word(one.verdict.outcome))},
                 {"margin", number(one.verdict.margin)},
                 {"unit", one.verdict.unit},
                 {"time", number(one.verdict.time)}});
  return j.dump();
}

std::string events_json(const RunRecord& record) {
  Json j = Json::array();
  for (const LogEvent& e : record.log_events)
    if (e.begins && (e.kind == LogKind::interlock || e.kind == LogKind::limit ||
                     e.kind == LogKind::diagnosis || e.kind == LogKind::alarm))
      j.push_back({{"time", e.time},
                   {"kind", std::string(word(e.kind))},
                   {"subject", e.subject},
                   {"count", e.count}});
  return j.dump();
}

/// How often a measurement became suspect.
class SuspectCount {
 public:
  void watch(const Snapshot& s) {
    if (s.modules.empty()) return watch(s, 0);
    for (std::size_t n = 0; n < s.modules.size(); ++n) watch(*s.modules[n], n);
  }
  double count() const { return static_cast<double>(count_); }

 private:
  void watch(const Snapshot& s, std::size_t module) {
    const std::uint64_t now = std::uint64_t{s.control.suspect[1]} << 32U | s.control.suspect[0];
    count_ += std::popcount(now & ~before_[module]);
    before_[module] = now;
  }
  std::array<std::uint64_t, plant::kMostModules> before_{};
  int count_ = 0;
};

}  // namespace

double surge_margin_of(const RunRecord& record) {
  const double margin = record.figures.shared.surge_margin.value;
  return margin < plant::kWithoutSurge ? margin : std::nan("");
}

double count_of(const RunRecord& record, LogKind kind) {
  std::size_t count = 0;
  for (const LogEvent& e : record.log_events)
    if (e.kind == kind && e.begins) count += e.count;
  return static_cast<double>(count);
}

bool CampaignRow::violated() const {
  const auto some = [this](scenarios::Outcome outcome) {
    return verdicts.find("\"verdict\":\"" + std::string(word(outcome)) + "\"") != std::string::npos;
  };
  return some(scenarios::Outcome::violated) || some(scenarios::Outcome::undecided);
}

std::optional<CampaignRow> run_row(const CampaignPlan& plan, const Draws& draws, std::uint64_t run,
                                   const std::string& law, const std::atomic<bool>* interrupted) {
  const Draw draw = draws.draw(run);
  const scenarios::Case c = draws.case_of(draw, law);
  CampaignRow row;
  row.run = run;
  row.law = law;
  row.plant_draw = draw.plant_draw;
  row.seed = draw.seed;
  row.draws = draws_json(draws, draw);
  Watcher watcher(c.scenario);
  SuspectCount suspect;
  std::optional<OxygenBound> bound;
  if (has_bound(run)) bound.emplace(c);
  const auto opened = open_controllers(plan.links, c);
  if (!opened) throw std::runtime_error(scenarios::to_text(opened.problems.front()));
  LoopOptions loop;
  loop.interrupted = interrupted;
  loop.watch = [&](const Snapshot& s) {
    watcher.watch(s);
    suspect.watch(s);
    if (bound) bound->watch(s);
  };
  const RunRecord record = run_loop(c, *opened.value, loop);
  if (record.end.reason == plant::RunEnd::interrupted) return std::nullopt;
  for (std::size_t i = 0; i < kFigureCount; ++i) {
    const double value = kCampaignFigures[i].of(record);
    row.figures[i] = std::isfinite(value) ? value + 0.0 : std::nan("");  // a file knows no -0
  }
  row.figures[figure("suspect")] = suspect.count();
  // a law that keeps no margin has no bound
  const KeptMargins kept{record.figures.coke_margin.value, record.figures.nickel_ratio.value};
  if (bound && bound->counted() > 0.0 && kept.coke > 0.0 && std::isfinite(kept.coke) && kept.nickel > 0.0) {
    row.figures[figure("oxygen_counted")] = bound->counted();
    row.figures[figure("oxygen_bound")] = bound->most(kept);
  }
  row.ended = plant::word(record.end.reason);
  row.ended_at = record.end.time;
  row.verdicts = verdicts_json(watcher.judge());
  row.events = events_json(record);
  return row;
}

std::string line_of(const CampaignRow& row) {
  Json j;
  j["run"] = row.run;
  j["law"] = row.law;
  j["plant_draw"] = row.plant_draw;
  j["seed"] = row.seed;
  Json& figures = j["figures"] = Json::array();
  for (const double value : row.figures) figures.push_back(number(value));
  j["ended"] = row.ended;
  j["ended_at"] = row.ended_at;
  j["draws"] = row.draws;
  j["verdicts"] = row.verdicts;
  j["events"] = row.events;
  return j.dump();
}

std::optional<CampaignRow> row_of(const std::string& line) {
  const Json j = Json::parse(line, nullptr, false);
  if (!j.is_object()) return std::nullopt;
  try {
    CampaignRow row;
    row.run = j.at("run");
    row.law = j.at("law");
    row.plant_draw = j.at("plant_draw");
    row.seed = j.at("seed");
    for (std::size_t i = 0; i < kFigureCount; ++i) row.figures[i] = number_of(j.at("figures").at(i));
    row.ended = j.at("ended");
    row.ended_at = j.at("ended_at");
    row.draws = j.at("draws");
    row.verdicts = j.at("verdicts");
    row.events = j.at("events");
    return row;
  } catch (const Json::exception&) {
    return std::nullopt;
  }
}

}  // namespace duskline::harness
