// The functions of the unit: the closed loop in a thread of its own, whose controller is the other side of this
// interface. Source: Functional Mock-up Interface 2.0, sections 2.1 and 4.2.
#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <charconv>
#include <cmath>
#include <condition_variable>
#include <filesystem>
#include <fstream>
#include <memory>
#include <mutex>
#include <thread>

#include "hil-harness/fmi/description.hpp"
#include "hil-harness/fmi/unit/fmi2.h"
#include "hil-harness/links/answer.hpp"
#include "hil-harness/loop/loop.hpp"

using namespace duskline;
using namespace duskline::harness;

namespace {

/// Each side waits for the other: the loop for commands, the master for readings.
class HandOver final : public Link {
 public:
  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    std::unique_lock lock(mutex_);
    readings_ = in;
    turn_ = Turn::master;
    changed_.notify_all();
    changed_.wait(lock, [&] { return turn_ == Turn::loop || leaving_; });
    if (leaving_) return CTL_BAD_ARGUMENT;
    out = commands_;
    return CTL_OK;
  }
  /// Waits for the next readings; false: the loop has ended.
  bool wait(ctl_inputs& readings) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return turn_ == Turn::master || ended_; });
    if (turn_ == Turn::master) readings = readings_;
    return turn_ == Turn::master;
  }
  void give(const ctl_outputs& commands) {
    const std::lock_guard lock(mutex_);
    commands_ = commands;
    turn_ = Turn::loop;
    changed_.notify_all();
  }
  void leave() {
    const std::lock_guard lock(mutex_);
    leaving_ = true;
    changed_.notify_all();
  }
  void finish() {
    const std::lock_guard lock(mutex_);
    ended_ = true;
    changed_.notify_all();
  }

 private:
  enum class Turn { loop, master };
  std::mutex mutex_;
  std::condition_variable changed_;
  Turn turn_ = Turn::loop;
  bool leaving_ = false, ended_ = false;
  ctl_inputs readings_{};
  ctl_outputs commands_{};
};

/// A run under way.
class Running {
 public:
  explicit Running(const scenarios::Case& c)
      : thread_([this, &c] {
          record_ = run_loop(c, link_);
          link_.finish();
        }) {}
  ~Running() {
    link_.leave();
    thread_.join();
  }
  Running(const Running&) = delete;
  Running& operator=(const Running&) = delete;

  bool wait(ctl_inputs& readings) { return link_.wait(readings); }
  void give(const ctl_outputs& commands) { link_.give(commands); }
  /// Once wait() has said that the loop has ended.
  const plant::RunResult& end() const { return record_.end; }

 private:
  HandOver link_;
  RunRecord record_;
  std::thread thread_;
};

struct Unit {
  std::string name;
  fmi2CallbackFunctions callbacks{};
  scenarios::Case plant;
  std::vector<std::uint16_t> readings, commands;  ///< registers
  std::int64_t tick = 0;
  std::unique_ptr<Running> running;

  fmi2Status report(fmi2Status status, const std::string& what) const {
    if (callbacks.logger != nullptr)
      callbacks.logger(callbacks.componentEnvironment, name.c_str(), status,
                       status == fmi2OK ? "logAll" : "logStatusError", "%s", what.c_str());
    return status;
  }
  void take(const ctl_inputs& in) { put_inputs(in, static_cast<float>(plant.scenario.period), readings); }
};

Unit& unit_of(fmi2Component c) {
  return *static_cast<Unit*>(c);
}

const RegisterRow* row_of(fmi2ValueReference reference, RegisterType type) {
  for (const RegisterRow* row : unit_variables())
    if (unit_reference(*row) == reference && row->type == type) return row;
  return nullptr;
}

/// Reads or writes variables of one type; the standard wants an error for a reference that is none.
template <class Value>
fmi2Status get(Unit& unit, const fmi2ValueReference* references, std::size_t count, Value* values,
               RegisterType type) {
  for (std::size_t k = 0; k < count; ++k) {
    const RegisterRow* row = row_of(references[k], type);
    if (row == nullptr)
      return unit.report(fmi2Error, fmt::format("there is no variable {} of this type", references[k]));
    const auto& from = row->table == RegisterTable::input ? unit.readings : unit.commands;
    if (type == RegisterType::number)
      values[k] = static_cast<Value>(take_number(from, row->address));
    else
      values[k] = static_cast<Value>(take_whole(from, row->address));
  }
  return fmi2OK;
}

