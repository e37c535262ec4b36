#include "hil-harness/campaign/campaign_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>

#include "hil-harness/campaign/statistics.hpp"
#include "hil-harness/report/static_page.hpp"
#include "hil-harness/report/svg.hpp"
#include "hil-harness/verify/judge.hpp"

namespace duskline::harness {
namespace {

constexpr const char* kColours[] = {"var(--line1)", "var(--line2)", "var(--line3)", "var(--line4)"};
constexpr Mark kMarks[] = {Mark::diamond, Mark::dot, Mark::ring, Mark::square};
constexpr std::size_t kDriversShown = 6, kDriversListed = 12;

std::vector<double> values_of(const std::vector<CampaignRow>& rows, std::size_t figure) {
  std::vector<double> values;
  for (const CampaignRow& row : rows) values.push_back(row.at(figure));
  return values;
}

/// The drawn values of all inputs, row by row; not a number where a row lacks one.
std::vector<std::vector<double>> inputs_of(const std::vector<CampaignRow>& rows,
                                           const std::vector<DrawnInput>& inputs) {
  std::vector<std::vector<double>> columns(inputs.size());
  for (const CampaignRow& row : rows) {
    const auto draws = nlohmann::json::parse(row.draws, nullptr, false);
    for (std::size_t i = 0; i < inputs.size(); ++i) {
      const auto value = draws.find(inputs[i].name);
      columns[i].push_back(value != draws.end() && value->is_number() ? value->get<double>() : std::nan(""));
    }
  }
  return columns;
}

/// Share of the runs at or below each value.
std::string distribution(const std::string& title, const std::string& label, double factor,
                         std::size_t figure, const std::vector<LawRows>& laws) {
  Plot plot{title, label, "share of runs, %", {}};
  for (std::size_t l = 0; l < laws.size(); ++l) {
    Series s{laws[l].figures.law,
             kColours[l % std::size(kColours)],
             l < 2 ? Mark::line : Mark::dashes,
             {},
             {},
             {}};
    std::vector<double> values = values_of(laws[l].rows, figure);
    std::erase_if(values, [](double v) { return std::isnan(v); });
    std::sort(values.begin(), values.end());
    for (std::size_t i = 0; i < values.size(); ++i)
      for (const std::size_t below : {i, i + 1}) {
        s.x.push_back(factor * values[i]);
        s.y.push_back(100.0 * static_cast<double>(below) / static_cast<double>(values.size()));
      }
    plot.series.push_back(std::move(s));
  }
  return svg_of(plot);
}

ReadUnit unit_of(const DrawnInput& input) {
  return read_unit(input.unit);
}

std::string driver_plots(const std::vector<DrawnInput>& inputs, const std::vector<Driver>& drivers,
                         const std::vector<LawRows>& laws) {
  std::vector<std::vector<std::vector<double>>> drawn;
  for (const LawRows& law : laws) drawn.push_back(inputs_of(law.rows, inputs));
  std::string plots;
  for (std::size_t k = 0; k < std::min(kDriversShown, drivers.size()); ++k) {
    const DrawnInput& input = inputs[drivers[k].input];
    const ReadUnit as = unit_of(input);
    Plot plot{input.name,
              as.unit.empty() || as.unit == "1" ? input.name : input.name + ", " + as.unit,
              "least coke margin, mV",
              {}};
    for (std::size_t l = 0; l < laws.size(); ++l) {
      Series s{
          laws[l].figures.law, kColours[l % std::size(kColours)], kMarks[l % std::size(kMarks)], {}, {}, {}};
      for (std::size_t i = 0; i < laws[l].rows.size(); ++i) {
        s.x.push_back(as.factor * drawn[l][drivers[k].input][i]);
        s.y.push_back(1e3 * laws[l].rows[i].at(figure("coke_margin")));
        s.notes.push_back(fmt::format("run {}, {}", laws[l].rows[i].run, laws[l].figures.law));
      }
      plot.series.push_back(std::move(s));
    }
    plots += svg_of(plot);
  }
  return plots;
}

std::string driver_table(const std::vector<DrawnInput>& inputs, const std::vector<Driver>& first,
                         const std::vector<LawRows>& laws) {
  std::vector<std::string> heads{"input"};
  std::vector<std::map<std::size_t, double>> by_input;
  for (const LawRows& law : laws) {
    heads.push_back(law.figures.law);
    by_input.emplace_back();
    for (const Driver& d : drivers_of(law.rows, inputs)) by_input.back()[d.input] = d.correlation;
  }
  std::string rows;
  for (std::size_t k = 0; k < std::min(kDriversListed, first.size()); ++k) {
    std::vector<std::string> cells{inputs[first[k].input].name};
    for (const auto& one : by_input) {
      const auto found = one.find(first[k].input);
      cells.push_back(found == one.end() ? "-" : fmt::format("{:+.2f}", found->second));
    }
    rows += table_row(cells);
  }
  return table_of(heads, rows);
}

/// Shares of the variance of the least margin, where the runs are the scheme for it.
std::string sensitivity_tables(const Draws& draws, const std::vector<LawRows>& laws) {
  std::string text;
  for (const LawRows& law : laws) {
    std::map<std::uint64_t, double> margins;
    for (const CampaignRow& row : law.rows) margins[row.run] = row.at(figure("coke_margin"));
    std::vector<SensitivityBlock> blocks;
    for (std::uint64_t first = 1;; first += draws.block()) {
      SensitivityBlock block;
      for (std::uint64_t run = first; run < first + draws.block() && margins.contains(run); ++run)
        block.push_back(margins[run]);
      if (block.size() < draws.block()) break;
      if (std::none_of(block.begin(), block.end(), [](double v) { return std::isnan(v); }))
        blocks.push_back(std::move(block));
    }
    const auto found = sensitivities(blocks);
    std::vector<std::size_t> order(found.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return found[a].total > found[b].total; });
    std::string rows;
    for (std::size_t k = 0; k < std::min(kDriversListed, order.size()); ++k) {
      const Sensitivity& s = found[order[k]];
      rows += table_row({draws.factors()[order[k]],
                         fmt::format("{:.2f} ({:.2f} to {:.2f})", s.total, s.total_low, s.total_high),
                         fmt::format("{:.2f} ({:.2f} to {:.2f})", s.first, s.first_low, s.first_high)});
    }
    text += fmt::format("<h3>{}, {} blocks of {} runs</h3>\n", escaped_text(law.figures.law), blocks.size(),
                        draws.block()) +
            table_of({"factor", "with all that it interacts with (95 %)", "alone (95 %)"}, rows);
  }
  return text;
}

/// The least margins of the runs with each variant of a part.
std::string variant_table(const std::vector<DrawnInput>& inputs, const std::vector<LawRows>& laws) {
  std::vector<std::string> heads{"part", "variant", "runs"};
  for (const LawRows& law : laws) heads.push_back(law.figures.law + ": least, 5 %, median, mV");
  std::string rows;
  for (const DrawnInput& input : inputs) {
    if (input.unit != kWord) continue;
    std::map<std::string, std::vector<std::vector<double>>> margins;  // by variant, then law
    for (std::size_t l = 0; l < laws.size(); ++l)
      for (const CampaignRow& row : laws[l].rows) {
        auto& of = margins[nlohmann::json::parse(row.draws, nullptr, false).value(input.name, "")];
        of.resize(laws.size());
        of[l].push_back(1e3 * row.at(figure("coke_margin")));
      }
    for (auto& [variant, by_law] : margins) {
      std::vector<std::string> cells{input.name, variant, std::to_string(by_law.front().size())};
      for (const std::vector<double>& of : by_law)
        cells.push_back(of.empty() ? "-"
                                   : fmt::format("{:.1f}, {:.1f}, {:.1f}", quantile(of, 0.0),
                                                 quantile(of, 0.05), quantile(of, 0.5)));
      rows += table_row(cells);
    }
  }
  return rows.empty() ? ""
                      : "<h2>By variant of a part</h2>\n<p>Least coke margins of the runs with each.</p>\n" +
                            table_of(heads, rows);
}

std::vector<LawFigures> figures_of(const std::vector<LawRows>& laws) {
  std::vector<LawFigures> all;
  for (const LawRows& law : laws) all.push_back(law.figures);
  return all;
}

std::string worst_runs(const CampaignPlan& plan, const Draws& draws, const std::vector<LawRows>& laws) {
  const bool large = in_kilograms(figures_of(laws));
  std::string text;
  for (const LawRows& law : laws) {
    text += fmt::format("<h3>{}</h3>\n", escaped_text(law.figures.law));
    for (const CampaignRow* row : worst_of(law.rows, kWorstRuns)) {
      std::string said;
      for (const auto& event : nlohmann::json::parse(row->events, nullptr, false))
        if (event.value("kind", "") == word(LogKind::diagnosis) &&
            said.find(event.value("subject", "")) == std::string::npos)
          said += fmt::format("{}{} at {:.0f} s", said.empty() ? "" : ", ", event.value("subject", ""),
                              event.value("time", 0.0));
      std::string command = replay_command(plan, draws, *row);
      if (command.empty()) command = "duskline run " + replay_file(*row) + links_in_shell(plan);
      text += fmt::format(
          "<p>Run {}: margin {:.1f} mV at {:.0f} s, nickel ratio {:.2f}, {} of oxygen, {:.0f} alarms; "
          "diagnosed: {}; "
          "{}.</p>\n<pre class=\"command\">{}</pre>\n",
          row->run, 1e3 * row->at(figure("coke_margin")), row->at(figure("coke_margin_time")),
          row->at(figure("nickel_ratio")),
          large ? fmt::format("{:.2f} kg", row->at(figure("oxygen")))
                : fmt::format("{:.1f} g", 1e3 * row->at(figure("oxygen"))),
          row->at(figure("alarms")), said.empty() ? "nothing" : escaped_text(said), escaped_text(row->ended),
          escaped_text(command));
    }
  }
  return text;
}

std::string sentence(const std::vector<LawRows>& laws, bool& good) {
  std::string text;
  good = true;
  for (const LawRows& law : laws) {
    const LawFigures& f = law.figures;
    good = good && f.coke.count == 0 && f.nickel.count == 0 && f.surge.count == 0;
    text += fmt::format("{}{}: coke limit passed in {} of {} runs, nickel limit in {}",
                        text.empty() ? "" : "; ", f.law, f.coke.count, f.runs, f.nickel.count);
    if (f.can_surge) text += fmt::format(", surge limit in {}", f.surge.count);
  }
  return text + ".";
}

}  // namespace

