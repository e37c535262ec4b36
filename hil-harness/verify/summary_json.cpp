#include "hil-harness/verify/summary_json.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "hil-harness/loop/audit.hpp"
#include "hil-harness/loop/read_units.hpp"
#include "hil-harness/loop/words.hpp"
#include "plant-model/environment/sol_clock.hpp"
#include "scenarios/reader/draw.hpp"

namespace duskline::harness {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kForeignNote =
    "code from outside this program; the law is what the scenario asked it for, and estimates are its own";

/// NaN and infinity have no place in JSON.
Json number(double v) {
  return std::isfinite(v) ? Json(v) : Json(nullptr);
}

double hours_in(const RunRecord& r, ctl_mode mode) {
  return r.figures.time_in_mode[mode] / 3600.0;
}

/// One line of the table at the head of the report.
Json figure(const char* text, double value, const char* unit, const std::string& note = {},
            const char* verdict = nullptr) {
  Json j{{"text", text}, {"value", number(value)}, {"unit", unit}};
  if (!note.empty()) j["note"] = note;
  if (verdict != nullptr) j["verdict"] = verdict;
  return j;
}

std::string clock(double seconds) {
  return fmt::format("{} h {:02d} min after the start", static_cast<int>(seconds / 3600.0),
                     static_cast<int>(seconds / 60.0) % 60);
}

/// In the order of time; what says nothing is left out.
Json events_json(std::vector<LogEvent> events) {
  std::stable_sort(events.begin(), events.end(),
                   [](const LogEvent& a, const LogEvent& b) { return a.time < b.time; });
  Json all = Json::array();
  for (const LogEvent& e : events) {
    Json j{{"time", e.time}, {"text", e.text}, {"kind", std::string(word(e.kind))}};
    if (!e.subject.empty()) {
      j["subject"] = e.subject;
      j["begins"] = e.begins;
    }
    if (e.count > 1 || e.until != e.time) {
      j["count"] = e.count;
      j["until"] = e.until;
    }
    all.push_back(std::move(j));
  }
  return all;
}

/// The number of the draw, and what it made of each parameter.
void add_draw(const scenarios::Case& c, Json& j) {
  plant::PlantParameters drawn = scenarios::drawn_plant(c.plant, c.scenario.plant_draw);
  j["number"] = c.scenario.plant_draw;
  for (const plant::ParameterInfo& info : plant::parameter_table()) {
    if (!info.fits(drawn.form)) continue;
    Json values = Json::array();
    for (const double value : info.get(drawn)) values.push_back(number(value));
    j["parameters"][info.path] = {{"value", values.size() == 1 ? values[0] : values}, {"unit", info.unit}};
  }
}

/// The number of the draw, and the variant of each part.
void add_structure(const scenarios::Case& c, Json& j) {
  const plant::Variants drawn =
      scenarios::drawn_structure(c.plant.parameters.variants, c.scenario.structure_draw);
  j["number"] = c.scenario.structure_draw;
  for (const plant::VariantPart& part : plant::kVariantParts)
    j["variants"][part.name] = plant::chosen(drawn, part).word;
}

struct Consumer {
  const char* name;
  double SharedFigures::*energy;
};
constexpr Consumer kConsumers[] = {{"stacks", &SharedFigures::stacks},
                                   {"heaters", &SharedFigures::heaters},
                                   {"compressor", &SharedFigures::compressor},
                                   {"liquefier", &SharedFigures::liquefier}};

double per_oxygen(const Figures& f, double energy) {
  return f.oxygen_made > 0.0 ? energy / kJoulePerKilowattHour / f.oxygen_made : NAN;
}
/// The module with the least margin.
std::size_t worst_module(const Figures& f) {
  std::size_t worst = 0;
  for (std::size_t n = 1; n < f.modules; ++n)
    if (f.module[n].coke_margin.value < f.module[worst].coke_margin.value) worst = n;
  return worst;
}

/// What a plant with headers has besides: energy by consumer, surge, and the figures of each module.
void add_modules(const Figures& f, Json& j) {
  const auto quantity = [](double value, const char* unit) {
    return Json{{"value", number(value)}, {"unit", unit}};
  };
  const SharedFigures& g = f.shared;
  Json& k = j["between_headers"];
  k["specific_energy"] = quantity(per_oxygen(f, f.energy), "kWh kg-1");
  for (const Consumer& c : kConsumers)
    k["by_consumer"][c.name] = quantity(per_oxygen(f, g.*c.energy), "kWh kg-1");
  k["energy_of_others"] = quantity(g.others / kJoulePerKilowattHour, "kWh");
  k["min_surge_margin"] = {
      {"value", number(g.surge_margin.value)}, {"unit", "1"}, {"time", g.surge_margin.time}};
  k["surges"] = g.surges;
  k["greatest_pressure_across"] = quantity(g.greatest_across, "Pa");
  for (std::size_t n = 0; n < f.modules; ++n) {
    const ModuleFigures& m = f.module[n];
    j["modules"].push_back(
        {{"module", n + 1},
         {"oxygen_made", quantity(m.oxygen_made, "kg")},
         {"time_in_production", quantity(m.time_in_production, "s")},
         {"min_coke_margin",
          {{"value", number(m.coke_margin.value)},
           {"unit", "V"},
           {"time", m.coke_margin.time},
           {"cell", m.coke_margin.cell + 1},
           {"segment", m.coke_margin.segment + 1}}},
         {"time_below_coke_margin", quantity(m.time_below_onset, "s")},
         {"min_nickel_ratio",
          {{"value", number(m.nickel_ratio.value)}, {"unit", "1"}, {"time", m.nickel_ratio.time}}},
         {"greatest_zone_difference", quantity(m.greatest_gradient, "K")},
         {"greatest_ramp", quantity(m.greatest_ramp * 60.0, "K min-1")},
         {"greatest_cell_damage", quantity(m.damage, "1")}});
  }
}

}  // namespace

