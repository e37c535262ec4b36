/// Numbers in files of JSON, which knows no infinity: "inf" and "-inf" stand for it, null for what is no number.
#pragma once

#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

namespace duskline::harness {

inline nlohmann::ordered_json json_number(double v) {
  if (std::isinf(v)) return v > 0.0 ? "inf" : "-inf";
  return std::isnan(v) ? nlohmann::ordered_json(nullptr) : nlohmann::ordered_json(v);
}

/// Not a number for whatever is none.
inline double number_in(const nlohmann::ordered_json& j) {
  constexpr double kEndless = std::numeric_limits<double>::infinity();
  if (j.is_string()) return j == "inf" ? kEndless : j == "-inf" ? -kEndless : std::nan("");
  return j.is_number() ? j.get<double>() : std::nan("");
}

}  // namespace duskline::harness
