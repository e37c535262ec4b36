// A requirement judged while its samples arrive, and on the whole trace: exactly the same verdict.
// Source: judge(), whose values are held by requirement_test.cpp and tests/unit/scenarios/requirement_test.cpp.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>

#include "plant-model/random/noise.hpp"
#include "scenarios/requirements/stream.hpp"

using namespace duskline::scenarios;

namespace {

const std::vector<TraceSignal> kSignals = {{"p", "1", 1, {}, false},
                                           {"q", "1", 1, {}, false},
                                           {"cells", "1", 3, {}, false},
                                           {"mode", "1", 1, {"off", "standby", "production"}, false},
                                           {"found", "1", 1, {"leak", "clog"}, true}};

/// Numbers from 0 to 1, the same for the same seed.
class Draws {
 public:
  explicit Draws(std::uint64_t seed) : noise_(seed, "stream") {}
  double share() { return 0.5 * std::erfc(-noise_.normals(count_++)[0] / std::sqrt(2.0)); }
  std::size_t below(std::size_t n) {
    return std::min(n - 1, static_cast<std::size_t>(share() * static_cast<double>(n)));
  }
  std::string one_of(const std::vector<std::string>& list) { return list[below(list.size())]; }

 private:
  duskline::plant::NoiseStream noise_;
  std::int64_t count_ = 0;
};

/// Signals that rest on a grid, so that extremes are equal, with gaps and stretches of all lengths.
struct Signals {
  std::vector<double> times;
  std::vector<std::vector<double>> columns = std::vector<std::vector<double>>(kSignals.size());
  Signals(Draws& d, std::size_t rows) {
    const bool even = d.share() < 0.5;
    const double stay = d.share() < 0.5 ? 0.999 : 0.9;
    double t = d.share() < 0.2 ? 5.0 : 0.0, mode = 0.0, found = 0.0, p = 0.0;
    for (std::size_t i = 0; i < rows; ++i) {
      times.push_back(t);
      t += even ? 1.0 : 0.25 + 2.0 * d.share();
      p += std::round(4.0 * d.share() - 2.0) * 0.25;
      if (std::abs(p) > 4.0) p *= 0.5;
      if (d.share() > stay) mode = static_cast<double>(d.below(3));
      if (d.share() > stay) found = static_cast<double>(d.below(4));
      columns[0].push_back(d.share() < 0.002 ? std::nan("") : p);
      columns[1].push_back(std::round(12.0 * d.share() - 6.0) * 0.5);
      for (int k = 0; k < 3; ++k) columns[2].push_back(p + std::round(3.0 * d.share()));
      columns[3].push_back(mode);
      columns[4].push_back(found);
    }
  }
  /// Rows from `begin` to `end`, copied: nothing else can be read.
  Signals(const Signals& of, std::size_t begin, std::size_t end) {
    const auto cut = [&](const std::vector<double>& from, std::size_t width) {
      return std::vector<double>(from.begin() + static_cast<std::ptrdiff_t>(begin * width),
                                 from.begin() + static_cast<std::ptrdiff_t>(end * width));
    };
    times = cut(of.times, 1);
    for (std::size_t i = 0; i < columns.size(); ++i) columns[i] = cut(of.columns[i], kSignals[i].width);
  }
  TraceSamples samples() const {
    return {times, [this](std::size_t i) { return std::span<const double>(columns[i]); }};
  }
};

std::string comparison(Draws& d) {
  return d.one_of({"p > 0.5", "p < 3", "q > -2.5", "p - q > -4", "p > q", "p within 50 % of q",
                   "q within 2 of 0.5", "rate of p < 0.5 s-1", "least cells > -1", "mean cells < 2",
                   "cells[2] > 0.25", "mode is production", "mode is not off", "found includes clog",
                   "magnitude of p < 2"});
}

/// What looks no further than bounds.
std::string bounded(Draws& d, int depth) {
  if (depth == 0 || d.share() < 0.3) return "(" + comparison(d) + ")";
  const std::string a = bounded(d, depth - 1), b = bounded(d, depth - 1);
  const std::string time = std::to_string(1 + d.below(30)) + " s";
  return "(" +
         d.one_of({"not " + a, a + " and " + b, a + " or " + b, a + " implies " + b, "becomes " + a,
                   "always for " + time + " " + a, "within " + time + " " + a, "never for " + time + " " + a,
                   "from " + time + " to 40 s eventually " + a, "in the last " + time + " once " + a,
                   "in the last " + time + " always " + a}) +
         ")";
}

std::string formula(Draws& d) {
  const std::string a = bounded(d, 2), b = bounded(d, 1);
  const std::string time = std::to_string(d.below(3000)) + " s";
  return d.one_of({"always " + a, "never " + a, "eventually " + a, a, "always for " + time + " " + a,
                   "within " + time + " " + a, "from " + time + " to 4000 s always " + a,
                   "from 100 s to " + std::to_string(100 + d.below(3000)) + " s never " + a,
                   "always " + a + " and eventually " + b, "not always " + a,
                   "(always " + a + ") or never " + b, "eventually " + a + " implies always " + b});
}

std::string sentence(Draws& d, int depth = 2) {
  const std::string time = std::to_string(d.below(d.share() < 0.5 ? 40 : 2500)) + " s";
  switch (depth > 0 ? d.below(7) : 6) {
    case 0:
      return "after " + time + ": " + sentence(d, depth - 1);
    case 1:
      return "whenever " + bounded(d, 1) + ": " + bounded(d, 2);
    case 2:
      return "whenever " + bounded(d, 1) + ": " +
             d.one_of({"", "after " + time + ": ", "after 3 s: after 20 s: "}) +
             d.one_of({"always ", "never "}) + bounded(d, 1);
    case 3:
      return "after " + bounded(d, 1) + ": " + bounded(d, 2);
    case 4:
      return "after " + bounded(d, 1) + ": " + d.one_of({"always ", "never "}) + bounded(d, 1);
    case 5:
      return "whenever " + bounded(d, 1) + ": after " + bounded(d, 1) + ": " + bounded(d, 1);
    default:
      return formula(d);
  }
}

bool same_bits(double a, double b) {
  return std::memcmp(&a, &b, sizeof a) == 0;
}

/// The verdict of a stream that is given rows in pieces, and loses those that it does not need.
Verdict streamed(Stream stream, const Signals& all, Draws& d, std::size_t& most_kept) {
  std::size_t base = 0, end = 0;
  while (end < all.times.size()) {
    end = std::min(all.times.size(), end + 1 + d.below(700));
    const Signals window(all, base, end);
    stream.advance(window.samples(), base);
    most_kept = std::max(most_kept, end - base);
    base = std::min(stream.needs(), end - 1);
  }
  const Signals window(all, base, end);
  return stream.verdict(window.samples(), base);
}

}  // namespace

