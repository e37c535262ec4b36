#include "hil-harness/report/display_units.hpp"

#include "scenarios/reader/units.hpp"

namespace duskline::harness {

bool convert_units(std::vector<double>& values, const std::string& from, const std::string& to) {
  const scenarios::Conversion how = scenarios::conversion(from, to);
  if (how.fit != scenarios::UnitFit::fits) return false;
  for (double& value : values) value = scenarios::convert(value, how);
  return true;
}

std::string unit_label(const std::string& unit) {
  if (unit == "1") return "";
  if (unit == "degC") return "°C";
  if (unit == "percent") return "%";
  if (unit == "umol") return "µmol";
  std::string label;
  for (const char letter : unit) {
    if (letter == '3')
      label += "³";
    else if (letter == '2')
      label += "²";
    else
      label += letter;
  }
  return label;
}

}  // namespace duskline::harness
