#include "hil-harness/links/answer.hpp"

#include <fmt/format.h>

#include <cmath>
#include <limits>

namespace duskline::harness {
namespace {

constexpr float kNotMade = std::numeric_limits<float>::quiet_NaN();

/// The first thing that is wrong.
struct OutputCheck {
  std::string what;

  void number(float x, const char* name) {
    if (what.empty() && !std::isfinite(x)) what = fmt::format("{} is not a number", name);
  }
  void listed(std::uint32_t value, std::uint32_t count, const char* name) {
    if (what.empty() && value >= count) what = fmt::format("{} {} is not in the list", name, value);
  }
};

}  // namespace

#define NUMBER(name, ...) check.number(out.name, #name);
#define NUMBERS(name, ...) \
  for (const float x : out.name) check.number(x, #name);

std::string unusable(const ctl_outputs& out) {
  OutputCheck check;
  CTL_OUTPUT_LIST(NUMBER, NUMBERS)
  check.listed(out.mode, CTL_MODES, "mode");
  check.listed(out.limiter, CTL_LIMITERS, "limiter");
  check.listed(out.law, CTL_LAWS, "law");
  check.listed(out.response, CTL_RESPONSES, "response");
  check.listed(out.worst_cell, CTL_CELLS, "worst_cell");
  return check.what;
}

std::string unusable(const ctl_plant_outputs& out) {
  OutputCheck check;
  CTL_PLANT_OUTPUT_LIST(NUMBER)
  check.listed(out.mode, CTL_PLANT_MODES, "mode");
  check.listed(out.limiter, CTL_PLANT_LIMITERS, "limiter");
  for (const ctl_module_order& o : out.order) {
    check.number(o.oxygen_demand, "oxygen_demand of an order");
    check.number(o.feed_opening_max, "feed_opening_max of an order");
    if (check.what.empty() && std::isinf(o.power_ceiling))
      check.what = "power_ceiling of an order is infinite";
    check.listed(o.requested_mode, CTL_MODES, "requested_mode of an order");
  }
  return check.what;
}

#undef NUMBER
#undef NUMBERS
#define NOT_MADE(name, unit, meaning) out.name = kNotMade;
#define NONE_MADE(name, count, unit, meaning) \
  for (float& x : out.name) x = kNotMade;

template <>
ctl_outputs unwritten_outputs<controller::ModuleController>() {
  ctl_outputs out{};
  CTL_ESTIMATE_LIST(NOT_MADE, NONE_MADE)
  return out;
}

template <>
ctl_plant_outputs unwritten_outputs<controller::PlantController>() {
  ctl_plant_outputs out = controller::PlantController::safe_outputs();
  CTL_PLANT_ESTIMATE_LIST(NOT_MADE, NONE_MADE)
  return out;
}

#undef NOT_MADE
#undef NONE_MADE

}  // namespace duskline::harness
