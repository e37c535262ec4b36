// The exact Jacobian of the plant against central differences of its right-hand side.
//
// What counts is what a column changes when its state moves by its natural size (the store's content, 100 K, the
// actuator's span), relative to the largest such change in the row: |J - D| size_c <= 1e-5 max_c(|J| size_c).
// Differences are taken over 3e-6 of that size with the inner solution settled to round-off: truncation and
// round-off both stay below 1e-6 of a row. In the starved cell, where a trace of CO2 is left that the inner
// solution knows less well, the step is 1e-4 of the size.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/plant.hpp"
#include "tests/support/variants.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

struct Worst {
  double share = 0;
  std::size_t row = 0, column = 0;
};

/// `frozen`: through a cold electrolyte the first picoampere is beyond the linear range, so no difference of
/// current says anything.
Worst compare(Plant& plant, const State& x, bool frozen, double step = 3e-6) {
  constexpr std::size_t kRows = kImplicit + kQuadratures;
  DenseMatrix exact(kRows, kImplicit), difference(kRows, kImplicit);
  settled_rates(plant, x);
  plant.jacobian(x, 0.0, exact);
  for (std::size_t c = 0; c < kImplicit; ++c) {
    const double h = step * natural_size(x, c);
    State up = x, down = x;
    up[c] += h;
    down[c] -= h;
    const State a = settled_rates(plant, up), b = settled_rates(plant, down);
    for (std::size_t r = 0; r < kRows; ++r) difference(r, c) = (a[r] - b[r]) / (up[c] - down[c]);
  }
  Worst worst;
  for (std::size_t r = 0; r < kRows; ++r) {
    double row = 1e-300;
    for (std::size_t c = 0; c < kImplicit; ++c)
      row = std::max(row, std::abs(exact(r, c)) * natural_size(x, c));
    for (std::size_t c = 0; c < kImplicit; ++c) {
      if (frozen && c == at::current) continue;
      const double share = std::abs(exact(r, c) - difference(r, c)) * natural_size(x, c) / row;
      if (!(share <= worst.share)) worst = {share, r, c};
    }
  }
  return worst;
}

/// Without carbon and oxide, whose rates the Jacobian takes as constants: they move in minutes and hours.
void without_slow_reactions(Plant& plant) {
  auto& d = plant.parameters().degradation;
  d.carbon_rate = 0;
  d.gasification_time = d.oxidation_time = d.reduction_time = 1e30;
}

/// Off the equality of all pressures, where the flow through an aperture changes its gas and so its slope.
void off_balance(State& x) {
  for (std::size_t i = 0; i < kSpecies; ++i) {
    x[at::plenum + i] *= 1.03;
    x[at::cathode + i] *= 1.02;
    x[at::anode + i] *= 1.01;
  }
}

}  // namespace

TEST_CASE("the exact Jacobian equals central differences from cold to starved") {
  for (Situation& s : situations()) {
    without_slow_reactions(s.plant);
    if (s.name == "cold") off_balance(s.x);
    const bool starved = s.name == "starved";
    const Worst worst = compare(s.plant, s.x, s.name == "cold", starved ? 1e-4 : 3e-6);
    INFO(s.name << ": d(" << state_table()[worst.row].name << ")/d(" << state_table()[worst.column].name
                << ") off by 1e-5 * " << 1e5 * worst.share << " of its row");
    CHECK(1e5 * worst.share < 1);
  }
}

TEST_CASE("the exact Jacobian equals central differences in shaken states") {
  Golden next;
  for (Situation& s : situations()) {
    without_slow_reactions(s.plant);
    for (int n = 0; n < 3; ++n) {
      const State x = shaken(s.x, next);
      const bool starved = s.name == "starved";
      const Worst worst = compare(s.plant, x, s.name == "cold", starved ? 1e-4 : 3e-6);
      INFO(s.name << " " << n << ": d(" << state_table()[worst.row].name << ")/d("
                  << state_table()[worst.column].name << ") off by 1e-5 * " << 1e5 * worst.share);
      CHECK(1e5 * worst.share < 1);
    }
  }
}

TEST_CASE("quadratures drive nothing, so the Jacobian needs no columns for them") {
  // the right-hand side at a state with other quadratures is the same, bit for bit
  for (Situation& s : situations()) {
    State other = s.x;
    for (std::size_t i = 0; i < kQuadratures; ++i) other[kImplicit + i] += 17.0;
    const State a = settled_rates(s.plant, s.x), b = settled_rates(s.plant, other);
    const State c = settled_rates(s.plant, s.x);  // what another settling alone changes
    for (std::size_t i = 0; i < kStates; ++i)
      CHECK(std::abs(a[i] - b[i]) <=
            std::abs(a[i] - c[i]) + 1e-9 * std::abs(a[i]) + 1e-12 * state_table()[i].tolerance);
  }
}

TEST_CASE("the exact Jacobian equals central differences under every law that a part may have") {
  for (Situation& s : situations()) {
    if (s.name != "production" && s.name != "hot standby") continue;
    without_slow_reactions(s.plant);
    for (const NamedVariants& v : all_variants()) {
      s.plant.parameters().variants = v.variants;
      const Worst worst = compare(s.plant, s.x, false);
      INFO(s.name << ", " << v.name << ": " << state_table()[worst.row].name << " by "
                  << state_table()[worst.column].name);
      CHECK(worst.share < 1e-5);
    }
  }
}