fmi2Status set(Unit& unit, fmi2ValueReference reference, RegisterType type, double value) {
  const RegisterRow* row = row_of(reference, type);
  if (row == nullptr || row->table != RegisterTable::holding)
    return unit.report(fmi2Error, fmt::format("there is no input {} of this type", reference));
  if (!(value >= row->lower && value <= row->upper))
    return unit.report(fmi2Error, fmt::format("{} may not be {}: it is not from {:g} to {:g}",
                                              unit_name(*row), value, row->lower, row->upper));
  const std::uint32_t bits = type == RegisterType::number
                                 ? std::bit_cast<std::uint32_t>(static_cast<float>(value))
                                 : static_cast<std::uint32_t>(value);
  const auto at = static_cast<std::size_t>(row->address);
  unit.commands[at] = static_cast<std::uint16_t>(bits >> 16U);
  unit.commands[at + 1] = static_cast<std::uint16_t>(bits & 0xffffU);
  return fmi2OK;
}

/// The path of a file URI; empty: it is none.
std::filesystem::path path_of(const std::string& uri) {
  const std::string scheme = "file://";
  if (!uri.starts_with(scheme)) return {};
  std::string path;
  for (std::size_t k = uri.find('/', scheme.size()); k < uri.size(); ++k) {
    if (uri[k] != '%') {
      path += uri[k];
      continue;
    }
    const char* const end = uri.data() + std::min(k + 3, uri.size());
    unsigned char byte = 0;
    const auto read = std::from_chars(uri.data() + k + 1, end, byte, 16);
    if (read.ptr != uri.data() + k + 3 || byte == 0) return {};
    path += static_cast<char>(byte);
    k += 2;
  }
  return path;
}

/// Reads what the unit holds; what is wrong, or nothing.
std::string open_unit(Unit& unit, const std::string& guid, const std::filesystem::path& resources) {
  const std::filesystem::path file = resources / kUnitScenario;
  std::ifstream in(file, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  if (text.empty()) return file.string() + " cannot be read";
  if (guid != unit_guid(text)) return "the description belongs to another unit";
  auto read = scenarios::read_case(file, resources);
  if (!read) return scenarios::to_text(read.problems);
  unit.plant = std::move(*read.value);
  // the readings at the end of the last step are wanted too
  unit.plant.scenario.duration += unit.plant.scenario.period;
  const auto around = surroundings(unit.plant);
  return around.problems.empty() ? "" : around.problems.front();
}

fmi2Status missing(fmi2Component c, const char* what) {
  return unit_of(c).report(fmi2Error,
                           fmt::format("{}: this unit cannot do that, as its description says", what));
}

}  // namespace

#define EXPORT extern "C" [[gnu::visibility("default")]]

EXPORT const char* fmi2GetTypesPlatform() {
  return "default";
}
EXPORT const char* fmi2GetVersion() {
  return "2.0";
}
EXPORT fmi2Status fmi2SetDebugLogging(fmi2Component, fmi2Boolean, std::size_t, const fmi2String*) {
  return fmi2OK;
}

EXPORT fmi2Component fmi2Instantiate(fmi2String name, fmi2Type type, fmi2String guid, fmi2String resources,
                                     const fmi2CallbackFunctions* callbacks, fmi2Boolean, fmi2Boolean) {
  if (name == nullptr || guid == nullptr || resources == nullptr || callbacks == nullptr) return nullptr;
  auto unit = std::make_unique<Unit>();
  unit->name = name;
  unit->callbacks = *callbacks;
  std::string wrong = "this unit is for co-simulation only";
  if (type == fmi2CoSimulation) wrong = open_unit(*unit, guid, path_of(resources));
  if (!wrong.empty()) {
    unit->report(fmi2Error, wrong);
    return nullptr;
  }
  unit->readings.resize(static_cast<std::size_t>(register_count(RegisterTable::input)));
  unit->commands.resize(static_cast<std::size_t>(register_count(RegisterTable::holding)));
  return unit.release();
}
EXPORT void fmi2FreeInstance(fmi2Component c) {
  delete static_cast<Unit*>(c);
}

