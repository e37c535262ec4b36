/// The fields of the state, for those who look into it from outside.
///
/// What it is   one row a field, in the order of the memory; kind and count follow from the type of the field
/// Symbols      units as in the parts
/// Validity     the compiler checks that the rows leave no gap and end where the memory ends
#include "controller/memory.hpp"

namespace duskline::controller {
namespace {

using Word = uint32_t;
static_assert(sizeof(Word) == sizeof(float));

template <class T>
struct Kind;
template <>
struct Kind<float> {
  static constexpr uint32_t value = CTL_FIELD_NUMBER, size = sizeof(float);
};
template <>
struct Kind<uint32_t> {
  static constexpr uint32_t value = CTL_FIELD_WORD, size = sizeof(uint32_t);
};
template <>
struct Kind<uint8_t> {
  static constexpr uint32_t value = CTL_FIELD_BYTE, size = 1;
};
template <>
struct Kind<uint16_t> : Kind<uint8_t> {};  // as bytes: nobody asks for its value
// structs of floats alone are numbers one after the other
template <>
struct Kind<Cusum> : Kind<float> {};
template <>
struct Kind<RelationMemory> : Kind<float> {};
template <>
struct Kind<Applied> : Kind<float> {};
template <class T, uint32_t N>
struct Kind<T[N]> : Kind<T> {};

// clang-format off
#define FIELD(name, member, unit, moves)                                                        \
  {name, unit, static_cast<uint32_t>(__builtin_offsetof(Memory, member)),                        \
   static_cast<uint32_t>(sizeof(Memory::member) / Kind<__typeof__(Memory::member)>::size), \
   Kind<__typeof__(Memory::member)>::value, moves}
#define F(member, unit, moves) FIELD(#member, member, unit, moves)
#define PI(name, member, unit) \
  FIELD(name ".integral", member.integral, unit, 1), FIELD(name ".output", member.output, unit, 1), \
  FIELD(name ".error", member.error, "", 1)
#define KALMAN(name, member, moves) \
  FIELD(name ".x", member.x, "", moves), FIELD(name ".p", member.p, "", 0), \
  FIELD(name ".outliers", member.outliers, "1", 0), FIELD(name ".in_a_row", member.in_a_row, "1", 0)
#define CELL(number, index) KALMAN("coke.resistance.cell[" #number "]", coke.resistance.cell[index], 0)

constexpr ctl_field kFields[] = {
    F(signals.good, "", 0), F(signals.age, "1", 0),
    F(thermal.slow, "K", 1), F(thermal.seen, "1", 0),
    F(mode.mode, "1", 0), F(mode.tripped, "1", 0), F(mode.request_at_trip, "1", 0), F(mode.last_request, "1", 0),
    F(mode.reset, "1", 0), F(mode.latched, "1", 0), F(mode.production_dropouts, "1", 0), F(mode.restarts, "1", 0),
    F(mode.wait, "s", 0), F(mode.since_dropout, "s", 0), F(mode.since_restart, "s", 0), F(mode.counts, "1", 0),
    F(gas.inlet_co, "1", 1), F(gas.analyser, "1", 1), F(gas.recycle_factor, "1", 1),
    F(gas.held, "mol", 1),
    PI("law.flow", law.flow, "kg/s"), PI("law.margin", law.margin, "A"), PI("law.voltage", law.voltage, "A"),
    PI("law.power", law.power, "A"),
    F(law.flow_reference, "kg/s", 1), F(law.utilisation_relief, "1", 1), F(law.feed_setpoint, "kg/s", 1),
    F(law.saturated, "1", 1),
    F(heat.setpoint, "K", 1), F(heat.rate, "K/s", 1), F(heat.other_load, "W", 1),
    PI("heat.stack", heat.stack, "W"), PI("heat.end[1]", heat.end[0], "W"), PI("heat.end[2]", heat.end[1], "W"),
    PI("heat.preheater", heat.preheater, "W"), F(heat.power, "W", 1), F(heat.output, "W", 1),
    PI("recycle", recycle, "1"),
    F(alarms.state, "1", 0), F(alarms.raw, "1", 0), F(alarms.active, "1", 0), F(alarms.held, "s", 0),
    F(alarms.shelved, "s", 0), F(alarms.again, "s", 0), F(alarms.ignored, "1", 0),
    F(detection.relations, "", 0), F(detection.residuals.sum, "1", 0), F(detection.residuals.baseline, "1", 0),
    F(detection.residuals.counted, "1", 0), F(detection.residuals.smooth, "1", 0), F(detection.residuals.as_built, "", 0),
    F(detection.residuals.commissioned, "s", 0), F(detection.residuals.built_at, "A", 0), F(detection.residuals.built_leak, "1", 0), F(detection.applied, "", 0),
    F(detection.estimate, "", 0), F(detection.before, "", 0), F(detection.same, "1", 0),
    F(detection.clean, "1", 0), F(detection.usable, "1", 0), F(detection.moving, "1", 0),
    F(detection.suspect, "1", 0), F(detection.diagnosed, "1", 0), F(detection.response, "1", 0),
    F(detection.quiet, "1", 0), F(detection.stood, "1", 0), F(detection.thermal_time, "1", 0), F(detection.exchanged, "1", 0),
    F(detection.unexplained, "1", 0), F(detection.open, "1", 0), F(detection.stalled, "1", 0),
    F(detection.unrecycled, "1", 0), F(detection.misread, "1", 0), F(detection.witnesses, "1", 0),
    F(detection.balance, "", 0), F(detection.away, "1", 0),
    F(detection.voltage_slow, "A", 0), F(detection.sagged, "1", 0), F(detection.density_slow, "kg/m3", 0), F(detection.local_time, "1", 0),
    F(detection.shortfall, "V", 0), F(detection.started, "s", 0), F(detection.request, "1", 0), F(detection.added_resistance, "ohm m2", 0),
    F(calibration.correction, "", 0), F(calibration.average, "", 0), F(calibration.time, "s", 0),
    F(calibration.rest_time, "s", 0), F(calibration.level, "K", 0), F(calibration.efficiency, "1", 0),
    F(calibration.corrected, "1", 0), F(calibration.taken_back, "1", 0),
    KALMAN("density.filter", density.filter, 1), F(density.gas_held, "mol", 1), F(density.since_station, "s", 1),
    F(density.started, "1", 0),
    KALMAN("coke.resistance.mean", coke.resistance.mean, 0),
    CELL(1, 0), CELL(2, 1), CELL(3, 2), CELL(4, 3), CELL(5, 4), CELL(6, 5), CELL(7, 6), CELL(8, 7),
    F(coke.resistance.residual, "V", 0), F(coke.resistance.at_density, "A/m2", 0),
    F(coke.resistance.at_share, "V", 0), F(coke.resistance.at_constant, "", 0),
    F(coke.resistance.by_temperature, "V/K", 0), F(coke.resistance.steady_current, "A", 0), F(coke.resistance.steady_time, "s", 0),
    F(coke.resistance.since, "s", 0), F(coke.resistance.slot, "1", 0), F(coke.resistance.learnt, "1", 0), F(coke.sigma, "V", 0), F(coke.blind, "s", 0), F(coke.unexplained, "V", 0), F(coke.turn, "1", 0),
    F(health.loading, "1", 0), F(health.wear, "1", 0), F(consistency.mean, "1", 0), F(consistency.count, "1", 0),
    F(feed_flow, "kg/s", 1), F(applied_feed, "1", 1), F(recent_feed, "1", 0), F(applied_current, "A", 1),
    F(applied_opening, "1", 1), F(current_trim, "1", 0), F(one_cell_time, "s", 0), F(safe_time, "s", 0), F(flow_integral_time, "s", 0), F(margin_kept, "V", 0),
    F(law_in_force, "1", 0), F(selected, "1", 0), F(warm, "1", 0), F(started, "1", 0), F(derated, "1", 1),
    F(restarted, "s", 0), F(trims, "1", 0), F(locked_out, "1", 0), F(diagnosed, "1", 0), F(response, "1", 0),
};
// clang-format on
#undef FIELD
#undef F
#undef PI
#undef KALMAN
#undef CELL

constexpr bool covers_the_memory() {
  uint32_t at = 0;
  for (const ctl_field& f : kFields) {
    if (f.offset != at) return false;
    at += f.count * (f.kind == CTL_FIELD_BYTE ? 1u : 4u);
  }
  return at == sizeof(Memory);
}
static_assert(covers_the_memory(), "one row a field of Memory, in its order, without gaps");

}  // namespace
}  // namespace duskline::controller

extern "C" uint32_t ctl_state_layout(const ctl_field** fields) {
  using namespace duskline::controller;
  if (fields != nullptr) *fields = kFields;
  return sizeof kFields / sizeof *kFields;
}
