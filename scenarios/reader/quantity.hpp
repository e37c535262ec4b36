/// Text with a unit to a number and back: `0.7 bar`, `800 degC`, `10 g/h`, `30 %`, `2 h 30 min`, `1 sol`.
///
/// The number is checked for form, unit, dimension and range, and converted once.
/// `unit` is the unit of the number in the program (SI), `lower` and `upper` are in it.
/// Validity: decimal numbers only; several parts only for durations, from the largest unit to the smallest; local times in
/// h, min or as `15:30`; `degC` only where the whole range lies above 100 K, because below that the number is a
/// difference of temperatures, which is given in K.
/// Source: UDUNITS-2 for the units. Left out: uncertainties, expressions.
#pragma once

#include <string>
#include <string_view>

namespace duskline::scenarios {

struct Quantity {
  std::string_view unit{"1"};
  double lower{};
  double upper{};
  bool single{};  ///< held as float: the range is checked after rounding
};

struct Reading {
  double value{};
  std::string error;  ///< why there is no value; empty when there is one
};

Reading read_quantity(std::string_view text, const Quantity& quantity);

/// The unit of a quantity as it is written; empty: none, or a duration of several parts.
std::string unit_text(std::string_view text);

/// A whole number from 0 up, in decimal digits.
struct WholeReading {
  unsigned long long value{};
  std::string error;
};
WholeReading read_whole(std::string_view text, unsigned long long lower, unsigned long long upper);

/// The fewest digits that read back to the same value, and the unit.
std::string write_quantity(double value, std::string_view unit);
std::string write_quantity(float value, std::string_view unit);

/// `[5e-06, 0.0001] m3`, for messages and tables: six digits.
std::string write_range(double lower, double upper, std::string_view unit);

}  // namespace duskline::scenarios