EXPORT fmi2Status fmi2SetupExperiment(fmi2Component c, fmi2Boolean, fmi2Real, fmi2Real start, fmi2Boolean,
                                      fmi2Real) {
  return start == 0.0 ? fmi2OK : unit_of(c).report(fmi2Error, "the scenario starts at 0 s");
}
EXPORT fmi2Status fmi2EnterInitializationMode(fmi2Component c) {
  Unit& unit = unit_of(c);
  unit.tick = 0;
  unit.running = std::make_unique<Running>(unit.plant);
  ctl_inputs in{};
  if (!unit.running->wait(in)) return unit.report(fmi2Error, "the run ended before it began");
  unit.take(in);
  return fmi2OK;
}
EXPORT fmi2Status fmi2ExitInitializationMode(fmi2Component) {
  return fmi2OK;
}

EXPORT fmi2Status fmi2DoStep(fmi2Component c, fmi2Real time, fmi2Real size, fmi2Boolean) {
  constexpr double kClose = 1e-6;  // of a period
  Unit& unit = unit_of(c);
  if (!unit.running) return unit.report(fmi2Error, "not initialised");
  const double period = unit.plant.scenario.period, ticks = std::round(size / period);
  constexpr double kTicksMax = 9007199254740992.0;  // 2^53: all whole numbers below it are exact
  if (!(ticks >= 1.0 && ticks < kTicksMax) || std::abs(size / period - ticks) > kClose)
    return unit.report(fmi2Error, fmt::format("a step of {} s is not whole periods of {} s", size, period));
  if (!(std::abs(time / period - static_cast<double>(unit.tick)) <= kClose))
    return unit.report(fmi2Error, fmt::format("the unit is at {} s, not at {} s",
                                              static_cast<double>(unit.tick) * period, time));
  ctl_outputs out = no_estimates();
  take_outputs(unit.commands, out);
  ctl_inputs in{};
  for (auto n = static_cast<std::int64_t>(ticks); n > 0; --n) {
    unit.running->give(out);
    if (!unit.running->wait(in)) {
      const plant::RunResult& end = unit.running->end();
      return unit.report(end.reason == plant::RunEnd::reached_end ? fmi2Discard : fmi2Error,
                         fmt::format("{} at {} s: {}", plant::word(end.reason), end.time, end.who));
    }
    ++unit.tick;
  }
  unit.take(in);
  return fmi2OK;
}

EXPORT fmi2Status fmi2Terminate(fmi2Component c) {
  unit_of(c).running.reset();
  return fmi2OK;
}
EXPORT fmi2Status fmi2Reset(fmi2Component c) {
  Unit& unit = unit_of(c);
  unit.running.reset();
  std::fill(unit.commands.begin(), unit.commands.end(), std::uint16_t{0});
  return fmi2OK;
}

EXPORT fmi2Status fmi2GetReal(fmi2Component c, const fmi2ValueReference* r, std::size_t n, fmi2Real* v) {
  return get(unit_of(c), r, n, v, RegisterType::number);
}
EXPORT fmi2Status fmi2GetInteger(fmi2Component c, const fmi2ValueReference* r, std::size_t n,
                                 fmi2Integer* v) {
  return get(unit_of(c), r, n, v, RegisterType::whole);
}
EXPORT fmi2Status fmi2SetReal(fmi2Component c, const fmi2ValueReference* r, std::size_t n,
                              const fmi2Real* v) {
  for (std::size_t k = 0; k < n; ++k)
    if (const auto status = set(unit_of(c), r[k], RegisterType::number, v[k]); status != fmi2OK)
      return status;
  return fmi2OK;
}
EXPORT fmi2Status fmi2SetInteger(fmi2Component c, const fmi2ValueReference* r, std::size_t n,
                                 const fmi2Integer* v) {
  for (std::size_t k = 0; k < n; ++k)
    if (const auto status = set(unit_of(c), r[k], RegisterType::whole, v[k]); status != fmi2OK) return status;
  return fmi2OK;
}

