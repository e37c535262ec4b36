/// Units as people read them.
#pragma once

#include <string>
#include <vector>

namespace duskline::harness {

/// Converts in place. False, with the values untouched, when the units do not convert into each other.
bool convert_units(std::vector<double>& values, const std::string& from, const std::string& to);

/// "degC" -> "°C", "g/m3" -> "g/m³", "1" -> "".
std::string unit_label(const std::string& unit);

}  // namespace duskline::harness
