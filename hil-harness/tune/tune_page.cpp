#include "hil-harness/tune/tune_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "hil-harness/loop/signals.hpp"
#include "hil-harness/report/static_page.hpp"
#include "hil-harness/report/svg.hpp"
#include "hil-harness/tune/tune_json.hpp"
#include "hil-harness/verify/judge.hpp"

namespace duskline::harness {
namespace {

struct Traced {
  const char *signal, *target, *title, *label;
  double factor;
};
// the second signal of a plot is what the first should be; empty: nothing
constexpr std::array kShown = {
    Traced{"oxygen_rate", "oxygen_demand", "Oxygen", "oxygen rate, g/h", 3.6e6},
    Traced{"estimated_utilisation", "utilisation_setpoint", "Utilisation as the controller sees it",
           "utilisation, %", 100.0},
    Traced{"coke_margin", "", "Least coke margin", "margin, mV", 1e3},
    Traced{"compressor_speed_command", "", "Compressor speed", "speed command, rad/s", 1.0},
};

// the same of a plant whose modules stand between headers
constexpr std::array kShownOfHeaders = {
    Traced{"plant_oxygen_rate", "plant_oxygen_demand", "Oxygen", "oxygen rate, kg/h", 3600.0},
    Traced{"feed_header_pressure", "", "Feed header", "pressure, kPa", 1e-3},
    Traced{"plant_coke_margin", "", "Least coke margin", "margin, mV", 1e3},
    Traced{"plant_compressor_speed_command", "", "Compressor speed", "speed command, rad/s", 1.0},
};
static_assert(kShown.size() == kShownOfHeaders.size());

const std::array<Traced, kShown.size()>& shown_of(const scenarios::Case& c) {
  return plant::has_headers(c.plant.parameters.form) ? kShownOfHeaders : kShown;
}

const Signal* find_signal(std::string_view name, std::size_t modules) {
  for (const Signal& s : signal_table(modules))
    if (s.info.name == name) return &s;
  return nullptr;
}

std::string verdict(const TuneTask& task, const TuneResult& result) {
  const Difference& d = result.held_out.cost;
  const TuneVerdict found = verdict_of(result);
  std::string text = fmt::format("On {} held-out draws the stated objective changed by {}.",
                                 result.held_out.draws, change_words(d));
  bool good = found == TuneVerdict::better && result.held_out.lacking_after == 0;
  if (!result.margins_after.empty()) {
    const double ms = largest_sensitivity(result.margins_after);
    text += fmt::format(" Largest Ms {:.2f} at {} operating points, {:.2f} allowed.", ms,
                        result.margins_after.size(), task.tuning().sensitivity_max);
    good = good && ms <= task.tuning().sensitivity_max;
  }
  if (result.held_out.lacking_after > 0)
    text += fmt::format(" {} of {} runs did not meet a requirement.", result.held_out.lacking_after,
                        result.held_out.runs);
  if (result.held_out.lacking_after < result.held_out.lacking_before)
    text += fmt::format(" With the gains of before it was {}.", result.held_out.lacking_before);
  if (found == TuneVerdict::unchanged) text += " The search found no better gains.";
  if (found == TuneVerdict::not_significant) text += " The change is not significant.";
  if (found == TuneVerdict::worse) text += " It is worse there: controller.yaml keeps the gains of before.";
  return verdict_of(good, text);
}

std::string gains_table(const TuneTask& task, const TuneResult& result) {
  std::string rows;
  const auto& gains = task.tuning().vary;
  for (std::size_t i = 0; i < gains.size(); ++i) {
    const std::string unit = gains[i].unit == "1" ? "" : std::string(gains[i].unit);
    rows +=
        table_row({std::string(name_of(gains[i])), number_words(result.candidates.front().values[i], unit),
                   number_words(result.candidates[result.best].values[i], unit),
                   number_words(gains[i].from, unit) + " to " + number_words(gains[i].to, unit)});
  }
  return "<h2>Gains</h2>\n" + table_of({"parameter", "before", "after", "range"}, rows);
}

std::string held_out_table(const TuneTask& task, const TuneResult& result) {
  std::string rows;
  const auto line = [&](const std::string& name, const Difference& d, const std::string& unit) {
    const ReadUnit shown = read_unit(unit);
    rows += table_row({name, number_words(d.before * shown.factor, shown.unit),
                       number_words(d.after * shown.factor, shown.unit), change_words(d),
                       fmt::format("{} of {}", d.better, d.pairs)});
  };
  line("stated objective", result.held_out.cost, "1");
  for (std::size_t i = 0; i < task.objectives.size(); ++i)
    line(task.tuning().objectives[i].name, result.held_out.figures[i], task.objectives[i].unit);
  rows += table_row({"runs that do not meet a requirement", fmt::format("{}", result.held_out.lacking_before),
                     fmt::format("{}", result.held_out.lacking_after), "", ""});
  return "<h2>On held-out draws</h2>\n" + table_of({"", "before", "after", "change", "less in draws"}, rows);
}

std::string axis_label(const TuneTask& task, std::size_t i) {
  const ReadUnit shown = read_unit(task.objectives[i].unit);
  return task.tuning().objectives[i].name + (shown.unit.empty() ? "" : ", " + shown.unit);
}

std::string front_plot(const TuneTask& task, const TuneResult& result, std::size_t a, std::size_t b) {
  const double fa = read_unit(task.objectives[a].unit).factor, fb = read_unit(task.objectives[b].unit).factor;
  Series all{"candidate", "var(--other)", Mark::dot, {}, {}, {}},
      lacking{"violates a requirement", "var(--limit)", Mark::ring, {}, {}, {}},
      front{"front", "var(--line1)", Mark::dot, {}, {}, {}},
      start{"before", "var(--line3)", Mark::diamond, {}, {}, {}},
      best{"after", "var(--line2)", Mark::square, {}, {}, {}};
  for (std::size_t i = 0; i < result.candidates.size(); ++i) {
    const Candidate& c = result.candidates[i];
    const bool on_front = std::find(result.front.begin(), result.front.end(), i) != result.front.end();
    std::string note;
    for (std::size_t g = 0; g < c.values.size(); ++g)
      note += fmt::format("{}{} {:.4g}", g == 0 ? "" : ", ", name_of(task.tuning().vary[g]), c.values[g]);
    if (!c.worth.violated.empty()) note += "; " + c.worth.violated;
    const auto put = [&](Series& s) {
      s.x.push_back(c.worth.measured[a] * fa);
      s.y.push_back(c.worth.measured[b] * fb);
      s.notes.push_back(note);
    };
    put(c.worth.lack > 0.0 ? lacking : on_front ? front : all);
    if (i == 0) put(start);
    if (i == result.best) put(best);
  }
  Plot plot{"", axis_label(task, a), axis_label(task, b), {all}};
  if (!lacking.x.empty()) plot.series.push_back(lacking);
  for (const Series& s : {front, start, best}) plot.series.push_back(s);
  return svg_of(plot);
}

std::string front_section(const TuneTask& task, const TuneResult& result) {
  const std::size_t n = task.objectives.size();
  std::string plots;
  for (std::size_t a = 0; a < n; ++a)
    for (std::size_t b = a + 1; b < n; ++b) plots += front_plot(task, result, a, b);
  return "<h2>Trade-off</h2>\n" +
         (n < 2 ? std::string("<p>One objective alone has no trade-off.</p>\n")
                : "<p>Means over the draws of the search. On the front no other candidate is better in one "
                  "objective and as good in the rest.</p>\n" +
                      plots_of(plots));
}

std::string margins_section(const TuneResult& result) {
  if (result.margins_after.empty()) return "";
  std::string rows;
  const auto one = [](const LoopFigures& l) {
    return l.stable ? fmt::format("{:.2f}", l.sensitivity) : std::string("not stable");
  };
  const auto finite = [](double v, const char* form) {
    return std::isfinite(v) ? fmt::format(fmt::runtime(form), v) : std::string("-");
  };
  for (std::size_t p = 0; p < result.margins_after.size(); ++p) {
    const auto& after = result.margins_after[p];
    for (std::size_t l = 0; l < after.loops.size(); ++l) {
      const LoopFigures& now = after.loops[l];
      std::string before = "-";
      for (const LoopFigures& was : result.margins_before[p].loops)
        if (was.name == now.name) before = one(was);
      rows += table_row({after.point + ", " + now.name + (now.in_charge ? "" : " (not in charge)"), before,
                         one(now), finite(now.gain, "{:.1f}"), finite(now.phase, "{:.0f} deg"),
                         finite(now.delay, "{:.1f} s")});
    }
  }
  return "<h2>Margins of the loops</h2>\n" +
         table_of({"point and loop", "Ms before", "Ms after", "gain margin", "phase margin", "delay margin"},
                  rows);
}

std::string traces_section(const TuneTask& task, const Sampled& before, const Sampled& after) {
  std::string plots;
  const auto& shown = shown_of(task.cases.front());
  for (std::size_t i = 0; i < shown.size(); ++i) {
    Plot plot{shown[i].title, "time, h", shown[i].label, {}};
    const std::size_t value = 2 * i, target = 2 * i + 1;
    if (!after.values[target].empty())
      plot.series.push_back({"wanted", "var(--target)", Mark::dashes, after.hours, after.values[target], {}});
    plot.series.push_back({"before", "var(--line3)", Mark::line, before.hours, before.values[value], {}});
    plot.series.push_back({"after", "var(--line1)", Mark::line, after.hours, after.values[value], {}});
    plots += svg_of(plot);
  }
  return fmt::format("<h2>Before and after</h2>\n<p>{}, on its own plant and seed.</p>\n{}",
                     escaped_text(task.cases.front().scenario.title), plots_of(plots));
}

}  // namespace

Sampled sample_run(const scenarios::Case& c) {
  Sampled sampled;
  const auto& shown = shown_of(c);
  sampled.values.resize(2 * shown.size());
  LoopOptions options;
  options.record = [&](const Snapshot& s) {
    sampled.hours.push_back(s.time / 3600.0);
    for (std::size_t i = 0; i < shown.size(); ++i)
      for (std::size_t k = 0; k < 2; ++k)
        if (const Signal* signal =
                find_signal(k == 0 ? shown[i].signal : shown[i].target, s.modules.size())) {
          double v = 0.0;
          signal->read(s, &v);
          sampled.values[2 * i + k].push_back(v * shown[i].factor);
        }
    return true;
  };
  run_loop(c, {}, options);
  return sampled;
}

std::string tune_page(const TuneTask& task, const TuneResult& result, const Sampled& before,
                      const Sampled& after) {
  const auto& scenario = task.cases.front().scenario;
  std::string aims;
  for (std::size_t i = 0; i < task.objectives.size(); ++i)
    aims += fmt::format("<li>{}: {}</li>\n", escaped_text(task.tuning().objectives[i].name),
                        escaped_text(task.objectives[i].text));
  const std::string provenance = fmt::format(
      "{} candidates, each on {} draw{} of {} scenario{}; seed {}. The gains are a proposal: they hold for "
      "the "
      "scenarios, dispersions and operating points named here.",
      result.candidates.size(), task.tuning().draws, task.tuning().draws == 1 ? "" : "s", task.cases.size(),
      task.cases.size() == 1 ? "" : "s", task.tuning().seed);
  return text_of(StaticPage{scenario.title + ", tuned", "Search for gains", scenario.title, scenario.purpose,
                            verdict(task, result) + "<ul>\n" + aims + "</ul>\n<p class=\"provenance\">" +
                                provenance + "</p>\n" + gains_table(task, result) +
                                held_out_table(task, result) + front_section(task, result) +
                                traces_section(task, before, after) + margins_section(result)});
}

}  // namespace duskline::harness
