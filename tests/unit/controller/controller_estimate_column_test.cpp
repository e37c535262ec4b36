// The controller's column against the cell of the plant, solved by bisection in double precision.
#include <catch2/catch.hpp>
#include <cmath>

#include "controller/estimate/column.hpp"
#include "tests/support/column_case.hpp"

using namespace duskline;

namespace {

struct Truth {
  double voltage, margin, made, converted;  // V, V, mole fraction, A
  controller::Column seen(double dv = 0.0, double dshare = 0.0, double added = 0.0,
                          const controller::CellConstants& constants = {}) const {
    ctl_params p;
    ctl_default_params(&p);
    const auto c = controller::with_constants(
        controller::cell_chemistry(p, float(at.temperature), float(at.pressure * 1e5),
                                   float(at.oxygen * 1e5)),
        constants);
    const controller::CellGas gas{float(at.co), float(at.co + at.co2), float(made / (1.0 + dshare))};
    return controller::solve_column(p, c, gas, float(added), float(converted), float(voltage + dv));
  }
  tests::Plain at;
};

Truth truth_of(double current, double flow, double temperature, double co, double pressure = 0.56) {
  tests::Plain a{temperature, current, flow, co, 0.95 - co, pressure, 0.4};
  const auto cell = tests::demo_cell();
  const auto in = tests::column_of<double>(cell, a);
  const auto solved = plant::solve_column_safely(in);
  Truth t{solved.voltage, 1e9, 0.0, 0.0, a};
  const double m = 1.0 / (2.0 * plant::kFaraday * flow);
  for (std::size_t k = 0; k < plant::kSegments; ++k) {
    t.converted += solved.density[k] * cell.area / double(plant::kSegments);
    const double change = t.converted * m + solved.density[k] * in.chemistry[k].diffusion;
    const double u = a.co + change, w = a.co2 - change;
    t.margin =
        std::min(t.margin,
                 plant::coke_margin(plant::carbon_activity(in.chemistry[k].log_boudouard, u, w, in.pressure),
                                    plant::cathode_factor(in.chemistry[k], solved.density[k], w, in.pressure),
                                    in.chemistry[k].thermal_voltage, 1.0));
  }
  t.made = t.converted * m;
  return t;
}

}  // namespace

TEST_CASE("margin and voltage of the column agree with the plant's cell") {
  // no published value: two programs for the same equations, in six mixed parts and in three Radau points
  for (const double temperature : {960.0, 1033.0, 1073.0, 1103.0})
    for (const double density : {400.0, 1000.0, 1700.0, 3000.0})
      for (const double utilisation : {0.3, 0.5, 0.65, 0.75}) {
        const double current = density * 2.5e-3, flow = current / (2 * plant::kFaraday * 0.9 * utilisation);
        const Truth t = truth_of(current, flow, temperature, 0.05);
        const controller::Column c = t.seen();
        CAPTURE(temperature, density, utilisation, t.voltage, t.margin);
        CHECK(double(c.onset) - t.voltage == Approx(t.margin).margin(2e-4));
        REQUIRE(c.identified);
        CHECK(double(c.innovation) == Approx(0.0).margin(2.5e-3));
      }
}

TEST_CASE("what the column says of a change is what the change does") {
  const Truth t = truth_of(4.19, 3.9e-5, 1073.15, 0.05);
  const controller::Column c = t.seen();
  // one hundredth less flow: voltage and margin of the plant's cell against the slopes
  const Truth starved = truth_of(4.19, 3.9e-5 * 0.99, 1073.15, 0.05);
  CHECK(starved.voltage - t.voltage == Approx(-0.01 * double(c.by_share)).epsilon(0.08));
  // the margin falls by the slope at the voltage measured, and by what the higher voltage takes
  const double rise = starved.voltage - t.voltage;
  CHECK(starved.margin - t.margin ==
        Approx(-0.01 * double(c.onset_by_share) - (1.0 - double(c.onset_by_voltage)) * rise).epsilon(0.05));
  // slopes against differences of the same function
  CHECK(double(t.seen(1e-3).innovation - c.innovation) == Approx(1e-3).epsilon(0.05));
  CHECK(double(t.seen(1e-3).onset - c.onset) == Approx(1e-3 * double(c.onset_by_voltage)).epsilon(0.03));
  CHECK(double(t.seen(0.0, 0.0, 1e-6).innovation - c.innovation) ==
        Approx(-1e-6 * double(c.mean_density)).epsilon(0.03));
  const double up = t.seen(0.0, 0.0, 1e-6).onset, down = t.seen(0.0, 0.0, -1e-6).onset;
  CHECK((up - down) / 2.0 == Approx(1e-6 * double(c.onset_by_added)).margin(5e-6));
  // likewise the constants: central differences of a hundredth, of 1e-6 m2/A
  const auto changed = [&](uint32_t j, float by) {
    controller::CellConstants k;
    if (j == controller::constant_cathode) k.cathode = 1.0f + by;
    if (j == controller::constant_anode) k.anode = 1.0f + by;
    if (j == controller::constant_diffusion) k.diffusion = by;
    return t.seen(0.0, 0.0, 0.0, k);
  };
  for (uint32_t j = 0; j < controller::kConstants; ++j) {
    CAPTURE(j);
    const float step = j == controller::constant_diffusion ? 1e-6f : 0.01f;
    const auto more = changed(j, step), less = changed(j, -step);
    CHECK(double(less.innovation - more.innovation) / (2.0 * double(step)) ==
          Approx(double(c.by_constant[j])).epsilon(0.05));
    CHECK(double(more.onset - less.onset) / (2.0 * double(step)) ==
          Approx(double(c.onset_by_constant[j])).epsilon(0.05));
  }
}

TEST_CASE("without current the margin is that of the gas, and nothing is identified") {
  ctl_params p;
  ctl_default_params(&p);
  const auto c = controller::cell_chemistry(p, 1073.15f, 1e5f, 1e5f);
  // equilibrium voltage of x = 0.5: E + RT/2F ln(0.5/0.45) (by hand); there no current flows
  const float rest = 0.98053872f + controller::half_thermal_voltage(1073.15f) * float(std::log(0.5 / 0.45));
  const controller::Column seen = controller::solve_column(p, c, {0.5f, 0.95f, 0.0f}, 0.0f, 0.0f, rest);
  CHECK_FALSE(seen.identified);
  CHECK(seen.density == Approx(0.0).margin(0.5));
  // E_coke at 1 bar and x_CO 0.5: 1.1034 V (table of estimate/thermochemistry.hpp)
  CHECK(seen.onset == Approx(1.1034).margin(2e-4));
}
