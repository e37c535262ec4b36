// What the shares of a campaign and of a search count: violated, undecided, ended early; and how the table is laid out.
// Source of the bounds: 1 - 0.05^(1/n) for none of n, the distribution of Clopper and Pearson for more.
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <sstream>

#include "hil-harness/campaign/law_table.hpp"
#include "hil-harness/campaign/subset.hpp"
#include "hil-harness/falsify/falsify.hpp"
#include "hil-harness/falsify/statistics.hpp"

using namespace duskline;
using namespace duskline::harness;

namespace {

CampaignRow row(std::uint64_t run, const std::string& verdict, bool whole = true) {
  CampaignRow r;
  r.run = run;
  r.figures.fill(std::nan(""));
  r.figures[figure("coke_margin")] = 0.05;
  r.figures[figure("oxygen")] = 0.01;
  r.ended = plant::word(whole ? plant::RunEnd::reached_end : plant::RunEnd::interrupted);
  r.verdicts = R"([{"requirement":"no coke","verdict":")" + verdict + R"("}])";
  return r;
}

Attempt attempt(scenarios::Outcome outcome, double relative, bool whole = true) {
  Attempt a;
  a.drawn = true;
  a.requirement = "no coke";
  a.verdict.outcome = outcome;
  a.verdict.relative = a.verdict.margin = relative;
  a.end.reason = whole ? plant::RunEnd::reached_end : plant::RunEnd::link_lost;
  return a;
}

}  // namespace

TEST_CASE("a campaign counts an undecided requirement as violated") {
  CHECK(row(1, "violated").violated());
  CHECK(row(1, "undecided").violated());
  CHECK_FALSE(row(1, "satisfied").violated());
  CHECK_FALSE(row(1, "not exercised").violated());
}

TEST_CASE("runs that ended early count in the bounds of a campaign") {
  std::vector<CampaignRow> rows;
  for (std::uint64_t run = 1; run <= 20; ++run) rows.push_back(row(run, "satisfied", run > 3));
  rows[0].figures[figure("time_below_onset")] = 1.0;  // passed the limit before it ended early
  const LawFigures f = law_figures("cascade", rows, Sampling::independent);
  CHECK(f.coke.count == 1);
  CHECK(f.coke.upper_bound == upper_share(3, 20, 0.95));
  CHECK(f.violated.count == 0);
  CHECK(f.violated.upper_bound == upper_share(3, 20, 0.95));
  CHECK(law_text({f}).find("0 (at most 34 %, with 3 that ended early)") != std::string::npos);
  for (CampaignRow& r : rows) r.ended = plant::word(plant::RunEnd::reached_end);
  const LawFigures whole = law_figures("cascade", rows, Sampling::independent);
  CHECK(whole.violated.upper_bound == Approx(1.0 - std::pow(0.05, 1.0 / 20.0)));
  CHECK(law_text({whole}).find("0 (at most 14 %)") != std::string::npos);
}

TEST_CASE("columns of several laws stand apart in the table of a campaign") {
  std::vector<LawFigures> laws(2);
  for (LawFigures& f : laws) {
    f.law = "cascade";
    f.runs = 40;
    f.bounded = 4;
    f.margin_min = -1.2345, f.margin_low = -0.9876, f.margin_median = 1.2345;
    f.of_bound_mean = 0.987, f.of_bound_low = 0.876;
    for (Share* s : {&f.coke, &f.nickel, &f.surge, &f.violated}) s->upper_bound = 0.5;
  }
  std::istringstream lines(law_text(laws));
  const auto cells = law_cells(laws);
  std::size_t second = 0, k = 0;
  for (std::string line; std::getline(lines, line); ++k) {
    const std::string& last = cells[2][k];
    REQUIRE(line.size() > last.size() + 2);
    const std::size_t at = line.size() - last.size();
    INFO(line);
    CHECK(line.substr(at) == last);
    CHECK(line.substr(at - 2, 2) == "  ");
    CHECK(at == (second == 0 ? at : second));
    second = at;
  }
  CHECK(k == cells.front().size());
}

TEST_CASE("a search counts an undecided requirement as violated and puts it before all that hold") {
  using scenarios::Outcome;
  Falsified found;
  found.attempts = {attempt(Outcome::satisfied, 0.0), attempt(Outcome::undecided, 3.0),
                    attempt(Outcome::undecided, std::numeric_limits<double>::infinity())};
  CHECK(found.closest() == 1U);
  CHECK(found.first_violation() == 1U);
  CHECK(found.draws_violated() == 2);
  found.attempts.push_back(attempt(Outcome::violated, -0.1));
  CHECK(found.closest() == 3U);
}

TEST_CASE("draws that ended early count as violations in the bound of a search") {
  scenarios::Case base;
  base.scenario.falsify.runs = 60;
  Falsified found;
  for (int k = 0; k < 60; ++k) found.attempts.push_back(attempt(scenarios::Outcome::satisfied, 0.5, k != 7));
  found.draws = 60;
  CHECK(found.draws_violated() == 0);
  CHECK(share_that_violates(base, found) == upper_share(1, 60, kConfidence));
  CHECK(share_that_violates(base, found) > 1.0 - std::pow(0.05, 1.0 / 60.0));
  CHECK(share_words(base, found) ==
        "at most 7.7 % of the ranges do (95 % confidence, 1 that ended early counted in)");
}

TEST_CASE("subset simulation states a probability where a point passed and a bound where none did") {
  static constexpr std::size_t kPoints = 100;
  const auto after = [](std::size_t passing) {
    SubsetSimulation subset(1, kPoints, 1, 1);
    std::vector<double> values(subset.ask().size(), 1.0);
    REQUIRE(values.size() == kPoints);
    for (std::size_t i = 0; i < passing; ++i) values[i] = -1.0;
    subset.tell(values);
    CHECK(subset.ask().empty());
    return subset;
  };
  // fewer than a tenth, and yet an estimate
  CHECK(after(3).reached());
  CHECK(after(3).probability() == Approx(0.03));
  CHECK(after(3).variation() > 0.0);
  CHECK_FALSE(after(0).reached());
  CHECK(after(0).probability() == Approx(1.0 - std::pow(0.05, 1.0 / 100.0)));
  CHECK(after(0).variation() == 0.0);
}
