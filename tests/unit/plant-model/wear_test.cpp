// Wear in advance and dispersed plants. Expected numbers: by hand from the rates of the bench plant, beside each.
#include <catch2/catch.hpp>

#include "hil-harness/batch/dispersion.hpp"
#include "plant-model/flow/bearing.hpp"
#include "plant-model/wear.hpp"
#include "tests/support/outpost.hpp"
#include "tests/support/plant.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

constexpr double kHours = 5000.0 * 3600.0;

}  // namespace

TEST_CASE("five thousand hours leave what the rates of a run would leave") {
  PlantParameters p = bench();
  State x = no_state();
  Ambient ambient;
  ambient.dust_concentration = 9e-8;  // the haze of Metzger et al. 1999, GRL 26, 2781
  wear(p, Network().layout(), x, ambient, ProductionTime::of_all(kHours));
  constexpr std::size_t slow = kImplicit + kQuadratures;
  // 4.2e-13 ohm m2/s at 3000 A/m2; 0.52 x 8 A on 25 cm2 is 1664 A/m2: 4.2e-13 x 0.55467 x 1.8e7 s
  for (std::size_t c = 0; c < kCells; ++c) CHECK(x[slow + at::ageing + c] == Approx(4.1933e-6).epsilon(1e-4));
  // 21 cm3 x 0.97 x 264.6/(2 pi) rev/s = 8.5784e-4 m3/s of 9e-8 kg/m3, 99.97 % caught, for 1.8e7 s
  CHECK(x[slow + at::dust] == Approx(1.38928e-3).epsilon(1e-4));
  CHECK(p.compressor.leakage == Approx(1.2e-14 * (1.0 + 2.8e-8 * 1.8e7)));
  CHECK(p.compressor.bearing_wear == Approx(0.25));  // 5000 h of 20000 h
}

TEST_CASE("no hours leave no trace") {
  PlantParameters p = bench();
  const PlantParameters before = p;
  State x = no_state();
  wear(p, Network().layout(), x, Ambient{}, {});
  CHECK(x == no_state());
  CHECK(p.compressor.leakage == before.compressor.leakage);
}

TEST_CASE("a part that was renewed wears by the hours since then alone") {
  PlantParameters p = bench();
  State x = no_state();
  Ambient ambient;
  ambient.dust_concentration = 9e-8;
  wear(p, Network().layout(), x, ambient, {0.0, 0.5 * kHours, 0.1 * kHours, 0.2 * kHours});
  constexpr std::size_t slow = kImplicit + kQuadratures;
  CHECK(x[slow + at::ageing] == 0.0);
  CHECK(x[slow + at::dust] ==
        Approx(0.5 * 1.38928e-3).epsilon(1e-4));  // halves and tenths of the numbers above
  CHECK(p.compressor.leakage == Approx(1.2e-14 * (1.0 + 0.2 * 2.8e-8 * 1.8e7)));
  CHECK(p.compressor.bearing_wear == Approx(0.025));
}

TEST_CASE("a worn bearing rubs four times as much and sounds ten times as loud") {
  CHECK(bearing_friction(0.1, 1.0, 1e6) == Approx(0.4));
  CHECK(bearing_tone(0.5, 0.0, 300.0) == Approx(0.5));
  CHECK(bearing_tone(0.5, 1.0, 300.0) == Approx(5.0));
  CHECK(bearing_tone(0.5, 0.0, 600.0) == Approx(2.0));  // square of the speed
  CHECK(bearing_tone(0.5, 1.0, 0.0) == 0.0);
}

TEST_CASE("dispersed plants stay within their bounds, keep the mean flow and depend on the seed alone") {
  double lowest = 10.0, highest = 0.0, mean = 0.0;
  constexpr int kDraws = 400;
  for (int seed = 0; seed < kDraws; ++seed) {
    PlantParameters p = bench(), again = bench();
    duskline::harness::disperse(p, {}, static_cast<std::uint64_t>(seed));
    duskline::harness::disperse(again, {}, static_cast<std::uint64_t>(seed));
    CHECK(p.stack.resistance_factor == again.stack.resistance_factor);
    double flow = 0.0;
    for (std::size_t c = 0; c < kCells; ++c) {
      const double r = p.stack.resistance_factor[c] / bench().stack.resistance_factor[c];
      lowest = std::min(lowest, r), highest = std::max(highest, r);
      mean += r / (kDraws * static_cast<double>(kCells));
      flow += p.stack.flow_share[c] / static_cast<double>(kCells);
    }
    CHECK(flow == Approx(1.0));
    CHECK(p.compressor.displacement == Approx(bench().compressor.displacement).epsilon(0.1));
  }
  CHECK(lowest >= 0.8);
  CHECK(highest <= 1.2);
  CHECK(lowest < 0.83);  // of 400 draws some come close to the ends
  CHECK(highest > 1.17);
  // the common part has a standard deviation of 0.2 x 0.7/sqrt 3 = 0.081, of the mean of 400 draws 0.004
  CHECK(mean == Approx(1.0).margin(0.012));
}

TEST_CASE("the filter of the outpost is loaded by the air that its train draws") {
  PlantParameters p = outpost();
  const Layout layout = Network(p.form).layout();
  State x(layout.states());
  Ambient ambient;
  ambient.pressure = 700.0;
  ambient.temperature = 230.0;
  ambient.dust_concentration = 9e-8;
  // the plant file sizes the filter for 0.3 m3/s
  CHECK(rated_intake(p, ambient) == Approx(0.3).epsilon(0.3));
  wear(p, layout, x, ambient, ProductionTime::of_all(kHours));
  // 9e-8 kg/m3, 99.97 % caught, for 1.8e7 s
  CHECK(x[layout.index("filter.dust")] ==
        Approx(rated_intake(p, ambient) * 9e-8 * 0.9997 * 1.8e7).epsilon(1e-6));
  CHECK(p.compressor.bearing_wear == 0.0);  // it has no scrolls
}
