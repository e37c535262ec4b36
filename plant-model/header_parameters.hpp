/// Headers, their valves, what takes the product, the shared bus, and how modules differ.
#pragma once

#include <array>

#include "plant-model/flow/control_valve.hpp"
#include "plant-model/form.hpp"

namespace duskline::plant {

struct HeaderParameters {
  double feed_volume{};            ///< m3
  double exhaust_volume{};         ///< m3
  double product_volume{};         ///< m3
  double feed_heat_capacity{};     ///< J/K of the wall
  double exhaust_heat_capacity{};  ///< J/K
  double product_heat_capacity{};  ///< J/K
  double feed_conductance{};       ///< W/K from the wall to the housing
  double exhaust_conductance{};    ///< W/K
  double product_conductance{};    ///< W/K
};

struct ValveParameters {
  double feed_capacity{};        ///< K_v of a module's feed valve, open
  double anti_surge_capacity{};  ///< K_v
  double recycle_capacity{};     ///< K_v
  double exhaust_capacity{};     ///< K_v
  double product_capacity{};     ///< K_v
  double choke_ratio{};          ///< 1, x_T of all
  double rangeability{};         ///< 1, R of all
  double leakage{};              ///< 1, of the open capacity when shut
  double lag{};                  ///< s
  double stroke{};               ///< s, from shut to open at most
  double anti_surge_stroke{};    ///< s
  double exhaust_line{};         ///< mol/s/Pa2, laminar, of a module
  double product_line{};         ///< mol/s/Pa2, laminar, of a module
  double isolation_leakage{};    ///< 1, of the flow of an open isolation valve when shut
};

/// One of the valves above, as control_valve.hpp wants it.
inline ControlValve control_valve(const ValveParameters& v, double capacity, double stroke) {
  return {capacity, v.choke_ratio, v.rangeability, v.leakage, v.lag, stroke};
}

struct ProductParameters {
  double tank_pressure{};       ///< Pa
  double liquid_temperature{};  ///< K
  double liquefier_share{};     ///< 1, of Carnot
  double liquefier_warm{};      ///< K
  double water{};               ///< 1, mole fraction before the dryer
};

struct BusParameters {
  double others{};   ///< W that others draw
  double ceiling{};  ///< W for all
  double droop{};    ///< 1, by which the voltage is lower at the ceiling
};

/// By what each module differs from the values above; the first of them count.
struct ModuleDifferences {
  template <class T>
  using Each = std::array<T, kMostModules>;
  Each<double> production{};  ///< s of production that it has behind it
  Each<double> resistance{};  ///< 1, of its cells relative to the design
  Each<double> seals{};       ///< 1, leak of its seals relative to the design
  Each<double> insulation{};  ///< 1, conductance of its insulation relative to the design
};

}  // namespace duskline::plant
