/// Body of the flowsheet template; included only where it is instantiated.
#pragma once

#include <algorithm>

#include "plant-model/flow/bearing.hpp"
#include "plant-model/flow/compression.hpp"
#include "plant-model/heat/feed_path.hpp"
#include "plant-model/heat/network.hpp"
#include "plant-model/plant.hpp"
#include "plant-model/stack/crack.hpp"

namespace duskline::plant {

/// Constant enthalpies at 1073.15 K of the solids that store atoms, J/mol.
inline const double kCarbonEnthalpy = enthalpy(kCarbonFit, kReferenceTemperature);
inline const double kOxideEnthalpy =
    enthalpy(kNickelOxideFit, kReferenceTemperature) - enthalpy(kNickelFit, kReferenceTemperature);

/// Everything that one evaluation works out, in the order in which it does.
template <class S>
struct Flowsheet {
  GasStore<S> plenum, cathode, anode;
  Composition<S> manifold_cp, exit_enthalpy;
  GasLinks<S> gas;
  Compression<S> compressor;
  FeedPath<S> path;
  StackOutputs<S> stack;
  double carbon = 0.0, oxide = 0.0;  ///< mol/s taken up by the cells; constants to the Jacobian (slow)
  S heaters, bus, loss;              ///< W
};

/// The flows between the stores where exhaust and recycle reach their apertures at `exhaust_temperature` K.
template <class S>
void pass_gas(const PlantParameters& p, const Boundary& b, const S* x, const S& exhaust_temperature,
              Flowsheet<S>& f) {
  f.exit_enthalpy = gas_enthalpies(exhaust_temperature);
  f.gas = gas_links(p.flow, p.compressor, total_leak(p.flow.seal_leak, p.stack), p.heat.suction_heating, b,
                    f.plenum, f.cathode, f.anode, x[at::speed], x[at::recycle_opening], x[at::shell],
                    exhaust_temperature);
  f.path = feed_path(p.heat, f.gas, f.plenum, f.cathode, f.exit_enthalpy, x[at::preheater]);
}

/// Outputs of stores, then links; no derivative yet.
template <class S, class U>
Flowsheet<S> stores_and_links(const PlantParameters& p, const Boundary& b, const CommandsOf<U>& u, const S* x,
                              const double* slow, StackMemory& memory, CellReadings* readings,
                              CellView<S>* view = nullptr) {
  Flowsheet<S> f;
  const S& T_house = x[at::housing];
  f.plenum = gas_store(x + at::plenum, x[at::plenum_wall], p.flow.plenum_volume);
  f.cathode = gas_store(x + at::cathode, x[at::manifold], p.flow.cathode_volume);
  f.anode = gas_store(x + at::anode, x[at::manifold], p.flow.anode_volume);
  f.manifold_cp = gas_heat_capacities(x[at::manifold]);
  pass_gas(p, b, x, T_house, f);
  if (p.variants.exhaust == kHotExhaust) {
    constexpr int kSubstitutions = 6;  // each leaves a fifth of the error of 100 K
    for (int n = 0; n < kSubstitutions; ++n) pass_gas(p, b, x, S(f.path.exhaust_temperature), f);
  }
  f.compressor =
      compress(p.compressor, p.variants.friction, b, f.gas, f.plenum, dot(f.cathode.share, f.exit_enthalpy),
               x[at::speed], x[at::shell], u.compressor_speed);
  const StackInputs<S> in{
      x[at::current],  f.path.stack_flow,       f.gas.feed.net(),   f.path.burnt,
      f.cathode.share, f.path.feed_temperature, f.cathode.pressure, f.anode.pressure * f.anode.share[O2],
      x + at::stack};
  f.stack = evaluate_stack({p.stack, p.cell, p.degradation, p.flow.back_diffusion, p.variants}, in, slow,
                           memory, readings, view);
  for (std::size_t c = 0; c < kCells; ++c) {
    f.carbon += memory.carbon_rate[c] * p.stack.repeats;
    f.oxide += memory.oxide_rate[c] * p.stack.repeats;
  }
  f.heaters = x[at::preheater_power];
  for (std::size_t e = 0; e < kEnds; ++e) f.heaters = f.heaters + x[at::end_power + e];
  f.bus = x[at::current] * f.stack.voltage / p.power.stack_converter + f.heaters / p.power.heater_converter +
          f.compressor.power + p.power.electronics;
  f.loss = housing_loss(p.housing, b.housing, b.ambient, T_house);
  return f;
}

/// Amounts in the three gas volumes.
template <class S>
void gas_rates(const PlantParameters& p, const Boundary& b, const Flowsheet<S>& f, S* dx) {
  const GasLinks<S>& g = f.gas;
  const Composition<double>& air = b.ambient.composition;
  // oxygen in the cathode volume burns where there is CO
  const Composition<S>& n = f.cathode.amount;
  const S afterburn =
      p.flow.combustion_rate * n[O2] * n[CO] / (positive_part(n[CO], 1e-9) + positive_part(n[O2], 1e-9));
  Composition<S> made;  // in the cathode volume: electrolysis, carbon, oxide, burning
  made[CO2] = f.carbon - f.oxide - f.stack.conversion + 2.0 * afterburn;
  made[CO] = f.stack.conversion - 2.0 * f.carbon + f.oxide - 2.0 * afterburn;
  made[O2] = -1.0 * afterburn;
  made[N2] = made[Ar] = S(0.0);
  for (std::size_t i = 0; i < kSpecies; ++i) {
    const S& in_plenum = f.plenum.share[i];
    const S& in_cathode = f.cathode.share[i];
    const S& in_anode = f.anode.share[i];
    const S leak = g.seal.out * in_cathode - g.seal.back * in_anode;
    dx[at::plenum + i] = g.suction.swept * g.suction.gas[i] - g.suction.leaked * in_plenum -
                         g.feed.out * in_plenum + g.feed.back * in_cathode;
    dx[at::cathode + i] = g.feed.out * f.path.per_feed[i] - g.feed.back * in_cathode -
                          (g.exhaust.out + g.recycle) * in_cathode + g.exhaust.back * air[i] - leak + made[i];
    dx[at::anode + i] = leak - g.product.out * in_anode + g.product.back * air[i];
    if (i == O2) dx[at::anode + i] = dx[at::anode + i] + f.stack.oxygen;
  }
}

template <class S, class U>
void actuator_rates(const PlantParameters& p, const CommandsOf<U>& u, const S& acceleration, const S* x,
                    S* dx) {
  dx[at::speed] = acceleration;
  dx[at::current] = (u.stack_current - x[at::current]) / p.power.current_lag;
  for (std::size_t e = 0; e < kEnds; ++e)
    dx[at::end_power + e] = (u.end_power[e] - x[at::end_power + e]) / p.heat.heater_lag;
  dx[at::preheater_power] = (u.preheater_power - x[at::preheater_power]) / p.heat.heater_lag;
  dx[at::recycle_opening] = (u.recycle_opening - x[at::recycle_opening]) / p.flow.recycle_lag;
}

/// Internal energy that enters a gas store with its amounts (W), and the store's heat capacity (J/K).
template <class S>
struct GasHeat {
  S carried, capacity;
};
template <class S>
GasHeat<S> gas_heat(const GasStore<S>& g, const Composition<S>& cp, const S* rates) {
  GasHeat<S> h{S(0.0), S(0.0)};
  const S rt = g.temperature * kGasConstant;
  for (std::size_t i = 0; i < kSpecies; ++i) {
    h.carried = S(h.carried + (g.enthalpy[i] - rt) * rates[i]);
    h.capacity = S(h.capacity + (cp[i] - kGasConstant) * g.amount[i]);
  }
  return h;
}

/// Temperatures; call after gas_rates: a gas volume shares its wall's temperature.
template <class S>
void heat_rates(const PlantParameters& p, const Boundary& b, const Flowsheet<S>& f, const S* x, S* dx) {
  const auto& heat = p.heat;
  const GasLinks<S>& g = f.gas;
  const std::array<double, kZones> cells = cells_in_zones(p.stack);
  Conducted<S> q = conduct(heat, p.variants.insulation, cells, x);

  constexpr double per_row = 1.0 / static_cast<double>(kSegments);
  for (std::size_t z = 0; z < kZones; ++z)
    for (std::size_t k = 0; k < kSegments; ++k) {
      const std::size_t i = z * kSegments + k;
      S into = f.stack.heat[i] + q.stack[i];
      if (k == 0)
        into = into + f.path.burning_heat * (cells[z] / (p.stack.repeats * static_cast<double>(kCells)));
      dx[at::stack + i] = into / (p.cell.heat_capacity * cells[z] * per_row);
    }
  for (std::size_t e = 0; e < kEnds; ++e)
    dx[at::end_plate + e] = (x[at::end_power + e] + q.end_plate[e]) / heat.end_plate_heat_capacity;

  // hot manifolds hold the cathode and the anode gas
  const GasHeat<S> in_cathode = gas_heat(f.cathode, f.manifold_cp, dx + at::cathode),
                   in_anode = gas_heat(f.anode, f.manifold_cp, dx + at::anode);
  const S manifold =
      f.stack.gas_enthalpy + f.stack.oxygen_enthalpy + (g.exhaust.back + g.product.back) * b.air_enthalpy -
      g.feed.back * f.cathode.molar_enthalpy - f.path.hot_at_manifold -
      g.product.out * f.anode.molar_enthalpy - f.carbon * kCarbonEnthalpy - f.oxide * kOxideEnthalpy;
  dx[at::manifold] = (manifold + q.manifold - in_cathode.carried - in_anode.carried) /
                     (heat.manifold_heat_capacity + in_cathode.capacity + in_anode.capacity);
  dx[at::preheater] =
      (x[at::preheater_power] - (f.path.feed_heated - f.path.feed_recuperated) + q.preheater) /
      heat.preheater_heat_capacity;

  // what the recuperator does not pass from stream to stream, and the heat of backflow, stays in the
  // insulation
  const S backflow_cooled = dot(f.cathode.share, f.plenum.enthalpy);
  const S left_behind = (f.path.hot_at_manifold - f.path.hot_recuperated) -
                        (f.path.feed_recuperated - f.path.feed_at_plenum) +
                        g.feed.back * (f.cathode.molar_enthalpy - backflow_cooled);
  dx[at::inner_insulation] = (q.inner + left_behind) / heat.inner_heat_capacity;
  dx[at::outer_insulation] = q.outer / heat.outer_heat_capacity;

  // the shell takes all work that is not in the gas; the few joules of the spinning rotor count as its heat
  const S from_shell = p.compressor.shell_conductance * (x[at::shell] - x[at::housing]);
  dx[at::shell] = (f.compressor.power - (f.compressor.discharged - f.compressor.taken) - from_shell) /
                  p.compressor.shell_heat_capacity;
  const GasHeat<S> in_plenum = gas_heat(f.plenum, gas_heat_capacities(f.plenum.temperature), dx + at::plenum);
  const S from_plenum = heat.plenum_conductance * (f.plenum.temperature - x[at::housing]);
  dx[at::plenum_wall] =
      (f.compressor.discharged + g.feed.back * backflow_cooled - g.suction.leaked * f.plenum.molar_enthalpy -
       f.path.feed_at_plenum - in_plenum.carried - from_plenum) /
      (heat.plenum_heat_capacity + in_plenum.capacity);
  const S converters = f.bus - x[at::current] * f.stack.voltage - f.heaters - f.compressor.power;
  dx[at::housing] = (q.housing + from_shell + from_plenum + converters +
                     (f.path.hot_recuperated - f.path.hot_at_exit) - f.loss) /
                    p.housing.heat_capacity;
}

/// What crosses the boundary of the plant.
template <class S>
void boundary_rates(const Boundary& b, const Flowsheet<S>& f, std::array<S, kQuadratures>& d) {
  const GasLinks<S>& g = f.gas;
  const S inward = g.suction.intake + g.exhaust.back + g.product.back;
  Composition<S> crossing;
  for (std::size_t i = 0; i < kSpecies; ++i)
    crossing[i] = inward * b.ambient.composition[i] - g.suction.outflow * g.suction.gas[i] -
                  g.exhaust.out * f.cathode.share[i] - g.product.out * f.anode.share[i];
  const auto atoms = atoms_in(crossing);
  for (std::size_t e = 0; e < kElements; ++e) d[at::atoms + e] = atoms[e];
  d[at::energy] = f.bus + inward * b.air_enthalpy - f.compressor.lost -
                  g.exhaust.out * dot(f.cathode.share, f.exit_enthalpy) -
                  g.product.out * f.anode.molar_enthalpy - f.loss;
  d[at::oxygen] = g.product.out * f.anode.share[O2];
  d[at::product] = g.product.out;
  d[at::bus_energy] = f.bus;
}

template <class S>
S mass_flow(const TwoWay<S>& moles, const Composition<S>& gas) {
  return moles.net() * molar_mass(gas);
}

/// K, mean of the segments of each zone.
template <class S>
std::array<S, kZones> zone_means(const S* x) {
  std::array<S, kZones> mean;
  for (std::size_t z = 0; z < kZones; ++z) {
    mean[z] = S(0.0);
    for (std::size_t k = 0; k < kSegments; ++k)
      mean[z] = mean[z] + x[at::stack + z * kSegments + k] / static_cast<double>(kSegments);
  }
  return mean;
}

/// What the instruments look at: the one place that says so.
template <class S>
TrueValues<S> true_values(const PlantParameters& p, const Boundary& b, const Flowsheet<S>& f,
                          const std::array<S, kCells>& cell_voltage, const S* x) {
  std::array<S, kEnds> ends;
  std::copy_n(x + at::end_plate, kEnds, ends.begin());
  return {
      .ambient_pressure = S(b.ambient.pressure),
      .ambient_temperature = S(b.ambient.temperature),
      .plenum_pressure = f.plenum.pressure,
      .plenum_temperature = x[at::plenum_wall],
      .cathode_pressure = f.cathode.pressure,
      .anode_pressure = f.anode.pressure,
      .feed_flow = mass_flow(f.gas.feed, f.plenum.share),
      .compressor_speed = x[at::speed],
      .compressor_temperature = x[at::shell],
      .preheater_temperature = x[at::preheater],
      .housing_temperature = x[at::housing],
      .stack_current = x[at::current],
      .outlet_co_fraction = f.cathode.share[CO],
      .product_oxygen_fraction = f.anode.share[O2],
      .product_flow = mass_flow(f.gas.product, f.anode.share),
      .bus_voltage = S(p.power.bus_voltage),
      .bus_power = f.bus,
      .filter_differential_pressure = b.ambient.pressure - f.gas.suction.pressure,
      .bearing_vibration = bearing_tone(p.compressor.tone, p.compressor.bearing_wear, x[at::speed]),
      .end_temperature = ends,
      .zone_temperature = zone_means(x),
      .cell_voltage = cell_voltage,
  };
}

/// Share of the CO2 that the feed brings to the cells that is converted; negative where CO burns instead (a hot stack
/// without current, by its electronic leak).
template <class S>
S utilisation(const Flowsheet<S>& f) {
  constexpr double kNothing = 1e-9;  // mol/s of CO2, a thousandth of what diffuses at rest
  const S fed = f.path.stack_flow * f.path.burnt[CO2];
  return f.stack.conversion / pick(less(fed, kNothing), S(kNothing), fed);
}

/// What instruments and reports see; `out.cells` is filled already.
inline void read_outputs(const PlantParameters& p, const Boundary& b, const Flowsheet<double>& f,
                         const double* x, PlantOutputs& out) {
  const GasLinks<double>& g = f.gas;
  out.plenum_pressure = f.plenum.pressure;
  out.cathode_pressure = f.cathode.pressure;
  out.anode_pressure = f.anode.pressure;
  out.suction_pressure = g.suction.pressure;
  out.feed_gas = f.plenum.share;
  out.cathode_gas = f.cathode.share;
  out.anode_gas = f.anode.share;
  out.inlet_gas = f.path.burnt;
  out.intake_flow = (g.suction.intake - g.suction.outflow) * b.air_molar_mass;
  out.truth = true_values(p, b, f, out.cells.voltage, x);
  out.feed_flow = out.truth.feed_flow;
  out.exhaust_flow = g.exhaust.net() * molar_mass(f.cathode.share);
  out.recycle_flow = g.recycle * molar_mass(f.cathode.share);
  out.product_flow = out.truth.product_flow;
  out.leak_flow = g.seal.net();
  out.oxygen_made = f.stack.oxygen * kMolarMass[O2];
  out.oxygen_delivered = g.product.out * f.anode.share[O2] * kMolarMass[O2];
  out.utilisation = utilisation(f);
  out.stack_voltage = f.stack.voltage;
  out.stack_power = x[at::current] * f.stack.voltage;
  out.compressor_power = f.compressor.power;
  out.heater_power = f.heaters;
  out.bus_power = f.bus;
  out.feed_temperature = f.path.feed_temperature;
  out.discharge_temperature = f.compressor.discharge_temperature;
  out.exhaust_temperature = f.path.exhaust_temperature;
  out.shaft_load = f.compressor.shaft_load;
  out.gradient = 0.0;
  out.zone_temperature = out.truth.zone_temperature;
  for (std::size_t z = 1; z < kZones; ++z)
    out.gradient = std::max(out.gradient, std::abs(out.zone_temperature[z] - out.zone_temperature[z - 1]));
  out.worst_cell = 0;
  out.min_nickel_ratio = out.cells.nickel_ratio[0];
  for (std::size_t c = 0; c < kCells; ++c) {
    if (out.cells.margin[c] < out.cells.margin[out.worst_cell]) out.worst_cell = c;
    out.min_nickel_ratio = std::min(out.min_nickel_ratio, out.cells.nickel_ratio[c]);
  }
  out.min_margin = out.cells.margin[out.worst_cell];
}

template <class S>
Derivatives<S> flowsheet(const PlantParameters& p, const Boundary& b, const Commands& u, const S* x,
                         const double* slow, StackMemory& memory, PlantOutputs* out) {
  Derivatives<S> d;
  S* dx = d.implicit.data();
  const Flowsheet<S> f = stores_and_links(p, b, u, x, slow, memory, out != nullptr ? &out->cells : nullptr);
  gas_rates(p, b, f, dx);
  actuator_rates(p, u, f.compressor.acceleration, x, dx);
  heat_rates(p, b, f, x, dx);
  boundary_rates(b, f, d.quadrature);
  if constexpr (std::is_same_v<S, double>)
    if (out != nullptr) read_outputs(p, b, f, x, *out);
  return d;
}

}  // namespace duskline::plant
