// The plant's exact matrices against central differences of the plant itself, and against one tick of simulation.
//
// What counts is what a column changes when its state or command moves by its natural size, relative to the largest such
// change in the row, as in jacobian_test.cpp; the bound there, 1e-5 (differences know no more), is the bound here.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "hil-harness/linearize/state_space.hpp"
#include "hil-harness/loop/instruments.hpp"
#include "plant-model/linear.hpp"
#include "tests/support/plant.hpp"

using namespace duskline::plant;
using namespace duskline::tests;
using duskline::harness::Channels;
using duskline::harness::Snapshot;
using duskline::harness::true_values;

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

const std::size_t kOutputs = kTruths + reported_table().size();

VectorXd natural_sizes(const State& x) {
  VectorXd sizes(static_cast<Index>(kImplicit));
  for (std::size_t i = 0; i < kImplicit; ++i) sizes[static_cast<Index>(i)] = natural_size(x, i);
  return sizes;
}

/// In the order of the commands: the bench has no feed valve, and its size moves nothing.
const VectorXd kCommandSizes = (VectorXd(7) << 100.0, 1.0, 50.0, 0.5, 0.5, 50.0, 50.0).finished();

double& command(Commands& u, Index k) {
  return values_of<CommandsOf>(u)[static_cast<std::size_t>(k)];
}

/// All outputs in the order of LinearPlant, from what instruments and reports get.
VectorXd seen(Plant plant, const State& x) {
  settled_rates(plant, x);
  Snapshot s;
  State rates;
  plant.observe(x, rates, s.plant);
  s.state = &x;
  s.ambient = plant.boundary().ambient;
  Channels truth;
  true_values(s, truth);
  const PlantOutputs& o = s.plant;
  VectorXd y(static_cast<Index>(kOutputs));
  Index n = 0;
  for (const double t : truth) y[n++] = t;
  for (const double margin : o.cells.margin) y[n++] = margin;
  for (const double value :
       {o.min_margin, o.min_nickel_ratio, o.oxygen_made, o.oxygen_delivered, o.utilisation, o.intake_flow,
        o.exhaust_flow, o.recycle_flow, o.inlet_gas[CO], o.suction_pressure, o.feed_temperature,
        o.discharge_temperature, o.compressor_power, o.heater_power})
    y[n++] = value;
  REQUIRE(n == y.size());
  return y;
}

/// Largest difference of two matrices, by the measure in the head of this file; what is below the floor of its row is
/// the round-off of terms that cancel.
double apart(const MatrixXd& exact, const MatrixXd& differences, const VectorXd& sizes,
             const VectorXd& floor) {
  double worst = 0.0;
  Index row = 0;
  for (Index r = 0; r < exact.rows(); ++r) {
    const double largest = (exact.row(r).cwiseAbs() * sizes.asDiagonal()).maxCoeff();
    const double off = ((exact.row(r) - differences.row(r)).cwiseAbs() * sizes.asDiagonal()).maxCoeff();
    const double share = off == 0.0 ? 0.0 : off / std::max(largest, floor[r]);
    if (share <= worst) continue;
    worst = share;
    row = r;
  }
  if (worst > 1e-5) UNSCOPED_INFO("worst in row " << row);
  return worst;
}

/// A millionth of the largest effect that a state has on each row.
VectorXd floor_of(const MatrixXd& by_state, const VectorXd& sizes) {
  return 1e-6 * (by_state.cwiseAbs() * sizes.asDiagonal()).rowwise().maxCoeff();
}

/// Differences of rates and outputs with respect to states, then commands.
struct Differences {
  MatrixXd rates, outputs;
};

Differences differences(const Plant& plant, const State& x, bool by_command) {
  const Index columns = by_command ? kCommandSizes.size() : static_cast<Index>(kImplicit);
  Differences d{MatrixXd(static_cast<Index>(kImplicit), columns),
                MatrixXd(static_cast<Index>(kOutputs), columns)};
  const VectorXd sizes = by_command ? kCommandSizes : natural_sizes(x);
  for (Index c = 0; c < columns; ++c) {
    const double h = 3e-6 * sizes[c];
    Plant p[2] = {plant, plant};
    State y[2] = {x, x};
    VectorXd rates[2], outputs[2];
    for (int side = 0; side < 2; ++side) {
      const double by = side == 0 ? h : -h;
      Commands u = plant.commands();
      if (by_command)
        command(u, c) += by;
      else
        y[side][static_cast<std::size_t>(c)] += by;
      p[side].set_commands(u);
      const State f = settled_rates(p[side], y[side]);
      rates[side] = Eigen::Map<const VectorXd>(f.data(), static_cast<Index>(kImplicit));
      outputs[side] = seen(p[side], y[side]);
    }
    d.rates.col(c) = (rates[0] - rates[1]) / (2.0 * h);
    d.outputs.col(c) = (outputs[0] - outputs[1]) / (2.0 * h);
  }
  return d;
}

/// Off the equality of all pressures, where the flow through an aperture changes its gas and so its slope.
State off_balance(State x) {
  for (std::size_t i = 0; i < kSpecies; ++i) {
    x[at::plenum + i] *= 1.03;
    x[at::cathode + i] *= 1.02;
    x[at::anode + i] *= 1.01;
  }
  return x;
}

}  // namespace

