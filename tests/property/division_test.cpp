// Coarser and finer division of the cells along their flow: convergence to the continuous cell, balances, the Jacobian.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "tests/support/column_case.hpp"
#include "tests/support/column_reference.hpp"
#include "tests/support/modules.hpp"
#include "tests/support/variants.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

constexpr int kAllDivisions[] = {kCoarseDivision, kUsualDivision, kFineDivision};

struct CellAt {
  double voltage, margin;
};

/// Solved without the code under test where `reference`.
template <std::size_t N>
CellAt cell_of(const Plain& a, bool reference) {
  const auto in = column_of<double, N>(demo_cell(), a);
  ColumnCurrents<double, N> x;
  if (reference) {
    const ExactColumn<N> exact = solve_exactly(in);
    x.voltage = static_cast<double>(exact.voltage);
    std::copy(exact.density.begin(), exact.density.end(), x.density.begin());
  } else if constexpr (N <= kFineSegments) {
    x = solve_column_safely(in);
    ColumnCurrents<Pack, N> fast;
    fast.voltage = Pack(0.9);
    fast.density.fill(Pack(0.0));
    for (int n = 0; n < 3; ++n) solve_columns(column_of<Pack, N>(demo_cell(), a), fast);
    CHECK(fast.voltage[0] == Approx(x.voltage).margin(1e-8));
  }
  const auto m = margins(in, x);
  return {x.voltage, *std::min_element(m.begin(), m.end())};
}

/// A plant of `modules`, all other parts under their usual laws or the last of the list, at work for ten minutes.
struct Divided {
  Plant plant;
  State x;
  IntegratorOn<State> integrator;

  Divided(int division, std::size_t modules, bool others)
      : plant(parameters(division, modules, others), modules),
        integrator(module_integrator(plant.layout(), modules > 1)) {
    plant.set_boundary(afternoon(), 0.0);
    plant.set_commands(rated());
    const PlantParameters one = parameters(division, 1, others);
    const State x1 = producing_state(one, afternoon(), 1073.15, 0.3);
    const Layout single = Network(1, division).layout();
    for (const StateInfo& info : plant.layout().table()) {
      const std::string name =
          info.name.starts_with("module[") ? info.name.substr(info.name.find("].") + 2) : info.name;
      const bool shared = name.starts_with("plenum.") || name == "filter.dust";
      x.push_back(x1[single.index(name)] * (shared ? static_cast<double>(modules) : 1.0));
    }
    advance(600);
  }
  static PlantParameters parameters(int division, std::size_t modules, bool others) {
    PlantParameters p = scaled(modules);
    if (others) p.variants = all_variants().back().variants;
    p.variants.division = division;
    return p;
  }
  void advance(int seconds) {
    for (int n = 0; n < seconds; ++n) REQUIRE(integrator.advance(plant, x, n, n + 1).ok());
  }
};

}  // namespace

TEST_CASE("the cell converges to many segments with the first power of their length") {
  // an implicit march is of first order: errors against 192 segments, solved in extended precision, of 3, 6 and 12 stand
  // as 1/3 - 1/192 : 1/6 - 1/192 : 1/12 - 1/192 = 4.20 : 2.06 : 1
  Plain hard = kNominal, hot = kNominal;
  hard.flow *= 0.85;  // 76 % utilisation
  hot.temperature += 40;
  for (const Plain& a : {kNominal, hard, hot}) {
    const CellAt exact = cell_of<192>(a, true), coarse = cell_of<kCoarseSegments>(a, false),
                 usual = cell_of<kSegments>(a, false), fine = cell_of<kFineSegments>(a, false);
    CAPTURE(a.temperature, a.flow, exact.margin, coarse.margin, usual.margin, fine.margin, exact.voltage,
            coarse.voltage, usual.voltage, fine.voltage);
    for (const auto of : {&CellAt::voltage, &CellAt::margin}) {
      CHECK((coarse.*of - exact.*of) / (usual.*of - exact.*of) == Approx(2.04).margin(0.2));
      CHECK((usual.*of - exact.*of) / (fine.*of - exact.*of) == Approx(2.06).margin(0.2));
    }
    CHECK(coarse.margin <
          usual.margin);  // a coarse march is cautious: its last segment has the gas of its outlet
  }
}

