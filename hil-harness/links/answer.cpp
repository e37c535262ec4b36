#include "hil-harness/links/answer.hpp"

#include <fmt/format.h>

#include <cmath>
#include <limits>

namespace duskline::harness {
namespace {

constexpr float kNotMade = std::numeric_limits<float>::quiet_NaN();

/// The first thing that is wrong.
struct Fault {
  std::string what;

  void number(float x, const char* name) {
    if (what.empty() && !std::isfinite(x)) what = fmt::format("{} is not a number", name);
  }
  void listed(std::uint32_t value, std::uint32_t count, const char* name) {
    if (what.empty() && value >= count) what = fmt::format("{} {} is not in the list", name, value);
  }
};

}  // namespace

#define NUMBER(name, ...) fault.number(out.name, #name);
#define NUMBERS(name, ...) \
  for (const float x : out.name) fault.number(x, #name);

std::string unusable(const ctl_outputs& out) {
  Fault fault;
  CTL_OUTPUT_LIST(NUMBER, NUMBERS)
  fault.listed(out.mode, CTL_MODES, "mode");
  fault.listed(out.limiter, CTL_LIMITERS, "limiter");
  fault.listed(out.law, CTL_LAWS, "law");
  fault.listed(out.response, CTL_RESPONSES, "response");
  fault.listed(out.worst_cell, CTL_CELLS, "worst_cell");
  return fault.what;
}

std::string unusable(const ctl_plant_outputs& out) {
  Fault fault;
  CTL_PLANT_OUTPUT_LIST(NUMBER)
  fault.listed(out.mode, CTL_PLANT_MODES, "mode");
  fault.listed(out.limiter, CTL_PLANT_LIMITERS, "limiter");
  for (const ctl_module_order& o : out.order) {
    fault.number(o.oxygen_demand, "oxygen_demand of an order");
    fault.number(o.feed_opening_max, "feed_opening_max of an order");
    fault.listed(o.requested_mode, CTL_MODES, "requested_mode of an order");
  }
  return fault.what;
}

#undef NUMBER
#undef NUMBERS
#define NOT_MADE(name, unit, meaning) out.name = kNotMade;
#define NONE_MADE(name, count, unit, meaning) \
  for (float& x : out.name) x = kNotMade;

template <>
ctl_outputs no_answer<controller::ModuleController>() {
  ctl_outputs out{};
  CTL_ESTIMATE_LIST(NOT_MADE, NONE_MADE)
  return out;
}

template <>
ctl_plant_outputs no_answer<controller::PlantController>() {
  ctl_plant_outputs out;
  ctl_plant_step(nullptr, nullptr, nullptr, &out);
  CTL_PLANT_ESTIMATE_LIST(NOT_MADE, NONE_MADE)
  return out;
}

#undef NOT_MADE
#undef NONE_MADE

}  // namespace duskline::harness
