// Plants drawn from the ranges of a plant file: within them, correlated as the table says, the same again.
// Source of the expected correlation: rank correlation of two normal scores of correlation r is 6/pi asin(r/2), K.
// Pearson (1907).
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <vector>

#include "scenarios/reader/draw.hpp"
#include "scenarios/reader/variation.hpp"

using namespace duskline;
using namespace duskline::scenarios;

namespace {

PlantFile bench(const std::vector<std::string>& settings = {}) {
  auto read = read_plant(DUSKLINE_SOURCE_DIR "/plant-model/plants/bench.yaml", settings);
  REQUIRE(read);
  return *read.value;
}

bool held(std::string_view path) {
  return std::any_of(std::begin(kHeld), std::end(kHeld),
                     [path](const Held& row) { return row.path == path; });
}

/// Spearman's coefficient.
double rank_correlation(const std::vector<double>& x, const std::vector<double>& y) {
  const auto n = static_cast<double>(x.size());
  double sum = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    double rank = 0.0;
    for (std::size_t k = 0; k < x.size(); ++k) rank += (x[k] < x[i]) - (y[k] < y[i]);
    sum += rank * rank;
  }
  return 1.0 - 6.0 * sum / (n * (n * n - 1.0));
}

}  // namespace

TEST_CASE("each parameter with a range is drawn within it, by its own draw, and the same again") {
  const PlantFile plant = bench();
  const auto table = plant::parameter_table();
  plant::PlantParameters file = plant.parameters, none = drawn_plant(plant, 0);
  std::vector<bool> moved(table.size());
  for (std::uint64_t draw = 1; draw <= 100; ++draw) {
    plant::PlantParameters p = drawn_plant(plant, draw), again = drawn_plant(plant, draw);
    for (std::size_t i = 0; i < table.size(); ++i) {
      INFO(table[i].path << ", draw " << draw);
      const auto values = table[i].get(p), same = table[i].get(again), meant = table[i].get(file);
      // flow shares are divided by their mean, which lies between the ends of their range
      const double give =
          table[i].path == "stack.flow_share" ? plant.notes[i].upper - plant.notes[i].lower : 0.0;
      for (std::size_t k = 0; k < values.size(); ++k) {
        CHECK(values[k] >= plant.notes[i].lower - give);
        CHECK(values[k] <= plant.notes[i].upper + give);
        CHECK(values[k] == same[k]);
        moved[i] = moved[i] || values[k] != meant[k];
      }
    }
  }
  for (std::size_t i = 0; i < table.size(); ++i) {
    INFO(table[i].path);
    CHECK(moved[i] == (!held(table[i].path) && plant.notes[i].lower < plant.notes[i].upper));
    for (std::size_t k = 0; k < table[i].get(file).size(); ++k)
      CHECK(table[i].get(none)[k] == table[i].get(file)[k]);
  }
}

TEST_CASE("a value that is set is not drawn") {
  const PlantFile plant = bench({"cell.diffusion_length=200 um"});
  for (std::uint64_t draw = 1; draw <= 5; ++draw) {
    CHECK(drawn_plant(plant, draw).cell.diffusion_length == Approx(200e-6));
    CHECK(drawn_plant(plant, draw).cell.diffusivity != plant.parameters.cell.diffusivity);
  }
  // to what it is: held all the same
  const double file = bench().parameters.cell.overpotential_share;
  const PlantFile same = bench({fmt::format("cell.overpotential_share={}", file)});
  for (std::uint64_t draw = 1; draw <= 5; ++draw)
    CHECK(drawn_plant(same, draw).cell.overpotential_share == file);
}

