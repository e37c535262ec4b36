#include "controller/parameters.hpp"

#include "controller/math.hpp"

namespace duskline::controller {
namespace {

constexpr bool within(float x, float lower, float upper) {
  return is_finite(x) && x >= lower && x <= upper;
}

bool valid_table(const ctl_params& p) {
  if (p.table_rows < 1 || p.table_rows > CTL_TABLE_ROWS) return false;
  for (uint32_t k = 0; k < p.table_rows; ++k) {
    if (!within(p.table_time[k], -1e9f, 1e9f) || !within(p.table_speed[k], 0.0f, 700.0f) ||
        !within(p.table_current[k], 0.0f, 10.0f))
      return false;
    if (k > 0 && !(p.table_time[k] > p.table_time[k - 1])) return false;
  }
  return true;
}

}  // namespace

bool valid_params(const ctl_params& p) {
  bool good = p.law < CTL_LAWS && (p.law != CTL_LAW_FIXED || valid_table(p));
#define CTL_CHECK_PARAMETER(name, value, unit, lower, upper, meaning, source) \
  good = good && within(p.name, lower, upper);
  CTL_PARAMETER_LIST(CTL_CHECK_PARAMETER)
#undef CTL_CHECK_PARAMETER
  return good;
}

}  // namespace duskline::controller

extern "C" void ctl_default_params(ctl_params* params) {
  if (params == nullptr) return;
  *params = ctl_params{};
#define CTL_SET_PARAMETER(name, value, unit, lower, upper, meaning, source) params->name = value;
  CTL_PARAMETER_LIST(CTL_SET_PARAMETER)
#undef CTL_SET_PARAMETER
  params->law = CTL_LAW_CASCADE;
}
