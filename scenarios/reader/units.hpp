/// Units of measure: the only place that knows UDUNITS-2.
///
/// y = scale * x + offset, or x / scale where that is the rounder number (g/h -> kg/s divides by 3.6e6).
/// x in the unit given, y in the unit wanted; scales within rounding of a short decimal are taken as that
/// decimal. Validity: units without a time origin or a logarithm. Radians count as a dimension: Hz does not
/// fit rad/s. Source: UDUNITS-2 unit database; a sol is 88775.244 s, the mean solar day of Mars (Allison &
/// McEwen 2000). Left out: `degC` inside compound units means K there, as in UDUNITS-2.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace duskline::scenarios {

enum class UnitFit { fits, unknown, other_dimension };

struct Conversion {
  UnitFit fit{UnitFit::unknown};
  double scale{1.0};
  bool divides{false};              ///< divide by `scale` instead of multiplying
  double offset{0.0};               ///< only thermometer scales have one
  std::optional<int> power_of_ten;  ///< set when the conversion only shifts the decimal point
};

/// From `unit` to `wanted`. An empty unit is the pure number, as is "1".
Conversion conversion(std::string_view unit, std::string_view wanted);

/// The unit of the dimension of `wanted` that was probably meant; empty when none is near.
std::string nearest_unit(std::string_view unit, std::string_view wanted);

double convert(double value, const Conversion& how);
double convert_back(double value, const Conversion& how);

}  // namespace duskline::scenarios
