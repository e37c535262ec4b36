#include "hil-harness/tune/space.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "scenarios/reader/controller_sizes.hpp"
#include "scenarios/reader/scenario_keys.hpp"

namespace duskline::harness {
namespace {

/// The parameter of a gain among those of one of the controllers; null: it is one of the other.
template <class Parameters>
auto parameter_of(const scenarios::Variation& gain, std::string_view controller, Parameters all) {
  const auto found = std::ranges::find(all, name_of(gain), [](const auto& p) { return p.name; });
  const bool own = gain.set.starts_with(controller) && found != all.end();
  return own ? &*found : nullptr;
}
auto module_parameter(const scenarios::Variation& gain) {
  return parameter_of(gain, "controller.", scenarios::controller_parameters());
}
auto shared_parameter(const scenarios::Variation& gain) {
  return parameter_of(gain, "plant_controller.", scenarios::plant_controller_parameters());
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

Point point_of(std::span<const scenarios::Variation> gains, std::span<const double> values) {
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
                scenarios::Scenario& scenario) {
  for (std::size_t i = 0; i < gains.size(); ++i) {
    const auto value = static_cast<float>(values[i]);
    if (const auto* p = module_parameter(gains[i])) scenario.controller.*p->member = value;
    if (const auto* p = shared_parameter(gains[i])) scenario.plant_controller.*p->member = value;
  }
}

std::vector<double> values_of(std::span<const scenarios::Variation> gains, const scenarios::Case& c) {
  const ctl_plant_params shared = scenarios::plant_controller_of(c.plant.parameters, c.scenario);
  std::vector<double> values;
  for (const auto& gain : gains) {
    float value = 0.0F;
    if (const auto* p = module_parameter(gain)) value = c.scenario.controller.*p->member;
    if (const auto* p = shared_parameter(gain)) value = shared.*p->member;
    values.push_back(static_cast<double>(value));
  }
  return values;
}

}  // namespace duskline::harness