TEST_CASE("three divisions of the plant at work stand in a row") {
  PlantOutputs out[3];
  for (std::size_t i = 0; i < 3; ++i) {
    Divided d(kAllDivisions[i], 1, false);
    d.advance(3000);
    out[i] = outputs(d.plant, d.x);
    CHECK(out[i].cells.worst_segment[out[i].worst_cell] == 3 * (1 << i) - 1);  // the outlet: 2, 5, 11
  }
  const auto shown = [&out](double PlantOutputs::*of) {
    // first order: each halving takes half of what is left; the temperatures along the flow move with it
    CAPTURE(out[0].*of, out[1].*of, out[2].*of);
    CHECK((out[1].*of - out[0].*of) / (out[2].*of - out[1].*of) == Approx(2.0).margin(0.4));
  };
  shown(&PlantOutputs::min_margin);
  shown(&PlantOutputs::stack_voltage);
  for (const PlantOutputs& o : out) {
    CHECK(o.zone_temperature[2] == Approx(out[1].zone_temperature[2]).margin(2.0));  // K, of 1073: same heat
    CHECK(o.oxygen_made == Approx(out[1].oxygen_made).epsilon(1e-4));                // Faraday: same current
  }
}

TEST_CASE("atoms and energy balance in every division, with one module and with two, under every other law") {
  for (const int division : kAllDivisions)
    for (const std::size_t modules : {1u, 2u}) {
      INFO("division " << division << ", modules " << modules);
      Divided d(division, modules, modules == 2);
      const Layout& layout = d.plant.layout();
      const std::size_t q = layout.first_quadrature();
      const Holdings before = d.plant.holdings(d.x);
      const State start = d.x;
      d.advance(300);
      const Holdings after = d.plant.holdings(d.x);
      for (std::size_t e = 0; e < kElements; ++e)
        CHECK(std::abs(after.atoms[e] - before.atoms[e] - d.x[q + at::atoms + e] + start[q + at::atoms + e]) <
              1e-9 * after.atoms[e]);
      CHECK(std::abs(after.energy - before.energy - d.x[q + at::energy] + start[q + at::energy]) <
            1e-6 * d.x[q + at::bus_energy]);
    }
}

TEST_CASE("the exact Jacobian equals central differences in every division") {
  for (const int division : {kCoarseDivision, kFineDivision}) {
    Divided d(division, 1, true);
    auto& slow = d.plant.parameters().degradation;  // its rates are constants to the Jacobian
    slow.carbon_rate = 0;
    slow.gasification_time = slow.oxidation_time = slow.reduction_time = 1e30;
    const std::size_t columns = d.plant.layout().division().implicit,
                      rows = d.plant.layout().division().solved();
    const auto table = d.plant.layout().table();
    // by how much an entry moves in minutes, as in jacobian_test.cpp
    const auto size = [&](std::size_t i) {
      const std::string& unit = table[i].unit;
      if (unit != "mol") return unit == "A" ? 1.0 : unit == "W" ? 50.0 : unit == "1" ? 0.5 : 100.0;
      const std::string store = table[i].name.substr(0, table[i].name.rfind('.'));
      double all = 0.0;
      for (std::size_t k = 0; k < columns; ++k)
        if (table[k].unit == "mol" && table[k].name.starts_with(store)) all += d.x[k];
      return 0.1 * all;
    };
    DenseMatrix exact(rows, columns), difference(rows, columns);
    settled_rates(d.plant, d.x);
    d.plant.jacobian(d.x, 0.0, exact);
    for (std::size_t c = 0; c < columns; ++c) {
      State up = d.x, down = d.x;
      up[c] += 3e-6 * size(c);
      down[c] -= 3e-6 * size(c);
      const State a = settled_rates(d.plant, up), b = settled_rates(d.plant, down);
      for (std::size_t r = 0; r < rows; ++r) difference(r, c) = (a[r] - b[r]) / (up[c] - down[c]);
    }
    for (std::size_t r = 0; r < rows; ++r) {
      double row = 1e-300, worst = 0.0;
      for (std::size_t c = 0; c < columns; ++c) {
        row = std::max(row, std::abs(exact(r, c)) * size(c));
        worst = std::max(worst, std::abs(exact(r, c) - difference(r, c)) * size(c));
      }
      INFO("division " << division << ", " << table[r].name);
      CHECK(1e5 * worst / row < 1);
    }
  }
}
