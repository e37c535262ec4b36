/// Defaults and ranges of the parameters of the plant controller.
#pragma once

#include "controller/include/plant_controller.h"
#include "controller/math.hpp"

namespace duskline::controller {

constexpr bool plant_within(float x, float lower, float upper) {
  return is_finite(x) && x >= lower && x <= upper;
}

constexpr bool valid_map(const ctl_plant_params& p) {
  bool good = true;
  for (uint32_t k = 0; k < CTL_PLANT_MAP_ROWS; ++k) {
    good = good && plant_within(p.map_speed_share[k], 0.01f, 10.0f) &&
           plant_within(p.map_surge_flow[k], 1e-9f, 1e3f) && plant_within(p.map_ratio[k], 1.0f, 1e4f);
    if (k > 0)
      good = good && p.map_speed_share[k] > p.map_speed_share[k - 1] &&
             p.map_surge_flow[k] > p.map_surge_flow[k - 1] && p.map_ratio[k] > p.map_ratio[k - 1];
  }
  return good;
}

/// Every value finite and inside its range, the map rising, the kind of intake known.
constexpr bool valid_params(const ctl_plant_params& p) {
  bool good = p.intake < CTL_INTAKES && valid_map(p);
#define CTL_CHECK(name, value, unit, lower, upper, meaning, source) \
  good = good && plant_within(p.name, lower, upper);
  CTL_PLANT_PARAMETER_LIST(CTL_CHECK)
#undef CTL_CHECK
  const auto span = [](const ctl_span& s) {
    return s.lower >= -1e9f && s.lower < s.upper && s.upper <= 1e9f;
  };
  for (const ctl_span& s : p.input_span) good = good && span(s);
  for (const ctl_span& s : p.output_span) good = good && span(s);
  return good;
}

constexpr ctl_plant_params default_plant_params() {
  ctl_plant_params p{};
#define CTL_SET(name, value, unit, lower, upper, meaning, source) p.name = value;
  CTL_PLANT_PARAMETER_LIST(CTL_SET)
#undef CTL_SET
#define CTL_SPAN_IN(name, unit, lower, upper, ...) \
  p.input_span[CTL_PLANT_INPUT_##name] = {static_cast<float>(lower), static_cast<float>(upper)};
  CTL_PLANT_INPUT_LIST(CTL_SPAN_IN)
#undef CTL_SPAN_IN
#define CTL_SPAN_OUT(name, unit, lower, upper, ...) \
  p.output_span[CTL_PLANT_OUTPUT_##name] = {static_cast<float>(lower), static_cast<float>(upper)};
  CTL_PLANT_OUTPUT_LIST(CTL_SPAN_OUT)
#undef CTL_SPAN_OUT
  constexpr float kMap[CTL_PLANT_MAP_ROWS][3] = {
#define CTL_ROW(...) {__VA_ARGS__},
      CTL_PLANT_MAP_LIST(CTL_ROW)
#undef CTL_ROW
  };
  for (uint32_t k = 0; k < CTL_PLANT_MAP_ROWS; ++k) {
    p.map_speed_share[k] = kMap[k][0];
    p.map_surge_flow[k] = kMap[k][1];
    p.map_ratio[k] = kMap[k][2];
  }
  return p;
}
static_assert(valid_params(default_plant_params()));

}  // namespace duskline::controller
