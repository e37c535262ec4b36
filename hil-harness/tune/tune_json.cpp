#include "hil-harness/tune/tune_json.hpp"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "hil-harness/verify/judge.hpp"

namespace duskline::harness {
namespace {

using Json = nlohmann::ordered_json;

Json number(double v) {
  return std::isfinite(v) ? Json(v) : Json(nullptr);
}

Json gains_of(const TuneTask& task, const std::vector<double>& values) {
  Json j = Json::array();
  for (std::size_t i = 0; i < values.size(); ++i)
    j.push_back({{"set", task.tuning().vary[i].set},
                 {"value", values[i]},
                 {"unit", std::string(task.tuning().vary[i].unit)}});
  return j;
}

Json candidate_of(const TuneTask& task, const Candidate& c) {
  Json j;
  j["gains"] = gains_of(task, c.values);
  Json& measured = j["measured"] = Json::object();
  for (std::size_t i = 0; i < task.objectives.size(); ++i)
    measured[task.tuning().objectives[i].name] = number(c.worth.measured[i]);
  j["cost"] = number(c.worth.cost);
  j["lack"] = c.worth.lack;
  if (!c.worth.violated.empty()) j["violated"] = c.worth.violated;
  return j;
}

Json difference_of(const Difference& d, const std::string& unit) {
  return {{"unit", unit},
          {"before", number(d.before)},
          {"after", number(d.after)},
          {"difference", number(d.mean)},
          {"half_width_95", number(d.half_width)},
          {"draws_better", d.better},
          {"draws_compared", d.pairs}};
}

Json margins_of_points(const std::vector<PointMargins>& all) {
  Json j = Json::array();
  for (const auto& p : all) {
    Json loops = Json::array();
    for (const auto& l : p.loops)
      loops.push_back({{"loop", l.name},
                       {"in_charge", l.in_charge},
                       {"stable", l.stable},
                       {"Ms", number(l.sensitivity)},
                       {"gain_margin", number(l.gain)},
                       {"phase_margin_deg", number(l.phase)},
                       {"delay_margin_s", number(l.delay)}});
    j.push_back({{"point", p.point}, {"local_time_h", p.local_time_h}, {"loops", loops}});
  }
  return j;
}

std::string value_words(double value, std::string_view unit) {
  return fmt::format("{:.4g}{}{}", value, unit == "1" || unit.empty() ? "" : " ", unit == "1" ? "" : unit);
}

}  // namespace

std::string change_words(const Difference& d) {
  const double base = std::abs(d.before);
  if (std::isnan(base)) return "not compared";
  if (std::isinf(base) && d.mean == 0.0) return "no change";
  if (!(base > 0.0) || std::isinf(base)) return fmt::format("{:+.4g} +- {:.2g}", d.mean, d.half_width);
  return fmt::format("{:+.1f} % (95 %: {:+.1f} to {:+.1f} %)", 100.0 * d.mean / base,
                     100.0 * (d.mean - d.half_width) / base, 100.0 * (d.mean + d.half_width) / base);
}

double largest_sensitivity(const std::vector<PointMargins>& all) {
  double most = 0.0;
  for (const auto& p : all)
    for (const auto& l : p.loops)
      most = std::max(most, l.stable ? l.sensitivity : std::numeric_limits<double>::infinity());
  return most;
}

std::string_view word(TuneVerdict verdict) {
  switch (verdict) {
    case TuneVerdict::unchanged:
      return "unchanged";
    case TuneVerdict::better:
      return "better";
    case TuneVerdict::not_significant:
      return "not significant";
    default:
      return "worse";
  }
}

TuneVerdict verdict_of(const TuneResult& result) {
  const HeldOutComparison& c = result.held_out;
  if (result.best == 0) return TuneVerdict::unchanged;
  if (c.lacking_after != c.lacking_before)
    return c.lacking_after < c.lacking_before ? TuneVerdict::better : TuneVerdict::worse;
  if (result.margins_lack_after != result.margins_lack_before)
    return result.margins_lack_after < result.margins_lack_before ? TuneVerdict::better : TuneVerdict::worse;
  if (c.cost.mean > 0.0) return TuneVerdict::worse;
  return c.cost.mean + c.cost.half_width < 0.0 ? TuneVerdict::better : TuneVerdict::not_significant;
}

std::size_t kept_candidate(const TuneResult& result) {
  return verdict_of(result) == TuneVerdict::worse ? 0 : result.best;
}

std::string tune_json(const TuneTask& task, const TuneResult& result) {
  Json j;
  j["format"] = "duskline-tuning/1";
  j["scenario"] = task.cases.front().scenario.title;
  Json& aims = j["objectives"] = Json::array();
  for (std::size_t i = 0; i < task.objectives.size(); ++i)
    aims.push_back({{"name", task.tuning().objectives[i].name},
                    {"aim", task.objectives[i].text},
                    {"unit", task.objectives[i].unit},
                    {"per", task.objectives[i].per}});
  Json& scenarios = j["scenarios"] = Json::array();
  for (const auto& c : task.cases) scenarios.push_back(c.scenario.title);
  j["draws"] = task.tuning().draws;
  j["seed"] = task.tuning().seed;
  j["candidates"] = result.candidates.size();
  j["start"] = candidate_of(task, result.candidates.front());
  j["best"] = candidate_of(task, result.candidates[result.best]);
  Json& front = j["front"] = Json::array();
  for (const std::size_t i : result.front) front.push_back(candidate_of(task, result.candidates[i]));
  Json& held = j["held_out"] = Json::object();
  const HeldOutComparison& c = result.held_out;
  held["verdict"] = std::string(word(verdict_of(result)));
  held["draws"] = c.draws;
  held["runs_each"] = c.runs;
  held["cost"] = difference_of(c.cost, "1");
  Json& figures = held["objectives"] = Json::object();
  for (std::size_t i = 0; i < c.figures.size(); ++i)
    figures[task.tuning().objectives[i].name] = difference_of(c.figures[i], task.objectives[i].unit);
  held["runs_that_violate_a_requirement"] = {{"before", c.lacking_before}, {"after", c.lacking_after}};
  held["violated_after"] = c.violated;
  j["sensitivity_max"] = task.tuning().sensitivity_max;
  j["margins"] = {{"before", margins_of_points(result.margins_before)},
                  {"after", margins_of_points(result.margins_after)}};
  return j.dump(2) + "\n";
}

std::string tune_text(const TuneTask& task, const TuneResult& result) {
  const Candidate& start = result.candidates.front();
  const Candidate& best = result.candidates[result.best];
  std::string text =
      fmt::format("{} (tuned)\n  candidates       {}, {} on the front\n", task.cases.front().scenario.title,
                  result.candidates.size(), result.front.size());
  for (std::size_t i = 0; i < best.values.size(); ++i)
    text += fmt::format("  {:<24} {} -> {}\n", name_of(task.tuning().vary[i]),
                        value_words(start.values[i], task.tuning().vary[i].unit),
                        value_words(best.values[i], task.tuning().vary[i].unit));
  const auto line = [&](const std::string& name, const Difference& d, const std::string& unit) {
    const ReadUnit shown = read_unit(unit);
    text += fmt::format("  {:<24} {} -> {}, {}, better in {} of {} draws\n", name,
                        value_words(d.before * shown.factor, shown.unit),
                        value_words(d.after * shown.factor, shown.unit), change_words(d), d.better, d.pairs);
  };
  text += fmt::format("  on {} held-out draws, {} runs each:\n", result.held_out.draws, result.held_out.runs);
  line("stated objective", result.held_out.cost, "1");
  for (std::size_t i = 0; i < task.objectives.size(); ++i)
    line(task.tuning().objectives[i].name, result.held_out.figures[i], task.objectives[i].unit);
  text += fmt::format("  requirements             not met in {} runs -> {} runs\n",
                      result.held_out.lacking_before, result.held_out.lacking_after);
  const TuneVerdict verdict = verdict_of(result);
  text +=
      fmt::format("  {:<24} {}{}\n", "verdict", word(verdict),
                  verdict == TuneVerdict::unchanged ? ": no better gains than those at the start were found"
                  : verdict == TuneVerdict::worse   ? ": controller.yaml keeps the gains of the start"
                                                    : "");
  if (!result.margins_after.empty())
    text += fmt::format("  largest Ms               {:.2f} -> {:.2f} at {} operating points (limit {:.2f})\n",
                        largest_sensitivity(result.margins_before), largest_sensitivity(result.margins_after),
                        result.margins_after.size(), task.tuning().sensitivity_max);
  return text;
}

}  // namespace duskline::harness