std::vector<Driver> drivers_of(const std::vector<CampaignRow>& rows, const std::vector<DrawnInput>& inputs) {
  const std::vector<double> margins = values_of(rows, figure("coke_margin"));
  const auto columns = inputs_of(rows, inputs);
  std::vector<Driver> drivers;
  for (std::size_t i = 0; i < inputs.size(); ++i)
    if (const double r = rank_correlation(columns[i], margins); std::isfinite(r)) drivers.push_back({i, r});
  std::stable_sort(drivers.begin(), drivers.end(), [](const Driver& a, const Driver& b) {
    return std::abs(a.correlation) > std::abs(b.correlation);
  });
  return drivers;
}

std::vector<const CampaignRow*> worst_of(const std::vector<CampaignRow>& rows, std::size_t count) {
  std::vector<const CampaignRow*> worst;
  for (const CampaignRow& row : rows) worst.push_back(&row);
  const auto margin = [](const CampaignRow* row) {
    const double m = row->at(figure("coke_margin"));
    return std::isnan(m) ? std::numeric_limits<double>::infinity() : m;
  };
  std::stable_sort(worst.begin(), worst.end(),
                   [&](const CampaignRow* a, const CampaignRow* b) { return margin(a) < margin(b); });
  worst.resize(std::min(worst.size(), count));
  return worst;
}