TEST_CASE("a requirement judged as the run goes is judged exactly as on the whole trace") {
  std::size_t outcomes[4]{}, broken = 0;
  for (std::uint64_t seed = 0; seed < 700; ++seed) {
    Draws d(seed);
    const std::string text = sentence(d);
    INFO("seed " << seed << ": " << text);
    const auto parsed = parse_requirement(text, kSignals);
    REQUIRE(parsed.problems.empty());
    const auto stream = Stream::of(parsed.requirement);
    REQUIRE(stream);
    const Signals all(d, 1 + d.below(d.share() < 0.2 ? 60 : 5000));
    const Verdict whole = judge(parsed.requirement, all.samples());
    std::size_t kept = 0;
    const Verdict v = streamed(*stream, all, d, kept);
    CHECK(v.outcome == whole.outcome);
    CHECK(same_bits(v.relative, whole.relative));
    CHECK(same_bits(v.margin, whole.margin));
    CHECK(v.unit == whole.unit);
    CHECK(v.typed == whole.typed);
    CHECK(same_bits(v.time, whole.time));
    CHECK(v.begin == whole.begin);
    CHECK(v.end == whole.end);
    CHECK(same_bits(v.violated_from, whole.violated_from));
    CHECK(same_bits(v.violated_to, whole.violated_to));
    ++outcomes[static_cast<std::size_t>(whole.outcome)];
    if (whole.violated_to - whole.violated_from > 100.0) ++broken;
  }
  // each kind of verdict has been compared often enough to mean something
  for (const std::size_t count : outcomes) CHECK(count > 20);
  CHECK(broken > 20);
}

TEST_CASE("what a stream keeps follows from the windows of the sentence, not from the run") {
  Draws d(1);
  const Signals all(d, 40000);
  const double step = all.times.back() / static_cast<double>(all.times.size());
  for (const auto& [text, reach] :
       {std::pair{"always (p > -9)", 0.0}, std::pair{"whenever mode is production: always (p > -9)", 0.0},
        std::pair{"after 9000 s: within 600 s (p > 99)", 0.0},
        std::pair{"after becomes mode is off: within 600 s always for 300 s (q > -99)", 900.0}}) {
    INFO(text);
    const auto parsed = parse_requirement(text, kSignals);
    const auto stream = Stream::of(parsed.requirement);
    REQUIRE(stream);
    std::size_t kept = 0;
    streamed(*stream, all, d, kept);
    // windows on both sides of a block as long as them or of 512 rows (stream.cpp), and the 700 that arrive at once
    CHECK(static_cast<double>(kept) < 2.0 * reach / step + 512.0 + 700.0 + 64.0);
  }
}

TEST_CASE("a sentence that needs the whole trace is not judged as the run goes") {
  for (const char* text : {"within 2 h always (p > 0)", "(p > 0) until (q > 0)", "always (past once (p > 0))",
                           "always ((p > 0) since (q > 0))", "always eventually (p > 0)",
                           "after mode is off: eventually (mode is production)"})
    CHECK_FALSE(Stream::of(parse_requirement(text, kSignals).requirement));
}
