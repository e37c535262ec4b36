#include "scenarios/reader/fault_fit.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "plant-model/instruments/actuator.hpp"
#include "scenarios/reader/controller_sizes.hpp"
#include "scenarios/reader/plant_file.hpp"

namespace duskline::scenarios {
namespace {

/// What ctl_plant_orders_to_module puts over the readings of a module.
constexpr std::string_view kHandedDown[] = {
    "ambient_pressure",  "ambient_temperature", "plenum_pressure", "plenum_temperature",
    "inlet_co_fraction", "housing_temperature", "bus_voltage"};

bool has_reading(const plant::FaultRow& row, const plant::PlantParameters& p) {
  if (!plant::has_headers(p.form)) return true;
  ctl_params params{};
  size_controller(p, params);
  std::size_t place = 0;
  while (place < kInstrumentTable.size() && kInstrumentTable[place].spec.name != row.target) ++place;
  return (params.not_fitted & (std::uint32_t{1} << place)) == 0 &&
         std::find(std::begin(kHandedDown), std::end(kHandedDown), row.target) == std::end(kHandedDown);
}

bool has_command(const plant::FaultRow& row, const plant::PlantParameters& p) {
  const auto rated = plant::ratings(p);
  const auto most = [](const auto& one) {
    if constexpr (requires { one[0]; })
      return one[0].upper;
    else
      return one.upper;
  };
#define RATED(name, ...) \
  if (row.target == #name) return most(rated.name) > 0.0;
  CTL_OUTPUT_LIST(RATED, RATED)
#undef RATED
  return false;
}

}  // namespace

std::string why_not_here(const plant::FaultRow& row, const plant::PlantParameters& plant) {
  using plant::FaultEffect;
  if (row.scope == plant::FaultScope::headers)
    return plant::has_headers(plant.form) ? "" : fmt::format("'{}' needs a plant with headers", row.name);
  switch (row.effect) {
    case FaultEffect::scale:
    case FaultEffect::set:
    case FaultEffect::add:
      if (const auto* info = find_parameter(row.target); info == nullptr || info->fits(plant.form)) return {};
      return fmt::format("'{}' acts on plant.{}, which this plant does not have", row.name, row.target);
    case FaultEffect::sensor:
    case FaultEffect::swap:
      if (has_reading(row, plant)) return {};
      return fmt::format("'{}' acts on the reading of {}, which a module of this plant does not have itself",
                         row.name, row.target);
    case FaultEffect::actuator:
      if (has_command(row, plant)) return {};
      return fmt::format("'{}' acts on the command {}, which a module of this plant does not have", row.name,
                         row.target);
    default:
      return {};
  }
}

std::vector<const plant::FaultRow*> faults_of(const plant::PlantParameters& plant) {
  std::vector<const plant::FaultRow*> rows;
  for (const plant::FaultRow& row : plant::fault_table())
    if (why_not_here(row, plant).empty()) rows.push_back(&row);
  return rows;
}

std::string no_such_module(const plant::PlantParameters& plant, int module) {
  const std::size_t modules = plant.form.modules;
  if (modules == 1) return "this plant has one module, which is not named";
  if (module >= 0 && static_cast<std::size_t>(module) < modules) return {};
  return fmt::format("there is no module {}; this plant has {}, counted from 1", module + 1, modules);
}

std::string why_not_of_module(const plant::FaultRow& row, const plant::PlantParameters& plant, int module) {
  if (row.scope != plant::FaultScope::module)
    return fmt::format("'{}' is of what the modules share; leave the module out", row.name);
  return no_such_module(plant, module);
}

}  // namespace duskline::scenarios
