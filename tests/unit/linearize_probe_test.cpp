// probe
#include <catch2/catch.hpp>
#include <cstdio>
#include <cstdlib>
#include "hil-harness/linearize/linearize.hpp"
#include "hil-harness/linearize/operating_point.hpp"
#include "tests/support/shipped_case.hpp"
using namespace duskline;
TEST_CASE("probe") {
  const char* name = std::getenv("SC"); const char* at = std::getenv("AT");
  auto c = tests::read_shipped(tests::library() / (name ? name : "dawn-dusk/equinox-sol.yaml"), {});
  std::string problem;
  auto p = harness::operating_point(c, at ? atof(at) : 3600.0, problem);
  REQUIRE(p);
  std::printf("mode %u limiter %u moments %zu\n", p->control.mode, p->control.limiter, p->moments.size());
  harness::LinearLoop loop(*p);
  std::printf("controller states %ld\n", (long)loop.controller().a.rows());
  auto poles = harness::poles(loop.closed());
  for (std::size_t k = 0; k < 40; ++k) std::printf("  %.8f %+.8fi  |%.8f|\n", poles[k].real(), poles[k].imag(), std::abs(poles[k]));
  for (auto& l : loop.margins())
    std::printf("%-26s fb %d stable %d slow %.7f Ms %.3f @%.3g GM %.3f PM %.1f wc %.3g DM %.2f Mt %.2f down %.3g\n", l.name.c_str(), l.feedback, l.stable, l.slowest, l.margins.sensitivity, l.margins.sensitivity_at, l.margins.gain, l.margins.phase, l.margins.crossover, l.margins.delay, l.margins.complementary, l.margins.gain_down);
}
