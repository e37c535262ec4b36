// Plants of several modules behind shared headers: the bordered Jacobian and its solution against the dense ones, balances,
// and what a plant of equal modules has in common with a plant of one.
#include <algorithm>
#include <array>
#include <bit>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdint>

#include "plant-model/integrate/bordered.hpp"
#include "tests/support/modules.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

/// A plant of n modules at the states of `s`, each moved on its own.
struct Modules {
  Plant plant;
  State x;

  Modules(const Situation& s, std::size_t n, Golden& next) : plant(scaled(n), n) {
    plant.set_boundary(afternoon(), 0.0);
    plant.set_commands(s.plant.commands());
    x = repeated(s.x, plant.layout(), n);
    const Division& division = plant.layout().division();
    std::fill_n(x.begin() + static_cast<std::ptrdiff_t>(division.implicit), division.coupled, 0.0);
    for (std::size_t i = 0; i < division.implicit; ++i) x[i] *= next.between(0.99, 1.01);
  }
};

}  // namespace

TEST_CASE("the bordered Jacobian of several modules is the dense one") {
  Golden next;
  for (const Situation& s : situations()) {
    INFO(s.name);
    Modules m(s, 3, next);
    const Division& division = m.plant.layout().division();
    REQUIRE(division.modules == std::vector<std::size_t>(3, at::module_end));
    CHECK(1e10 * largest_block_difference(m.plant, m.x, whole_jacobian(m.plant, m.x)) <
          1);  // sums in another order
  }
}

TEST_CASE("a bordered system is solved as its dense matrix is") {
  Golden next;
  const Division division{23, 3, 0, {7, 5, 6}};  // five entries are shared
  BorderedJacobian j(division);
  const auto draw = [&next](DenseMatrix& part) {
    for (std::size_t i = 0; i < part.rows() * part.columns(); ++i) part.data()[i] = next.between(-1, 1);
  };
  for (auto& m : j.modules)
    for (DenseMatrix* part : {&m.own, &m.by_border, &m.to_border}) draw(*part);
  draw(j.border);
  const double s = 0.3;
  BorderedSolution solution;
  REQUIRE(solution.make(j, s));
  std::vector<double> right(26), k(26);
  for (double& r : right) r = next.between(-1, 1);
  BorderedSolution::Room room;
  solution.solve(right.data(), k.data(), room);
  // (I - s J) k = right, where quadratures stand below and drive nothing
  const DenseMatrix whole = j.whole();
  for (std::size_t row = 0; row < 26; ++row) {
    double left = k[row];
    for (std::size_t c = 0; c < 23; ++c) left -= s * whole(row, c) * k[c];
    CHECK(left == Approx(right[row]).margin(1e-12));
  }
  solution.solve(right.data(), right.data(), room);  // into its own right-hand side
  CHECK(right == k);
}

TEST_CASE("a module that cannot be inverted is found out") {
  BorderedJacobian j(Division{5, 0, 0, {2, 2}});
  j.modules[1].own(0, 0) = j.modules[1].own(1, 1) = 2.0;  // 1 - 0.5 x 2 = 0
  BorderedSolution solution;
  CHECK_FALSE(solution.make(j, 0.5));
  CHECK(solution.make(j, 0.25));
}

TEST_CASE("steps of several modules by blocks and by one matrix agree, and keep atoms and energy") {
  Golden next;
  for (const Situation& s : situations()) {
    if (s.name != "production" && s.name != "hot standby") continue;
    INFO(s.name);
    Modules one(s, 3, next);
    Modules other = one;
    auto blocks = module_integrator(one.plant.layout(), true),
         dense = module_integrator(one.plant.layout(), false);
    const Holdings before = one.plant.holdings(one.x);
    for (int tick = 0; tick < 600; ++tick) {
      REQUIRE(blocks.advance(one.plant, one.x, tick, tick + 1).ok());
      REQUIRE(dense.advance(other.plant, other.x, tick, tick + 1).ok());
    }
    const Layout& layout = one.plant.layout();
    const auto table = layout.table();
    for (std::size_t i = 0; i < one.x.size(); ++i) {
      INFO(table[i].name);
      CHECK(one.x[i] == Approx(other.x[i]).epsilon(1e-6).margin(1e-3 * table[i].tolerance));
    }
    const Holdings after = one.plant.holdings(one.x);
    const std::size_t q = layout.first_quadrature();
    for (std::size_t e = 0; e < kElements; ++e)
      CHECK(std::abs(after.atoms[e] - before.atoms[e] - one.x[q + at::atoms + e]) < 1e-9 * after.atoms[e]);
    CHECK(std::abs(after.energy - before.energy - one.x[q + at::energy]) < 1e-6 * one.x[q + at::bus_energy]);
  }
}

TEST_CASE("equal modules behind a compressor as many times as large do what one does") {
  Plant one = bench_plant(rated());
  const State x = production_state(one);
  State y = x;
  Plant three(scaled(3), 3);
  three.set_boundary(afternoon(), 0.0);
  three.set_commands(rated());
  State all = repeated(x, three.layout(), 3);
  auto single = module_integrator(one.layout(), true), many = module_integrator(three.layout(), true);
  for (int tick = 0; tick < 600; ++tick) {
    REQUIRE(single.advance(one, y, tick, tick + 1).ok());
    REQUIRE(many.advance(three, all, tick, tick + 1).ok());
  }
  const PlantOutputs a = outputs(one, y), b = outputs(three, all);
  CHECK(b.stack_voltage == Approx(a.stack_voltage).epsilon(1e-6));
  CHECK(b.plenum_pressure == Approx(a.plenum_pressure).epsilon(1e-5));
  CHECK(b.bus_power == Approx(3 * a.bus_power).epsilon(1e-4));
  for (std::size_t i = 0; i < at::module_end; ++i)
    for (std::size_t k = 1; k < 3; ++k) CHECK(all[k * at::module_end + i] == Approx(all[i]).epsilon(1e-9));
}

TEST_CASE("every output is filled by a part") {
  static_assert(sizeof(PlantOutputs) % sizeof(std::uint64_t) == 0);
  constexpr std::size_t kWords = sizeof(PlantOutputs) / sizeof(std::uint64_t);
  constexpr std::uint64_t kUntouched = ~std::uint64_t{0};
  std::array<std::uint64_t, kWords> words;
  words.fill(kUntouched);
  auto out = std::bit_cast<PlantOutputs>(words);
  Plant plant = bench_plant(rated());
  const State x = production_state(plant);
  State f;
  plant.observe(x, f, out);
  words = std::bit_cast<std::array<std::uint64_t, kWords>>(out);
  for (std::size_t i = 0; i < kWords; ++i) {
    INFO("word " << i + 1 << " of PlantOutputs");
    CHECK(words[i] != kUntouched);
  }
}

TEST_CASE("a name that no state has is refused, and modules have names of their own") {
  const Layout layout = Network(2).layout();
  CHECK(layout.index("module[2].cathode.CO2") == at::module_end);
  CHECK_THROWS_AS(layout.index("cathode.CO2"), std::out_of_range);
}
