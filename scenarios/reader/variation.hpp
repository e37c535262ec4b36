/// A number of a scenario and the range in which a search may move it: one entry of a list `vary`.
///
/// `{set: vortices.1.depth, from: 1 Pa, to: 25 Pa, scale: log}`; `set` is a path as for `--set`.
/// value(x) = from + x (to - from), or from (to/from)^x on a logarithmic scale, for a share x in [0, 1].
/// Valid for numbers that the scenario or its plant holds; the range lies within the limits of its dictionary.
/// A whole number (plant_draw) takes the values from `from` to `to`, all alike.
/// Left out: words, other whole numbers, and what says how a run is calculated (duration, period, record).
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "scenarios/reader/keys.hpp"

namespace duskline::scenarios {

class Decoder;
class Report;
struct PlantFile;
struct Scenario;

enum class Spacing { linear, logarithmic };

struct Variation {
  std::string set;        ///< path
  double from{}, to{};    ///< in `unit`
  Spacing scale{};        ///< how the range is divided evenly
  std::string_view unit;  ///< of the dictionary
  bool whole{};           ///< only whole numbers
};

/// A number that may be varied: its path in the form `commands.2.demand`, and what it may be.
struct NumberPath {
  std::string path;
  Quantity quantity;
  bool whole{};
};

/// Every number of this scenario, and of a plant.
std::vector<NumberPath> number_paths(const Scenario& scenario);

/// `commands[2].demand` as `commands.2.demand`.
std::string dotted(std::string_view path);

/// The list `vary`, whose paths are among `paths`.
void variation_keys(Keys& keys, std::vector<Variation>& variations, std::span<const NumberPath> paths);

/// What is wrong between the keys of the list at `path`, such as `falsify.vary`: from below to, each number once,
/// times of lists that must rise still rise, ranges of plant parameters within those of this plant.
void check_variations(std::span<const Variation> variations, const std::string& path,
                      const Scenario& scenario, const PlantFile& plant, const Decoder& decoder,
                      Report& report);

/// The value at share `x` of the range.
double value_at(const Variation& variation, double x);
/// `path=value` with that value, to the last bit.
std::string setting_at(const Variation& variation, double x);

}  // namespace duskline::scenarios
