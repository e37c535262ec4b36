#include "scenarios/reader/draw.hpp"

#include <algorithm>
#include <cmath>
#include <string>

#include "plant-model/random/noise.hpp"

namespace duskline::scenarios {
namespace {

bool by_factors(const ParameterNote& note) {
  return note.lower > 0.0 && note.upper >= kByFactors * note.lower;
}

double within(const ParameterNote& note, double z) {
  const double share = 0.5 * std::erfc(-z / std::sqrt(2.0));
  const double value = by_factors(note) ? note.lower * std::pow(note.upper / note.lower, share)
                                        : note.lower + share * (note.upper - note.lower);
  return std::clamp(value, note.lower, note.upper);
}

}  // namespace

double drawn_normal(std::uint64_t draw, std::string_view name, std::int64_t item) {
  return plant::NoiseStream(draw, "plant-draw/" + std::string(name)).normals(item)[0];
}

bool is_drawn(const PlantFile& plant, std::size_t i) {
  const ParameterNote& note = plant.notes[i];
  const std::string_view path = plant::parameter_table()[i].path;
  return note.lower < note.upper && !note.source.starts_with("set to ") &&
         std::none_of(std::begin(kHeld), std::end(kHeld), [&](const Held& row) { return row.path == path; });
}

double mean_square_above_lower(const ParameterNote& note) {
  const double a = note.lower, b = note.upper, span = b - a;
  if (!by_factors(note)) return span * span / 3.0;
  return ((b + a) / 2.0 - 2.0 * a) * span / std::log(b / a) + a * a;
}

plant::PlantParameters drawn_plant(const PlantFile& plant, const NormalSource& normal) {
  plant::PlantParameters p = plant.parameters;
  const auto table = plant::parameter_table();
  if (plant.notes.size() != table.size()) return p;
  for (std::size_t i = 0; i < table.size(); ++i) {
    if (!is_drawn(plant, i)) continue;
    const std::string_view path = table[i].path;
    const auto row = std::find_if(std::begin(kCorrelations), std::end(kCorrelations),
                                  [path](const Correlation& r) { return r.path == path; });
    const double weight = row == std::end(kCorrelations) ? 0.0 : row->weight;
    const double common = weight == 0.0 ? 0.0 : weight * normal(row->group, 0);
    std::int64_t item = 0;
    for (double& value : table[i].get(p))
      value = within(plant.notes[i], common + std::sqrt(1.0 - weight * weight) * normal(path, item++));
  }
  double mean = 0.0;
  for (const double share : p.stack.flow_share) mean += share / static_cast<double>(plant::kCells);
  for (double& share : p.stack.flow_share) share /= mean;
  return p;
}

plant::PlantParameters drawn_plant(const PlantFile& plant, std::uint64_t draw) {
  if (draw == 0) return plant.parameters;
  return drawn_plant(
      plant, [draw](std::string_view name, std::int64_t item) { return drawn_normal(draw, name, item); });
}

plant::Variants drawn_structure(const plant::Variants& variants, std::uint64_t draw) {
  plant::Variants drawn = variants;
  if (draw == 0) return drawn;
  for (const plant::VariantPart& part : plant::kVariantParts) {
    if (variants.*part.choice != 0) continue;
    const int count = plant::variants_of(part.choice);
    const double share = plant::NoiseStream(draw, "structure-draw/" + std::string(part.name)).uniform(0);
    drawn.*part.choice = std::min(count - 1, static_cast<int>(share * count));
  }
  return drawn;
}

plant::PlantParameters drawn_plant(const PlantFile& plant, std::uint64_t draw, std::uint64_t structure) {
  plant::PlantParameters p = drawn_plant(plant, draw);
  p.variants = drawn_structure(p.variants, structure);
  return p;
}

}  // namespace duskline::scenarios
