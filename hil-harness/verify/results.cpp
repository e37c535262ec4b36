#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "hil-harness/loop/summary_json.hpp"
#include "hil-harness/verify/verify.hpp"

namespace duskline::harness {
namespace {

using Json = nlohmann::ordered_json;
using scenarios::Ruling;

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\n':
        out += "&#10;";
        break;
      default:
        if (static_cast<unsigned char>(c) >= 0x20) out += c;  // control characters have no place in XML 1.0
    }
  }
  return out;
}

bool failed(const Judged& j) {
  return j.verdict.ruling == Ruling::broken || j.verdict.ruling == Ruling::open;
}

std::string sentence(const Judged& j) {
  std::string text = fmt::format("{}: {}, robustness {} at {:.0f} s", j.must, word(j.verdict.ruling),
                                 robustness_words(j.verdict), j.verdict.time);
  if (j.verdict.ruling == Ruling::broken)
    text += fmt::format(", first from {:.0f} s to {:.0f} s", j.verdict.broken_from, j.verdict.broken_to);
  return text;
}

/// Why a scenario gave no verdicts; empty when it ran to its end.
std::string trouble(const Checked& one) {
  if (!one.problems.empty()) return scenarios::to_text(one.problems);
  if (one.record.end.reason == plant::RunEnd::reached_end) return {};
  return fmt::format("{} at {:.3f} s {}", plant::word(one.record.end.reason), one.record.end.time,
                     one.record.end.who);
}

Json number(double v) {
  return std::isfinite(v) ? Json(v) : Json(nullptr);
}

struct KeyFigure {
  const char* name;
  const char* unit;
  double (*get)(const Figures&);
};
constexpr KeyFigure kKeyFigures[] = {
    {"oxygen made", "g", [](const Figures& f) { return f.oxygen_made * 1e3; }},
    {"bus energy", "kWh", [](const Figures& f) { return f.energy / 3.6e6; }},
    {"least coke margin", "mV", [](const Figures& f) { return f.coke_margin.value * 1e3; }},
    {"least nickel ratio", "1", [](const Figures& f) { return f.nickel_ratio.value; }},
    {"time in safe", "s", [](const Figures& f) { return f.time_in_mode[CTL_SAFE]; }},
    {"travel of speed", "rad/s", [](const Figures& f) { return f.travel_speed; }},
    {"travel of current", "A", [](const Figures& f) { return f.travel_current; }},
};

}  // namespace

std::string junit_xml(const std::vector<Checked>& all) {
  std::size_t tests = 0, failures = 0, errors = 0;
  std::string suites;
  for (const Checked& one : all) {
    std::size_t own = 0, own_failures = 0, own_skipped = 0;
    std::string cases;
    const std::string suite = escaped(one.name);
    const std::string why = trouble(one);
    const bool error = !why.empty();
    if (error || one.judged.empty()) {
      ++own;
      cases += fmt::format("    <testcase classname=\"{}\" name=\"run\" time=\"0\"", suite);
      cases +=
          error ? fmt::format("><error message=\"{}\" type=\"run\"/></testcase>\n", escaped(why)) : "/>\n";
    }
    for (const Judged& j : one.judged) {
      ++own;
      cases += fmt::format("    <testcase classname=\"{}\" name=\"{}\" time=\"0\"", suite, escaped(j.name));
      if (failed(j)) {
        ++own_failures;
        cases += fmt::format("><failure message=\"{}\" type=\"{}\"/></testcase>\n", escaped(sentence(j)),
                             word(j.verdict.ruling));
      } else if (j.verdict.ruling == Ruling::untested) {
        ++own_skipped;
        cases += "><skipped/></testcase>\n";
      } else {
        cases += "/>\n";
      }
    }
    tests += own, failures += own_failures, errors += error;
    suites += fmt::format(
        "  <testsuite name=\"{}\" tests=\"{}\" failures=\"{}\" errors=\"{}\" skipped=\"{}\" time=\"0\">\n{}  "
        "</testsuite>\n",
        suite, own, own_failures, error ? 1 : 0, own_skipped, cases);
  }
  return fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites tests=\"{}\" failures=\"{}\" errors=\"{}\" "
      "time=\"0\">\n{}</testsuites>\n",
      tests, failures, errors, suites);
}

