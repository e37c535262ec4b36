/// Body of the flowsheet template; included only where it is instantiated.
#pragma once

#include "plant-model/plant.hpp"

namespace duskline::plant {

/// Width of the smooth change from driving to braking, W of shaft power.
inline constexpr double kDriveWidth = 0.5;
/// Constant enthalpies at 1073.15 K of the solids that store atoms, J/mol.
inline const double kCarbonEnthalpy = enthalpy(kCarbonFit, kReferenceTemperature);
inline const double kOxideEnthalpy =
    enthalpy(kNickelOxideFit, kReferenceTemperature) - enthalpy(kNickelFit, kReferenceTemperature);

template <class S>
Derivatives<S> flowsheet(const PlantParameters& p, const Boundary& b, const Commands& u, const S* x,
                         const double* slow, StackMemory& memory, PlantOutputs* out) {
  Derivatives<S> d;
  auto& dx = d.implicit;
  const Ambient& air = b.ambient;
  const auto& heat = p.heat;
  const auto& flow = p.flow;
  const S T_air = S(air.temperature), M_air = S(b.air_molar_mass), p_air = S(air.pressure);

  // ---- outputs of the stores
  // -------------------------------------------------------------------------------
  Composition<S> n_pl, n_ca, n_an;
  for (std::size_t i = 0; i < kSpecies; ++i) {
    n_pl[i] = x[at::plenum + i];
    n_ca[i] = x[at::cathode + i];
    n_an[i] = x[at::anode + i];
  }
  const S T_pl = x[at::plenum_wall], T_m = x[at::manifold], T_h = x[at::housing], T_sh = x[at::shell];
  const Composition<S> x_pl = fractions(n_pl, 1e-9), x_ca = fractions(n_ca, 1e-12),
                       x_an = fractions(n_an, 1e-12);
  const S p_pl = S(total(n_pl) * T_pl * (kGasConstant / flow.plenum_volume));
  const S p_ca = S(total(n_ca) * T_m * (kGasConstant / flow.cathode_volume));
  const S p_an = S(total(n_an) * T_m * (kGasConstant / flow.anode_volume));
  const S speed = x[at::speed], current = x[at::current], opening = x[at::recycle_opening];
  const Composition<S> h_pl = gas_enthalpies(T_pl), h_m = gas_enthalpies(T_m), h_house = gas_enthalpies(T_h);

  // ---- links: gas
  // ------------------------------------------------------------------------------------------ exhaust and
  // recycle leave at the housing temperature, after recuperator and cooler
  const S M_ca = molar_mass(x_ca);
  const S exhaust = aperture_flow(S(flow.exhaust_aperture), p_ca, T_h, M_ca, p_air, T_air, M_air);
  const S recycle = positive_part(
      aperture_flow(S(flow.recycle_aperture * opening), p_ca, T_h, M_ca, p_air, T_air, M_air), 1e-9);
  const S product = aperture_flow(S(flow.product_aperture), p_an, T_m, molar_mass(x_an), p_air, T_air, M_air);
  const S feed_net = S(flow.feed_conductance * (p_pl * p_pl - p_ca * p_ca));
  const S feed = positive_part(feed_net, 1e-7), backflow = S(feed - feed_net);
  const S exhaust_out = positive_part(exhaust, 1e-8), exhaust_in = S(exhaust_out - exhaust);
  const S product_out = positive_part(product, 1e-8), product_in = S(product_out - product);

  const S T_suction = S(T_air + heat.suction_heating * (T_sh - air.temperature));
  const Suction<S> suction = suction_manifold(air.pressure, b.filter_resistance, air.composition,
                                              swept_flow_per_pascal(p.compressor, speed, T_suction),
                                              p.compressor.leakage, p_pl, x_pl, recycle, x_ca);

  double leak_conductance = flow.seal_leak;
  for (std::size_t c = 0; c < kCells; ++c) leak_conductance += p.stack.crack_leak[c] * p.stack.repeats;
  const S leak_net = S(leak_conductance * (p_ca - p_an));
  const S leak_out = positive_part(leak_net, leak_conductance * 1.0), leak_in = S(leak_out - leak_net);

  // ---- links: compressor
  // -----------------------------------------------------------------------------------
  const auto& comp = p.compressor;
  const S work = S(kGasConstant * T_suction * reduced_work(comp, S(p_pl / suction.pressure)));  // J/mol
  const Composition<S> cp_s = gas_heat_capacities(T_suction);
  const S T_adiabatic = S(T_suction + work / dot(suction.gas, cp_s));
  const S T_d = S(T_sh + (1.0 - comp.cooling) * (T_adiabatic - T_sh));
  const Composition<S> h_d = gas_enthalpies(T_d);
  const S h_out_d = dot(suction.gas, h_d);
  Composition<S> h_air;
  for (std::size_t i = 0; i < kSpecies; ++i) h_air[i] = S(enthalpy(kGasFits[i], air.temperature));
  const S h_suction_out = dot(suction.gas, h_air);
  const S compressor_in = S(suction.intake * b.air_enthalpy - suction.outflow * h_suction_out +
                            recycle * dot(x_ca, h_house) + suction.leaked * dot(x_pl, h_pl));
  // shaft: the drive carries the load and accelerates towards the commanded speed within its limit
  constexpr double kTwoPi = 6.28318530717958647693;
  const S tau_gas =
      S(comp.filling * comp.displacement / (kTwoPi * kGasConstant) / T_suction * suction.pressure * work);
  const S tau_friction =
      S(comp.friction_torque * speed / sqrt(S(speed * speed + 25.0)) + comp.viscous_friction * speed);
  const S asked = S((u.speed - speed) / (comp.drive_lag * comp.acceleration));
  const S acceleration = S(comp.acceleration * asked / sqrt(S(1.0 + asked * asked)));
  const S shaft_power = S((tau_gas + tau_friction + comp.inertia * acceleration) * speed);
  const S compressor_power = S(positive_part(shaft_power, kDriveWidth) / comp.motor_efficiency);

  // ---- links: recuperator and preheater
  // --------------------------------------------------------------------
  const S hot_flow = S(exhaust_out + recycle);
  const Composition<S> cp_m = gas_heat_capacities(T_m);
  const S cold_cp = dot(x_pl, cp_m), hot_cp = dot(x_ca, cp_m);
  const Recuperated<S> rec = recuperate(heat.recuperator_ua, feed, cold_cp, T_pl, hot_flow, hot_cp, T_m);
  const Composition<S> h_cold_out = gas_enthalpies(rec.cold_out), h_hot_out = gas_enthalpies(rec.hot_out);
  const S feed_at_plenum = S(feed * dot(x_pl, h_pl)), feed_recuperated = S(feed * dot(x_pl, h_cold_out));
  const S hot_at_manifold = S(hot_flow * dot(x_ca, h_m)),
          hot_recuperated = S(hot_flow * dot(x_ca, h_hot_out));
  const S hot_at_housing = S(hot_flow * dot(x_ca, h_house));
  const S T_pre = x[at::preheater];
  const S T_feed = S(rec.cold_out + heat.preheater_effectiveness * (T_pre - rec.cold_out));
  const Composition<S> h_feed = gas_enthalpies(T_feed);
  const S feed_heated = S(feed * dot(x_pl, h_feed));

  // ---- links: stack
  // ---------------------------------------------------------------------------------------- oxygen of the
  // air burns with CO on the hot nickel at the inlet
  Composition<S> burnt = x_pl;
  const S burn = smooth_min(S(0.5 * x_pl[CO]), x_pl[O2], 1e-5);
  const S lit = S((T_feed - 700.0) * (1.0 / 30.0));  // nickel lights off around 700 K (estimate)
  const S burn_hot = S(burn * 0.5 * (1.0 + lit / sqrt(S(1.0 + lit * lit))));
  burnt[CO] = S(x_pl[CO] - 2.0 * burn_hot);
  burnt[CO2] = S(x_pl[CO2] + 2.0 * burn_hot);
  burnt[O2] = S(x_pl[O2] - burn_hot);
  StackInputs<S> stack_in{current, feed, burnt, x_ca, T_feed, p_ca, S(p_an * x_an[O2]), x + at::stack};
  // the burning releases its heat in the first segment: the feed brings the enthalpy of the gas before it
  const S burning_heat = S(feed_heated - feed * dot(burnt, h_feed));
  const StackOutputs<S> stack =
      evaluate_stack(p, stack_in, slow, memory, out != nullptr ? &out->cells : nullptr);

  // ---- stores: gas
  // -----------------------------------------------------------------------------------------
  double carbon = 0.0, oxide = 0.0;  // mol/s, constants to the Jacobian (slow)
  for (std::size_t c = 0; c < kCells; ++c) {
    carbon += memory.carbon_rate[c] * p.stack.repeats;
    oxide += memory.oxide_rate[c] * p.stack.repeats;
  }
  // oxygen in the cathode volume burns where there is CO
  const S afterburn = S(flow.combustion_rate * n_ca[O2] * n_ca[CO] /
                        (positive_part(n_ca[CO], 1e-9) + positive_part(n_ca[O2], 1e-9)));
  Composition<S> dn_ca;
  for (std::size_t i = 0; i < kSpecies; ++i) {
    dx[at::plenum + i] =
        S(suction.swept * suction.gas[i] - suction.leaked * x_pl[i] - feed * x_pl[i] + backflow * x_ca[i]);
    dn_ca[i] = S(feed * burnt[i] - backflow * x_ca[i] - (exhaust_out + recycle) * x_ca[i] +
                 exhaust_in * air.composition[i] - leak_out * x_ca[i] + leak_in * x_an[i]);
    dx[at::anode + i] =
        S(leak_out * x_ca[i] - leak_in * x_an[i] - product_out * x_an[i] + product_in * air.composition[i]);
  }
  dn_ca[CO2] = S(dn_ca[CO2] - stack.conversion + carbon - oxide + 2.0 * afterburn);
  dn_ca[CO] = S(dn_ca[CO] + stack.conversion - 2.0 * carbon + oxide - 2.0 * afterburn);
  dn_ca[O2] = S(dn_ca[O2] - afterburn);
  constexpr std::size_t kProductOxygen = std::size_t{at::anode} + std::size_t{O2};
  dx[kProductOxygen] = S(dx[kProductOxygen] + stack.oxygen);
  for (std::size_t i = 0; i < kSpecies; ++i) dx[at::cathode + i] = dn_ca[i];

  // ---- stores: actuators
  // -----------------------------------------------------------------------------------
  dx[at::speed] = acceleration;
  dx[at::current] = S((u.current - current) / p.power.current_lag);
  for (std::size_t e = 0; e < kEnds; ++e)
    dx[at::end_power + e] = S((u.end_power[e] - x[at::end_power + e]) / heat.heater_lag);
  dx[at::preheater_power] = S((u.preheater_power - x[at::preheater_power]) / heat.heater_lag);
  dx[at::recycle_opening] = S((u.recycle_opening - opening) / flow.recycle_lag);

  // ---- stores: heat
  // ----------------------------------------------------------------------------------------
  const S T_in = x[at::inner_insulation], T_out = x[at::outer_insulation];
  const double per_node = 1.0 / static_cast<double>(kStackNodes),
               per_row = 1.0 / static_cast<double>(kSegments);
  std::array<double, kZones> cells_in{};
  for (std::size_t c = 0; c < kCells; ++c)
    cells_in[static_cast<std::size_t>(p.stack.zone[c])] += p.stack.repeats;
  S inner = S(0.0), manifold = S(0.0);
  std::array<S, kEnds> ends;
  ends.fill(S(0.0));
  std::array<S, kStackNodes> q = stack.heat;
  for (std::size_t z = 0; z < kZones; ++z)
    for (std::size_t k = 0; k < kSegments; ++k) {
      const std::size_t i = z * kSegments + k;
      const S& T = x[at::stack + i];
      const auto exchange = [&q, i](std::size_t j, const S& w) {
        q[i] = S(q[i] - w);
        q[j] = S(q[j] + w);
      };
      if (z + 1 < kZones)
        exchange(i + kSegments, S((heat.axial_conductance * per_row) * (T - x[at::stack + i + kSegments])));
      if (k + 1 < kSegments)
        exchange(i + 1, S((heat.flow_conductance * cells_in[z]) * (T - x[at::stack + i + 1])));
      const S side = S((heat.side_loss * per_node) * (T - T_in));
      q[i] = S(q[i] - side);
      inner = S(inner + side);
      if (k == 0 || k + 1 == kSegments) {
        const S edge = S((heat.manifold_conductance * 0.5 / static_cast<double>(kZones)) * (T - T_m));
        q[i] = S(q[i] - edge);
        manifold = S(manifold + edge);
      }
      if (z == 0 || z + 1 == kZones) {
        const std::size_t e = z == 0 ? 0 : 1;
        const S end = S((heat.end_conductance * per_row) * (T - x[at::end_plate + e]));
        q[i] = S(q[i] - end);
        ends[e] = S(ends[e] + end);
      }
    }
  for (std::size_t z = 0; z < kZones; ++z) {
    q[z * kSegments] =
        S(q[z * kSegments] + burning_heat * (cells_in[z] / (p.stack.repeats * static_cast<double>(kCells))));
    for (std::size_t k = 0; k < kSegments; ++k)
      dx[at::stack + z * kSegments + k] =
          S(q[z * kSegments + k] / (p.cell.heat_capacity * cells_in[z] * per_row));
  }
  for (std::size_t e = 0; e < kEnds; ++e) {
    const S loss = S(heat.end_loss * (x[at::end_plate + e] - T_in));
    inner = S(inner + loss);
    dx[at::end_plate + e] = S((x[at::end_power + e] + ends[e] - loss) / heat.end_plate_heat_capacity);
  }
  // manifolds hold the cathode and anode gas at their own temperature
  const S manifold_loss = S(heat.manifold_loss * (T_m - T_in));
  inner = S(inner + manifold_loss);
  S held = S(0.0), gas_heat = S(heat.manifold_heat_capacity);
  const S rt = S(T_m * kGasConstant);
  for (std::size_t i = 0; i < kSpecies; ++i) {
    held = S(held + (h_m[i] - rt) * (dn_ca[i] + dx[at::anode + i]));
    gas_heat = S(gas_heat + (cp_m[i] - kGasConstant) * (n_ca[i] + n_an[i]));
  }
  S air_h = S(b.air_enthalpy);
  const S manifold_in = S(stack.gas_enthalpy + stack.oxygen_enthalpy + (exhaust_in + product_in) * air_h -
                          backflow * dot(x_ca, h_m) - hot_at_manifold - product_out * dot(x_an, h_m) -
                          carbon * kCarbonEnthalpy - oxide * kOxideEnthalpy);
  dx[at::manifold] = S((manifold_in + manifold - manifold_loss - held) / gas_heat);
  const S pre_loss = S(heat.preheater_loss * (T_pre - T_in));
  inner = S(inner + pre_loss);
  dx[at::preheater] = S((x[at::preheater_power] - (feed_heated - feed_recuperated) - pre_loss) /
                        heat.preheater_heat_capacity);
  // what the recuperator does not pass from stream to stream, and the heat of backflow, stays in the
  // insulation
  inner = S(inner + (hot_at_manifold - hot_recuperated) - (feed_recuperated - feed_at_plenum) +
            backflow * (dot(x_ca, h_m) - dot(x_ca, h_pl)));
  const S through =
      S(insulation_conductance(heat.inner_conductance, heat.radiative_growth, T_in, T_out) * (T_in - T_out));
  const S outward =
      S(insulation_conductance(heat.outer_conductance, heat.radiative_growth, T_out, T_h) * (T_out - T_h));
  dx[at::inner_insulation] = S((inner - through) / heat.inner_heat_capacity);
  dx[at::outer_insulation] = S((through - outward) / heat.outer_heat_capacity);
  // compressor shell takes all work that is not in the gas; the few joules of the spinning rotor count as its heat
  const S shell_out = S(comp.shell_conductance * (T_sh - T_h));
  dx[at::shell] = S((compressor_power - (suction.swept * h_out_d - compressor_in) - shell_out) /
                    comp.shell_heat_capacity);
  // plenum gas and wall share a temperature
  S held_pl = S(0.0), heat_pl = S(heat.plenum_heat_capacity);
  const Composition<S> cp_pl = gas_heat_capacities(T_pl);
  for (std::size_t i = 0; i < kSpecies; ++i) {
    held_pl = S(held_pl + (h_pl[i] - T_pl * kGasConstant) * dx[at::plenum + i]);
    heat_pl = S(heat_pl + (cp_pl[i] - kGasConstant) * n_pl[i]);
  }
  const S plenum_out = S(heat.plenum_conductance * (T_pl - T_h));
  dx[at::plenum_wall] = S((suction.swept * h_out_d + backflow * dot(x_ca, h_pl) -
                           suction.leaked * dot(x_pl, h_pl) - feed_at_plenum - held_pl - plenum_out) /
                          heat_pl);
  // power
  S heaters = x[at::preheater_power];
  for (std::size_t e = 0; e < kEnds; ++e) heaters = S(heaters + x[at::end_power + e]);
  const S stack_power = S(current * stack.voltage);
  const S bus = S(stack_power / p.power.stack_converter + heaters / p.power.heater_converter +
                  compressor_power + p.power.electronics);
  const S converter_loss = S(bus - stack_power - heaters - compressor_power);
  const S loss = housing_loss(p.housing, b.housing, air, T_h);
  dx[at::housing] =
      S((outward + shell_out + plenum_out + converter_loss + (hot_recuperated - hot_at_housing) - loss) /
        p.housing.heat_capacity);

  // ---- what crosses the boundary
  // ---------------------------------------------------------------------------
  Composition<S> crossing;
  for (std::size_t i = 0; i < kSpecies; ++i)
    crossing[i] = S((suction.intake + exhaust_in + product_in) * air.composition[i] -
                    suction.outflow * suction.gas[i] - exhaust_out * x_ca[i] - product_out * x_an[i]);
  const auto atoms = atoms_in(crossing);
  for (std::size_t e = 0; e < kElements; ++e) d.quadrature[at::atoms + e] = atoms[e];
  d.quadrature[at::energy] =
      S(bus + (suction.intake + exhaust_in + product_in) * air_h - suction.outflow * h_suction_out -
        exhaust_out * dot(x_ca, h_house) - product_out * dot(x_an, h_m) - loss);
  d.quadrature[at::oxygen] = S(product_out * x_an[O2]);
  d.quadrature[at::product] = product_out;
  d.quadrature[at::bus_energy] = bus;

  if constexpr (std::is_same_v<S, double>) {
    if (out != nullptr) {
      out->plenum_pressure = p_pl;
      out->cathode_pressure = p_ca;
      out->anode_pressure = p_an;
      out->suction_pressure = suction.pressure;
      out->feed_gas = x_pl;
      out->cathode_gas = x_ca;
      out->anode_gas = x_an;
      out->inlet_gas = burnt;
      out->intake_flow = (suction.intake - suction.outflow) * b.air_molar_mass;
      out->feed_flow = feed_net * molar_mass(x_pl);
      out->exhaust_flow = exhaust * M_ca;
      out->recycle_flow = recycle * M_ca;
      out->product_flow = product * molar_mass(x_an);
      out->leak_flow = leak_net;
      out->oxygen_made = stack.oxygen * kMolarMass[O2];
      out->oxygen_delivered = product_out * x_an[O2] * kMolarMass[O2];
      out->utilisation = stack.conversion / (feed * burnt[CO2] + flow.back_diffusion);
      out->stack_voltage = stack.voltage;
      out->stack_power = stack_power;
      out->compressor_power = compressor_power;
      out->heater_power = heaters;
      out->bus_power = bus;
      out->feed_temperature = T_feed;
      out->discharge_temperature = T_d;
      out->exhaust_temperature = rec.hot_out;
      out->shaft_load = (tau_gas + tau_friction) * speed;
      out->gradient = 0.0;
      for (std::size_t z = 0; z < kZones; ++z) {
        out->zone_temperature[z] = 0.0;
        for (std::size_t k = 0; k < kSegments; ++k)
          out->zone_temperature[z] += x[at::stack + z * kSegments + k] * per_row;
        if (z > 0)
          out->gradient =
              std::max(out->gradient, std::abs(out->zone_temperature[z] - out->zone_temperature[z - 1]));
      }
      out->worst_cell = 0;
      out->least_nickel_ratio = out->cells.nickel_ratio[0];
      for (std::size_t c = 0; c < kCells; ++c) {
        if (out->cells.margin[c] < out->cells.margin[out->worst_cell]) out->worst_cell = c;
        out->least_nickel_ratio = std::min(out->least_nickel_ratio, out->cells.nickel_ratio[c]);
      }
      out->least_margin = out->cells.margin[out->worst_cell];
    }
  }
  return d;
}

}  // namespace duskline::plant
