#include "hil-harness/links/answer.hpp"

#include <fmt/format.h>

#include <cmath>
#include <limits>

namespace duskline::harness {

std::string unusable(const ctl_outputs& out) {
  std::string what;
  const auto number = [&what](float x, const char* name) {
    if (what.empty() && !std::isfinite(x)) what = fmt::format("{} is not a number", name);
  };
  const auto listed = [&what](std::uint32_t value, std::uint32_t count, const char* name) {
    if (what.empty() && value >= count) what = fmt::format("{} {} is not in the list", name, value);
  };
#define NUMBER(name, ...) number(out.name, #name);
#define NUMBERS(name, ...) \
  for (const float x : out.name) number(x, #name);
  CTL_OUTPUT_LIST(NUMBER, NUMBERS)
#undef NUMBER
#undef NUMBERS
  listed(out.mode, CTL_MODES, "mode");
  listed(out.limiter, CTL_LIMITERS, "limiter");
  listed(out.law, CTL_LAWS, "law");
  listed(out.response, CTL_RESPONSES, "response");
  listed(out.worst_cell, CTL_CELLS, "worst_cell");
  return what;
}

ctl_outputs no_estimates() {
  constexpr float kNotMade = std::numeric_limits<float>::quiet_NaN();
  ctl_outputs out{};
#define NOT_MADE(name, unit, meaning) out.name = kNotMade;
#define NONE_MADE(name, count, unit, meaning) \
  for (float& x : out.name) x = kNotMade;
  CTL_ESTIMATE_LIST(NOT_MADE, NONE_MADE)
#undef NOT_MADE
#undef NONE_MADE
  return out;
}

}  // namespace duskline::harness
