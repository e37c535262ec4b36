#include "hil-harness/campaign/law_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "hil-harness/campaign/statistics.hpp"
#include "hil-harness/falsify/statistics.hpp"

namespace duskline::harness {
namespace {

constexpr double kLarge = 10.0;  // kg of oxygen in a run, from which it is shown in kg instead of g

std::string words_of(const Share& share) {
  if (std::isnan(share.upper_bound)) return std::to_string(share.count);
  const double percent = 100.0 * share.upper_bound;
  const std::string most = percent < 10.0 ? fmt::format("{:.2g}", percent) : fmt::format("{:.0f}", percent);
  return fmt::format("{} (at most {} %{})", share.count, most,
                     share.early == 0 ? "" : fmt::format(", with {} that ended early", share.early));
}

/// A tenth; `-` for no number.
std::string shown(double v, double factor) {
  const double tenths = std::round(10.0 * factor * v) / 10.0 + 0.0;  // no -0.0
  return std::isnan(v) ? "-" : fmt::format("{:.1f}", tenths);
}

/// A bench makes grams, an outpost kilograms; all laws in the same unit.
std::string mass_words(const LawFigures& f, bool large) {
  return large ? fmt::format("{:.2f} kg ({:.2f} kg)", f.oxygen_mean, f.oxygen_low)
               : fmt::format("{} g ({} g)", shown(f.oxygen_mean, 1e3), shown(f.oxygen_low, 1e3));
}

nlohmann::ordered_json number(double v) {
  return std::isfinite(v) ? nlohmann::ordered_json(v) : nlohmann::ordered_json(nullptr);
}

nlohmann::ordered_json json_of(const Share& share) {
  return {{"runs", share.count}, {"ended_early", share.early}, {"share_at_most", number(share.upper_bound)}};
}

void count(Share& share, bool hit, const CampaignRow& row) {
  share.count += hit;
  share.early += !hit && !row.completed();
}

}  // namespace

LawFigures law_figures(const std::string& law, const std::vector<CampaignRow>& rows, Sampling sampling) {
  LawFigures f;
  f.law = law;
  f.runs = rows.size();
  std::vector<double> margins, oxygen, delivered, of_bound;
  for (const CampaignRow& row : rows) {
    margins.push_back(row.at(figure("coke_margin")));
    oxygen.push_back(row.at(figure("oxygen")));
    const double demanded = row.at(figure("oxygen_demanded"));
    if (demanded > 0.0) delivered.push_back(oxygen.back() / demanded);
    if (const double bound = row.at(figure("oxygen_bound")); bound > 0.0)
      of_bound.push_back(row.at(figure("oxygen_counted")) / bound);
    count(f.coke, row.at(figure("time_below_onset")) > 0.0, row);
    count(f.nickel, row.at(figure("nickel_ratio")) < 1.0, row);
    count(f.surge, row.at(figure("surge_margin")) < 0.0, row);
    f.can_surge = f.can_surge || !std::isnan(row.at(figure("surge_margin")));
    count(f.violated, row.violated(), row);
    f.tripped += row.at(figure("trips")) > 0.0;
    const bool diagnosed = row.at(figure("diagnoses")) > 0.0, suspect = row.at(figure("suspect")) > 0.0,
               alarmed = row.at(figure("alarms")) > 0.0;
    f.diagnosed += diagnosed;
    f.suspected += suspect;
    f.alarmed += alarmed;
    f.reported += diagnosed || suspect || alarmed;
    f.not_completed += !row.completed();
  }
  for (Share* share : {&f.coke, &f.nickel, &f.surge, &f.violated})
    share->upper_bound = sampling == Sampling::independent && f.runs > 0
                             ? upper_share(share->count + share->early, f.runs, kShareConfidence)
                             : std::nan("");
  f.margin_min = quantile(margins, 0.0);
  for (const CampaignRow& row : rows)
    if (f.worst == 0 && row.at(figure("coke_margin")) == f.margin_min) f.worst = row.run;
  f.margin_low = quantile(margins, 0.05);
  f.margin_median = quantile(margins, 0.5);
  f.oxygen_mean = mean(oxygen);
  f.oxygen_low = quantile(oxygen, 0.05);
  f.bounded = of_bound.size();
  f.of_bound_mean = of_bound.empty() ? std::nan("") : mean(of_bound);
  f.of_bound_low = quantile(of_bound, 0.05);
  f.delivered = delivered.empty() ? std::nan("") : mean(delivered);
  return f;
}

bool in_kilograms(const std::vector<LawFigures>& laws) {
  return std::any_of(laws.begin(), laws.end(), [](const LawFigures& f) { return f.oxygen_mean > kLarge; });
}

std::vector<std::vector<std::string>> law_cells(const std::vector<LawFigures>& laws) {
  std::vector<std::vector<std::string>> cells{
      {"law", "runs", "coke limit passed", "nickel limit passed", "least coke margin, 5 %, median", "in run",
       "oxygen, mean (5 %)", "requirement violated", "with a trip", "with a diagnosis",
       "with a suspect measurement", "with an alarm", "with any of these three", "not completed",
       "of the bound, mean (5 %)"}};
  const bool surge = std::any_of(laws.begin(), laws.end(), [](const LawFigures& f) { return f.can_surge; });
  if (surge) cells.front().emplace_back("surge limit passed");
  const bool large = in_kilograms(laws);
  for (const LawFigures& f : laws)
    cells.push_back({f.law, std::to_string(f.runs), words_of(f.coke), words_of(f.nickel),
                     fmt::format("{}, {}, {} mV", shown(f.margin_min, 1e3), shown(f.margin_low, 1e3),
                                 shown(f.margin_median, 1e3)),
                     f.worst == 0 ? "-" : std::to_string(f.worst), mass_words(f, large), words_of(f.violated),
                     std::to_string(f.tripped), std::to_string(f.diagnosed), std::to_string(f.suspected),
                     std::to_string(f.alarmed), std::to_string(f.reported), std::to_string(f.not_completed),
                     f.bounded == 0 ? "-"
                                    : fmt::format("{} % ({} %) in {} runs", shown(f.of_bound_mean, 1e2),
                                                  shown(f.of_bound_low, 1e2), f.bounded)});
  if (surge)
    for (std::size_t l = 0; l < laws.size(); ++l)
      cells[l + 1].push_back(laws[l].can_surge ? words_of(laws[l].surge) : "-");
  return cells;
}

std::string law_markdown(const std::vector<LawFigures>& laws) {
  std::string text;
  bool head = true;
  for (const auto& row : law_cells(laws)) {
    text += fmt::format("| {} |\n", fmt::join(row, " | "));
    if (std::exchange(head, false))
      for (std::size_t i = 0; i < row.size(); ++i) text += i + 1 < row.size() ? "|---" : "|---|\n";
  }
  return text;
}

std::string law_text(const std::vector<LawFigures>& laws) {
  const auto cells = law_cells(laws);
  std::string text;
  std::vector<std::size_t> widths;
  for (const auto& column : cells) {
    widths.push_back(0);
    for (const std::string& cell : column) widths.back() = std::max(widths.back(), cell.size() + 2);
  }
  widths.back() = 0;  // nothing stands behind the last
  for (std::size_t k = 0; k < cells.front().size(); ++k) {
    text += "  ";
    for (std::size_t i = 0; i < cells.size(); ++i) text += fmt::format("{:<{}}", cells[i][k], widths[i]);
    text += "\n";
  }
  return text;
}

std::string law_json(const CampaignPlan& plan, const std::vector<LawFigures>& laws, bool complete,
                     const std::string& rare) {
  nlohmann::ordered_json j;
  j["format"] = "duskline-campaign-summary/1";
  j["scenario"] = plan.base.scenario.title;
  j["runs"] = plan.runs;
  j["seed"] = plan.seed;
  j["sampling"] = std::string(kSamplings[static_cast<std::size_t>(plan.sampling)].word);
  j["complete"] = complete;
  j["confidence"] = kShareConfidence;
  j["rare_event"] = nlohmann::ordered_json::parse(rare);
  for (const LawFigures& f : laws) {
    nlohmann::ordered_json& law = j["laws"][f.law];
    law["runs"] = f.runs;
    for (const auto& [name, share] : {std::pair{"coke_limit_passed", f.coke},
                                      {"nickel_limit_passed", f.nickel},
                                      {"requirement_violated", f.violated}})
      law[name] = json_of(share);
    if (f.can_surge) law["surge_limit_passed"] = json_of(f.surge);
    law["coke_margin"] = {{"least", number(f.margin_min)},
                          {"5 %", number(f.margin_low)},
                          {"median", number(f.margin_median)},
                          {"least_in_run", f.worst},
                          {"unit", "V"}};
    law["oxygen"] = {{"mean", number(f.oxygen_mean)}, {"5 %", number(f.oxygen_low)}, {"unit", "kg"}};
    law["share_of_demand_mean"] = number(f.delivered);
    law["with_trip"] = f.tripped;
    law["with_diagnosis"] = f.diagnosed;
    law["with_suspect_measurement"] = f.suspected;
    law["with_alarm"] = f.alarmed;
    law["with_any_of_these"] = f.reported;
    law["not_completed"] = f.not_completed;
    law["share_of_oxygen_bound"] = {
        {"mean", number(f.of_bound_mean)}, {"5 %", number(f.of_bound_low)}, {"runs", f.bounded}};
  }
  return j.dump(1) + "\n";
}

}  // namespace duskline::harness
