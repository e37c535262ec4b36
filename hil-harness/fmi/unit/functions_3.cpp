// The functions of FMI 3.0. Source: Functional Mock-up Interface 3.0, sections 2.3 and 4.2.
#include "hil-harness/fmi/unit/fmi3.h"
#include "hil-harness/fmi/unit/plant_unit.hpp"

using namespace duskline::harness;

namespace {

using References = const fmi3ValueReference*;

fmi3Status status(UnitAnswer answer) {
  return static_cast<fmi3Status>(answer);
}
fmi3Status missing(fmi3Instance c, const char* what) {
  return status(unit_of(c).missing(what));
}
/// Every variable has one value.
bool alike(const PlantUnit& unit, std::size_t references, std::size_t values) {
  if (references != values) unit.report(UnitAnswer::error, "there are not as many values as variables");
  return references == values;
}
template <class T>
void give(T* to, T value) {
  if (to != nullptr) *to = value;
}

}  // namespace

#define EXPORT extern "C" [[gnu::visibility("default")]]

EXPORT const char* fmi3GetVersion() {
  return "3.0";
}
EXPORT fmi3Status fmi3SetDebugLogging(fmi3Instance, fmi3Boolean, std::size_t, const fmi3String*) {
  return fmi3OK;
}

EXPORT fmi3Instance fmi3InstantiateCoSimulation(fmi3String name, fmi3String token, fmi3String resources,
                                                fmi3Boolean, fmi3Boolean, fmi3Boolean event_mode, fmi3Boolean,
                                                References, std::size_t intermediate,
                                                fmi3InstanceEnvironment environment,
                                                fmi3LogMessageCallback log, fmi3IntermediateUpdateCallback) {
  if (name == nullptr || token == nullptr) return nullptr;
  auto unit = std::make_unique<PlantUnit>(
      [environment, log](UnitAnswer answer, const char* category, const std::string& what) {
        if (log != nullptr) log(environment, status(answer), category, what.c_str());
      });
  if (event_mode || intermediate > 0) {
    unit->missing(event_mode ? "event mode" : "values between communication points");
    return nullptr;
  }
  return unit->open(token, resources == nullptr ? "" : resources) ? unit.release() : nullptr;
}
EXPORT fmi3Instance fmi3InstantiateModelExchange(fmi3String, fmi3String, fmi3String, fmi3Boolean, fmi3Boolean,
                                                 fmi3InstanceEnvironment environment,
                                                 fmi3LogMessageCallback log) {
  if (log != nullptr) log(environment, fmi3Error, "logStatusError", "this unit is for co-simulation only");
  return nullptr;
}
EXPORT fmi3Instance fmi3InstantiateScheduledExecution(fmi3String, fmi3String, fmi3String, fmi3Boolean,
                                                      fmi3Boolean, fmi3InstanceEnvironment environment,
                                                      fmi3LogMessageCallback log, fmi3ClockUpdateCallback,
                                                      fmi3LockPreemptionCallback,
                                                      fmi3UnlockPreemptionCallback) {
  if (log != nullptr) log(environment, fmi3Error, "logStatusError", "this unit is for co-simulation only");
  return nullptr;
}
EXPORT void fmi3FreeInstance(fmi3Instance c) {
  delete static_cast<PlantUnit*>(c);
}

EXPORT fmi3Status fmi3EnterInitializationMode(fmi3Instance c, fmi3Boolean, fmi3Float64, fmi3Float64 start,
                                              fmi3Boolean, fmi3Float64) {
  return status(unit_of(c).initialise(start));
}
EXPORT fmi3Status fmi3ExitInitializationMode(fmi3Instance) {
  return fmi3OK;
}
EXPORT fmi3Status fmi3DoStep(fmi3Instance c, fmi3Float64 time, fmi3Float64 size, fmi3Boolean,
                             fmi3Boolean* event_handling_needed, fmi3Boolean* terminate,
                             fmi3Boolean* early_return, fmi3Float64* last_successful_time) {
  const UnitAnswer answer = unit_of(c).step(time, size);
  give(event_handling_needed, false);
  give(terminate, unit_of(c).at_end());
  give(early_return, false);
  give(last_successful_time, unit_of(c).time());
  return status(answer);
}
EXPORT fmi3Status fmi3Terminate(fmi3Instance c) {
  unit_of(c).terminate();
  return fmi3OK;
}
EXPORT fmi3Status fmi3Reset(fmi3Instance c) {
  unit_of(c).reset();
  return fmi3OK;
}

EXPORT fmi3Status fmi3GetFloat64(fmi3Instance c, References r, std::size_t n, fmi3Float64* v,
                                 std::size_t values) {
  PlantUnit& unit = unit_of(c);
  if (!alike(unit, n, values)) return fmi3Error;
  for (std::size_t k = 0; k < n; ++k) {
    if (r[k] == kUnitTime)
      v[k] = unit.time();
    else if (get_variables(unit, RegisterType::number, r + k, 1, v + k) != UnitAnswer::ok)
      return fmi3Error;
  }
  return fmi3OK;
}
EXPORT fmi3Status fmi3SetFloat64(fmi3Instance c, References r, std::size_t n, const fmi3Float64* v,
                                 std::size_t values) {
  PlantUnit& unit = unit_of(c);
  return alike(unit, n, values) ? status(set_variables(unit, RegisterType::number, r, n, v)) : fmi3Error;
}
EXPORT fmi3Status fmi3GetInt32(fmi3Instance c, References r, std::size_t n, fmi3Int32* v,
                               std::size_t values) {
  PlantUnit& unit = unit_of(c);
  return alike(unit, n, values) ? status(get_variables(unit, RegisterType::whole, r, n, v)) : fmi3Error;
}
EXPORT fmi3Status fmi3SetInt32(fmi3Instance c, References r, std::size_t n, const fmi3Int32* v,
                               std::size_t values) {
  PlantUnit& unit = unit_of(c);
  return alike(unit, n, values) ? status(set_variables(unit, RegisterType::whole, r, n, v)) : fmi3Error;
}