std::string summary_json(const scenarios::Case& c, const RunRecord& r,
                         const std::vector<RequirementResult>& judged) {
  const Figures& f = r.figures;
  Json j;
  j["format"] = "duskline-summary/1";
  j["version"] = DUSKLINE_VERSION;
  j["title"] = c.scenario.title;
  j["plant"] = c.plant.name;
  j["law"] = law_word(c.scenario.controller.law);
  if (!r.controlled_by.empty()) j["controller"] = {{"is", r.controlled_by}, {"note", kForeignNote}};
  j["seed"] = c.scenario.seed;
  if (c.scenario.plant_draw > 0) add_draw(c, j["plant_drawn"]);
  if (c.scenario.structure_draw > 0) add_structure(c, j["structure_drawn"]);
  j["end"] = {{"reason", std::string(plant::word(r.end.reason))},
              {"meaning", std::string(plant::meaning(r.end.reason))},
              {"time", {{"value", r.end.time}, {"unit", "s"}}},
              {"who", r.end.who}};

  const double production = hours_in(r, CTL_PRODUCTION);
  const double rate = production > 0.0 ? f.oxygen_in_production * 1e3 / production : 0.0;
  const auto quantity = [](double value, const char* unit) {
    return Json{{"value", number(value)}, {"unit", unit}};
  };
  Json& k = j["key_figures"];
  k["oxygen_made"] = quantity(f.oxygen_made, "kg");
  k["oxygen_delivered"] = quantity(f.oxygen_delivered, "kg");
  k["oxygen_made_in_production"] = quantity(f.oxygen_in_production, "kg");
  k["oxygen_demanded_in_production"] = quantity(f.oxygen_demanded, "kg");
  k["mean_rate_in_production"] = quantity(rate, "g h-1");
  k["bus_energy"] = quantity(f.energy / kJoulePerKilowattHour, "kWh");
  k["specific_energy_in_production"] = quantity(
      f.oxygen_in_production > 0.0 ? f.production_energy / kJoulePerKilowattHour / f.oxygen_in_production
                                   : NAN,
      "kWh kg-1");
  k["mean_power_in_production"] =
      quantity(production > 0.0 ? f.production_energy / (production * 3600.0) : NAN, "W");
  k["greatest_power"] = quantity(f.greatest_power, "W");
  k["greatest_power_in_production"] = quantity(f.greatest_production_power, "W");
  k["time_above_power_ceiling"] = quantity(f.time_above_ceiling, "s");
  k["energy_above_power_ceiling"] = quantity(f.energy_above_ceiling, "J");
  k["product_purity_in_production"] = quantity(f.purity, "1");
  k["min_coke_margin"] = {{"value", number(f.coke_margin.value)},
                          {"unit", "V"},
                          {"time", f.coke_margin.time},
                          {"cell", f.coke_margin.cell + 1},
                          {"segment", f.coke_margin.segment + 1}};
  k["time_below_coke_margin"] = quantity(f.time_below_onset, "s");
  k["min_nickel_ratio"] = {
      {"value", number(f.nickel_ratio.value)}, {"unit", "1"}, {"time", f.nickel_ratio.time}};
  k["greatest_zone_difference"] = quantity(f.greatest_gradient, "K");
  k["greatest_ramp"] = quantity(f.greatest_ramp * 60.0, "K min-1");
  k["greatest_cell_voltage"] = quantity(f.greatest_voltage, "V");
  k["greatest_carbon"] = quantity(f.carbon_greatest, "mol");
  k["carbon_at_end"] = quantity(f.carbon, "mol");
  k["greatest_nickel_oxide"] = quantity(f.oxide_greatest, "mol");
  k["nickel_oxide_at_end"] = quantity(f.oxide, "mol");
  k["greatest_cell_damage"] = quantity(f.damage, "1");
  k["travel_of_speed_command"] = quantity(f.travel_speed, "rad s-1");
  k["travel_of_current_command"] = quantity(f.travel_current, "A");

  if (f.time_estimated > 0.0) {
    k["estimated_time"] = quantity(f.time_estimated, "s");
    k["estimated_oxygen_made"] = quantity(f.oxygen_estimated, "kg");
  }

  if (f.modules > 0) add_modules(f, j);

  for (std::size_t m = 0; m < CTL_MODES; ++m)
    j["time_in_mode"][mode_word(static_cast<std::uint32_t>(m))] = quantity(f.time_in_mode[m], "s");
  for (std::size_t m = 0; m < CTL_LIMITERS; ++m)
    if (f.time_limited[m] > 0.0)
      j["production_held_by"][limiter_word(static_cast<std::uint32_t>(m))] = quantity(f.time_limited[m], "s");

  const AlarmFigures& a = r.alarms;
  Json& alarms = j["alarms"];
  alarms["count"] = a.count;
  alarms["mean_in_10_min"] = number(a.per_ten_minutes);
  alarms["most_in_10_min"] = a.max_in_ten_minutes;
  alarms["share_of_10_min_with_more_than_10"] = number(a.share_over_ten);
  alarms["time_in_flood"] = quantity(a.time_in_flood, "s");
  alarms["share_of_time_in_flood"] = number(a.share_in_flood);
  alarms["share_of_the_ten_most_frequent"] = number(a.top_ten_share);
  alarms["most_frequent"] = a.most_frequent;
  alarms["chattering"] = a.chattering;
  alarms["stale"] = a.stale;
  alarms["standing_at_end"] = a.standing;
  alarms["unacknowledged_at_end"] = a.unacknowledged;
  alarms["actions_ignored"] = a.ignored;

  Json& b = j["balance_residuals"];
  for (std::size_t e = 0; e < plant::kElements; ++e)
    b["atoms"][std::string(plant::kElementNames[e])] = number(r.atom_residual[e]);
  b["energy"] = number(r.energy_residual);
  b["note"] =
      "largest relative residual of any tick: atoms against what is held, energy against what the bus "
      "supplied";

  j["integration"] = {{"ticks", r.ticks},
                      {"steps", r.steps.steps},
                      {"rejected", r.steps.rejected},
                      {"evaluations", r.steps.evaluations},
                      {"jacobians", r.steps.jacobians}};

  std::vector<LogEvent> events = r.log_events;  // and where requirements are violated
  // what the head of the report shows
  Json& figures = j["figures"];
  const bool large = f.modules > 0;  // kilograms and kilowatts
  const double grams = large ? 1.0 : 1e3;
  figures.push_back(figure("oxygen made", f.oxygen_made * grams, large ? "kg" : "g",
                           fmt::format("{:.1f} h in production", production)));
  if (f.time_estimated > 0.0)
    figures.push_back(
        figure("of it an estimate", 100.0 * f.oxygen_estimated / std::max(f.oxygen_made, 1e-12), "%",
               fmt::format("{:.1f} sols were stepped over", f.time_estimated / plant::kSolSeconds)));
  if (production > 0.0) {
    figures.push_back(figure("mean rate in production", large ? 1e-3 * rate : rate, large ? "kg/h" : "g/h",
                             fmt::format("of {:.2f} {} asked for", f.oxygen_demanded * grams / production,
                                         large ? "kg/h" : "g/h")));
    figures.push_back(figure("purity of the product", f.purity * 100.0, "%", "limit 98 %, common practice",
                             f.purity >= 0.98 ? "good" : "bad"));
    figures.push_back(figure("mean power in production",
                             (large ? 1e-3 : 1.0) * f.production_energy / (production * 3600.0),
                             large ? "kW" : "W"));
    figures.push_back(figure(
        "energy per oxygen in production",
        f.production_energy / kJoulePerKilowattHour / std::max(f.oxygen_in_production, 1e-9), "kWh/kg"));
  }
  if (std::isfinite(f.coke_margin.value)) {
    figures.push_back(figure(
        "least coke margin", f.coke_margin.value * 1e3, "mV",
        fmt::format("{}cell {}, segment {}, {}", large ? fmt::format("module {}, ", worst_module(f) + 1) : "",
                    f.coke_margin.cell + 1, f.coke_margin.segment + 1, clock(f.coke_margin.time)),
        f.coke_margin.value > 0.02  ? "good"
        : f.coke_margin.value > 0.0 ? "close"
                                    : "violated"));
    figures.push_back(figure("least nickel ratio", f.nickel_ratio.value, "times the limit",
                             clock(f.nickel_ratio.time),
                             f.nickel_ratio.value > 2.0   ? "good"
                             : f.nickel_ratio.value > 1.0 ? "close"
                                                          : "violated"));
  }
  if (f.modules > 0) {
    const SharedFigures& g = f.shared;
    figures.push_back(figure("energy per oxygen, others apart", per_oxygen(f, f.energy), "kWh/kg",
                             fmt::format("compressor {:.2f}, stacks {:.2f}, heaters {:.2f}, liquefier {:.2f}",
                                         per_oxygen(f, g.compressor), per_oxygen(f, g.stacks),
                                         per_oxygen(f, g.heaters), per_oxygen(f, g.liquefier))));
    figures.push_back(figure("least surge margin", g.surge_margin.value * 100.0, "% of the flow at surge",
                             fmt::format("{}, {} surges", clock(g.surge_margin.time), g.surges),
                             g.surges > 0 || !(g.surge_margin.value > 0.0) ? "violated"
                             : g.surge_margin.value > 0.08                 ? "good"
                                                                           : "close"));
    figures.push_back(figure("greatest pressure across the cells", g.greatest_across * 1e-3, "kPa",
                             "limit 5 kPa, common practice", g.greatest_across <= 5e3 ? "good" : "bad"));
  }
  figures.push_back(figure("greatest difference between zones", f.greatest_gradient, "K"));
  figures.push_back(figure("greatest ramp of a zone", f.greatest_ramp * 60.0, "K/min"));
  figures.push_back(figure("carbon held at the end", f.carbon * 1e6, "umol",
                           fmt::format("at most {:.3g}", f.carbon_greatest * 1e6)));
  figures.push_back(figure("balance of atoms",
                           *std::max_element(r.atom_residual.begin(), r.atom_residual.end()), "1",
                           "largest relative residual", "good"));
  figures.back()["verdict"] = figures.back()["value"].get<double>() <= kAtomsBound ? "good" : "bad";
  figures.push_back(figure("balance of energy", r.energy_residual, "1", "largest relative residual",
                           r.energy_residual <= kEnergyGood ? "good" : "bad"));
  if (!r.controlled_by.empty())
    figures.push_back(
        {{"text", "controlled by"}, {"value", r.controlled_by}, {"unit", ""}, {"note", kForeignNote}});
  figures.push_back({{"text", "run ended"}, {"value", std::string(plant::word(r.end.reason))}, {"unit", ""}});
  // the fields that the report shows (report.hpp), and what a script may want besides; `figures` ends here, as another
  // key of j moves it
  for (const RequirementResult& q : judged) {
    const auto& v = q.verdict;
    const Shown shown = shown_margin(v);
    j["requirements"].push_back({{"text", fmt::format("{}: {}", q.name, q.must)},
                                 {"verdict", std::string(word(v.outcome))},
                                 {"margin", number(shown.value)},
                                 {"unit", shown.unit},
                                 {"time", v.time},
                                 {"name", q.name},
                                 {"must", q.must},
                                 {"violated_from", v.violated_from},
                                 {"violated_to", v.violated_to}});
    if (v.outcome == scenarios::Outcome::violated)
      events.push_back({v.violated_from, LogKind::requirement,
                        fmt::format("requirement '{}' violated until {:.0f} s", q.name, v.violated_to),
                        q.name, 1, v.violated_from, true});
  }

  j["events"] = events_json(std::move(events));
  if (r.log_events_left_out > 0) j["events_left_out"] = r.log_events_left_out;
  j["notes"] = r.notes;
  return j.dump(2) + "\n";
}

