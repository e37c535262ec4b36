// The functions of FMI 2.0. Source: Functional Mock-up Interface 2.0, sections 2.1 and 4.2.
#include <algorithm>
#include <charconv>

#include "hil-harness/fmi/unit/fmi2.h"
#include "hil-harness/fmi/unit/plant_unit.hpp"

using namespace duskline::harness;

namespace {

fmi2Status status(UnitAnswer answer) {
  return static_cast<fmi2Status>(answer);
}
fmi2Status missing(fmi2Component c, const char* what) {
  return status(unit_of(c).missing(what));
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
  auto unit =
      std::make_unique<PlantUnit>([who = std::string(name), to = *callbacks](
                                      UnitAnswer answer, const char* category, const std::string& what) {
        if (to.logger != nullptr)
          to.logger(to.componentEnvironment, who.c_str(), status(answer), category, "%s", what.c_str());
      });
  if (type != fmi2CoSimulation) {
    unit->report(UnitAnswer::error, "this unit is for co-simulation only");
    return nullptr;
  }
  return unit->open(guid, path_of(resources)) ? unit.release() : nullptr;
}
EXPORT void fmi2FreeInstance(fmi2Component c) {
  delete static_cast<PlantUnit*>(c);
}

EXPORT fmi2Status fmi2SetupExperiment(fmi2Component c, fmi2Boolean, fmi2Real, fmi2Real start, fmi2Boolean,
                                      fmi2Real) {
  if (start == 0.0) return fmi2OK;
  return status(unit_of(c).report(UnitAnswer::error, "the scenario starts at 0 s"));
}
EXPORT fmi2Status fmi2EnterInitializationMode(fmi2Component c) {
  return status(unit_of(c).initialise(0.0));
}
EXPORT fmi2Status fmi2ExitInitializationMode(fmi2Component) {
  return fmi2OK;
}
EXPORT fmi2Status fmi2DoStep(fmi2Component c, fmi2Real time, fmi2Real size, fmi2Boolean) {
  return status(unit_of(c).step(time, size));
}
EXPORT fmi2Status fmi2Terminate(fmi2Component c) {
  unit_of(c).terminate();
  return fmi2OK;
}
EXPORT fmi2Status fmi2Reset(fmi2Component c) {
  unit_of(c).reset();
  return fmi2OK;
}

EXPORT fmi2Status fmi2GetReal(fmi2Component c, const fmi2ValueReference* r, std::size_t n, fmi2Real* v) {
  return status(get_variables(unit_of(c), RegisterType::number, r, n, v));
}
EXPORT fmi2Status fmi2GetInteger(fmi2Component c, const fmi2ValueReference* r, std::size_t n,
                                 fmi2Integer* v) {
  return status(get_variables(unit_of(c), RegisterType::whole, r, n, v));
}
EXPORT fmi2Status fmi2SetReal(fmi2Component c, const fmi2ValueReference* r, std::size_t n,
                              const fmi2Real* v) {
  return status(set_variables(unit_of(c), RegisterType::number, r, n, v));
}
EXPORT fmi2Status fmi2SetInteger(fmi2Component c, const fmi2ValueReference* r, std::size_t n,
                                 const fmi2Integer* v) {
  return status(set_variables(unit_of(c), RegisterType::whole, r, n, v));
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
  if (kind != fmi2LastSuccessfulTime) return missing(c, "fmi2GetRealStatus");
  *value = unit_of(c).time();
  return fmi2OK;
}
EXPORT fmi2Status fmi2GetIntegerStatus(fmi2Component c, fmi2StatusKind, fmi2Integer*) {
  return missing(c, "fmi2GetIntegerStatus");
}
EXPORT fmi2Status fmi2GetBooleanStatus(fmi2Component c, fmi2StatusKind kind, fmi2Boolean* value) {
  if (kind != fmi2Terminated) return missing(c, "fmi2GetBooleanStatus");
  *value = unit_of(c).at_end() ? 1 : 0;
  return fmi2OK;
}
EXPORT fmi2Status fmi2GetStringStatus(fmi2Component c, fmi2StatusKind, fmi2String*) {
  return missing(c, "fmi2GetStringStatus");
}
