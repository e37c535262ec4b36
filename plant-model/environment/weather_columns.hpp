/// The columns that a weather file may have: accepted names, units and ranges, in one table.
/// SI value = offset + factor * cell; the range is checked in SI.
/// A header cell is `name [unit]`, or a name whose last words are a unit (p_mb); letter case does not matter.
/// Valid for the names listed; any other column is skipped and noted.
/// Source: ranges wider than anything met by landers (650-1100 Pa, air 150-290 K).
/// Left out: unit prefixes other than the listed ones.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace duskline::plant::weather {

/// Time axes come first; the rest follow WeatherQuantity.
enum class Field : std::size_t {
  time,
  sol,
  local_time,
  temperature,
  coldest,
  warmest,
  pressure,
  wind_speed,
  optical_depth,
  longitude,
  co2,
  co,
  o2,
  n2,
  ar,
  count
};
inline constexpr std::size_t kFields = static_cast<std::size_t>(Field::count);
inline constexpr std::size_t kTimeFields = 3;

struct Column {
  Field field{};
  std::string name;              ///< as the file calls it
  double factor{1.0}, offset{};  ///< to SI
};

struct HeaderCell {
  std::optional<Column> column;  ///< set when the column is one of ours and its unit is known
  std::string problem;           ///< set when it is ours but cannot be used
};

HeaderCell read_header_cell(std::string_view cell);

/// Range of a field in SI, and how to say it.
struct Range {
  double least, most;
  std::string_view text;
};
Range range_of(Field field);
std::string_view name_of(Field field);

}  // namespace duskline::plant::weather