std::string replay_command(const CampaignPlan& plan, const Draws& draws, const CampaignRow& row) {
  return replay_command(plan, draws.draw(row.run), row.law);
}

std::string replay_file(const CampaignRow& row) {
  return fmt::format("worst/{}-{}.yaml", row.law, row.run);
}

std::string campaign_page(const CampaignPlan& plan, const Draws& draws, const std::vector<LawRows>& laws,
                          const std::string& rare) {
  bool good = true;
  const std::string first_sentence = sentence(laws, good);
  std::string differs;
  for (const DiffersWord& w : kDiffers)
    if (plan.has(w.differs))
      differs += fmt::format("{}{}: {}", differs.empty() ? "" : "; ", w.word, w.meaning);
  const SamplingWord& sampling = kSamplings[static_cast<std::size_t>(plan.sampling)];
  std::string body = verdict_of(good, first_sentence);
  if (!rare.empty()) body += "<p>" + escaped_text(rare) + ".</p>\n";
  body += fmt::format(
      "<p class=\"provenance\">{}</p>\n",
      escaped_text(fmt::format(
          "{} runs asked for with each law, seed {}; sampling {} ({}). What differs between the runs: {}. {}",
          plan.runs, plan.seed, sampling.word, sampling.meaning, differs,
          plan.sampling == Sampling::independent
              ? "Bounds on shares: Clopper and Pearson, 95 %, one-sided; they hold for these ranges and "
                "for nothing outside them."
              : "Bounds on shares need independent draws and are left out.")));
  body +=
      "<style>.command{white-space:pre-wrap;overflow-wrap:anywhere;margin:0 0 "
      "1rem}.wide{margin-bottom:1.5rem}</style>\n<h2>The "
      "laws</h2>\n";
  const std::vector<LawFigures> figures = figures_of(laws);
  const auto cells = law_cells(figures);
  std::vector<std::string> heads{"figure"};
  for (std::size_t l = 1; l < cells.size(); ++l) heads.push_back(cells[l].front());
  std::string rows;
  for (std::size_t k = 1; k < cells.front().size(); ++k) {
    std::vector<std::string> row{cells.front()[k]};
    for (std::size_t l = 1; l < cells.size(); ++l) row.push_back(cells[l][k]);
    rows += table_row(row);
  }
  body += table_of(heads, rows);
  body += "<h2>Distributions</h2>\n" +
          plots_of(distribution("Least coke margin of a run", "least coke margin, mV", 1e3,
                                figure("coke_margin"), laws) +
                   distribution("Least nickel ratio of a run", "least nickel ratio", 1.0,
                                figure("nickel_ratio"), laws) +
                   distribution("Oxygen of a run", in_kilograms(figures) ? "oxygen, kg" : "oxygen, g",
                                in_kilograms(figures) ? 1.0 : 1e3, figure("oxygen"), laws) +
                   distribution("Energy of a run", "energy, kWh", 1.0 / 3.6e6, figure("energy"), laws));
  if (!laws.empty() && !draws.inputs().empty()) {
    body += "<h2>What drives the margin</h2>\n";
    if (plan.sampling == Sampling::sensitivity) {
      body +=
          "<p>Shares of the variance of the least coke margin (Saltelli and Jansen), intervals by drawing "
          "the blocks "
          "again.</p>\n" +
          sensitivity_tables(draws, laws);
    } else {
      const auto drivers = drivers_of(laws.front().rows, draws.inputs());
      body +=
          fmt::format(
              "<p>Rank correlation of each drawn number with the least coke margin, strongest first ({}). "
              "Chance alone reaches {:.2f} once in twenty with {} runs.</p>\n",
              escaped_text(laws.front().figures.law),
              1.96 / std::sqrt(std::max(1.0, static_cast<double>(laws.front().figures.runs))),
              laws.front().figures.runs) +
          driver_table(draws.inputs(), drivers, laws) + plots_of(driver_plots(draws.inputs(), drivers, laws));
    }
  }
  body += variant_table(draws.inputs(), laws);
  body +=
      "<h2>The worst runs</h2>\n<p>Those with the least coke margin; each command runs one again, with its "
      "report.</p>\n" +
      worst_runs(plan, draws, laws);
  return text_of(StaticPage{plan.base.scenario.title + ", campaign", "Campaign", plan.base.scenario.title,
                            plan.base.scenario.purpose, body});
}

}  // namespace duskline::harness
