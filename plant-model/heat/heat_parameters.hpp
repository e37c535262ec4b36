/// The hot box: its nodes, what conducts between them, its exchangers and heaters.
#pragma once

namespace duskline::plant {

struct HeatParameters {
  double end_plate_heat_capacity{};  ///< J/K each
  double manifold_heat_capacity{};   ///< J/K
  double preheater_heat_capacity{};  ///< J/K
  double inner_heat_capacity{};      ///< J/K, insulation near the hot box
  double outer_heat_capacity{};      ///< J/K, insulation near the housing
  double plenum_heat_capacity{};     ///< J/K
  double axial_conductance{};        ///< W/K between neighbouring zones, whole section
  double flow_conductance{};         ///< W/K between neighbouring segments of one cell
  double end_conductance{};          ///< W/K between an end plate and the outer zone
  double manifold_conductance{};     ///< W/K between the manifolds and the stack's inlet and outlet edges
  double side_loss{};                ///< W/K, stack to inner insulation
  double end_loss{};                 ///< W/K, each end plate to inner insulation
  double manifold_loss{};            ///< W/K
  double preheater_loss{};           ///< W/K
  double inner_conductance{};        ///< W/K, inner to outer insulation near 0 K
  double outer_conductance{};        ///< W/K, outer insulation to housing near 0 K
  double radiative_growth{};         ///< 1, rise of insulation conductance at a mean of 1000 K
  double recuperator_ua{};           ///< W/K
  double preheater_effectiveness{};  ///< 1
  double plenum_conductance{};       ///< W/K, plenum wall to housing
  double suction_heating{};          ///< 1, share of the way from ambient to shell that suction gas warms
  double end_heater_max{};           ///< W each
  double preheater_max{};            ///< W
  double heater_lag{};               ///< s
  double heater_slew{};              ///< W/s, fastest change of a heater's power
};

}  // namespace duskline::plant