std::string summary_text(const scenarios::Case& c, const RunRecord& r) {
  const Figures& f = r.figures;
  const double production = hours_in(r, CTL_PRODUCTION);
  std::string t = fmt::format(
      "{} ({})\n", c.scenario.title,
      r.controlled_by.empty() ? fmt::format("law {}", law_word(c.scenario.controller.law)) : r.controlled_by);
  t += fmt::format("  ended            {} after {:.2f} h{}{}\n", plant::word(r.end.reason),
                   r.end.time / 3600.0, r.end.who.empty() ? "" : ": ", r.end.who);
  t += fmt::format("  oxygen made      {:.2f} g", f.oxygen_made * 1e3);
  if (production > 0.0)
    t += fmt::format(", {:.2f} g/h over {:.2f} h in production (asked {:.2f} g/h)",
                     f.oxygen_in_production * 1e3 / production, production,
                     f.oxygen_demanded * 1e3 / production);
  t += "\n";
  if (f.time_estimated > 0.0)
    t += fmt::format("  estimated        {:.1f} % of the oxygen, of {:.1f} sols stepped over\n",
                     100.0 * f.oxygen_estimated / std::max(f.oxygen_made, 1e-12),
                     f.time_estimated / plant::kSolSeconds);
  if (production > 0.0)
    t += fmt::format(
        "  purity           {:.2f} %\n  power            {:.0f} W mean, {:.0f} W max in production, {:.1f} "
        "kWh/kg\n",
        f.purity * 100.0, f.production_energy / (production * 3600.0), f.greatest_production_power,
        f.production_energy / kJoulePerKilowattHour / std::max(f.oxygen_in_production, 1e-9));
  if (std::isfinite(f.coke_margin.value))
    t += fmt::format(
        "  coke margin      {:.1f} mV least (cell {}, segment {}, {}), {:.0f} s below zero\n  nickel ratio   "
        "  {:.2f} least ({})\n",
        f.coke_margin.value * 1e3, f.coke_margin.cell + 1, f.coke_margin.segment + 1,
        clock(f.coke_margin.time), f.time_below_onset, f.nickel_ratio.value, clock(f.nickel_ratio.time));
  if (f.modules > 0) {
    const SharedFigures& g = f.shared;
    t += fmt::format(
        "  energy           {:.2f} kWh/kg: stacks {:.2f}, heaters {:.2f}, compressor {:.2f}, liquefier "
        "{:.2f}; "
        "others {:.1f} kWh\n",
        per_oxygen(f, f.energy), per_oxygen(f, g.stacks), per_oxygen(f, g.heaters),
        per_oxygen(f, g.compressor), per_oxygen(f, g.liquefier), g.others / kJoulePerKilowattHour);
    t += fmt::format(
        "  headers          surge margin {:.2f} least ({}), {} surges; {:.2f} kPa across the cells at most\n",
        g.surge_margin.value, clock(g.surge_margin.time), g.surges, g.greatest_across * 1e-3);
    for (std::size_t n = 0; n < f.modules; ++n) {
      const ModuleFigures& m = f.module[n];
      t += fmt::format(
          "  module {:<2}        {:.3f} kg, coke margin {:.1f} mV least, nickel ratio {:.2f}, {:.1f} K "
          "between "
          "zones\n",
          n + 1, m.oxygen_made, m.coke_margin.value * 1e3, m.nickel_ratio.value, m.greatest_gradient);
    }
  }
  t += fmt::format("  stack            {:.1f} K between zones, {:.2f} K/min at most\n", f.greatest_gradient,
                   f.greatest_ramp * 60.0);
  t += fmt::format("  alarms           {}", r.alarms.count);
  if (r.alarms.count > 0)
    t += fmt::format(", {} in 10 min at most, {:.1f} % of the time in flood", r.alarms.max_in_ten_minutes,
                     r.alarms.share_in_flood * 100.0);
  if (!r.alarms.standing.empty()) t += fmt::format("; at the end: {}", fmt::join(r.alarms.standing, ", "));
  t += "\n";
  t += fmt::format("  balances         atoms {:.1e}, energy {:.1e} (largest relative residual)\n",
                   *std::max_element(r.atom_residual.begin(), r.atom_residual.end()), r.energy_residual);
  return t;
}

}  // namespace duskline::harness
