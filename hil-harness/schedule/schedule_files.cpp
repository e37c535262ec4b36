// What a schedule leaves: schedule.json and schedule.html.
#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "hil-harness/loop/read_units.hpp"
#include "hil-harness/report/static_page.hpp"
#include "hil-harness/report/svg.hpp"
#include "hil-harness/schedule/schedule.hpp"
#include "plant-model/environment/sol_clock.hpp"

namespace duskline::harness {
namespace {

using Json = nlohmann::ordered_json;

/// kWh for a kilogram, of a sol or of a run.
template <class T>
double energy_of(const T& made) {
  return made.energy / kJoulePerKilowattHour / made.oxygen;
}

/// JSON has no infinity and no NaN.
Json number(double v) {
  return std::isfinite(v) ? Json(v) : Json(nullptr);
}

/// The ways to choose set-points that are compared, and the set-point of a season in each.
struct Choice {
  std::string key, words;
  std::function<double(const SeasonSchedule&)> demand;
};

std::vector<Choice> choices(const ScheduleTask& task, const Schedule& schedule) {
  const double none = std::nan(""), last = task.least + static_cast<double>(task.grid() - 1) * task.step;
  const double constant = schedule.constant.value_or(none);
  return {{"schedule", "by season", [none](const SeasonSchedule& s) { return s.best.value_or(none); }},
          {"constant", "constant, the greatest that holds in every season",
           [constant](const SeasonSchedule&) { return constant; }},
          {"most", "constant, the greatest that was tried", [last](const SeasonSchedule&) { return last; }}};
}

Json json_of(const Schedule::Total& t) {
  return {{"oxygen", {{"value", t.oxygen}, {"unit", "kg"}}},
          {"energy", {{"value", t.energy}, {"unit", "J"}}},
          {"coke_margin", {{"value", number(t.coke_margin)}, {"unit", "V"}}},
          {"nickel_ratio", {{"value", number(t.nickel_ratio)}, {"unit", "1"}}},
          {"seasons_violated", t.violated}};
}

Json json_of(const TriedSol& t) {
  return {{"demand", t.demand},
          {"oxygen", t.oxygen},
          {"energy", t.energy},
          {"coke_margin", number(t.coke_margin)},
          {"nickel_ratio", number(t.nickel_ratio)},
          {"violated", t.violated}};
}

double middle(const SeasonSchedule& s) {
  return 0.5 * static_cast<double>(s.first_sol + s.end_sol);
}

/// One value a season, drawn from its first sol to its end.
Series steps(const std::string& label, const std::string& colour, Mark mark, const Schedule& schedule,
             const std::function<double(const SeasonSchedule&)>& y) {
  Series line{label, colour, mark, {}, {}, {}};
  for (const SeasonSchedule& s : schedule.seasons) {
    const double value = y(s);  // NaN where no set-point holds: a gap
    for (const std::size_t sol : {s.first_sol, s.end_sol}) {
      line.x.push_back(static_cast<double>(sol));
      line.y.push_back(value);
    }
  }
  return line;
}

std::string demand_plot(const ScheduleTask& task, const Schedule& schedule) {
  Plot plot{"Oxygen asked for", "sol of the run", "demand, g/h", {}};
  Series held{"tried, every requirement holds", "var(--other)", Mark::ring, {}, {}, {}};
  Series broken{"tried, a requirement is violated", "var(--limit)", Mark::square, {}, {}, {}};
  for (const SeasonSchedule& s : schedule.seasons)
    for (const TriedSol& t : s.tried) {
      Series& series = t.holds() ? held : broken;
      series.x.push_back(middle(s));
      series.y.push_back(t.demand * kGramsPerHour);
      series.notes.push_back(
          t.holds() ? fmt::format("{:.2f} g/h holds", t.demand * kGramsPerHour)
                    : fmt::format("{:.2f} g/h: {}", t.demand * kGramsPerHour, fmt::join(t.violated, ", ")));
    }
  const auto ways = choices(task, schedule);
  plot.series = {steps("by season", "var(--line1)", Mark::line, schedule,
                       [&](const SeasonSchedule& s) { return ways[0].demand(s) * kGramsPerHour; })};
  if (schedule.constant)
    plot.series.push_back(steps("constant, holds in every season", "var(--line2)", Mark::dashes, schedule,
                                [&](const SeasonSchedule&) { return *schedule.constant * kGramsPerHour; }));
  for (Series* series : {&held, &broken})
    if (!series->x.empty()) plot.series.push_back(std::move(*series));
  return svg_of(plot);
}

/// A quantity of the sol at the set-point of the season and at the constant one.
std::string value_plot(const ScheduleTask& task, const Schedule& schedule, const std::string& title,
                       const std::string& label, const std::function<double(const TriedSol&)>& value) {
  Plot plot{title, "sol of the run", label, {}};
  const auto ways = choices(task, schedule);
  const auto of = [&](const Choice& way) {
    return [&](const SeasonSchedule& s) {
      const TriedSol* sol = s.at(way.demand(s));
      return sol == nullptr ? std::nan("") : value(*sol);
    };
  };
  plot.series = {
      steps("by season", "var(--line1)", Mark::line, schedule, of(ways[0])),
      steps("constant, holds in every season", "var(--line2)", Mark::dashes, schedule, of(ways[1]))};
  return svg_of(plot);
}

std::string season_table(const Schedule& schedule) {
  std::string rows;
  for (const SeasonSchedule& s : schedule.seasons) {
    const TriedSol* sol = s.best ? s.at(*s.best) : nullptr;
    const TriedSol* next = nullptr;
    for (const TriedSol& t : s.tried)
      if (!t.holds() && (next == nullptr || t.demand < next->demand)) next = &t;
    rows += table_row({fmt::format("{} to {}", s.first_sol + 1, s.end_sol),
                       fmt::format("{:.0f}°", s.season / plant::kDegree),
                       fmt::format("{}", s.sampled_sol + 1), fmt::format("{:.1f} g/m³", s.density * 1e3),
                       sol == nullptr ? "none holds" : fmt::format("{:.2f} g/h", sol->demand * kGramsPerHour),
                       sol == nullptr ? "" : fmt::format("{:.0f} g", sol->oxygen * 1e3),
                       sol == nullptr ? "" : fmt::format("{:.1f}", energy_of(*sol)),
                       sol == nullptr ? "" : fmt::format("{:.1f} mV", sol->coke_margin * 1e3),
                       next == nullptr ? "nothing, the greatest that was tried"
                                       : fmt::format("{}", fmt::join(next->violated, ", "))});
  }
  return table_of({"sols", "Ls", "sol that was run", "density in its afternoon", "set-point", "oxygen a sol",
                   "kWh/kg", "least true coke margin", "what the next one violates"},
                  rows);
}

std::string total_table(const ScheduleTask& task, const Schedule& schedule) {
  std::string rows;
  for (const Choice& way : choices(task, schedule)) {
    const Schedule::Total t = schedule.total(way.demand);
    if (t.oxygen <= 0.0) continue;
    rows += table_row({way.words, fmt::format("{:.2f} kg", t.oxygen), fmt::format("{:.1f}", energy_of(t)),
                       fmt::format("{:.1f} mV", t.coke_margin * 1e3), fmt::format("{:.2f}", t.nickel_ratio),
                       fmt::format("{} of {}", t.violated, schedule.seasons.size())});
  }
  return table_of({"set-points", "oxygen, predicted", "kWh/kg", "least true coke margin",
                   "least nickel ratio", "seasons with a requirement violated"},
                  rows);
}

}  // namespace

std::string schedule_json(const ScheduleTask& task, const Schedule& schedule) {
  Json j;
  j["format"] = "duskline-schedule/1";
  j["scenario"] = task.base.scenario.title;
  j["complete"] = !schedule.interrupted;
  j["units"] = {
      {"demand", "kg/s"}, {"oxygen", "kg"}, {"energy", "J"}, {"coke_margin", "V"}, {"nickel_ratio", "1"}};
  for (const Choice& way : choices(task, schedule))
    j["predicted"][way.key] = json_of(schedule.total(way.demand));
  j["constant_demand"] = schedule.constant ? Json(*schedule.constant) : Json(nullptr);
  Json& seasons = j["seasons"] = Json::array();
  for (const SeasonSchedule& s : schedule.seasons) {
    Json season{{"first_sol", s.first_sol + 1},
                {"last_sol", s.end_sol},
                {"sols", s.sols()},
                {"areocentric_longitude", s.season},
                {"sampled_sol", s.sampled_sol + 1},
                {"density", s.density},
                {"demand", s.best ? Json(*s.best) : Json(nullptr)}};
    season["tried"] = Json::array();
    for (const TriedSol& t : s.tried) season["tried"].push_back(json_of(t));
    seasons.push_back(std::move(season));
  }
  return j.dump(2) + "\n";
}

std::string schedule_page(const ScheduleTask& task, const Schedule& schedule) {
  const auto ways = choices(task, schedule);
  const double by_season = schedule.total(ways[0].demand).oxygen;
  std::string body;
  if (!schedule.holds()) {
    body += verdict_of(false, "In some seasons no set-point that was tried satisfies every requirement.");
  } else {
    const double constant = schedule.total(ways[1].demand).oxygen;
    body += verdict_of(
        true, fmt::format("{:.2f} kg of oxygen by season, predicted; {:.2f} kg with one set-point for "
                          "all seasons ({:.2f} g/h): {:.1f} % more.",
                          by_season, constant, *schedule.constant * kGramsPerHour,
                          100.0 * (by_season / constant - 1.0)));
  }
  body +=
      "<p class=\"provenance\">A prediction: one sol of each season was run, the one with the thinnest air "
      "in the "
      "afternoon, with the wear that the plant will have by then. What it does not hold: faults, stops, "
      "drift of the "
      "instruments. The proof is a run of <a href=\"schedule.yaml\">schedule.yaml</a>.</p>\n";
  body += "<h2>Set-points</h2>\n" + plots_of(demand_plot(task, schedule)) + season_table(schedule);
  body += "<h2>What they give</h2>\n" + total_table(task, schedule);
  body += plots_of(value_plot(task, schedule, "Oxygen of a sol", "oxygen, g",
                              [](const TriedSol& t) { return t.oxygen * 1e3; }) +
                   value_plot(task, schedule, "Energy", "kWh for 1 kg of oxygen",
                              [](const TriedSol& t) { return energy_of(t); }) +
                   value_plot(task, schedule, "Least true coke margin", "margin, mV",
                              [](const TriedSol& t) { return t.coke_margin * 1e3; }));
  return text_of(StaticPage{task.base.scenario.title + ", set-points by season", "Schedule of set-points",
                            task.base.scenario.title, task.base.scenario.purpose, body});
}

}  // namespace duskline::harness
