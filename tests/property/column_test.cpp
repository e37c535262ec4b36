// What must hold for a cell whatever its numbers: one solution, continuous and monotone; and what the trade
// knows about where carbon forms first.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/column_case.hpp"
#include "tests/support/column_reference.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

/// A repeatable sequence in [0, 1): the additive recurrence of the golden ratio.
struct Golden {
  double x = 0.25;
  double operator()() {
    x += 0.61803398874989484820;
    if (x >= 1) x -= 1;
    return x;
  }
  double between(double a, double b) { return a + (b - a) * (*this)(); }
};

double min_margin(const Plain& a, const CellParameters& c = demo_cell()) {
  const auto m = margins(column_of<double>(c, a), settled(a, c));
  return *std::min_element(m.begin(), m.end());
}

/// Walks through `at(u)`, u from 0 to 1, warm-started as in a run, and returns the largest distance from the
/// exact solution, which is continuous: the total current rises with V without a jump.
template <class At>
double largest_error(At&& at, int steps) {
  ColumnCurrents<Pack> warm = cold_start();
  double worst = 0;
  for (int n = 0; n <= steps; ++n) {
    const Plain a = at(static_cast<double>(n) / steps);
    solve_columns(column_of<Pack>(demo_cell(), a), warm);
    for (const Pack& i : warm.density) REQUIRE(std::isfinite(i[0]));
    const auto exact = solve_exactly(column_of<double>(demo_cell(), a));
    const double error = std::abs(warm.voltage[0] - static_cast<double>(exact.voltage));
    REQUIRE(std::isfinite(error));
    worst = std::max(worst, error);
  }
  return worst;
}

}  // namespace

TEST_CASE("random cells agree with bisection in extended precision") {
  Golden next;
  for (int n = 0; n < 60; ++n) {
    Plain a;
    a.temperature = next.between(300, 1250);
    a.flow = std::pow(10.0, next.between(-6.5, -4));
    a.current = next.between(-1, 3) * 2 * kFaraday * a.flow;  // from reversed to three times what is there
    a.co = std::pow(10.0, next.between(-6, -0.3));
    a.co2 = (1 - a.co) * next.between(0.5, 0.95);
    a.pressure = next.between(0.007, 1.2);
    a.oxygen = std::pow(10.0, next.between(-6, 0));
    INFO("T " << a.temperature << " I " << a.current << " N " << a.flow << " co " << a.co << " co2 "
              << a.co2);
    const auto exact = solve_exactly(column_of<double>(demo_cell(), a));
    CHECK(std::abs(settled(a).voltage - static_cast<double>(exact.voltage)) < 1e-8);
    CHECK(std::abs(voltage_once(a) - static_cast<double>(exact.voltage)) <
          (a.temperature > 650 ? 1e-6 : 1e-5));
  }
}

TEST_CASE("voltage rises with current, through starvation and through zero") {
  ColumnCurrents<Pack> warm = cold_start();
  double last = -1e9;
  for (int n = 0; n <= 2000; ++n) {
    Plain a = kNominal;
    a.current = -0.5 + 12.5 * n / 2000;  // the CO carries -0.46 A, the CO2 7.9 A
    solve_columns(column_of<Pack>(demo_cell(), a), warm);
    if (!(warm.voltage[0] > last)) FAIL("falls at " << a.current << " A");
    last = warm.voltage[0];
  }
  CHECK(last > 1.8);  // a starved cell stands where its electrolyte conducts electrons
  CHECK(last < 2.1);
}

TEST_CASE("a sweep through each corner stays on the continuous solution") {
  const auto current = [](double u) {
    Plain a = kNominal;
    a.current = -1 + 10 * u;  // the CO carries -0.46 A, the CO2 7.9 A
    return a;
  };
  const auto flow = [](double u) {
    Plain a = kNominal;
    a.flow = 5e-5 * std::pow(2.5e-7 / 5e-5, u);
    return a;
  };
  const auto cold = [](double u) {
    Plain a = kNominal;
    a.temperature = 1200 - 1050 * u;
    return a;
  };
  const auto lean = [](double u) {
    Plain a = kNominal;
    a.co = 0.2 * std::pow(5e-6, u);
    return a;
  };
  const auto oxygen = [](double u) {
    Plain a = kNominal;
    a.oxygen = std::pow(1e-6, u);
    return a;
  };
  // one warm-started call a point, as in a run
  CHECK(largest_error(current, 90) < 1e-6);
  CHECK(largest_error(flow, 60) < 1e-6);
  CHECK(largest_error(cold, 40) < 1e-5);
  CHECK(largest_error(lean, 30) < 1e-6);
  CHECK(largest_error(oxygen, 30) < 1e-6);
}

