#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/table.hpp"
#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/compare/comparison.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kSignalsShown = 8, kEventsShown = 12;

/// Reads one of the two folders; problems are added to `problems`.
std::optional<ComparedRun> read_run(const std::string& folder, const std::string& name,
                                    std::vector<scenarios::Problem>& problems) {
  const RunFolder files{fs::path(folder)};
  std::error_code error;
  const auto refuse = [&](const fs::path& file, const std::string& message) {
    problems.push_back({file.string(), 1, 1, "", message});
    return std::nullopt;
  };
  if (!fs::is_directory(files.folder, error))
    return refuse(files.folder, "is no folder; compare takes two folders that `duskline run` wrote");
  const auto text = content_of(files.summary);
  if (!text) return refuse(files.summary, "is missing or cannot be read; the folder holds no finished run");
  const bool recorded = fs::exists(files.trace, error);
  std::string problem;
  auto run = read_compared(name, recorded ? files.trace.string() : "", *text, problem);
  if (run) return run;
  // what the trace's reader says begins with its path
  const std::string path = files.trace.string() + ": ";
  if (problem.starts_with(path)) return refuse(files.trace, problem.substr(path.size()));
  return refuse(files.summary, problem);
}

/// The last part of a path, and the one before it when two are alike.
std::string name_of(const std::string& folder, bool longer) {
  const fs::path path = (fs::path(folder) / "").lexically_normal().parent_path();
  const fs::path parent = path.parent_path().filename();
  return longer && !parent.empty() ? (parent / path.filename()).string() : path.filename().string();
}

std::string number_text(const std::optional<double>& value, const std::string& words) {
  return value ? fmt::format("{:.5g}", *value) : words.empty() ? "-" : words;
}

std::string gap_text(const std::optional<double>& a, const std::optional<double>& b) {
  return a && b ? fmt::format("{:+.4g}", *b - *a) : "";
}

std::string time_text(const std::optional<double>& seconds) {
  if (!seconds) return "-";
  const auto whole = static_cast<long>(std::floor(*seconds));
  return fmt::format("{} h {:02d} min {:02d} s", whole / 3600, whole / 60 % 60, whole % 60);
}

std::string facts_text(char letter, const ComparedRun& run) {
  const SummaryView& s = run.summary;
  std::string text = fmt::format("{}  {}", letter, run.name);
  for (const auto& [word, value] : {std::pair{"law", s.law}, {"plant", s.plant}, {"seed", s.seed}})
    if (!value.empty()) text += fmt::format(", {} {}", word, value);
  return text + (s.end.empty() ? "" : fmt::format(", {} after {}", s.end, time_text(s.end_time))) + "\n";
}

std::string verdicts_text(const Comparison& c) {
  Table table{{"requirement", "A", "B", "margin A", "margin B", "B - A", "unit"}, {}};
  std::size_t same = 0;
  for (const VerdictPair& p : c.verdicts) {
    if (!p.changed() && p.margin_a == p.margin_b) {
      ++same;
      continue;
    }
    const auto verdict = [](const std::string& word) { return word.empty() ? "absent" : word; };
    table.rows.push_back({{p.name, verdict(p.a), verdict(p.b), number_text(p.margin_a, ""),
                           number_text(p.margin_b, ""), gap_text(p.margin_a, p.margin_b), p.unit},
                          {}});
  }
  std::string text = table.rows.empty() && same == 0 ? "" : "\n";
  if (!table.rows.empty()) text += to_text(table);
  if (same > 0)
    text += fmt::format("{} requirement{} with the same verdict and margin\n", same, same == 1 ? "" : "s");
  return text;
}

std::string figures_text(const Comparison& c) {
  Table table{{"figure", "A", "B", "B - A", "unit"}, {}};
  for (const FigurePair& p : c.figures)
    if (!p.same())
      table.rows.push_back({{p.text, number_text(p.a, p.words_a), number_text(p.b, p.words_b),
                             gap_text(p.a, p.b), p.unit == "1" ? "" : p.unit},
                            {}});
  return table.rows.empty() ? "\nAll key figures are the same.\n" : "\n" + to_text(table);
}

