/// Memory, inputs and constants of the detection.
///
/// What it is   what detect.hpp remembers from tick to tick, what it is given, and the times and shares that it counts with
/// Symbols      suspect: bit of the list of instruments; diagnosed: bits of CTL_DIAGNOSIS_LIST
/// Validity     a counter of ticks in a byte stays below 255
/// Source       docs/models/detection.md
#pragma once

#include "controller/detect/signatures.hpp"
#include "controller/detect/vote.hpp"
#include "controller/estimate/density.hpp"

namespace duskline::controller {

#define DETECT_COUNT(identifier, bit, word, response, meaning) +1u
inline constexpr uint32_t kDiagnoses = CTL_DIAGNOSIS_LIST(DETECT_COUNT);
#undef DETECT_COUNT
inline constexpr uint32_t kAnyDiagnosis = (uint64_t{1} << kDiagnoses) - 1u;
inline constexpr uint32_t kPaddedDiagnoses = (kDiagnoses + 1u) / 2u * 2u;
#define DETECT_JOIN(identifier, bit, word, response, meaning) | (1u << bit)
static_assert((0u CTL_DIAGNOSIS_LIST(DETECT_JOIN)) == (uint64_t{1} << kDiagnoses) - 1u && kDiagnoses <= 32,
              "the bits of CTL_DIAGNOSIS_LIST count up from 0 and fit a word");
#undef DETECT_JOIN
inline constexpr uint32_t kPaddedInputs = (kInputs + 3u) / 4u * 4u;
inline constexpr uint32_t kPaddedSignatures = (kSignatureCount + 3u) / 4u * 4u;

struct Detection {
  RelationMemory relations;
  ResidualMemory residuals;
  Applied applied;
  float estimate[kInputs];       // what each measurement should be
  float before[kInputs];         // reading at the tick before
  uint8_t same[kPaddedInputs];   // ticks for which it has not changed
  uint8_t clean[kPaddedInputs];  // steps of clean_step for which a suspect one has agreed
  uint32_t usable[2];            // estimates that stand in
  uint32_t moving[2];            // measurements that have shown noise
  uint32_t suspect[2];
  uint32_t diagnosed, response;
  uint16_t quiet[kPaddedDiagnoses];  // ticks since the evidence of a standing diagnosis ended
  uint8_t stood[kPaddedSignatures];  // ticks for which a signature has matched
  uint32_t thermal_time;             // ticks for which a thermal residual has alarmed
  uint32_t exchanged;      // 1: both ends were found wrong together, and may have each other's reading
  uint32_t unexplained;    // ticks for which an alarm has had no signature
  uint32_t open;           // residuals that made the model suspect
  uint32_t stalled;        // history of the shaft off its command
  uint32_t unrecycled;     // history of feed that should come back and does not
  uint32_t misread;        // history of a feed meter that leaves the others
  uint32_t witnesses;      // those of the balances that were suspect at the tick before
  float balance[3];        // kg/s, kg/s, Pa: slow means of the balances of test_balances
  uint32_t away;           // history of the current off its command
  float voltage_slow;      // A, what the cells say beyond the meter, while it agrees with its command
  uint32_t sagged;         // history of the bus below its limit
  float density_slow;      // kg/m3
  float local_time;        // at the tick before
  float shortfall;         // V that the taps lack of the stack, of as many cells, slow
  float started;           // s since the start
  uint32_t request;        // requested mode at the latest latched diagnosis
  float added_resistance;  // ohm m2, at the tick before
};

struct DetectInput {
  const ctl_params& params;
  const ctl_inputs& in;
  const SignalMemory& signals;
  const Signals& raw;  // calibrated, not substituted
  const Signals& y;    // substituted
  const Gas& gas;
  const float (&zone)[CTL_ZONES];  // K
  float mean;                      // K
  float added_resistance;          // ohm m2, as identified
  float voltage_sigma;             // V, of the mean cell voltage by what is not identified yet
  uint32_t mode;
};

inline constexpr uint32_t kLatched =
    CTL_CURRENT_DEVIATION | CTL_CELL_LEAKING | CTL_HEATER_ON | CTL_RECYCLE_LOST;
inline constexpr float kCleanTime = 300.0f;   // s without evidence until a diagnosis or a doubt ends
inline constexpr float kCleanStep = 4.0f;     // s, in which agreement is counted
inline constexpr uint32_t kFrozenTicks = 40;  // a noisy reading repeats by chance in fewer than 0.45 of ticks
inline constexpr uint32_t kFrozenMost = 3;    // more at once: the source of the data has stopped, no sensor
inline constexpr uint32_t kPatternTicks = 20;  // a pattern of residuals stands so long before it is read
inline constexpr uint32_t kPowerTicks = 240;   // until then a heater would have shown at its thermocouple
inline constexpr uint32_t kUnexplainedTicks = 300;
static_assert(kFrozenTicks < 255 && kPatternTicks < 255 && kPowerTicks < 255, "they are counted in a byte");
inline constexpr float kWeatherFast = 0.06f;  // change of density against its mean of five minutes
inline constexpr float kSolSeconds = 88775.244f;
inline constexpr float kBalanceTime = 60.0f;      // s, memory of a balance
inline constexpr float kUnrecycled = 0.5f;        // of the recycled flow, missing at once: the valve is shut
inline constexpr float kUnrecycledAlone = 0.75f;  // the same where only the machine says so
inline constexpr float kMisread = 0.08f;          // of the feed: four times what class and model explain
inline constexpr float kRecycledLeast = 0.04f;    // of the feed, from which on that shows

inline constexpr float kVoltageMemory = 60.0f;  // s, of what the cells say of the current (design)
inline constexpr float kImpliedLeast =
    0.4f;  // A by the cells, 10 mV: less is no proof against a command (estimate)

inline constexpr float kShortfallTime = 30.0f;  // s: the current follows before an interlock does (design)
inline constexpr float kShortfallWeak = 5.0f;   // s, with a cell that is known to be weak (design)
inline constexpr float kTapsAllowed = 2.0f;     // deviations of all taps and the meter of the stack

inline constexpr uint32_t kEndTicks = 3;

constexpr bool in_set(const uint32_t (&set)[2], uint32_t i) {
  return (set[i >> 5] >> (i & 31u) & 1u) != 0;
}
inline uint64_t suspect_mask(const Detection& d) {
  return uint64_t{d.suspect[1]} << 32 | d.suspect[0];
}
constexpr void put_in(uint32_t (&set)[2], uint32_t i, bool member) {
  const uint32_t bit = 1u << (i & 31u);
  set[i >> 5] = member ? set[i >> 5] | bit : set[i >> 5] & ~bit;
}

}  // namespace duskline::controller
