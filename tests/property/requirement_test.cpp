// The monitor against the definitions, sample by sample, on random signals; and its laws.
// Source: the definitions in scenarios/requirements/requirement.hpp, written out as double loops.
#include <catch2/catch.hpp>
#include <cmath>

#include "plant-model/random/noise.hpp"
#include "scenarios/requirements/requirement.hpp"

using namespace duskline::scenarios;

namespace {

const std::vector<TraceSignal> kSignals = {{"p", "1", 1, {}, false}, {"q", "1", 1, {}, false}};
constexpr double kEndless = std::numeric_limits<double>::infinity();

struct Random {
  std::vector<double> times, p, q;
  explicit Random(std::uint64_t seed, std::size_t n = 40) {
    const duskline::plant::NoiseStream noise(seed, "requirement");
    double t = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      const auto draw = noise.normals(static_cast<std::int64_t>(i));
      times.push_back(t);
      t += 0.25 + std::abs(draw[0]);  // uneven samples
      p.push_back(draw[1]);
      q.push_back(draw[2]);
    }
  }
  double robustness(const std::string& text) const {
    auto parsed = parse_requirement(text, kSignals);
    REQUIRE(parsed.problems.empty());
    return judge(parsed.requirement,
                 {times, [this](std::size_t i) { return std::span<const double>(i == 0 ? p : q); }})
        .margin;
  }
};

}  // namespace

TEST_CASE("windows and until agree with the definitions") {
  for (std::uint64_t seed = 0; seed < 60; ++seed) {
    const Random r(seed);
    const double a = 1.0, b = 6.0;
    double always = kEndless, eventually = -kEndless, until = -kEndless, bounded = -kEndless, held = kEndless;
    for (std::size_t k = 0; k < r.p.size(); ++k) {
      // a sample holds until the next
      if (r.times[k] <= b && (k + 1 == r.p.size() || r.times[k + 1] > a)) {
        always = std::min(always, r.p[k]);
        eventually = std::max(eventually, r.p[k]);
      }
      until = std::max(until, std::min(r.q[k], held));
      if (r.times[k] <= b) bounded = std::max(bounded, std::min(r.q[k], held));
      held = std::min(held, r.p[k]);
    }
    CHECK(r.robustness("always from 1 s to 6 s (p > 0)") == always);
    CHECK(r.robustness("eventually from 1 s to 6 s (p > 0)") == eventually);
    CHECK(r.robustness("(p > 0) until (q > 0)") == until);
    CHECK(r.robustness("(p > 0) until (q > 0) within 6 s") == bounded);
  }
}

TEST_CASE("nested windows agree with a double loop") {
  for (std::uint64_t seed = 0; seed < 30; ++seed) {
    const Random r(seed, 60);
    double outer = kEndless;
    for (std::size_t k = 0; k < r.p.size() && r.times[k] <= 10.0; ++k) {
      double inner = -kEndless;
      for (std::size_t j = k; j < r.p.size() && r.times[j] <= r.times[k] + 3.0; ++j)
        inner = std::max(inner, r.q[j] - 0.5);
      outer = std::min(outer, inner);
    }
    CHECK(r.robustness("always for 10 s within 3 s (q > 0.5)") == Approx(outer).margin(1e-12));
  }
}

TEST_CASE("a signal that moves by less than the robustness does not change the outcome") {
  for (std::uint64_t seed = 0; seed < 30; ++seed) {
    Random r(seed);
    // both comparisons have the scale 1, so that robustness is the same thing for both
    const std::string text = "always ((p > -1) or within 2 s (q > 1))";
    const double before = r.robustness(text);
    if (!std::isfinite(before)) continue;
    for (std::size_t i = 0; i < r.p.size(); ++i) {
      const double push = (i % 2 == 0 ? 0.9 : -0.9) * std::abs(before);
      r.p[i] += push, r.q[i] -= push;
    }
    CHECK((r.robustness(text) >= 0.0) == (before >= 0.0));
  }
}

TEST_CASE("not turns always into eventually") {
  for (std::uint64_t seed = 0; seed < 30; ++seed) {
    const Random r(seed);
    CHECK(r.robustness("not always (p > 0.3)") == r.robustness("eventually (p < 0.3)"));
    CHECK(r.robustness("never (p > 0.3)") == r.robustness("always (p < 0.3)"));
  }
}