std::string events_text(const Comparison& c) {
  Table table{{"kind", "time A", "time B", "event"}, {}};
  for (const EventPair& p : c.events)
    if (table.rows.size() < kEventsShown)
      table.rows.push_back({{p.kind, time_text(p.a), time_text(p.b), p.text}, {}});
  std::string text = "\n";
  if (!table.rows.empty()) text += to_text(table);
  if (c.events.size() > kEventsShown)
    text += fmt::format("{} more events differ; --json and the page have them all\n",
                        c.events.size() - kEventsShown);
  return text +
         fmt::format("{} event{} the same in both\n", c.events_alike, c.events_alike == 1 ? " is" : "s are");
}

std::string signals_text(const Comparison& c) {
  Table table{{"signal", "largest difference", "unit", "of the range", "at"}, {}};
  for (const SignalPair& p : c.signals) {
    if (table.rows.size() == kSignalsShown) break;
    const std::string name = p.place == 0 ? p.name : fmt::format("{} {}", p.name, p.place);
    table.rows.push_back({{name, fmt::format("{:.4g}", p.largest), p.unit == "1" ? "" : p.unit,
                           fmt::format("{:.1f} %", p.share * 100.0), time_text(p.time)},
                          {}});
  }
  std::string text = c.signals.empty() ? "" : "\n" + to_text(table);
  if (c.signals.size() > kSignalsShown)
    text += fmt::format("{} more signals differ\n", c.signals.size() - kSignalsShown);
  for (const auto& [letter, names] : {std::pair{'A', &c.only_a}, {'B', &c.only_b}})
    if (!names->empty()) text += fmt::format("only in {}: {}\n", letter, fmt::join(*names, ", "));
  return text;
}

std::string comparison_text(const ComparedRun& a, const ComparedRun& b, const Comparison& c) {
  std::string text = facts_text('A', a) + facts_text('B', b);
  for (const std::string& note : c.notes) text += "   " + note + "\n";
  text += verdicts_text(c) + figures_text(c) + events_text(c) + signals_text(c);
  return text + "\n" + c.finding.text + "\n";
}

}  // namespace

int compare_verb(const CompareRequest& request) {
  std::vector<scenarios::Problem> problems;
  const bool alike = name_of(request.a, false) == name_of(request.b, false);
  const auto a = read_run(request.a, name_of(request.a, alike), problems);
  const auto b = read_run(request.b, name_of(request.b, alike), problems);
  std::string folder_name = name_of(request.a, alike) + "-and-" + name_of(request.b, alike);
  std::replace(folder_name.begin(), folder_name.end(), '/', '-');
  const fs::path out =
      request.out.empty() ? fs::path("runs") / "compare" / folder_name : fs::path(request.out);
  const fs::path page = out / "compare.html";
  std::error_code error;
  if (fs::exists(out, error) && !fs::is_directory(out, error))
    problems.push_back({"--out", 1, 1, out.string(), "is a file; --out names a folder"});
  else if (!request.force && fs::exists(page, error))
    problems.push_back(
        {"--out", 1, 1, out.string(),
         "holds a comparison already (compare.html); --force overwrites it, another --out keeps it"});
  if (!problems.empty()) {
    print_error(scenarios::to_text(problems));
    return kBadInput;
  }
  const Comparison comparison = compare(*a, *b);
  fs::create_directories(out, error);
  const Outcome written = error ? Outcome{out.string() + ": cannot be made: " + error.message()}
                                : write_comparison(*a, *b, comparison, page.string());
  if (request.json)
    print(comparison_json(*a, *b, comparison));
  else if (!request.quiet)
    print(comparison_text(*a, *b, comparison) + (written ? "Written to " + page.string() + "\n" : ""));
  if (!written) {
    print_error(written.problem + "\n");
    return kNotCompleted;
  }
  return lost_requirements(comparison).empty() ? kSuccess : kViolated;
}

}  // namespace duskline::harness
