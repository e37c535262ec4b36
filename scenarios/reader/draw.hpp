/// A plant drawn from the ranges of its file: what was built, where the file says what was meant.
///
/// What it is   every parameter with a range, drawn by the number of the draw and by its own path; what is correlated
///              stands in one table
/// Equation     z = r g + sqrt(1 - r^2) e; share = Phi(z); value = lower + share (upper - lower), or by equal factors
///              where upper/lower is at least kByFactors; a cell's own value: z = r g + sqrt(1 - r^2) e_cell; the
///              flow shares of the cells are divided by their mean
/// Symbols      g, e standard normal: of a group, of the parameter; r [1] weight of the group, negative: against it
/// Validity     draws 1, 2, ...; 0 is the plant of the file. A value that a scenario or the command line sets (its
///              source begins with "set to") is held
/// Source       ranges: the plant file; groups and weights: estimates, each with its reason in the table
/// Left out     distributions other than even ones; what is a choice of the design (kHeld); errors of the instruments,
///              which have streams of their own
#pragma once

#include <cstdint>
#include <functional>
#include <string_view>

#include "scenarios/reader/plant_file.hpp"

namespace duskline::scenarios {

inline constexpr double kByFactors = 4.0;

/// A parameter that goes with others, and why.
struct Correlation {
  std::string_view path, group;
  double weight;
  std::string_view why;
};
inline constexpr Correlation kCorrelations[] = {
    {"cell.cathode_exchange", "electrodes", 0.6, "one sintering makes both electrodes coarse or fine"},
    {"cell.anode_exchange", "electrodes", 0.6, "as the cathode"},
    {"cell.diffusivity", "pores", 0.6, "a dense layer hinders diffusion"},
    {"cell.diffusion_length", "pores", -0.6, "a dense layer acts like a longer one"},
    {"cell.contact_resistance", "assembly", 0.7, "one stacking force for all contacts"},
    {"stack.resistance_factor", "assembly", 0.7, "one stacking force, one batch of cells"},
    {"flow.seal_leak", "assembly", 0.5, "a loose stack leaks"},
    {"heat.side_loss", "insulation", 0.8, "one batch of insulation, one way of fitting it"},
    {"heat.end_loss", "insulation", 0.8, "as the sides"},
    {"heat.manifold_loss", "insulation", 0.8, "as the sides"},
    {"heat.preheater_loss", "insulation", 0.8, "as the sides"},
    {"heat.inner_conductance", "insulation", 0.8, "as the sides"},
    {"heat.outer_conductance", "insulation", 0.8, "as the sides"},
    {"compressor.friction_torque", "clearance", 0.7, "tight clearances rub"},
    {"compressor.viscous_friction", "clearance", 0.7, "tight clearances rub"},
    {"compressor.leakage", "clearance", -0.7, "tight clearances leak less"},
    {"compressor.filling", "clearance", 0.5, "tight clearances fill better"},
};

/// A parameter that is not drawn, and why.
struct Held {
  std::string_view path, why;
};
inline constexpr Held kHeld[] = {
    {"stack.zone", "where a cell stands is a choice"}, {"stack.crack_leak", "a crack is a fault"},
    {"power.current_max", "a rating that is chosen"},  {"power.speed_max", "a rating that is chosen"},
    {"power.bus_voltage", "a bus that is chosen"},     {"heat.end_heater_max", "a rating that is chosen"},
    {"heat.preheater_max", "a rating that is chosen"},
};

/// Where g and e come from: the name of a group or the path of a parameter, and the item of a list.
using NormalSource = std::function<double(std::string_view name, std::int64_t item)>;
/// Those of draw number `draw`.
double drawn_normal(std::uint64_t draw, std::string_view name, std::int64_t item);

/// Row `i` of the dictionary of parameters is drawn: it has a range and is neither held nor set.
bool is_drawn(const PlantFile& plant, std::size_t i);
/// Mean square of what a drawn value has above the lower end of its range.
double mean_square_above_lower(const ParameterNote& note);
plant::PlantParameters drawn_plant(const PlantFile& plant, const NormalSource& normal);
/// Variants of draw number `draw`, each of a part as often; a part that the file chooses otherwise than usual is held.
plant::Variants drawn_structure(const plant::Variants& variants, std::uint64_t draw);
/// The parameters of draw number `draw`.
plant::PlantParameters drawn_plant(const PlantFile& plant, std::uint64_t draw);
/// What the loop runs: parameters of draw `draw`, variants of draw `structure`; 0 each: as the file says.
plant::PlantParameters drawn_plant(const PlantFile& plant, std::uint64_t draw, std::uint64_t structure);

}  // namespace duskline::scenarios
