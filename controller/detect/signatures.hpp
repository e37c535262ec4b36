/// Signatures: which residuals a fault moves, and so which fault it is.
///
/// What it is   one row a fault: residuals that it raises, lowers and leaves alone; what is diagnosed and
///              which measurement is suspect. Rows with the same residuals cannot be distinguished: both are
///              reported
/// Equation     a row matches when every residual it names leans its way (|z - baseline| or |z| beyond the
///              soft limit), one of them at least is in alarm, and those it leaves alone do not lean
/// Symbols      bits of Residual; diagnoses of CTL_DIAGNOSIS_LIST; measurements of CTL_INPUT_LIST
/// Validity     one fault at a time, or faults of unconnected residuals; behind a measurement that is replaced a row
///              is judged by the residuals that are left, and rows that then read alike are all reported
/// Source       signs of the relations in relations.hpp; structured residuals (Gertler 1998)
/// Left out     sizes: only signs count
#pragma once

#include "controller/detect/residuals.hpp"

namespace duskline::controller {

inline constexpr uint32_t kNoInput = kInputs;

struct Signature {
  uint32_t up, down, quiet;
  uint32_t diagnosis;  // bit or 0
  uint32_t suspect;    // measurement or kNoInput
};

template <class... R>
constexpr uint32_t bits(R... residual) {
  return ((1u << residual) | ... | 0u);
}

inline constexpr uint32_t kCellResiduals =
    bits(r_cell_0, r_cell_1, r_cell_2, r_cell_3, r_cell_4, r_cell_5, r_cell_6, r_cell_7);

// clang-format off
inline constexpr Signature kSignatures[] = {
    // feed, three ways
    {bits(r_feed_compressor, r_feed_aperture), 0, bits(r_compressor_aperture), 0, in_feed_flow},
    {0, bits(r_feed_compressor, r_feed_aperture), bits(r_compressor_aperture), 0, in_feed_flow},
    {bits(r_compressor_aperture), bits(r_feed_compressor), bits(r_feed_aperture, r_filter, r_line), CTL_COMPRESSOR_WEAK, kNoInput},
    {bits(r_feed_compressor), bits(r_compressor_aperture), bits(r_feed_aperture, r_filter, r_speed, r_line), 0, in_ambient_pressure},
    {bits(r_feed_compressor, r_filter), bits(r_compressor_aperture), bits(r_feed_aperture), 0, in_filter_differential_pressure},
    {bits(r_feed_compressor), bits(r_compressor_aperture, r_speed), bits(r_feed_aperture), 0, in_compressor_speed},
    {bits(r_compressor_aperture, r_speed), bits(r_feed_compressor), bits(r_feed_aperture), 0, in_compressor_speed},
    {bits(r_filter), 0, bits(r_feed_compressor), CTL_FILTER_LOADED, kNoInput},
    {0, bits(r_filter), 0, 0, in_filter_differential_pressure},
    {0, bits(r_feed_aperture, r_compressor_aperture), bits(r_feed_compressor, r_line, r_outlet_co), CTL_EXHAUST_CLOGGED, kNoInput},
    {bits(r_feed_aperture, r_compressor_aperture), 0, bits(r_feed_compressor, r_line, r_outlet_co), CTL_EXHAUST_ERODED, kNoInput},
    {0, bits(r_feed_aperture, r_compressor_aperture, r_line), bits(r_feed_compressor), 0, in_cathode_pressure},
    {bits(r_feed_aperture, r_compressor_aperture, r_line), 0, bits(r_feed_compressor), 0, in_cathode_pressure},
    {bits(r_line), 0, bits(r_feed_aperture), 0, in_plenum_pressure},
    {0, bits(r_line), bits(r_feed_aperture), 0, in_plenum_pressure},
    // carbon
    {0, bits(r_outlet_co, r_feed_aperture, r_compressor_aperture), bits(r_feed_compressor, r_line), CTL_RECYCLE_LOST, kNoInput},
    {bits(r_outlet_co, r_feed_aperture, r_compressor_aperture), 0, bits(r_feed_compressor, r_line), CTL_RECYCLE_STUCK, kNoInput},
    {bits(r_outlet_co), 0, bits(r_feed_aperture), 0, in_outlet_co_fraction},
    {0, bits(r_outlet_co), bits(r_feed_aperture), 0, in_outlet_co_fraction},
    // oxygen, three ways
    {bits(r_product_faraday, r_product_aperture), 0, bits(r_faraday_aperture), 0, in_product_flow},
    {0, bits(r_product_faraday, r_product_aperture), bits(r_faraday_aperture), 0, in_product_flow},
    {0, bits(r_product_aperture, r_faraday_aperture), bits(r_product_faraday, r_purity), CTL_PRODUCT_CLOGGED, in_anode_pressure},
    {bits(r_product_aperture, r_faraday_aperture), 0, bits(r_product_faraday, r_purity), CTL_PRODUCT_ERODED, in_anode_pressure},
    {bits(r_product_faraday), bits(r_faraday_aperture, r_purity), 0, CTL_CELL_LEAKING, kNoInput},
    {bits(r_product_faraday), bits(r_faraday_aperture), bits(r_product_aperture, r_purity), 0, in_stack_current},
    {bits(r_faraday_aperture), bits(r_product_faraday), bits(r_product_aperture, r_purity), 0, in_stack_current},
    {bits(r_purity), 0, bits(r_product_faraday), 0, in_product_oxygen_fraction},
    {0, bits(r_purity), bits(r_product_faraday), 0, in_product_oxygen_fraction},
    {bits(r_current), 0, 0, 0, in_stack_current},
    {0, bits(r_current), 0, 0, in_stack_current},
    // machine and power
    {0, bits(r_speed), bits(r_feed_compressor), CTL_COMPRESSOR_STOPPED, kNoInput},
    {bits(r_speed), 0, bits(r_feed_compressor), CTL_COMPRESSOR_STOPPED, kNoInput},
    {bits(r_tone, r_power), 0, 0, CTL_BEARING_WORN, kNoInput},
    {bits(r_tone), 0, bits(r_power), 0, in_bearing_vibration},
    {0, bits(r_tone), 0, 0, in_bearing_vibration},
    {0, bits(r_power, r_end_0), 0, CTL_HEATER_OPEN, kNoInput},
    {0, bits(r_power, r_end_1), 0, CTL_HEATER_OPEN, kNoInput},
    {0, bits(r_power, r_preheater), 0, CTL_HEATER_OPEN, kNoInput},
    {bits(r_power, r_end_0), 0, 0, CTL_HEATER_ON, kNoInput},
    {bits(r_power, r_end_1), 0, 0, CTL_HEATER_ON, kNoInput},
    {bits(r_power, r_preheater), 0, 0, CTL_HEATER_ON, kNoInput},
    {bits(r_power), 0, bits(r_tone, r_end_0, r_end_1, r_preheater), 0, in_bus_power},
    {0, bits(r_power), bits(r_end_0, r_end_1, r_preheater), 0, in_bus_power},
    // cells: more voltage is believed and may be either, less cannot be true
    {bits(r_cell_0), 0, bits(r_zone_0), CTL_CELL_RESISTIVE | CTL_CELL_STARVED, kNoInput},
    {bits(r_cell_1), 0, bits(r_zone_1), CTL_CELL_RESISTIVE | CTL_CELL_STARVED, kNoInput},
    {bits(r_cell_2), 0, bits(r_zone_1), CTL_CELL_RESISTIVE | CTL_CELL_STARVED, kNoInput},
    {bits(r_cell_3), 0, bits(r_zone_2), CTL_CELL_RESISTIVE | CTL_CELL_STARVED, kNoInput},
    {bits(r_cell_4), 0, bits(r_zone_2), CTL_CELL_RESISTIVE | CTL_CELL_STARVED, kNoInput},
    {bits(r_cell_5), 0, bits(r_zone_3), CTL_CELL_RESISTIVE | CTL_CELL_STARVED, kNoInput},
    {bits(r_cell_6), 0, bits(r_zone_3), CTL_CELL_RESISTIVE | CTL_CELL_STARVED, kNoInput},
    {bits(r_cell_7), 0, bits(r_zone_4), CTL_CELL_RESISTIVE | CTL_CELL_STARVED, kNoInput},
    {0, bits(r_cell_0, r_taps), bits(r_zone_0), 0, in_cell_voltage + 0},
    {0, bits(r_cell_1, r_taps), bits(r_zone_1), 0, in_cell_voltage + 1},
    {0, bits(r_cell_2, r_taps), bits(r_zone_1), 0, in_cell_voltage + 2},
    {0, bits(r_cell_3, r_taps), bits(r_zone_2), 0, in_cell_voltage + 3},
    {0, bits(r_cell_4, r_taps), bits(r_zone_2), 0, in_cell_voltage + 4},
    {0, bits(r_cell_5, r_taps), bits(r_zone_3), 0, in_cell_voltage + 5},
    {0, bits(r_cell_6, r_taps), bits(r_zone_3), 0, in_cell_voltage + 6},
    {0, bits(r_cell_7, r_taps), bits(r_zone_4), 0, in_cell_voltage + 7},
    {bits(r_taps), 0, kCellResiduals, 0, in_stack_voltage},
    {0, bits(r_taps), kCellResiduals, 0, in_stack_voltage},
};
// clang-format on
inline constexpr uint32_t kSignatureCount = sizeof kSignatures / sizeof *kSignatures;

/// Residuals whose alarms no row needs to explain: the thermal ones have a test of their own.
inline constexpr uint32_t kThermalResiduals =
    bits(r_end_0, r_end_1, r_zone_0, r_zone_1, r_zone_2, r_zone_3, r_zone_4, r_preheater);

/// Residuals that a measurement which has been replaced leaves blind: its estimate agrees with itself.
constexpr uint32_t blind_without(uint32_t input) {
  if (input >= in_cell_voltage && input <= in_cell_voltage_last)
    return 1u << (r_cell_0 + input - in_cell_voltage) | bits(r_taps);
  switch (input) {
    case in_feed_flow:
      return bits(r_feed_compressor, r_feed_aperture);
    case in_ambient_pressure:
    case in_ambient_temperature:
      return bits(r_feed_compressor, r_compressor_aperture);
    case in_cathode_pressure:
    case in_plenum_pressure:
      return bits(r_line);
    case in_filter_differential_pressure:
      return bits(r_filter);
    case in_outlet_co_fraction:
      return bits(r_outlet_co);
    case in_product_flow:
      return bits(r_product_faraday, r_product_aperture);
    case in_anode_pressure:
      return bits(r_product_aperture, r_faraday_aperture);
    case in_product_oxygen_fraction:
      return bits(r_purity);
    case in_stack_current:
      return bits(r_current);
    case in_stack_voltage:
      return bits(r_taps);
    case in_compressor_speed:
      return bits(r_speed);
    case in_bus_power:
      return 0;  // evidence of the heaters even while it is suspect
    case in_bearing_vibration:
      return bits(r_tone);
    case in_preheater_temperature:
      return bits(r_preheater);
    default:
      return 0;
  }
}

/// Residuals that this plant cannot have: what they look at is not fitted, or belongs to a compressor and apertures of
/// the module's own.
inline uint32_t absent_residuals(const ctl_params& p) {
  uint32_t absent = 0;
  if (!feed_row(p).compressor)
    absent = bits(r_feed_compressor, r_feed_aperture, r_compressor_aperture, r_line, r_product_aperture,
                  r_faraday_aperture, r_speed, r_tone, r_filter, r_power);
  for (uint32_t i = 0; i < kInputs; ++i)
    if (!fitted(p, i)) absent |= blind_without(i);
  return absent;
}

/// Rows whose evidence this plant cannot give. What is built of two others is evidence that may be missing of a diagnosis,
/// the sum of the taps one that may be missing of a tap.
constexpr bool left_out(const Signature& s, uint32_t absent) {
  constexpr uint32_t kDerived = bits(r_compressor_aperture, r_faraday_aperture);
  const uint32_t more = ((s.up | s.down) & kCellResiduals) != 0 ? bits(r_taps) : 0u;
  return ((s.up | s.down) & absent & ~(s.diagnosis != 0 ? kDerived : more)) != 0;
}

/// A row matches when all that is seen of it does: what cannot be distinguished is reported together.
constexpr bool matches(const Signature& s, const Alarms& a, uint32_t blind) {
  const uint32_t up = s.up & ~blind, down = s.down & ~blind;
  const bool leans = (a.leans_up & up) == up && (a.leans_down & down) == down;
  const bool quiet = ((a.leans_up | a.leans_down) & s.quiet & ~blind) == 0;
  return leans && quiet && ((a.up & up) | (a.down & down)) != 0;
}

/// A row of which a part is not seen.
constexpr bool in_part(const Signature& s, uint32_t blind) {
  return ((s.up | s.down | s.quiet) & blind) != 0;
}

/// To replace this measurement is the cautious side: less feed, more current than it says.
constexpr bool cautious(const Signature& s) {
  return (s.suspect == in_feed_flow && s.up != 0) ||
         (s.suspect == in_stack_current && (s.up & bits(r_product_faraday)) != 0);
}

}  // namespace duskline::controller