std::string tap_text(const std::vector<Checked>& all) {
  std::string lines;
  std::size_t n = 0;
  const auto plain = [](std::string text) {
    for (char& c : text)
      if (c == '#' || c == '\n') c = ' ';
    return text;
  };
  for (const Checked& one : all) {
    const std::string why = trouble(one);
    if (!why.empty() || one.judged.empty())
      lines += fmt::format("{} {} - {}: run{}\n", why.empty() ? "ok" : "not ok", ++n, plain(one.name),
                           why.empty() ? "" : "\n  ---\n  message: " + Json(why).dump() + "\n  ...");
    for (const Judged& j : one.judged) {
      lines +=
          fmt::format("{} {} - {}: {}{}\n", failed(j) ? "not ok" : "ok", ++n, plain(one.name), plain(j.name),
                      j.verdict.ruling == Ruling::untested ? " # SKIP never came about" : "");
      lines += fmt::format("  ---\n  requirement: {}\n  robustness: {}\n  at: {}\n  ...\n",
                           Json(j.must).dump(), Json(robustness_words(j.verdict)).dump(),
                           Json(fmt::format("{:.0f} s", j.verdict.time)).dump());
    }
  }
  return fmt::format("TAP version 14\n1..{}\n{}", n, lines);
}

std::string baseline_json(const std::vector<Checked>& all) {
  Json j;
  j["format"] = "duskline-accepted/1";
  Json& scenarios = j["scenarios"] = Json::object();
  for (const Checked& one : all) {
    Json& s = scenarios[one.name] = Json::object();
    Json& requirements = s["requirements"] = Json::object();
    for (const Judged& r : one.judged)
      requirements[r.name] = {{"ruling", std::string(word(r.verdict.ruling))},
                              {"robustness", number(r.verdict.robustness)},
                              {"unit", r.verdict.unit},
                              {"time", r.verdict.time}};
    Json& figures = s["key_figures"] = Json::object();
    for (const KeyFigure& k : kKeyFigures)
      figures[k.name] = {{"value", number(k.get(one.record.figures))}, {"unit", k.unit}};
  }
  return j.dump(2) + "\n";
}

Moved compare(const std::vector<Checked>& all, const std::string& baseline) {
  Moved moved;
  const Json before = Json::parse(baseline, nullptr, false);
  if (before.is_discarded() || !before.is_object() || before.value("format", "") != "duskline-accepted/1" ||
      !before.contains("scenarios") || !before["scenarios"].is_object()) {
    moved.problem = "is not an accepted baseline (duskline-accepted/1)";
    return moved;
  }
  const Json now = Json::parse(baseline_json(all));
  const auto differ = [](const Json& a, const Json& b) {
    if (!a.is_number() || !b.is_number()) return a != b;
    const double x = a.get<double>(), y = b.get<double>();
    return std::abs(x - y) > 1e-9 * std::max(std::abs(x), std::abs(y));
  };
  const auto shown = [](const Json& v) {
    return v.is_number() ? fmt::format("{:.6g}", v.get<double>()) : v.dump();
  };
  const auto part = [&](const std::string& scenario, const Json& was, const Json& is, const char* key,
                        const char* value) {
    if (!was.contains(key) || !was[key].is_object()) {
      moved.missing.push_back(fmt::format("{}: {}", scenario, key));
      return;
    }
    for (const auto& [name, entry] : is[key].items()) {
      if (!was[key].contains(name) || !was[key][name].is_object()) {
        moved.missing.push_back(fmt::format("{}: {}", scenario, name));
        continue;
      }
      const Json& old = was[key][name];
      const Json a = old.value(value, Json(nullptr)), b = entry[value];
      const std::string was_ruling = old.value("ruling", ""), is_ruling = entry.value("ruling", "");
      if (!differ(a, b) && was_ruling == is_ruling) continue;
      std::string line =
          fmt::format("{}: {}: {} -> {} {}", scenario, name, shown(a), shown(b), entry.value("unit", ""));
      if (a.is_number() && b.is_number())
        line += fmt::format(" ({:+.3g})", b.get<double>() - a.get<double>());
      if (was_ruling != is_ruling) line += fmt::format(", {} -> {}", was_ruling, is_ruling);
      moved.lines.push_back(std::move(line));
    }
  };
  for (const auto& [name, is] : now["scenarios"].items()) {
    if (!before["scenarios"].contains(name) || !before["scenarios"][name].is_object()) {
      moved.missing.push_back(name);
      continue;
    }
    const Json& was = before["scenarios"][name];
    part(name, was, is, "requirements", "robustness");
    part(name, was, is, "key_figures", "value");
  }
  return moved;
}

}  // namespace duskline::harness
