#include "hil-harness/report/sols_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <optional>

#include "hil-harness/loop/read_units.hpp"
#include "hil-harness/loop/words.hpp"
#include "hil-harness/report/report.hpp"
#include "hil-harness/report/season_map.hpp"
#include "hil-harness/report/static_page.hpp"
#include "hil-harness/report/svg.hpp"
#include "hil-harness/trace/trace_reader.hpp"
#include "plant-model/compressors/intake_readings.hpp"
#include "plant-model/environment/sol_clock.hpp"

namespace duskline::harness {
namespace {

constexpr double kHourSeconds = 3600.0;
constexpr std::size_t kLatest = 30;  ///< rows that a slope is fitted to
constexpr double kWholeRow = 0.9;    ///< share of a sol that a row covers, to be compared with others

using Values = std::vector<double>;

double least(const Values& v) {
  double low = std::nan("");
  for (const double x : v)
    if (!(low <= x) && !std::isnan(x)) low = x;
  return low;
}

/// The columns of the file that the page needs.
struct Rows {
  explicit Rows(const TraceReader& file) : file_(file), covered(file.column("covered_time")) {
    for (const double sol : file.column("sol")) sols.push_back(sol);
    const Values season = file.column("areocentric_longitude");
    for (const double ls : season) seasons.push_back(ls * 180.0 / std::numbers::pi);
    for (const SignalInfo& info : file.signals()) {
      if (info.name == "simulated") simulated = file.column(info.name);
      headers = headers || info.name == "surge_margin_min";
    }
  }
  Values column(std::string_view name, double factor = 1.0) const {
    Values v = file_.column(name);
    for (double& x : v) x *= factor;
    return v;
  }
  double sum(std::string_view name) const {
    const Values v = file_.column(name);
    return std::accumulate(v.begin(), v.end(), 0.0);
  }
  std::size_t count() const { return sols.size(); }
  bool whole(std::size_t row) const { return covered[row] > kWholeRow * plant::kSolSeconds; }

 private:
  const TraceReader& file_;

