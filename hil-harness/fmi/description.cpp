#include "hil-harness/fmi/description.hpp"

#include <fmt/format.h>

#include <cmath>
#include <set>

#include "plant-model/random/noise.hpp"
#include "scenarios/reader/text.hpp"

namespace duskline::harness {
namespace {

using scenarios::escaped_text;

constexpr int kFirstOutput = registers::kWordOrder + 2;  // what comes before is bookkeeping of the link
constexpr int kFirstInput = registers::kArm + 2;

bool is_input(const RegisterRow& row) {
  return row.table == RegisterTable::holding;
}

/// What both versions say of a variable.
std::string common_attributes(const RegisterRow& row) {
  return fmt::format(
      R"(name="{}" valueReference="{}" description="{}" causality="{}" variability="discrete")",
      escaped_text(unit_name(row)), unit_reference(row), escaped_text(row.meaning),
      is_input(row) ? "input" : "output");
}

/// What both versions say of its values.
std::string value_attributes(const RegisterRow& row) {
  std::string text;
  if (row.type == RegisterType::number && row.unit != "1")
    text += fmt::format(" unit=\"{}\"", escaped_text(row.unit));
  if (row.type == RegisterType::number && std::isfinite(row.lower))
    text += fmt::format(" min=\"{:g}\" max=\"{:g}\"", row.lower, row.upper);
  return text + (is_input(row) ? R"( start="0")" : "");
}

std::string unit_definitions() {
  std::string text;
  std::set<std::string> named;
  for (const RegisterRow* row : unit_variables())
    if (row->unit != "1" && named.insert(row->unit).second)
      text += fmt::format("    <Unit name=\"{}\"/>\n", escaped_text(row->unit));
  return text;
}

double stop_time(const scenarios::Scenario& scenario) {
  return static_cast<double>(scenarios::periods(scenario)) * scenario.period;
}

std::string description_2(const scenarios::Scenario& scenario, const std::string& guid,
                          const std::string& version) {
  std::string variables, outputs;
  int index = 0;
  for (const RegisterRow* row : unit_variables()) {
    ++index;
    variables += fmt::format("    <ScalarVariable {}><{}{}/></ScalarVariable>\n", common_attributes(*row),
                             row->type == RegisterType::number ? "Real" : "Integer", value_attributes(*row));
    if (!is_input(*row)) outputs += fmt::format("      <Unknown index=\"{}\" dependencies=\"\"/>\n", index);
  }
  return fmt::format(
      R"(<?xml version="1.0" encoding="UTF-8"?>
<fmiModelDescription fmiVersion="2.0" modelName="{}" guid="{}" description="{}" generationTool="duskline {}" variableNamingConvention="structured" numberOfEventIndicators="0">
  <CoSimulation modelIdentifier="{}" needsExecutionTool="false" canHandleVariableCommunicationStepSize="false" canInterpolateInputs="false" maxOutputDerivativeOrder="0" canRunAsynchronuously="false" canBeInstantiatedOnlyOncePerProcess="false" canNotUseMemoryManagementFunctions="true" canGetAndSetFMUstate="false" canSerializeFMUstate="false" providesDirectionalDerivative="false"/>
  <UnitDefinitions>
{}  </UnitDefinitions>
  <DefaultExperiment startTime="0" stopTime="{:.17g}" stepSize="{:.17g}"/>
  <ModelVariables>
{}  </ModelVariables>
  <ModelStructure>
    <Outputs>
{}    </Outputs>
    <InitialUnknowns>
{}    </InitialUnknowns>
  </ModelStructure>
</fmiModelDescription>
)",
      escaped_text(scenario.title), guid, escaped_text(scenario.purpose), version, kUnitName,
      unit_definitions(), stop_time(scenario), scenario.period, variables, outputs, outputs);
}

std::string description_3(const scenarios::Scenario& scenario, const std::string& token,
                          const std::string& version) {
  std::string variables = fmt::format(
      "    <Float64 name=\"time\" valueReference=\"{}\" description=\"time since the start\" "
      "causality=\"independent\" variability=\"continuous\" unit=\"s\"/>\n",
      kUnitTime);
  std::string outputs, initial;
  for (const RegisterRow* row : unit_variables()) {
    variables += fmt::format("    <{} {}{}/>\n", row->type == RegisterType::number ? "Float64" : "Int32",
                             common_attributes(*row), value_attributes(*row));
    if (is_input(*row)) continue;
    outputs += fmt::format("    <Output valueReference=\"{}\" dependencies=\"\"/>\n", unit_reference(*row));
    initial +=
        fmt::format("    <InitialUnknown valueReference=\"{}\" dependencies=\"\"/>\n", unit_reference(*row));
  }
  return fmt::format(
      R"(<?xml version="1.0" encoding="UTF-8"?>
<fmiModelDescription fmiVersion="3.0" modelName="{}" instantiationToken="{}" description="{}" generationTool="duskline {}" variableNamingConvention="structured">
  <CoSimulation modelIdentifier="{}" needsExecutionTool="false" canBeInstantiatedOnlyOncePerProcess="false" canGetAndSetFMUState="false" canSerializeFMUState="false" providesDirectionalDerivatives="false" providesAdjointDerivatives="false" canHandleVariableCommunicationStepSize="false" fixedInternalStepSize="{:.17g}" maxOutputDerivativeOrder="0" providesIntermediateUpdate="false" mightReturnEarlyFromDoStep="false" canReturnEarlyAfterIntermediateUpdate="false" hasEventMode="false"/>
  <UnitDefinitions>
{}  </UnitDefinitions>
  <DefaultExperiment startTime="0" stopTime="{:.17g}" stepSize="{:.17g}"/>
  <ModelVariables>
{}  </ModelVariables>
  <ModelStructure>
{}{}  </ModelStructure>
</fmiModelDescription>
)",
      escaped_text(scenario.title), token, escaped_text(scenario.purpose), version, kUnitName,
      scenario.period, unit_definitions(), stop_time(scenario), scenario.period, variables, outputs, initial);
}

}  // namespace

std::vector<const RegisterRow*> unit_variables() {
  std::vector<const RegisterRow*> rows;
  for (const RegisterRow& row : register_map())
    if (row.address >= (row.table == RegisterTable::input ? kFirstOutput : kFirstInput)) rows.push_back(&row);
  return rows;
}

std::string unit_name(const RegisterRow& row) {
  // a reading and a command may have one name
  const std::string name = (row.table == RegisterTable::holding ? "command." : "") + row.name;
  const std::size_t space = name.find(' ');
  if (space == std::string::npos) return name;
  return fmt::format("{}[{}]", name.substr(0, space), name.substr(space + 1));
}

unsigned unit_reference(const RegisterRow& row) {
  return static_cast<unsigned>(row.address) + (row.table == RegisterTable::holding ? kCommands : 0);
}

std::string unit_guid(const std::string& resolved_scenario) {
  const std::uint64_t a = plant::stream_hash(resolved_scenario), b = plant::stream_hash(register_map_csv());
  return fmt::format("{{{:08x}-{:04x}-{:04x}-{:04x}-{:012x}}}", a >> 32U, (a >> 16U) & 0xffffU, a & 0xffffU,
                     b >> 48U, b & 0xffffffffffffU);
}

std::string unit_description(UnitStandard standard, const scenarios::Scenario& scenario,
                             const std::string& resolved_scenario, const std::string& version) {
  const std::string guid = unit_guid(resolved_scenario);
  return standard == UnitStandard::fmi2 ? description_2(scenario, guid, version)
                                        : description_3(scenario, guid, version);
}

}  // namespace duskline::harness
