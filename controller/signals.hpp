/// Measurements as the controller uses them: checked, held over short gaps, marked when lost.
///
/// What it is   the instrument list as an array; what is not finite or outside its span is missing; a missing
///              value keeps the last good one for sensor_hold, then it is lost
/// Symbols      units as in CTL_INPUT_LIST
/// Validity     any bit pattern
/// Source       spans: ctl_params, by default those of CTL_INPUT_LIST
/// Left out     fault detection between sensors
#pragma once

#include "controller/include/controller.h"
#include "controller/math.hpp"

namespace duskline::controller {

// One number per measurement: in_feed_flow; arrays take consecutive numbers from in_cell_voltage on.
#define CTL_NUMBER_SCALAR(name, ...) in_##name,
#define CTL_NUMBER_ARRAY(name, count, ...) in_##name, in_##name##_last = in_##name + count - 1,
enum Input : uint32_t { CTL_INPUT_LIST(CTL_NUMBER_SCALAR, CTL_NUMBER_ARRAY) kInputs };
#undef CTL_NUMBER_SCALAR
#undef CTL_NUMBER_ARRAY
static_assert(kInputs <= 64, "one bit of a 64-bit mask per measurement");

/// What the list says of each row besides its sheet.
struct InputRow {
  float first;         // value until the first reading
  bool reaches_lower;  // the plant itself goes to the lower end of the span
};
constexpr bool reaches_lower(const ctl_data_sheet& sheet) {
  return sheet.reaches_lower != 0;
}
#define CTL_ROW_SCALAR(name, unit, lower, upper, first, sheet, ...) \
  {static_cast<float>(first), reaches_lower(sheet)},
#define CTL_ROW_ARRAY(name, count, unit, lower, upper, first, sheet, ...) \
  {static_cast<float>(first), reaches_lower(sheet)},
inline constexpr InputRow kInputRows[] = {CTL_INPUT_LIST(CTL_ROW_SCALAR, CTL_ROW_ARRAY)};
#undef CTL_ROW_SCALAR
#undef CTL_ROW_ARRAY
struct RowNumbers {
  uint8_t of[kInputs];
};
constexpr RowNumbers row_numbers() {
  RowNumbers r{};
#define CTL_ROW_SCALAR(name, ...) r.of[in_##name] = CTL_INPUT_##name;
#define CTL_ROW_ARRAY(name, count, ...) \
  for (uint32_t k = 0; k < count; ++k) r.of[in_##name + k] = CTL_INPUT_##name;
  CTL_INPUT_LIST(CTL_ROW_SCALAR, CTL_ROW_ARRAY)
#undef CTL_ROW_SCALAR
#undef CTL_ROW_ARRAY
  return r;
}
inline constexpr RowNumbers kRowNumbers = row_numbers();
constexpr const InputRow& row_of(uint32_t input) {
  return kInputRows[kRowNumbers.of[input]];
}
constexpr const ctl_input_sheet& sheet_of(const ctl_params& p, uint32_t input) {
  return p.input[kRowNumbers.of[input]];
}

constexpr uint64_t bit_of(uint32_t input) {
  return uint64_t{1} << input;
}

/// The plant has this instrument.
static_assert(CTL_INSTRUMENTS <= 32, "one bit of a word a row");
constexpr bool fitted(const ctl_params& p, uint32_t input) {
  return (p.not_fitted >> kRowNumbers.of[input] & 1u) == 0;
}

struct SignalMemory {
  float good[kInputs];    // last value inside its span
  uint32_t age[kInputs];  // ticks since then
};

struct Signals {
  float value[kInputs];
  uint64_t lost;    // bit set: missing for longer than sensor_hold, the value is only a placeholder
  uint64_t absent;  // bit set: the plant has no such instrument; its bit in lost is set too

  float operator[](uint32_t input) const { return value[input]; }
  bool has(uint32_t input) const { return (lost & bit_of(input)) == 0; }
};

/// How many of `count` consecutive measurements are lost.
constexpr uint32_t lost_among(const Signals& y, uint32_t first, uint32_t count) {
  uint32_t lost = 0;
  for (uint32_t i = first; i < first + count; ++i) lost += y.has(i) ? 0u : 1u;
  return lost;
}

constexpr uint32_t kNeverSeen = 0x00ffffffu;

constexpr SignalMemory initial_signals() {
  SignalMemory m{};
  for (uint32_t i = 0; i < kInputs; ++i) {
    m.good[i] = row_of(i).first;
    m.age[i] = kNeverSeen;
  }
  return m;
}

inline Signals read_signals(SignalMemory& memory, const ctl_params& p, const ctl_inputs& in) {
  Signals y{};
  const auto accept = [&](uint32_t i, float raw) {
    const ctl_span& span = sheet_of(p, i).span;
    if (!fitted(p, i)) {
      y.value[i] = memory.good[i];
      y.lost |= bit_of(i), y.absent |= bit_of(i);
      return;
    }
    if (is_finite(raw) && raw >= span.lower && raw <= span.upper) {
      memory.good[i] = raw;
      memory.age[i] = 0;
    } else if (memory.age[i] < kNeverSeen) {
      memory.age[i] += 1;
    }
    y.value[i] = memory.good[i];
    if (static_cast<float>(memory.age[i]) * p.period > p.sensor_hold) y.lost |= bit_of(i);
  };
#define CTL_ACCEPT_SCALAR(name, ...) accept(in_##name, in.name);
#define CTL_ACCEPT_ARRAY(name, count, ...) \
  for (uint32_t k = 0; k < count; ++k) accept(in_##name + k, in.name[k]);
  CTL_INPUT_LIST(CTL_ACCEPT_SCALAR, CTL_ACCEPT_ARRAY)
#undef CTL_ACCEPT_SCALAR
#undef CTL_ACCEPT_ARRAY
  return y;
}

}  // namespace duskline::controller
