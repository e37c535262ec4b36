/// A small plot as SVG text: points and lines with ticks at round numbers.
///
/// Colours are CSS variables of the report's page, so that light, dark and print follow it; shapes and dashes tell
/// series apart without colour. Same data, same bytes. Left out: a logarithmic axis
/// upwards, several axes.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "scenarios/reader/text.hpp"

namespace duskline::harness {

using scenarios::escaped_text;

enum class Mark { dot, ring, diamond, square, line, dashes };

struct Series {
  std::string label;
  std::string colour;  ///< CSS, such as var(--line1)
  Mark mark{};
  std::vector<double> x, y;
  std::vector<std::string> notes;  ///< of each point, shown by the pointer; may be empty
};

struct Plot {
  std::string title, x_label, y_label;  ///< labels with units
  std::vector<Series> series;           ///< later ones are drawn on top
  bool log_x = false;                   ///< x above zero, drawn over its logarithm
};

std::string svg_of(const Plot& plot);

/// Ticks at 1, 2 or 5 times a power of ten, about `wanted` of them.
std::vector<double> ticks(double low, double high, int wanted);

}  // namespace duskline::harness
