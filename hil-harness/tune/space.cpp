#include "hil-harness/tune/space.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "scenarios/reader/scenario_keys.hpp"

namespace duskline::harness {
namespace {

const scenarios::ControllerParameter* parameter_of(const scenarios::Variation& gain) {
  const std::string_view name = name_of(gain);
  for (const auto& p : scenarios::controller_parameters())
    if (p.name == name) return &p;
  return nullptr;
}

double four_digits(double value) {
  return std::strtod(fmt::format("{:.4g}", value).c_str(), nullptr);
}

}  // namespace

std::string_view name_of(const scenarios::Variation& gain) {
  const std::size_t dot = gain.set.rfind('.');
  return dot == std::string::npos ? std::string_view(gain.set) : std::string_view(gain.set).substr(dot + 1);
}

std::vector<double> values_at(std::span<const scenarios::Variation> gains, const Point& point) {
  std::vector<double> values;
  for (std::size_t i = 0; i < gains.size(); ++i) {
    const double v = four_digits(scenarios::value_at(gains[i], point[i]));
    values.push_back(std::clamp(v, gains[i].from, gains[i].to));
  }
  return values;
}

Point point_of(std::span<const scenarios::Variation> gains, const ctl_params& params) {
  const std::vector<double> values = values_of(gains, params);
  Point point;
  for (std::size_t i = 0; i < gains.size(); ++i) {
    const auto& g = gains[i];
    const double v = std::clamp(values[i], g.from, g.to);
    point.push_back(g.scale == scenarios::Spacing::logarithmic
                        ? std::log(v / g.from) / std::log(g.to / g.from)
                        : (v - g.from) / (g.to - g.from));
  }
  return point;
}

void put_values(std::span<const scenarios::Variation> gains, std::span<const double> values,
                ctl_params& params) {
  for (std::size_t i = 0; i < gains.size(); ++i)
    if (const auto* p = parameter_of(gains[i])) params.*p->member = static_cast<float>(values[i]);
}

std::vector<double> values_of(std::span<const scenarios::Variation> gains, const ctl_params& params) {
  std::vector<double> values;
  for (const auto& gain : gains) {
    const auto* p = parameter_of(gain);
    values.push_back(p == nullptr ? 0.0 : static_cast<double>(params.*p->member));
  }
  return values;
}

}  // namespace duskline::harness