TEST_CASE("along the flow the current falls and the outlet is nearest to carbon") {
  // equipotential electrodes: the Nernst voltage rises along the flow, so current falls; a_C grows with CO
  for (const double T : {973.15, 1023.15, 1073.15, 1123.15})
    for (const double I : {1.0, 3.0, 4.19, 5.0}) {
      Plain a = kNominal;
      a.temperature = T;
      a.current = I;
      const auto in = column_of<double>(demo_cell(), a);
      const auto x = settled(a);
      const auto m = margins(in, x);
      for (std::size_t k = 1; k < kSegments; ++k) {
        CHECK(x.density[k] < x.density[k - 1]);
        CHECK(m[k] < m[k - 1]);
      }
    }
}

TEST_CASE("the margin closes when the cell is colder, by about a millivolt a kelvin") {
  // analytic, without current: d(margin)/dT = margin/T + RT/2F * 0.01775/K, the slope of ln K_B at 800 degC
  Plain a = kNominal, colder = kNominal;
  a.current = colder.current = 0;
  colder.temperature -= 1;
  const double rest = min_margin(a);
  CHECK(1e3 * (rest - min_margin(colder)) == Approx(1e3 * rest / 1073.15 + 46.24 * 0.01775).margin(0.01));
  a.current = 4.19;
  double last = 1e9;
  for (double T = 1173.15; T > 950; T -= 5) {
    a.temperature = T;
    const double now = min_margin(a);
    CHECK(now < last);
    last = now;
  }
}

TEST_CASE("the margin closes at higher conversion, higher pressure, higher resistance of the electrode") {
  const double nominal = min_margin(kNominal);
  Plain a = kNominal;
  a.current *= 1.1;
  CHECK(min_margin(a) < nominal);
  a = kNominal;
  a.flow *= 0.9;
  CHECK(min_margin(a) < nominal);
  a = kNominal;
  a.pressure *= 1.2;
  CHECK(min_margin(a) < nominal);
  a = kNominal;
  a.co += 0.05;
  a.co2 -= 0.05;
  CHECK(min_margin(a) < nominal);
  CellParameters slow = demo_cell();
  slow.cathode_exchange *= 0.8;  // a poisoned cathode has more overpotential at the same current
  CHECK(min_margin(kNominal, slow) < nominal);
  CellParameters thick = demo_cell();
  thick.diffusion_length *= 5;  // CO gathers at the reaction zone
  CHECK(min_margin(kNominal, thick) < nominal);
}

TEST_CASE("a cell with less flow or more ohmic resistance stands at a higher voltage") {
  const double nominal = settled(kNominal).voltage;
  Plain starved = kNominal;
  starved.flow *= 0.94;
  CHECK(settled(starved).voltage > nominal);
  CellParameters worn = demo_cell();
  worn.contact_resistance += 1e-5;
  CHECK(settled(kNominal, worn).voltage > nominal + 0.01);
  // ohmic loss alone moves no equilibrium: it spreads the current, so the outlet is even a little better off
  CHECK(min_margin(kNominal, worn) == Approx(min_margin(kNominal)).margin(0.01));
}

TEST_CASE("pressure cancels from the open-circuit voltage, and the anode's oxygen raises it") {
  Plain a = kNominal;
  a.current = 0;
  const double rest = settled(a).voltage;
  a.pressure = 1.1;
  CHECK(settled(a).voltage == Approx(rest).margin(1e-4));  // the electronic leak passes a milliampere
  a.oxygen *= std::exp(1.0);
  // RT/4F = 23.119 mV at 800 degC
  CHECK(1e3 * (settled(a).voltage - rest) == Approx(23.1).margin(0.2));
}