TEST_CASE("parameters of a group go with each other as the table says, others do not") {
  const PlantFile plant = bench();
  for (const auto& row : kCorrelations) {
    INFO(row.path);
    CHECK(find_parameter(row.path) != nullptr);
  }
  for (const auto& row : kHeld) CHECK(find_parameter(row.path) != nullptr);
  std::vector<double> cathode, anode, length, diffusivity, inner, outer;
  for (std::uint64_t draw = 1; draw <= 1000; ++draw) {
    const auto p = drawn_plant(plant, draw);
    cathode.push_back(p.cell.cathode_exchange), anode.push_back(p.cell.anode_exchange);
    length.push_back(p.cell.diffusion_length), diffusivity.push_back(p.cell.diffusivity);
    inner.push_back(p.heat.inner_conductance), outer.push_back(p.heat.outer_conductance);
  }
  const auto expected = [](double a, double b) { return 6.0 / std::numbers::pi * std::asin(0.5 * a * b); };
  const double error = 3.0 / std::sqrt(1000.0);  // three standard errors of a rank correlation near 0
  CHECK(rank_correlation(cathode, anode) == Approx(expected(0.6, 0.6)).margin(error));
  CHECK(rank_correlation(length, diffusivity) == Approx(expected(-0.6, 0.6)).margin(error));
  CHECK(rank_correlation(inner, outer) == Approx(expected(0.8, 0.8)).margin(error));
  CHECK(rank_correlation(cathode, inner) == Approx(0.0).margin(error));
}

TEST_CASE("a search takes whole plants, each as often") {
  Variation plants{
      .set = "plant_draw", .from = 1, .to = 4, .scale = Spacing::linear, .unit = "1", .whole = true};
  std::size_t count[5]{};
  for (int k = 0; k < 100; ++k) ++count[static_cast<std::size_t>(value_at(plants, (k + 0.5) / 100.0))];
  for (std::size_t plant = 1; plant <= 4; ++plant) CHECK(count[plant] == 25);
  CHECK(value_at(plants, 1.0) == 4.0);
  CHECK(setting_at(plants, 0.5) == "plant_draw=3");
}

TEST_CASE(
    "a draw of the structure takes each law of a part as often, the same again, and leaves what the file "
    "chooses") {
  const PlantFile plant = bench();
  constexpr int kDraws = 3000;
  for (const plant::VariantPart& part : plant::kVariantParts) {
    INFO(part.name);
    std::vector<int> count(static_cast<std::size_t>(plant::variants_of(part.choice)));
    for (int draw = 1; draw <= kDraws; ++draw)
      ++count[static_cast<std::size_t>(drawn_plant(plant, 0, static_cast<std::uint64_t>(draw)).variants.*
                                       part.choice)];
    const double share = 1.0 / static_cast<double>(count.size());
    // five standard deviations of a binomial count
    for (const int n : count)
      CHECK(n == Approx(kDraws * share).margin(5.0 * std::sqrt(kDraws * share * (1.0 - share))));
  }
  const auto once = drawn_plant(plant, 4, 9), again = drawn_plant(plant, 4, 9);
  for (const plant::VariantPart& part : plant::kVariantParts)
    CHECK(once.variants.*part.choice == again.variants.*part.choice);
  CHECK(once.cell.cathode_exchange == drawn_plant(plant, 4).cell.cathode_exchange);
  const PlantFile chosen = bench({"variants.drift=contact"});
  CHECK(chosen.parameters.variants.drift == plant::kContactLoss);
  for (std::uint64_t draw = 1; draw <= 20; ++draw)
    CHECK(drawn_plant(chosen, 0, draw).variants.drift == plant::kContactLoss);
  auto written = write_plant(chosen);
  CHECK(written.find("drift: contact") != std::string::npos);
}

TEST_CASE("a law that does not exist is named with those that do") {
  const auto read = read_plant(DUSKLINE_SOURCE_DIR "/plant-model/plants/bench.yaml",
                               std::vector<std::string>{"variants.transport=rib"});
  REQUIRE_FALSE(read);
  CHECK(read.problems.front().message.find("ribs") != std::string::npos);
}
