// One cell along its flow at its corners: finite, equal to an independent solution in extended precision,
// continuous, monotone, and with exact derivatives.
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/column_case.hpp"
#include "tests/support/column_reference.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

TEST_CASE("the solver agrees with nested bisection in extended precision at every corner") {
  for (const Corner& corner : corners()) {
    INFO(corner.name);
    const auto exact = solve_exactly(column_of<double>(demo_cell(), corner.at));
    const auto found = settled(corner.at);
    const double scale = std::abs(corner.at.current) / demo_cell().area + 1;
    CHECK(std::abs(found.voltage - static_cast<double>(exact.voltage)) < 1e-8);
    for (std::size_t k = 0; k < kSegments; ++k)
      CHECK(std::abs(found.density[k] - static_cast<double>(exact.density[k])) < 3e-7 * scale);
    const auto safe = solve_column_safely(column_of<double>(demo_cell(), corner.at));
    CHECK(std::abs(safe.voltage - static_cast<double>(exact.voltage)) < 1e-8);
  }
}

TEST_CASE("a single call is good to a microvolt, warm-started or not") {
  // where the electrodes conduct; in the cold the electronic leak carries the current and a part in 1e4 of it
  // is worth 1e-4 * 0.08 V or, near zero volts, 1e-4 of the leak's own 0.2 V
  for (const Corner& corner : corners()) {
    INFO(corner.name);
    const double bound = corner.at.temperature > 650 ? 1e-6 : 2e-5, exact = settled(corner.at).voltage;
    CHECK(std::abs(voltage_once(corner.at) - exact) < bound);
    ColumnCurrents<Pack> warm = cold_start();
    Plain near = corner.at;
    near.current *= 1.01;
    near.temperature += 1;
    solve_columns(column_of<Pack>(demo_cell(), near), warm);
    CHECK(std::abs(voltage_once(corner.at, warm) - exact) < bound);
  }
}

TEST_CASE("all current is accounted for: through the electrodes and through the electronic leak") {
  for (const Corner& corner : corners()) {
    INFO(corner.name);
    const auto in = column_of<double>(demo_cell(), corner.at);
    const auto found = settled(corner.at);
    double sum = in.area * electronic_leak(in.electronic_leak, found.voltage).current;
    for (const double i : found.density) sum += i * in.area / static_cast<double>(kSegments);
    CHECK(sum == Approx(corner.at.current).margin(1e-8 * (1 + std::abs(corner.at.current))));
  }
}

TEST_CASE("the warm start does not matter: from any corner to any other") {
  for (const Corner& from : corners()) {
    ColumnCurrents<Pack> warm = cold_start();
    solve_columns(column_of<Pack>(demo_cell(), from.at), warm);
    for (const Corner& to : corners()) {
      INFO(from.name << " -> " << to.name);
      const auto there = settled(column_of<Pack>(demo_cell(), to.at), warm);
      const double bound = to.at.temperature > 650 ? 1e-8 : 1e-6;
      CHECK(there.voltage == Approx(settled(to.at).voltage).margin(bound));
    }
  }
}

TEST_CASE("a corrupted warm start is recovered from") {
  ColumnCurrents<Pack> bad;
  bad.voltage = Pack(std::nan(""));
  bad.density.fill(Pack(std::nan("")));
  CHECK(settled(column_of<Pack>(demo_cell(), kNominal), bad).voltage ==
        Approx(settled(kNominal).voltage).margin(1e-8));
  bad.voltage = Pack(-50.0);
  bad.density.fill(Pack(1e9));
  CHECK(settled(column_of<Pack>(demo_cell(), kNominal), bad).voltage ==
        Approx(settled(kNominal).voltage).margin(1e-8));
}

TEST_CASE("eight different cells at once give what each gives alone") {
  const auto& all = corners();
  for (std::size_t first : {0u, 6u}) {
    Surroundings<Pack> mixed{};
    for (std::size_t l = 0; l < Pack::kLanes; ++l) {
      const Plain& one = all[first + l].at;
      mixed.temperature.set(l, one.temperature);
      mixed.current.set(l, one.current);
      mixed.flow.set(l, one.flow);
      mixed.co.set(l, one.co);
      mixed.co2.set(l, one.co2);
      mixed.pressure.set(l, one.pressure);
      mixed.oxygen.set(l, one.oxygen);
    }
    const auto in = column_of<Pack>(demo_cell(), mixed);
    for (std::size_t l = 0; l < Pack::kLanes; ++l) {
      INFO(all[first + l].name);
      CHECK(settled(in, cold_start(), l).voltage == Approx(settled(all[first + l].at).voltage).margin(1e-9));
    }
  }
}

TEST_CASE("at the design point a warm start takes two Newton steps at most") {
  ColumnCurrents<Pack> at = cold_start();
  solve_columns(column_of<Pack>(demo_cell(), kNominal), at);
  Plain next = kNominal;
  next.temperature += 0.02;  // what a tick changes
  next.current += 0.002;
  CHECK(solve_columns(column_of<Pack>(demo_cell(), next), at) <= 2);  // change detector
}

TEST_CASE("one Newton step with duals carries the exact derivatives of the solution") {
  // implicit function theorem; reference: central differences of the solution in extended precision
  using D = Dual<6>;
  for (const Corner& corner : corners()) {
    // A cell driven backwards beyond its CO stands on the floor of not_below_trace, which has no slope; no
    // command of the plant leads there.
    if (corner.at.current < 0) continue;
    INFO(corner.name);
    const ExactColumn<> exact = solve_exactly(column_of<double>(demo_cell(), corner.at));
    const double accuracy = 1e-4;
    const std::array<double, 6> v{corner.at.temperature, corner.at.current,  corner.at.flow,
                                  corner.at.co,          corner.at.pressure, corner.at.oxygen};
    Surroundings<D> a{D(v[0], 0),       D(v[1], 1), D(v[2], 2), D(v[3], 3),
                      D(corner.at.co2), D(v[4], 4), D(v[5], 5)};
    ColumnCurrents<D> at;
    at.voltage = static_cast<double>(exact.voltage);
    for (std::size_t k = 0; k < kSegments; ++k) at.density[k] = static_cast<double>(exact.density[k]);
    const auto step = newton_step(column_of<D>(demo_cell(), a), at);
    for (std::size_t j = 0; j < 6; ++j) {
      INFO("input " << j);
      const double size = std::abs(v[j]), h = size > 0 ? 1e-5 * size : 1e-12;
      const double size_or_one = size > 0 ? size : 1;
      const auto moved = [&](double by) {
        Plain p = corner.at;
        double* field[6] = {&p.temperature, &p.current, &p.flow, &p.co, &p.pressure, &p.oxygen};
        *field[j] += by;
        return solve_exactly(column_of<double>(demo_cell(), p));
      };
      const auto up = moved(h), down = moved(-h);
      const double dv = static_cast<double>((up.voltage - down.voltage) / (2 * h));
      CHECK(step.voltage.slope[j] == Approx(dv).epsilon(accuracy).margin(1e-6 / size_or_one));
      for (std::size_t k = 0; k < kSegments; k += 5) {
        const double di = static_cast<double>((up.density[k] - down.density[k]) / (2 * h));
        const double scale = std::abs(corner.at.current) / demo_cell().area + 1;
        CHECK(step.density[k].slope[j] ==
              Approx(di).epsilon(accuracy).margin(accuracy * scale / size_or_one));
      }
    }
  }
}
