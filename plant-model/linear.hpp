/// The plant at one state as a linear system, exact: derivatives from duals, not from differences.
///
/// What it is   A, B, C, D of the implicit states under the commands, with names and units from the
///              dictionaries
/// Equation     dx/dt = f(x0, u0) + A (x - x0) + B (u - u0); y = y0 + C (x - x0) + D (u - u0)
/// Symbols      x implicit states (network/layout.hpp), u commands after saturation and slew, y what instruments look
///              at and what the report shows; SI units
/// Validity     any state at which the network can be evaluated; the slow states (carbon, oxide, damage,
///              ageing, dust) and the surroundings stand still, rates of carbon and oxide are constants
/// Source       duals (dual.hpp) through the parts; the inner solution of the cells by the implicit
///              function theorem
/// Left out     quadratures (nothing depends on them); derivatives with respect to the slow states
#pragma once

#include <Eigen/Core>
#include <span>
#include <string>

#include "plant-model/plant.hpp"

namespace duskline::plant {

inline constexpr std::size_t kTruths = kFields<TrueValues>;
inline constexpr std::size_t kCommands = kFields<CommandsOf>;
inline constexpr std::size_t kSharedTruths = kFields<SharedValuesOf>;
inline constexpr std::size_t kSharedCommands = kFields<SharedCommandsOf>;
inline constexpr std::size_t kModuleCommands = kFields<ModuleCommandsOf>;

struct QuantityInfo {
  std::string name, unit;
};

struct LinearPlant {
  Eigen::MatrixXd a, b, c, d;
  Eigen::VectorXd rates, outputs;  ///< f(x0, u0) and y0
};

/// Columns of b and d: the fields of the commands. Rows of c and d: the fields of the true values, whose names and
/// units stand in the controller's lists, then what the report shows beside them, one row each of this table.
std::span<const QuantityInfo> reported_table();

/// The plant's boundary, parameters and commands are those in force. Of a plant of one module with apertures.
LinearPlant linearise(const Plant& plant, const State& x);

/// Of a plant with headers. Columns of b and d: the fields of SharedCommandsOf, then of each module those of
/// ModuleCommandsOf. Rows of c and d: the fields of SharedValuesOf, what is reported of all modules together, then
/// of each module the fields of TrueValues and what is reported of it.
LinearPlant linearise_whole(const Plant& plant, const State& x);
std::span<const QuantityInfo> shared_reported_table();
std::span<const QuantityInfo> module_reported_table();

}  // namespace duskline::plant