 public:
  Values covered, sols, seasons;
  Values simulated;      ///< 1 or 0, an estimate; empty: a run without fast-forward
  bool headers = false;  ///< of several modules: nobody estimates the filter and the machine
};

/// A curve over the sols; rows that cover a part of a sol only are left out where `whole`.
Series curve(const Rows& rows, const char* label, const char* colour, Mark mark, const Values& y,
             bool whole = true) {
  Series s{label, colour, mark, {}, {}, {}};
  for (std::size_t i = 0; i < rows.count(); ++i) {
    s.x.push_back(rows.sols[i]);
    s.y.push_back(!whole || rows.whole(i) ? y[i] : std::nan(""));
  }
  return s;
}

std::string plots(const Rows& rows, const SolsInfo& info) {
  const auto one = [&](const char* title, const char* unit, std::vector<Series> series) {
    return svg_of(Plot{title, "sol of the run", unit, std::move(series)});
  };
  const double kept = 1e3 * static_cast<double>(info.controller.margin_setpoint);
  const double per = rows.headers ? 1.0 : 1e3;
  const std::string simulated =
      rows.simulated.empty()
          ? ""
          : one("Sols simulated at every tick", "1: yes, 0: estimate",
                {curve(rows, "simulated", "var(--line1)", Mark::line, rows.simulated, false)});
  const Values margin = rows.headers ? rows.column("surge_margin_min") : Values{};
  const bool surges =
      std::any_of(margin.begin(), margin.end(), [](double m) { return m < plant::kWithoutSurge; });
  const std::string machine =
      rows.headers
          ? surges ? one("Least margin to surge of the sol", "1",
                         {curve(rows, "stage that is nearest to surge", "var(--line1)", Mark::line, margin)})
                   : ""
          : one("Filter: pressure lost over that of a clean one", "1",
                {curve(rows, "estimate of the controller", "var(--line1)", Mark::line,
                       rows.column("estimated_filter_loading"), false),
                 curve(rows, "cleaned", "var(--limit)", Mark::dashes, Values(rows.count(), kFilterService),
                       false)}) +
                one("Bearing: wear, 0 new, 1 worn out", "1",
                    {curve(rows, "true", "var(--line1)", Mark::line, rows.column("bearing_wear"), false),
                     curve(rows, "estimate of the controller", "var(--line3)", Mark::dashes,
                           rows.column("estimated_bearing_wear"), false)});
  std::vector<Series> ageing{
      curve(rows, "true, mean of the cells", "var(--line1)", Mark::line, rows.column("ageing", 1e7), false),
      curve(rows, rows.headers ? "estimates of the controllers, their mean" : "estimate of the controller",
            "var(--line3)", Mark::dashes, rows.column("added_resistance", 1e7), false)};
  return plots_of(
      simulated +
      one("Oxygen made in a sol", rows.headers ? "kg" : "g",
          {curve(rows, "asked for", "var(--target)", Mark::dashes, rows.column("oxygen_demanded", per)),
           curve(rows, "made", "var(--line1)", Mark::line, rows.column("oxygen_made", per))}) +
      one("Energy of the bus for a kilogram of oxygen", "kWh/kg",
          {curve(rows, "mean of the sol", "var(--line1)", Mark::line,
                 rows.column("specific_energy", 1.0 / kJoulePerKilowattHour))}) +
      one("Least coke margin of the sol", "mV",
          {curve(rows, "least of all hot cells", "var(--line1)", Mark::line,
                 rows.column("coke_margin_min", 1e3)),
           curve(rows, "kept by the override of the current", "var(--limit)", Mark::dashes,
                 Values(rows.count(), kept), false)}) +
      one("Least CO/CO2 at the inlet over where nickel oxidises", "1",
          {curve(rows, "least of all hot cells", "var(--line1)", Mark::line,
                 rows.column("nickel_ratio_min"))}) +
      one("Power from the bus", "W",
          {curve(rows, "mean of the sol", "var(--line1)", Mark::line, rows.column("bus_power")),
           curve(rows, "most", "var(--line3)", Mark::dashes, rows.column("bus_power_max"))}) +
      one("Density of the air", "kg/m3",
          {curve(rows, "mean of the sol", "var(--line1)", Mark::line, rows.column("ambient_density")),
           curve(rows, "least", "var(--line3)", Mark::dashes, rows.column("ambient_density_min"))}) +
      one("Dust", "optical depth",
          {curve(rows, "optical depth", "var(--line4)", Mark::line, rows.column("optical_depth"), false)}) +
      machine + one("Stack: resistance added by hours and cycles", "mohm cm2", std::move(ageing)));
}

/// Slope per hour of the run through the latest rows since the last service; nothing with fewer than three rows.
std::optional<double> slope(const Rows& rows, const Values& y, double service_step) {
  std::size_t first = rows.count() > kLatest ? rows.count() - kLatest : 0;
  for (std::size_t i = rows.count(); i-- > first + 1;)
    if (y[i] < y[i - 1] - service_step) first = i;
  const double n = static_cast<double>(rows.count() - first);
  if (n < 3.0) return {};
  double mean_x = 0.0, mean_y = 0.0, xx = 0.0, xy = 0.0;
  const double hours = plant::kSolSeconds / kHourSeconds;
  for (std::size_t i = first; i < rows.count(); ++i) mean_x += rows.sols[i] * hours / n, mean_y += y[i] / n;
  for (std::size_t i = first; i < rows.count(); ++i) {
    const double x = rows.sols[i] * hours - mean_x;
    xx += x * x;
    xy += x * (y[i] - mean_y);
  }
  return xy / xx;
}

std::string or_none(double value, const std::string& text) {
  return std::isfinite(value) ? text : "-";
}

std::string hours_words(std::optional<double> rate, double left) {
  if (!rate || std::isnan(left)) return "-";
  if (left <= 0.0) return "due";
  if (*rate <= 0.0) return "it does not grow";
  const double hours = left / *rate;
  return hours > 1e5 ? "more than 100 000 h" : fmt::format("{:.0f} h", hours);
}

std::string service_table(const Rows& rows, const SolsInfo& info) {
  const ctl_params& p = info.controller;
  const Values filter = rows.column("estimated_filter_loading"), bearing = rows.column("bearing_wear"),
               ageing = rows.column("ageing"), margin = rows.column("coke_margin_min"),
               current = rows.column("stack_current");
  const double reported =
      (static_cast<double>(p.tone_max) - 1.0) / 9.0;  // wear at which the tone counts as worn
  const auto filter_rate = slope(rows, filter, 0.1 * kFilterService);
  const auto bearing_rate = slope(rows, bearing, 0.1);
  const auto ageing_rate = slope(rows, ageing, 1e3);
  const std::size_t first = rows.count() > kLatest ? rows.count() - kLatest : 0;
  const double latest_margin =
      least(Values(margin.begin() + static_cast<std::ptrdiff_t>(first), margin.end()));
  double drawn = std::nan("");  // A, of the latest row with production
  for (const double one : current)
    if (!std::isnan(one)) drawn = one;
  const double kept = static_cast<double>(p.margin_setpoint);
  const auto margin_rate = ageing_rate && info.cell_area > 0.0 && !std::isnan(drawn)
                               ? std::optional(*ageing_rate * drawn / info.cell_area)
                               : std::nullopt;
  const auto rate = [](std::optional<double> r, double factor, const char* unit) {
    return r ? fmt::format("{:+.3g}{}", 1e3 * factor * *r, unit) : std::string("-");
  };
  std::string text;
  if (!rows.headers) {
    text += table_row({"filter cleaned", fmt::format("{:.2f}", filter.back()),
                       fmt::format("{:.2f}, pressure lost over that of a clean one", kFilterService),
                       rate(filter_rate, 1.0, ""), hours_words(filter_rate, kFilterService - filter.back())});
    text +=
        table_row({"bearing reported as worn", or_none(bearing.back(), fmt::format("{:.3f}", bearing.back())),
                   fmt::format("{:.3f}, wear at which its tone counts as worn", reported),
                   rate(bearing_rate, 1.0, ""), hours_words(bearing_rate, reported - bearing.back())});
    text += table_row({"bearing worn out", or_none(bearing.back(), fmt::format("{:.3f}", bearing.back())),
                       "1, wear of the model", rate(bearing_rate, 1.0, ""),
                       hours_words(bearing_rate, 1.0 - bearing.back())});
  }
  text += table_row({"stack at the margin kept",
                     or_none(latest_margin, fmt::format("{:.1f} mV", 1e3 * latest_margin)),
                     fmt::format("{:.1f} mV, from where on the current is held down", 1e3 * kept),
                     margin_rate ? fmt::format("{:+.3g} mV", -1e6 * *margin_rate) : "-",
                     hours_words(margin_rate, latest_margin - kept)});
  return table_of({"service", "at the end", "limit", "per 1000 h", "time left"}, text);
}

enum MapKind { kNotProducing, kDemand, kCoke, kUtilisation, kPower, kDerated, kOther };

/// What held the current in each hour for the longest time.
SeasonMap limits_map(const TraceReader& file, const Rows& rows) {
  SeasonMap map;
  map.title = "What set the current, by hour of the sol and season";
  map.classes = {{"no production", "var(--tone-rest)"}, {"demand met", "var(--tone-run)"},
                 {"coke margin", "var(--tone-bad)"},    {"utilisation", "var(--tone-change)"},
                 {"power ceiling", "var(--tone-warn)"}, {"derating", "var(--tone-cause)"},
                 {"another limit", "var(--tone-act)"}};
  map.sols = rows.sols;
  map.seasons = rows.seasons;
  const Values covered = file.column("hour_time");
  const std::size_t hours = rows.count() == 0 ? 0 : covered.size() / rows.count();
  std::vector<Values> limited;
  for (const ListWord& word : limiter_words()) {
    std::string name = "hour_limited_by_" + std::string(word.word);
    std::replace(name.begin(), name.end(), ' ', '_');
    limited.push_back(file.column(name));
  }
  constexpr MapKind kKinds[CTL_LIMITERS] = {kNotProducing, kDemand,       kCoke,  kUtilisation, kPower,
                                            kOther,        kNotProducing, kOther, kOther,       kDerated};
  for (std::size_t row = 0; row < rows.count(); ++row) {
    map.cells.emplace_back();
    map.notes.emplace_back();
    for (std::size_t h = 0; h < hours; ++h) {
      const std::size_t at = row * hours + h;
      double longest = covered[at], best = 0.0;  // first: the time without production
      for (const Values& one : limited) longest -= one[at];
      best = longest;
      int kind = covered[at] > 0.0 ? kNotProducing : -1;
      std::string note;
      for (std::size_t k = 0; k < limited.size(); ++k)
        if (limited[k][at] > best) {
          best = limited[k][at];
          kind = kKinds[k];
          note = kKinds[k] == kOther ? limiter_words()[k].word : "";
        }
      map.cells.back().push_back(kind);
      map.notes.back().push_back(note);
    }
  }
  return map;
}

/// Least coke margin in each hour, in classes that darken towards the limit.
SeasonMap margin_map(const TraceReader& file, const Rows& rows) {
  constexpr double kEdges[] = {10.0, 30.0, 45.0, 60.0, 80.0};  // mV: interlock, margin kept, and steps above
  SeasonMap map;
  map.title = "Least coke margin, by hour of the sol and season";
  map.classes = {{"below 10 mV (interlock)", "var(--tone-bad)"}, {"10 to 30 mV", "var(--tone-warn)"},
                 {"30 to 45 mV", "var(--line1)", 0.95},          {"45 to 60 mV", "var(--line1)", 0.6},
                 {"60 to 80 mV", "var(--line1)", 0.32},          {"above 80 mV", "var(--line1)", 0.12}};
  map.sols = rows.sols;
  map.seasons = rows.seasons;
  const Values margin = file.column("hour_coke_margin_min");
  const std::size_t hours = rows.count() == 0 ? 0 : margin.size() / rows.count();
  for (std::size_t row = 0; row < rows.count(); ++row) {
    map.cells.emplace_back();
    for (std::size_t h = 0; h < hours; ++h) {
      const double mv = 1e3 * margin[row * hours + h];
      map.cells.back().push_back(
          std::isnan(mv) ? -1
                         : static_cast<int>(std::upper_bound(std::begin(kEdges), std::end(kEdges), mv) -
                                            std::begin(kEdges)));
    }
  }
  return map;
}

std::string figures(const Rows& rows) {
  const double made = rows.sum("oxygen_made"), asked = rows.sum("oxygen_demanded"),
               energy = rows.sum("bus_energy"), time = rows.sum("covered_time");
  const Values margin = rows.column("coke_margin_min", 1e3), nickel = rows.column("nickel_ratio_min");
  const auto where = [&](const Values& v, double low) {
    const auto at = std::find(v.begin(), v.end(), low);
    return at == v.end() ? std::string("-")
                         : fmt::format("sol {:.0f}", rows.sols[static_cast<std::size_t>(at - v.begin())]);
  };
  std::string text = table_row({"time", fmt::format("{:.1f} sols", time / plant::kSolSeconds), ""});
  text += table_row({"oxygen made", fmt::format("{:.3f} kg", made),
                     asked > 0.0 ? fmt::format("{:.2f} % of what was asked for", 100.0 * made / asked) : ""});
  if (!rows.simulated.empty()) {
    const Values each = rows.column("oxygen_made");
    const double simulated = std::inner_product(each.begin(), each.end(), rows.simulated.begin(), 0.0);
    text +=
        table_row({"of it an estimate", fmt::format("{:.1f} %", 100.0 * (1.0 - simulated / made)),
                   fmt::format("{} of {} rows, sols that were stepped over",
                               std::count(rows.simulated.begin(), rows.simulated.end(), 0.0), rows.count())});
  }
  text += table_row(
      {"energy", fmt::format("{:.0f} kWh", energy / kJoulePerKilowattHour),
       made > 0.0 ? fmt::format("{:.2f} kWh/kg", energy / made / kJoulePerKilowattHour) : std::string("-")});
  text += table_row({"mean power", fmt::format("{:.1f} W", energy / time), ""});
  text += table_row({"least coke margin", or_none(least(margin), fmt::format("{:.1f} mV", least(margin))),
                     where(margin, least(margin))});
  text += table_row({"least nickel ratio", or_none(least(nickel), fmt::format("{:.2f}", least(nickel))),
                     where(nickel, least(nickel))});
  text += table_row({"time above the coke onset", fmt::format("{:.0f} s", rows.sum("time_above_onset")), ""});
  text += table_row({"in production", fmt::format("{:.2f} %", 100.0 * rows.sum("time_in_production") / time),
                     fmt::format("starts: {:.0f}", rows.sum("starts"))});
  text += table_row({"interlocks", fmt::format("{:.0f}", rows.sum("trips")), ""});
  text += table_row({"alarms", fmt::format("{:.0f}", rows.sum("alarms")),
                     fmt::format("{:.3f} a sol", rows.sum("alarms") / time * plant::kSolSeconds)});
  return table_of({"figure", "value", ""}, text);
}

std::string section(const char* heading, const std::string& body) {
  return fmt::format("<section><h2>{}</h2>\n{}</section>\n", heading, body);
}

}  // namespace

Outcome write_sols_page(const std::string& sols_path, const SolsInfo& info, const std::string& out_path) {
  Outcome outcome;
  const auto file = TraceReader::open(sols_path, outcome.problem);
  if (!file) return outcome;
  if (file->rows() == 0) return {};  // the run ended before anything was gathered
  const Rows rows(*file);
  StaticPage page;
  page.title = info.title + ", sol by sol";
  page.kind = fmt::format("Long run, law {}", info.law);
  page.heading = info.title;
  page.purpose = info.purpose;
  page.body =
      section("Whole run", figures(rows)) +
      section("Limits over the season", svg_of(limits_map(*file, rows)) + svg_of(margin_map(*file, rows))) +
      section("Next services",
              service_table(rows, info) +
                  "<p>At the rate of the latest 30 sols, or since the last service. The stack: its ageing "
                  "takes the margin at the present current.</p>\n" +
                  (rows.headers ? "<p>The filter and the machine that the modules share have no estimate of "
                                  "their wear.</p>\n"
                                : "")) +
      section("Sol by sol", plots(rows, info) +
                                "<p>Means and extremes of a sol are drawn where the run covers 90 % of it or "
                                "more; the figures above count all.</p>\n");
  return write_page(out_path, text_of(page));
}

}  // namespace duskline::harness