// What this unit has none of: an empty list is no error.
#define NONE(name, Value)                                                                                 \
  EXPORT fmi3Status fmi3Get##name(fmi3Instance c, References, std::size_t n, Value*, std::size_t) {       \
    return n == 0 ? fmi3OK : missing(c, "fmi3Get" #name);                                                 \
  }                                                                                                       \
  EXPORT fmi3Status fmi3Set##name(fmi3Instance c, References, std::size_t n, const Value*, std::size_t) { \
    return n == 0 ? fmi3OK : missing(c, "fmi3Set" #name);                                                 \
  }
NONE(Float32, fmi3Float32)
NONE(Int8, fmi3Int8)
NONE(UInt8, fmi3UInt8)
NONE(Int16, fmi3Int16)
NONE(UInt16, fmi3UInt16)
NONE(UInt32, fmi3UInt32)
NONE(Int64, fmi3Int64)
NONE(UInt64, fmi3UInt64)
NONE(Boolean, fmi3Boolean)
NONE(String, fmi3String)
#undef NONE
EXPORT fmi3Status fmi3GetBinary(fmi3Instance c, References, std::size_t n, std::size_t*, fmi3Binary*,
                                std::size_t) {
  return n == 0 ? fmi3OK : missing(c, "fmi3GetBinary");
}
EXPORT fmi3Status fmi3SetBinary(fmi3Instance c, References, std::size_t n, const std::size_t*,
                                const fmi3Binary*, std::size_t) {
  return n == 0 ? fmi3OK : missing(c, "fmi3SetBinary");
}

// What it cannot do at all.
#define CANNOT(name, ...)                               \
  EXPORT fmi3Status name(fmi3Instance c, __VA_ARGS__) { \
    return missing(c, #name);                           \
  }
#define CANNOT_ENTER(name)                 \
  EXPORT fmi3Status name(fmi3Instance c) { \
    return missing(c, #name);              \
  }
CANNOT_ENTER(fmi3EnterEventMode)
CANNOT_ENTER(fmi3EnterStepMode)
CANNOT_ENTER(fmi3EnterConfigurationMode)
CANNOT_ENTER(fmi3ExitConfigurationMode)
CANNOT_ENTER(fmi3EvaluateDiscreteStates)
CANNOT(fmi3UpdateDiscreteStates, fmi3Boolean*, fmi3Boolean*, fmi3Boolean*, fmi3Boolean*, fmi3Boolean*,
       fmi3Float64*)
CANNOT(fmi3GetClock, References, std::size_t, fmi3Clock*)
CANNOT(fmi3SetClock, References, std::size_t, const fmi3Clock*)
CANNOT(fmi3GetIntervalDecimal, References, std::size_t, fmi3Float64*, fmi3IntervalQualifier*)
CANNOT(fmi3GetIntervalFraction, References, std::size_t, fmi3UInt64*, fmi3UInt64*, fmi3IntervalQualifier*)
CANNOT(fmi3GetShiftDecimal, References, std::size_t, fmi3Float64*)
CANNOT(fmi3GetShiftFraction, References, std::size_t, fmi3UInt64*, fmi3UInt64*)
CANNOT(fmi3SetIntervalDecimal, References, std::size_t, const fmi3Float64*)
CANNOT(fmi3SetIntervalFraction, References, std::size_t, const fmi3UInt64*, const fmi3UInt64*)
CANNOT(fmi3SetShiftDecimal, References, std::size_t, const fmi3Float64*)
CANNOT(fmi3SetShiftFraction, References, std::size_t, const fmi3UInt64*, const fmi3UInt64*)
CANNOT(fmi3GetNumberOfVariableDependencies, fmi3ValueReference, std::size_t*)
CANNOT(fmi3GetVariableDependencies, fmi3ValueReference, std::size_t*, fmi3ValueReference*, std::size_t*,
       fmi3DependencyKind*, std::size_t)
CANNOT(fmi3GetFMUState, fmi3FMUState*)
CANNOT(fmi3SetFMUState, fmi3FMUState)
CANNOT(fmi3FreeFMUState, fmi3FMUState*)
CANNOT(fmi3SerializedFMUStateSize, fmi3FMUState, std::size_t*)
CANNOT(fmi3SerializeFMUState, fmi3FMUState, fmi3Byte*, std::size_t)
CANNOT(fmi3DeserializeFMUState, const fmi3Byte*, std::size_t, fmi3FMUState*)
CANNOT(fmi3GetDirectionalDerivative, References, std::size_t, References, std::size_t, const fmi3Float64*,
       std::size_t, fmi3Float64*, std::size_t)
CANNOT(fmi3GetAdjointDerivative, References, std::size_t, References, std::size_t, const fmi3Float64*,
       std::size_t, fmi3Float64*, std::size_t)
CANNOT(fmi3GetOutputDerivatives, References, std::size_t, const fmi3Int32*, fmi3Float64*, std::size_t)