TEST_CASE("A, B, C and D are the slopes of the plant: cold, in standby, in production") {
  for (Situation& s : situations()) {
    if (s.name != "cold" && s.name != "hot standby" && s.name != "production") continue;
    INFO(s.name);
    // rates of carbon and oxide are constants to the duals: they move in minutes and hours
    auto& slow = s.plant.parameters().degradation;
    slow.carbon_rate = 0;
    slow.gasification_time = slow.oxidation_time = slow.reduction_time = 1e30;
    const State x = off_balance(s.x);
    const LinearPlant exact = linearise(s.plant, x);
    const VectorXd y = seen(s.plant, x);
    for (Index k = 0; k < y.size(); ++k) {
      INFO("output " << k);
      CHECK(exact.outputs[k] == Approx(y[k]).epsilon(1e-9).margin(1e-15));
    }
    DenseMatrix jacobian(kImplicit + kQuadratures, kImplicit);
    s.plant.jacobian(x, 0.0, jacobian);
    MatrixXd same(exact.a.rows(), exact.a.cols());
    for (std::size_t r = 0; r < kImplicit; ++r)
      for (std::size_t k = 0; k < kImplicit; ++k)
        same(static_cast<Index>(r), static_cast<Index>(k)) = jacobian(r, k);
    CHECK(apart(exact.a, same, natural_sizes(x), floor_of(exact.a, natural_sizes(x))) <
          1e-6);  // the same duals as the integrator's

    const VectorXd sizes = natural_sizes(x);
    const bool frozen =
        s.name == "cold";  // no current passes a cold electrolyte: no difference of it says anything
    Differences by_state = differences(s.plant, x, false), by_command = differences(s.plant, x, true);
    MatrixXd a = exact.a, c = exact.c;
    if (frozen) {
      // and below 600 degC coke margin and nickel ratio mean nothing (cell_limits.hpp)
      const Index margins = static_cast<Index>(kTruths);
      c.middleRows(margins, kCells + 2).setZero();
      by_state.outputs.middleRows(margins, kCells + 2).setZero();
      const auto current = static_cast<Index>(at::current);
      for (MatrixXd* m : {&a, &c, &by_state.rates, &by_state.outputs}) m->col(current).setZero();
    }
    CHECK(apart(a, by_state.rates, sizes, floor_of(a, sizes)) < 1e-5);
    CHECK(apart(exact.b, by_command.rates, kCommandSizes, floor_of(a, sizes)) < 1e-5);
    CHECK(apart(c, by_state.outputs, sizes, floor_of(c, sizes)) < 1e-5);
    CHECK(apart(exact.d, by_command.outputs, kCommandSizes, floor_of(c, sizes)) < 1e-5);
  }
}

TEST_CASE("A tick of the sampled model is a tick of the simulated plant") {
  // the integrator at 1e-9 against exp([A B; 0 0] h), both from the same small move; bound: the curvature of the
  // plant over the move (1e-3 of each natural size) is what is left, and it is symmetric to first order
  Plant plant = bench_plant(rated());
  const State x = production_state(plant);
  const LinearPlant exact = linearise(plant, x);
  duskline::harness::StateSpace s;
  s.a = exact.a;
  s.b = exact.b;
  s.c = exact.c;
  s.d = exact.d;
  const auto sampled = duskline::harness::discretised(s, 1.0);
  const VectorXd sizes = natural_sizes(x);
  const auto advanced = [&](const State& from, const Commands& u) {
    Plant p = plant;
    p.set_commands(u);
    State y = from;
    auto integrator = plant_integrator(1e-6, 1e-9);
    REQUIRE(integrator.advance(p, y, 0.0, 1.0).ok());
    return VectorXd(Eigen::Map<const VectorXd>(y.data(), static_cast<Index>(kImplicit)));
  };
  MatrixXd states(sampled.a.rows(), 6), commands(sampled.a.rows(), kCommandSizes.size());
  const Index moved[6] = {0,
                          6,
                          static_cast<Index>(at::speed),
                          static_cast<Index>(at::current),
                          static_cast<Index>(at::stack + 7),
                          static_cast<Index>(at::plenum_wall)};
  VectorXd moved_sizes(6);
  for (Index k = 0; k < 6; ++k) {
    const double h = 1e-3 * sizes[moved[k]];
    moved_sizes[k] = sizes[moved[k]];
    State up = x, down = x;
    up[static_cast<std::size_t>(moved[k])] += h;
    down[static_cast<std::size_t>(moved[k])] -= h;
    states.col(k) = (advanced(up, plant.commands()) - advanced(down, plant.commands())) / (2 * h);
  }
  for (Index k = 0; k < kCommandSizes.size(); ++k) {
    Commands more = plant.commands(), less = plant.commands();
    const double by = 1e-2 * kCommandSizes[k];
    command(more, k) += by;
    command(less, k) -= by;
    commands.col(k) = (advanced(x, more) - advanced(x, less)) / (2 * by);
  }
  MatrixXd expected(sampled.a.rows(), 6);
  for (Index k = 0; k < 6; ++k) expected.col(k) = sampled.a.col(moved[k]);
  CHECK(apart(expected, states, moved_sizes, 1e-4 * sizes) < 2e-3);
  CHECK(apart(sampled.b, commands, kCommandSizes, 1e-4 * sizes) < 2e-3);
}
