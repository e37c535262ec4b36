// The pages of tune, falsify, campaign and linearize in a browser: no page is wider than its window, no text
// lies over another, and every plot has titled axes and an accessible name. Skipped aloud without a browser.
#include <regex>
#include <set>

#include "tests/support/browser.hpp"
#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"

using namespace duskline::tests;

namespace {

/// A scenario that each of the verbs takes.
std::string scenario(const Folder& here) {
  std::ofstream{here.file("s.yaml")}
      << "format: duskline-scenario/1\ntitle: Steps of demand\nplant: bench\nduration: 4 min\nrecord: 10 s\n"
         "initial: {state: producing, cathode_co: 65 %}\n"
         "commands:\n  - {at: 0 s, mode: production, demand: 10 g/h}\n  - {at: 2 min, demand: 8 g/h}\n"
         "requirements:\n  - {name: no coke, must: \"always (coke_margin > 10 mV)\"}\n"
         "tuning:\n  vary:\n    - {set: controller.parameters.flow_gain, from: \"0.5\", to: \"4\", scale: "
         "log}\n"
         "  objectives:\n"
         "    - {name: travel, aim: \"least mean over time of magnitude of rate of compressor_speed_command "
         "per 1 "
         "rad/s2\"}\n"
         "    - {name: margin, aim: \"most least over time of coke_margin per 50 mV\"}\n"
         "  draws: 1\n  held_out: 2\n  budget: 8\n  population: 5\n  seed: 4\n"
         "falsify:\n  requirement: no coke\n  runs: 12\n  vary:\n"
         "    - {set: commands.2.demand, from: 6 g/h, to: 12 g/h}\n"
         "    - {set: turbulence, from: \"0.5\", to: \"2\", scale: log}\n"
         "campaign:\n  vary:\n    - {set: commands.2.demand, from: 6 g/h, to: 10 g/h}\n";
  return here.file("s.yaml");
}

std::size_t count(const std::string& text, const std::string& pattern) {
  const std::regex regex(pattern);
  return static_cast<std::size_t>(
      std::distance(std::sregex_iterator(text.begin(), text.end(), regex), std::sregex_iterator()));
}

}  // namespace

TEST_CASE(
    "pages of tune, falsify, campaign and linearize fit a telephone and a desk, and their plots are "
    "labelled") {
  const Folder here{"static-pages"};
  const std::string file = scenario(here);
  for (const auto& [verb, more] :
       {std::pair<std::string, std::vector<std::string>>{"tune", {}},
        {"falsify", {}},
        {"campaign", {"--runs", "4", "--law", "cascade", "--law", "adaptive", "--grade", "surroundings"}},
        {"linearize", {"--at", "3 min"}}}) {
    std::vector<std::string> words{verb, file, "--quiet", "--out", here.file(verb)};
    words.insert(words.end(), more.begin(), more.end());
    const Child child = run_duskline(words);
    INFO(verb << ": " << child.err);
    REQUIRE(child.exit_code == 0);
  }
  const std::string palette = bytes_of(DUSKLINE_SOURCE_DIR "/hil-harness/report/page/src/palette.css");
  for (const char* name : {"tune/report.html", "falsify/falsify.html", "campaign/campaign.html"}) {
    const std::string page = bytes_of(here.file(name));
    const std::size_t plots = count(page, "<svg viewBox");
    INFO(name);
    CHECK(plots >= 3);
    CHECK(count(page, "<svg viewBox=[^>]*aria-label=\"[^\"]+ over [^\"]+\"") == plots);
    // every colour is one of the palette
    const std::regex colour("var\\((--[a-z0-9]+)\\)");
    for (std::sregex_iterator it(page.begin(), page.end(), colour), end; it != end; ++it)
      if ((*it)[1] != "--serif" && (*it)[1] != "--sans") {
        INFO((*it)[1]);
        CHECK((has(palette, (*it)[1].str() + ":") || has(page, (*it)[1].str() + ":")));
      }
  }
  CHECK(has(bytes_of(here.file("tune/report.html")), ">margin, mV</text>"));
  CHECK(has(bytes_of(here.file("falsify/falsify.html")), ">margin, mV</text>"));
  if (!has_browser()) {
    skip(
        "chromium is not installed, so nobody has measured the pages of tune, falsify, campaign and "
        "linearize");
    return;
  }
  for (const char* name :
       {"tune/report.html", "falsify/falsify.html", "campaign/campaign.html", "linearize/linear.html"})
    for (const auto& [width, dark] : {std::pair{1400, false}, {390, true}}) {
      const auto m = measured(here, here.file(name), width, dark);
      INFO(name << " at " << width << ": " << m.dump(1));
      CHECK(m["overflow"] <= 0);
      CHECK(m["overlaps"].empty());
      CHECK(m["contrast"]["ratio"] >= 4.5);
    }
}
