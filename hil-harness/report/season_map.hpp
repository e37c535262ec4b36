/// A map of hours of the sol over sols, as SVG text.
///
/// What it is   a rectangle for each stretch of equal cells of an hour; the legend names the classes that occur, with
///              their share of the cells
/// Validity     the colours of the classes differ without red and without green cones (a test of the palette)
/// Left out     a cell that is unknown is left blank
#pragma once

#include <string>
#include <vector>

namespace duskline::harness {

struct MapClass {
  std::string label;
  std::string colour;  ///< CSS
  double opacity = 1.0;
};

struct SeasonMap {
  std::string title;
  std::vector<MapClass> classes;
  std::vector<double> sols;                       ///< number of each column
  std::vector<double> seasons;                    ///< deg at each column
  std::vector<std::vector<int>> cells;            ///< for each column, the class of each hour; -1: unknown
  std::vector<std::vector<std::string>> notes{};  ///< more words for a cell; may be empty
};

std::string svg_of(const SeasonMap& map);

}  // namespace duskline::harness
