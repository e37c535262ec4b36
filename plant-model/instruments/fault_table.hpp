/// Everything that can go wrong with the plant, its instruments, supply, link and weather: one row a fault.
///
/// What it is   the library of faults, each with what it acts on, its size and course, and its row of an FMEA
/// Equation     share a(t): step 1; ramp min(1, (t - at)/rise); pulse also min(1, (at + length - t)/rise)
///              scale: p (1 + (size - 1) a); set: p + (size - p) a; add: p + size a; sensors: size a
/// Symbols      p parameter; t, at, rise, length [s]; size in the unit of the row
/// Validity     at <= t < at + length; a fault that ends leaves nothing behind but what the plant did
///              meanwhile
/// Source       failure modes as in the trade (IEC 60812 columns); sizes, causes and severities are estimates
///              of ours; severity 1 loss of the stack, 2 lasting damage, 3 oxygen lost, 4 no more than a
///              nuisance
/// Left out     probabilities, common causes, faults that come and go at random
#pragma once

#include <limits>
#include <span>
#include <string>
#include <string_view>

#include "plant-model/instruments/actuator.hpp"
#include "plant-model/instruments/sensor.hpp"

namespace duskline::plant {

/// What a fault does to its target.
enum class FaultEffect {
  scale,     ///< parameter: size times its value
  set,       ///< parameter: the size
  add,       ///< parameter: its value and the size
  sensor,    ///< channel: `sensor` with the size
  swap,      ///< channels: the readings of the item and of the one after it are exchanged
  actuator,  ///< command of the controller: `actuator` with the size
  clock,     ///< the local time that the controller gets
  tick,      ///< the tick that the controller gets
  link,      ///< no word of the operator arrives
  wire,      ///< frames between plant and controller: `wire` with the size
  reset,     ///< the controller starts again, its memory retained
  forget,    ///< the controller starts again, its memory corrupted
  cold,      ///< air, ground and sky
  storm,     ///< event of the environment, as are the next two
  gust,
  vortex,
};

/// What a fault is of, in a plant of several modules.
enum class FaultScope {
  module,   ///< a stack module with its controller: the one that is named, else all of them
  shared,   ///< what modules have in common
  headers,  ///< the same, with an instrument or a command of the plant controller as target
};

/// Which keys of the course a fault has.
enum class FaultCourse {
  shaped,   ///< shape, rise, length
  once,     ///< none: it happens at an instant
  growing,  ///< rise
  passing,  ///< length
};

enum class FaultShape { step, ramp, pulse };

/// What becomes of the frames between plant and controller.
enum class WireFaultMode {
  none,
  cut,        ///< nothing passes
  one_way,    ///< readings pass, commands do not
  delay,      ///< size [s] later, each way
  duplicate,  ///< share `size` comes twice
  reorder,    ///< share `size` comes after the next one
  corrupt,    ///< share `size` has a wrong bit
  babble,     ///< share `size` has the bytes of another sender before it
  slow,       ///< `size` frames are read in a tick
  board_off,  ///< the controller does not run, then starts again
  drift,      ///< the controller reads its wire once in (1 + size) periods
};

/// What the fault means to the plant, in the columns of an FMEA.
struct FaultStudy {
  std::string_view function, cause, local, end, seen, provision;
  int severity;  ///< 1 to 4
  std::string_view rationale;
};

inline constexpr double kUntilTheEnd = std::numeric_limits<double>::quiet_NaN();

struct FaultRow {
  std::string_view name, component, mode;
  FaultEffect effect{};
  FaultScope scope = FaultScope::module;
  std::string_view target{};  ///< parameter path, channel or command; empty where there is none
  SensorFaultMode sensor = SensorFaultMode::none;
  ActuatorFaultMode actuator = ActuatorFaultMode::none;
  WireFaultMode wire = WireFaultMode::none;
  int item = -1;            ///< the usual one; -1: the target has no items
  std::string_view unit{};  ///< of the size, SI; empty: it has none
  double size = 0.0, lower = 0.0, upper = 0.0;
  FaultCourse course = FaultCourse::shaped;
  FaultShape shape = FaultShape::step;
  double rise = 600.0;           ///< s
  double length = kUntilTheEnd;  ///< s
  FaultStudy study{};
  std::string_view diagnosis{};  ///< the controller's word for it; empty: the channel is suspect, or nothing
  std::string_view unseen{};     ///< why it may stay unseen; empty: it must be detected

  bool has_size() const { return !unit.empty(); }
};

std::span<const FaultRow> fault_table();
const FaultRow* find_fault(std::string_view name);

/// A fault that is brought about, all its keys given.
struct FaultEvent {
  double at = 0.0;  ///< s
  std::string fault;
  double size = 0.0;  ///< in the unit of the row
  int item = -1;
  FaultShape shape = FaultShape::step;
  double rise = 600.0;           ///< s
  double length = kUntilTheEnd;  ///< s; NaN: until the end
  std::string when{};  ///< a condition on the run, asked from `at` on; empty: it sets in at that time
  int module = -1;     ///< from 0; -1: all of them
};

/// A fault as its row has it.
FaultEvent usual_fault(const FaultRow& row, double at);
bool fault_acts(const FaultEvent& event, double t);
/// a(t), 0 to 1.
double fault_share(const FaultEvent& event, double t);

}  // namespace duskline::plant
