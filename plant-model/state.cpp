#include "plant-model/state.hpp"

#include <vector>

namespace duskline::plant {
namespace {

std::vector<StateInfo> make_table() {
  std::vector<StateInfo> t;
  const auto each = [&](const std::string& stem, std::size_t n, const StateInfo& info) {
    for (std::size_t i = 0; i < n; ++i)
      t.push_back(
          {stem + "[" + std::to_string(i + 1) + "]", info.unit, info.tolerance, info.lower, info.upper});
  };
  const auto gas = [&](const std::string& store, double tolerance) {
    for (const auto species : kSpeciesNames)
      t.push_back({store + "." + std::string(species), "mol", tolerance, -1e-4, 1e3});
  };
  gas("plenum", 1e-5);
  gas("cathode", 1e-8);  // of 3e-6 mol that are left at rest, when traces of CO decide over the nickel
  gas("anode", 1e-10);   // of 5e-9 mol of oxygen that are left at rest
  t.push_back({"compressor.speed", "rad/s", 0.5, -50, 900});
  t.push_back({"stack.current", "A", 5e-3, -100, 1000});
  each("end_plate.power", kEnds, {"", "W", 2.0, -10, 1e5});
  t.push_back({"preheater.power", "W", 2.0, -10, 1e5});
  t.push_back({"recycle.opening", "1", 5e-3, -0.1, 1.1});
  each("stack.temperature", kStackNodes, {"", "K", 0.05, 120, 1400});
  each("end_plate.temperature", kEnds, {"", "K", 0.05, 120, 1500});
  for (const char* node :
       {"manifold", "preheater", "inner_insulation", "outer_insulation", "housing", "shell", "plenum_wall"})
    t.push_back({std::string(node) + ".temperature", "K", 0.05, 100, 1600});
  for (const auto element : kElementNames)
    t.push_back({"boundary." + std::string(element), "mol", 1e-3, -1e9, 1e9});
  t.push_back({"boundary.energy", "J", 10, -1e15, 1e15});
  t.push_back({"boundary.oxygen", "mol", 1e-3, -1e9, 1e9});
  t.push_back({"boundary.product", "mol", 1e-3, -1e9, 1e9});
  t.push_back({"boundary.bus_energy", "J", 10, -1e15, 1e15});
  each("cell.carbon", kCells, {"", "mol", 1e-6, -1e-6, 10});
  each("cell.carbon_damage", kCells, {"", "1", 1e-4, -1e-6, 1e3});
  each("cell.oxide", kCells, {"", "mol", 1e-6, -1e-6, 10});
  each("cell.oxide_damage", kCells, {"", "1", 1e-4, -1e-6, 1e3});
  each("cell.ageing", kCells, {"", "ohm m2", 1e-8, -1e-6, 1});
  t.push_back({"filter.dust", "kg", 1e-7, -1e-9, 10});
  return t;
}

}  // namespace

std::span<const StateInfo> state_table() {
  static const std::vector<StateInfo> table = make_table();
  return table;
}

}  // namespace duskline::plant
