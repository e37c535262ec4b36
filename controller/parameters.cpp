#include "controller/parameters.hpp"

#include "controller/math.hpp"

namespace duskline::controller {
namespace {

constexpr bool within(float x, float lower, float upper) {
  return is_finite(x) && x >= lower && x <= upper;
}

constexpr bool valid_span(const ctl_span& s) {
  return s.lower >= -1e9f && s.lower < s.upper && s.upper <= 1e9f;
}

constexpr bool valid_sheet(const ctl_input_sheet& s) {
  return valid_span(s.span) && within(s.noise, 0.0f, 1e9f) && within(s.zero, 0.0f, 1e9f) &&
         within(s.gain, 0.0f, 1.0f) && within(s.jump, 0.0f, 1e9f);
}

constexpr ctl_span span_of(double lower, double upper) {
  return {static_cast<float>(lower), static_cast<float>(upper)};
}

constexpr ctl_input_sheet sheet_of(double lower, double upper, const ctl_data_sheet& s) {
  return {span_of(lower, upper), static_cast<float>(s.noise), static_cast<float>(s.expected_zero),
          static_cast<float>(s.gain), static_cast<float>(s.jump)};
}

bool valid_table(const ctl_params& p) {
  if (p.table_rows < 1 || p.table_rows > CTL_TABLE_ROWS) return false;
  for (uint32_t k = 0; k < p.table_rows; ++k) {
    if (!within(p.table_time[k], -1e9f, 1e9f) || !within(p.table_speed[k], 0.0f, 1e4f) ||
        !within(p.table_current[k], 0.0f, 1e4f))
      return false;
    if (k > 0 && !(p.table_time[k] > p.table_time[k - 1])) return false;
  }
  return true;
}

#define CTL_LOWER(name, value, unit, lower, upper, meaning, source) lower,
#define CTL_UPPER(name, value, unit, lower, upper, meaning, source) upper,
constexpr float kLower[] = {CTL_PARAMETER_LIST(CTL_LOWER)};  // finite, so that what is in range is finite
constexpr float kUpper[] = {CTL_PARAMETER_LIST(CTL_UPPER)};
#undef CTL_LOWER
#undef CTL_UPPER
constexpr uint32_t kParameters = sizeof kLower / sizeof *kLower;
static_assert(offsetof(ctl_params, period) == 0 && offsetof(ctl_params, law) == kParameters * sizeof(float));

}  // namespace

bool valid_params(const ctl_params& p) {
  // all parameters of the list are floats, one after the other: one loop over arrays instead of as many branches
  const float* value = &p.period;
  uint32_t outside = 0;
  for (uint32_t n = 0; n < kParameters; ++n)
    outside |= (value[n] >= kLower[n] ? 0u : 1u) | (value[n] <= kUpper[n] ? 0u : 1u);
  for (const ctl_input_sheet& s : p.input) outside |= valid_sheet(s) ? 0u : 1u;
  for (const ctl_span& s : p.output_span) outside |= valid_span(s) ? 0u : 1u;
  return outside == 0 && p.law < CTL_LAWS && p.feed_device < CTL_FEED_DEVICES &&
         (p.law != CTL_LAW_FIXED || valid_table(p));
}

}  // namespace duskline::controller

extern "C" void ctl_default_params(ctl_params* params) {
  using namespace duskline::controller;
  if (params == nullptr) return;
  *params = ctl_params{};
#define CTL_SET_PARAMETER(name, value, unit, lower, upper, meaning, source) params->name = value;
  CTL_PARAMETER_LIST(CTL_SET_PARAMETER)
#undef CTL_SET_PARAMETER
#define CTL_SET_SHEET(name, unit, lower, upper, first, sheet, ...) \
  params->input[CTL_INPUT_##name] = sheet_of(lower, upper, sheet);
#define CTL_SET_SHEETS(name, count, unit, lower, upper, first, sheet, ...) \
  params->input[CTL_INPUT_##name] = sheet_of(lower, upper, sheet);
  CTL_INPUT_LIST(CTL_SET_SHEET, CTL_SET_SHEETS)
#undef CTL_SET_SHEET
#undef CTL_SET_SHEETS
#define CTL_SET_SPAN(name, unit, lower, upper, ...) \
  params->output_span[CTL_OUTPUT_##name] = span_of(lower, upper);
#define CTL_SET_SPANS(name, count, unit, lower, upper, ...) \
  params->output_span[CTL_OUTPUT_##name] = span_of(lower, upper);
  CTL_OUTPUT_LIST(CTL_SET_SPAN, CTL_SET_SPANS)
#undef CTL_SET_SPAN
#undef CTL_SET_SPANS
  params->law = CTL_LAW_CASCADE;
}
