#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "hil-harness/falsify/falsify.hpp"
#include "hil-harness/report/static_page.hpp"
#include "hil-harness/report/svg.hpp"

namespace duskline::harness {
namespace {

/// How far an attempt was from a violation: one requirement is shown in its unit, several in shares of their scales.
/// What words alone decide is infinitely far: it lies on the edge of the plot.
class Distance {
 public:
  Distance(const scenarios::Case& base, const Falsified& found)
      : one_(!base.scenario.falsify.requirement.empty()) {
    std::string unit;
    for (const Attempt& a : found.attempts) {
      const double h = margin_of(a);
      if (!std::isfinite(h)) continue;
      if (one_) unit = shown_margin(a.verdict).unit;
      low_ = std::min(low_, h);
      high_ = std::max(high_, h);
    }
    label_ = one_ ? (unit.empty() ? "margin" : "margin, " + unit) : "margin over its scale";
  }

  const std::string& label() const { return label_; }
  double of(const Attempt& a) const {
    const double h = margin_of(a), room = 0.05 * std::max(high_ - low_, 1e-9);
    return std::isnan(h) ? h : std::clamp(h, low_ - room, high_ + room);
  }

 private:
  double margin_of(const Attempt& a) const {
    return one_ ? shown_margin(a.verdict).value : a.verdict.relative;
  }

  bool one_;
  std::string label_;
  double low_ = 0.0, high_ = 0.0;
};

/// The attempts over `x`, in the order of their kinds.
Plot plot_of(const std::string& title, const std::string& x_label, const Distance& distance,
             const Falsified& found, const std::function<double(std::size_t)>& x) {
  Plot plot{title, x_label, distance.label(), {}};
  plot.series = {{"drawn at random", "var(--other)", Mark::dot, {}, {}, {}},
                 {"chosen by the search", "var(--line1)", Mark::ring, {}, {}, {}},
                 {"violated", "var(--limit)", Mark::square, {}, {}, {}}};
  double first = std::numeric_limits<double>::infinity(), last = -first;
  for (std::size_t i = 0; i < found.attempts.size(); ++i) {
    const Attempt& a = found.attempts[i];
    Series& s = plot.series[a.violated() ? 2 : a.drawn ? 0 : 1];
    s.x.push_back(x(i));
    s.y.push_back(distance.of(a));
    s.notes.push_back(fmt::format("run {}: {}", i + 1, margin_words(a.verdict)));
    first = std::min(first, x(i));
    last = std::max(last, x(i));
  }
  if (!plot.series[2].x.empty())
    plot.series.push_back({"violated below", "var(--limit)", Mark::dashes, {first, last}, {0.0, 0.0}, {}});
  return plot;
}

std::string progress_plot(const Distance& distance, const Falsified& found) {
  Plot plot = plot_of("Every run of the search", "run", distance, found,
                      [](std::size_t i) { return static_cast<double>(i + 1); });
  Series least{"least so far", "var(--line2)", Mark::line, {}, {}, {}};
  double so_far = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < found.attempts.size(); ++i) {
    const double h = distance.of(found.attempts[i]);
    for (const double y : {so_far, std::fmin(so_far, h)}) {
      if (!std::isfinite(y)) continue;
      least.x.push_back(static_cast<double>(i + 1));
      least.y.push_back(y);
    }
    so_far = std::fmin(so_far, h);
  }
  plot.series.insert(plot.series.begin(), std::move(least));
  return svg_of(plot);
}

std::string variation_plots(const scenarios::Case& base, const Distance& distance, const Falsified& found) {
  std::string plots;
  const auto& vary = base.scenario.falsify.vary;
  for (std::size_t k = 0; k < vary.size(); ++k) {
    const ReadUnit as = readable(vary[k]);
    const std::string label = label_of(base, vary[k]);
    Plot plot = plot_of(label, as.unit.empty() ? label : label + ", " + as.unit, distance, found,
                        [&](std::size_t i) { return found.attempts[i].values[k] * as.factor; });
    plot.log_x = vary[k].scale == scenarios::Spacing::logarithmic;
    plots += svg_of(plot);
  }
  return plots;
}

std::string closest_table(const scenarios::Case& base, const Attempt& closest) {
  std::string rows;
  const auto& vary = base.scenario.falsify.vary;
  for (std::size_t k = 0; k < vary.size(); ++k) {
    const ReadUnit as = readable(vary[k]);
    rows += table_row({label_of(base, vary[k]), number_words(closest.values[k] * as.factor, as.unit),
                       number_words(vary[k].from * as.factor, as.unit) + " to " +
                           number_words(vary[k].to * as.factor, as.unit)});
  }
  return table_of({"varied", "in the closest run", "range"}, rows);
}

std::string summary_of(const scenarios::Case& base, const Falsified& found) {
  std::string text =
      fmt::format("{} of {} runs, {} of them drawn at random; {} of those violated it", found.attempts.size(),
                  base.scenario.falsify.runs, found.draws, found.draws_violated());
  if (const std::string share = share_words(base, found); !share.empty()) text += ", " + share;
  if (const std::size_t cut = found.cut_short(); cut > 0) text += fmt::format("; {} runs ended early", cut);
  return text + ". A search that finds no violation is no proof that there is none.";
}

}  // namespace

std::string falsify_page(const scenarios::Case& base, const Falsified& found) {
  std::string body;
  if (const auto closest = found.closest()) {
    const Attempt& worst = found.attempts[*closest];
    body += verdict_of(!worst.violated(),
                       fmt::format("{}: {}, {} in run {}.",
                                   !worst.violated() ? "No violation; closest"
                                   : worst.verdict.outcome == scenarios::Outcome::undecided ? "Left undecided"
                                                                                            : "Violated",
                                   worst.requirement.empty() ? "no comparison decided" : worst.requirement,
                                   margin_words(worst.verdict), *closest + 1));
    body += "<p class=\"provenance\">" + escaped_text(summary_of(base, found)) + "</p>\n";
    body += "<h2>The closest run</h2>\n<p>As a scenario: <a href=\"worst.yaml\">worst.yaml</a>.";
    if (!found.interrupted) body += " Its report: <a href=\"worst/report.html\">worst/report.html</a>.";
    body += "</p>\n" + closest_table(base, worst);
  }
  const Distance distance(base, found);
  body += "<h2>The search</h2>\n" + plots_of(progress_plot(distance, found)) +
          "<h2>Each number that was varied</h2>\n" + plots_of(variation_plots(base, distance, found));
  return text_of(StaticPage{base.scenario.title + ", search for a violation", "Search for a violation",
                            base.scenario.title, base.scenario.purpose, body});
}

}  // namespace duskline::harness
