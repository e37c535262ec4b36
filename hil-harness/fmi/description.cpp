#include "hil-harness/fmi/description.hpp"

#include <fmt/format.h>

#include <cmath>
#include <set>

#include "plant-model/random/noise.hpp"

namespace duskline::harness {
namespace {

constexpr int kFirstOutput = registers::kWordOrder + 2;  // what comes before is bookkeeping of the link
constexpr int kFirstInput = registers::kArm + 2;

std::string in_xml(const std::string& text) {
  std::string safe;
  for (const char c : text) {
    switch (c) {
      case '<':
        safe += "&lt;";
        break;
      case '&':
        safe += "&amp;";
        break;
      case '"':
        safe += "&quot;";
        break;
      default:
        safe += c;
    }
  }
  return safe;
}

std::string type_of(const RegisterRow& row) {
  const bool input = row.table == RegisterTable::holding;
  if (row.type == RegisterType::whole) return input ? R"(<Integer start="0"/>)" : "<Integer/>";
  std::string text = "<Real";
  if (row.unit != "1") text += fmt::format(" unit=\"{}\"", in_xml(row.unit));
  if (std::isfinite(row.lower)) text += fmt::format(" min=\"{:g}\" max=\"{:g}\"", row.lower, row.upper);
  return text + (input ? R"( start="0"/>)" : "/>");
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

std::string unit_description(const scenarios::Scenario& scenario, const std::string& resolved_scenario,
                             const std::string& version) {
  std::string units, variables, outputs;
  std::set<std::string> named;
  int index = 0;
  for (const RegisterRow* row : unit_variables()) {
    ++index;
    const bool input = row->table == RegisterTable::holding;
    if (row->unit != "1" && named.insert(row->unit).second)
      units += fmt::format("    <Unit name=\"{}\"/>\n", in_xml(row->unit));
    variables += fmt::format(
        "    <ScalarVariable name=\"{}\" valueReference=\"{}\" description=\"{}\" causality=\"{}\" "
        "variability=\"discrete\">{}</ScalarVariable>\n",
        in_xml(unit_name(*row)), unit_reference(*row), in_xml(row->meaning), input ? "input" : "output",
        type_of(*row));
    if (!input) outputs += fmt::format("      <Unknown index=\"{}\" dependencies=\"\"/>\n", index);
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
      in_xml(scenario.title), unit_guid(resolved_scenario), in_xml(scenario.purpose), version, kUnitName,
      units, static_cast<double>(scenarios::periods(scenario)) * scenario.period, scenario.period, variables,
      outputs, outputs);
}

}  // namespace duskline::harness