// What this unit has none of: an empty list is no error.
#define NONE(name, Value)                                                                                    \
  EXPORT fmi2Status fmi2Get##name(fmi2Component c, const fmi2ValueReference*, std::size_t n, Value*) {       \
    return n == 0 ? fmi2OK : missing(c, "fmi2Get" #name);                                                    \
  }                                                                                                          \
  EXPORT fmi2Status fmi2Set##name(fmi2Component c, const fmi2ValueReference*, std::size_t n, const Value*) { \
    return n == 0 ? fmi2OK : missing(c, "fmi2Set" #name);                                                    \
  }
NONE(Boolean, fmi2Boolean)
NONE(String, fmi2String)
#undef NONE

EXPORT fmi2Status fmi2GetFMUstate(fmi2Component c, fmi2FMUstate*) {
  return missing(c, "fmi2GetFMUstate");
}
EXPORT fmi2Status fmi2SetFMUstate(fmi2Component c, fmi2FMUstate) {
  return missing(c, "fmi2SetFMUstate");
}
EXPORT fmi2Status fmi2FreeFMUstate(fmi2Component c, fmi2FMUstate*) {
  return missing(c, "fmi2FreeFMUstate");
}
EXPORT fmi2Status fmi2SerializedFMUstateSize(fmi2Component c, fmi2FMUstate, std::size_t*) {
  return missing(c, "fmi2SerializedFMUstateSize");
}
EXPORT fmi2Status fmi2SerializeFMUstate(fmi2Component c, fmi2FMUstate, fmi2Byte*, std::size_t) {
  return missing(c, "fmi2SerializeFMUstate");
}
EXPORT fmi2Status fmi2DeSerializeFMUstate(fmi2Component c, const fmi2Byte*, std::size_t, fmi2FMUstate*) {
  return missing(c, "fmi2DeSerializeFMUstate");
}
EXPORT fmi2Status fmi2GetDirectionalDerivative(fmi2Component c, const fmi2ValueReference*, std::size_t,
                                               const fmi2ValueReference*, std::size_t, const fmi2Real*,
                                               fmi2Real*) {
  return missing(c, "fmi2GetDirectionalDerivative");
}
EXPORT fmi2Status fmi2SetRealInputDerivatives(fmi2Component c, const fmi2ValueReference*, std::size_t,
                                              const fmi2Integer*, const fmi2Real*) {
  return missing(c, "fmi2SetRealInputDerivatives");
}
EXPORT fmi2Status fmi2GetRealOutputDerivatives(fmi2Component c, const fmi2ValueReference*, std::size_t,
                                               const fmi2Integer*, fmi2Real*) {
  return missing(c, "fmi2GetRealOutputDerivatives");
}
EXPORT fmi2Status fmi2CancelStep(fmi2Component c) {
  return missing(c, "fmi2CancelStep");
}
EXPORT fmi2Status fmi2GetStatus(fmi2Component c, fmi2StatusKind, fmi2Status*) {
  return missing(c, "fmi2GetStatus");
}
EXPORT fmi2Status fmi2GetRealStatus(fmi2Component c, fmi2StatusKind kind, fmi2Real* value) {
  Unit& unit = unit_of(c);
  if (kind != fmi2LastSuccessfulTime) return missing(c, "fmi2GetRealStatus");
  *value = static_cast<double>(unit.tick) * unit.plant.scenario.period;
  return fmi2OK;
}
EXPORT fmi2Status fmi2GetIntegerStatus(fmi2Component c, fmi2StatusKind, fmi2Integer*) {
  return missing(c, "fmi2GetIntegerStatus");
}
EXPORT fmi2Status fmi2GetBooleanStatus(fmi2Component c, fmi2StatusKind kind, fmi2Boolean* value) {
  if (kind != fmi2Terminated) return missing(c, "fmi2GetBooleanStatus");
  Unit& unit = unit_of(c);
  *value = unit.tick + 1 >= static_cast<std::int64_t>(scenarios::periods(unit.plant.scenario)) ? 1 : 0;
  return fmi2OK;
}
EXPORT fmi2Status fmi2GetStringStatus(fmi2Component c, fmi2StatusKind, fmi2String*) {
  return missing(c, "fmi2GetStringStatus");
}
