/// Reader of measured weather: a CSV file with named columns becomes a series, or a list of what is wrong.
/// Time axis: `time [s]` | `sol` | `sol`, `local_time [h]` | `ls [deg]`, `local_time [h]` | `local_time [h]`
/// An empty cell or NaN is a gap, filled and noted; `#` starts a comment; names, units: weather_columns.hpp.
/// Valid for regular files up to 64 MB, 4 million rows and 4096 bytes a line; whatever is odd becomes a problem with its place, never a crash.
/// Source: RFC 4180 for the cells.
/// Left out: separators other than the comma, line breaks in cells, calendar dates.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "plant-model/environment/weather_series.hpp"

namespace duskline::plant {

struct WeatherProblem {
  std::string file;
  std::size_t line{}, column{};  ///< counted from 1, column in characters
  std::string name;              ///< of the column of the table; "file" where none is meant
  std::string message;
  std::string text() const;  ///< file:line:column: name: message
};

struct WeatherFile {
  std::optional<WeatherSeries> series;   ///< empty if and only if there are problems
  std::vector<WeatherProblem> problems;  ///< at most 100
  std::vector<std::string> notes;        ///< gaps that were filled, columns that were not used
};

WeatherFile read_weather_file(const std::string& path);
/// The same from memory; `file` is the name used in messages.
WeatherFile parse_weather(std::string_view text, std::string_view file);

}  // namespace duskline::plant
