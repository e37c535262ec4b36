// The demo plant with several modules of its stack.
#pragma once

#include "tests/support/plant.hpp"

namespace duskline::tests {

/// The demo plant with `n` modules of its stack behind a filter, a compressor and a plenum n times as large.
inline plant::PlantParameters scaled(std::size_t n) {
  plant::PlantParameters p = bench();
  const auto by = static_cast<double>(n);
  for (double* part :
       {&p.filter.area, &p.compressor.displacement, &p.compressor.leakage, &p.compressor.inertia,
        &p.compressor.friction_torque, &p.compressor.viscous_friction, &p.compressor.shell_heat_capacity,
        &p.compressor.shell_conductance, &p.flow.plenum_volume, &p.heat.plenum_heat_capacity,
        &p.heat.plenum_conductance, &p.housing.area, &p.housing.sunlit_area, &p.housing.ground_conductance,
        &p.housing.heat_capacity, &p.power.electronics})
    *part *= by;
  return p;
}

/// `x` of the demo plant for each module, with n times the gas in the plenum.
inline plant::State repeated(const plant::State& x, const plant::Layout& layout, std::size_t n) {
  const plant::Layout one = plant::Network().layout();
  plant::State all;
  for (const plant::StateInfo& info : layout.table()) {
    const std::string name =
        info.name.starts_with("module[") ? info.name.substr(info.name.find("].") + 2) : info.name;
    const double share = name.starts_with("plenum.") || name == "filter.dust" ? static_cast<double>(n) : 1.0;
    all.push_back(x[one.index(name)] * share);
  }
  return all;
}

inline plant::IntegratorOn<plant::State> module_integrator(const plant::Layout& layout, bool bordered) {
  plant::TolerancesOf<plant::State> tolerances{{}, 1e-4};
  for (const plant::StateInfo& info : layout.table()) tolerances.absolute.push_back(info.tolerance);
  plant::Division division = layout.division();
  if (!bordered) division.modules.clear();
  return {plant::Method::linearly_implicit, division, tolerances};
}

/// The Jacobian at x as one matrix, after the cells have settled.
inline plant::DenseMatrix whole_jacobian(plant::Plant& p, const plant::State& x) {
  plant::State f;
  for (int n = 0; n < 3; ++n) p(x, f, 0.0);
  plant::DenseMatrix dense = plant::BorderedJacobian(p.layout().division()).whole();
  p.jacobian(x, 0.0, dense);
  return dense;
}

/// Largest difference between that and the Jacobian by blocks, as a share of each row in units of the tolerances.
inline double largest_block_difference(plant::Plant& p, const plant::State& x,
                                       const plant::DenseMatrix& dense) {
  plant::BorderedJacobian bordered(p.layout().division());
  p.block_jacobian(x, 0.0, bordered);
  const plant::DenseMatrix blocks = bordered.whole();
  const auto table = p.layout().table();
  double worst = 0.0;
  for (std::size_t row = 0; row < dense.rows(); ++row) {
    double size = 1e-300;
    for (std::size_t c = 0; c < dense.columns(); ++c)
      size = std::max(size, std::abs(dense(row, c)) * table[c].tolerance);
    for (std::size_t c = 0; c < dense.columns(); ++c)
      worst = std::max(worst, std::abs(dense(row, c) - blocks(row, c)) * table[c].tolerance / size);
  }
  return worst;
}

}  // namespace duskline::tests
