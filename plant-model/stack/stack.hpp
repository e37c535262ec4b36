/// The stack: eight modelled cells in five zones, each solved along its flow, under one current.
///
/// What it is   gathers zone temperatures and gas into cells, solves them, and returns heat, gas and limits
/// Equation     heat of segment k = H_gas,in(T_k-1) - H_gas,out(T_k) - H_O2(T_k) + i_k A_s V + leak heat
/// (enthalpies with formation) Symbols      see column.hpp; flows in mol/s for one cell of each kind, sums
/// multiplied by the number of repeats Validity     see cell.hpp Source       first law on each segment; gas
/// leaves a segment at its temperature (channels of many transfer units) Left out     radiation along
/// channels, pressure drop along a cell (below 100 Pa)
#pragma once

#include "plant-model/parameters.hpp"

namespace duskline::plant {

/// What goes along from evaluation to evaluation: warm starts and results that duals treat as constants.
struct StackMemory {
  ColumnCurrents<Pack> currents{Pack(0.9),
                                {Pack(0.0), Pack(0.0), Pack(0.0), Pack(0.0), Pack(0.0), Pack(0.0)}};
  std::array<double, kCells> carbon_rate{}, oxide_rate{};  ///< mol/s per cell
  int newton_steps{};                                      ///< of the latest solve
};

template <class S>
struct StackInputs {
  S current;              ///< A
  S flow;                 ///< mol/s of feed that passes the stack, >= 0
  Composition<S> feed;    ///< mole fractions of the feed after oxygen has burnt with CO
  Composition<S> backed;  ///< mole fractions in the cathode volume
  S inlet_temperature;    ///< K
  S cathode_pressure;     ///< Pa
  S oxygen_pressure;      ///< Pa, partial pressure at the anode
  const S* temperature;   ///< K, kStackNodes
};

template <class S>
struct StackOutputs {
  std::array<S, kStackNodes> heat;  ///< W into each node
  S conversion;                     ///< mol/s CO2 -> CO
  S oxygen;                         ///< mol/s O2 to the anode
  S oxygen_enthalpy;                ///< W carried to the anode
  S gas_enthalpy;                   ///< W carried by the gas that leaves the cells
  S voltage;                        ///< V, sum over all cells
};

/// What the report and the instruments see of each cell; only worked out in double.
struct CellReadings {
  std::array<double, kCells> voltage, onset_voltage, margin, nickel_ratio, outlet_co;
  std::array<double, kCells> worst_segment;
};

namespace detail {
inline void set_lane(double& a, std::size_t, double v) {
  a = v;
}
inline void set_lane(Pack& a, std::size_t l, double v) {
  a.set(l, v);
}
template <int N>
void set_lane(Dual<N>& a, std::size_t, const Dual<N>& v) {
  a = v;
}
template <int N>
void set_lane(Dual<N>& a, std::size_t, double v) {
  a = Dual<N>(v);
}
inline double get_lane(const Pack& a, std::size_t l) {
  return a[l];
}
template <int N>
const Dual<N>& get_lane(const Dual<N>& a, std::size_t) {
  return a;
}
template <class S>
struct Lane {
  using type = S;
  static constexpr std::size_t width = 1;
};
template <>
struct Lane<double> {
  using type = Pack;
  static constexpr std::size_t width = Pack::kLanes;
};
}  // namespace detail

/// `slow` is the slow part of the state. With S = double the memory is updated; with duals it is read.
template <class S>
StackOutputs<S> evaluate_stack(const PlantParameters& p, const StackInputs<S>& in, const double* slow,
                               StackMemory& memory, CellReadings* readings) {
  using L = typename detail::Lane<S>::type;
  constexpr std::size_t kWidth = detail::Lane<S>::width;
  using detail::get_lane, detail::set_lane;
  const double segment_area = p.cell.area / static_cast<double>(kSegments);

  StackOutputs<S> out;
  out.heat.fill(S(0.0));
  out.conversion = out.oxygen = out.oxygen_enthalpy = out.gas_enthalpy = out.voltage = S(0.0);

  // Flow through each cell: its share of the feed, with back-diffusion from the cathode volume at no flow.
  std::array<double, kCells> share;
  double share_sum = 0.0;
  for (std::size_t c = 0; c < kCells; ++c) {
    share[c] =
        p.stack.flow_share[c] * flow_remaining(p.degradation, slow[at::carbon + c],
                                               slow[at::carbon_damage + c] + slow[at::oxide_damage + c]);
    share_sum += share[c];
  }
  const S seen = S(in.flow + p.flow.back_diffusion);
  const S per_seen = S(1.0 / seen);
  // a trace of CO is always there: CO2 dissociates by itself (1e-6 at 800 degC and 1 bar)
  const S inlet_co = S((in.flow * in.feed[CO] + p.flow.back_diffusion * in.backed[CO]) * per_seen);
  const S inlet_co2 = S((in.flow * in.feed[CO2] + p.flow.back_diffusion * in.backed[CO2]) * per_seen);
  const S co = S(1e-6 + positive_part(inlet_co, 1e-7)), co2 = S(1e-6 + positive_part(inlet_co2, 1e-7));
  const S pressure_bar = S(in.cathode_pressure * (1.0 / kStandardPressure));
  const S oxygen_bar = S(positive_part(in.oxygen_pressure, 0.2) * (1.0 / kStandardPressure));
  const S log_oxygen = log(oxygen_bar);
  const S oxygen_fifth_root = exp(S(0.2 * log_oxygen));
  const Composition<S> inlet_h = gas_enthalpies(in.inlet_temperature);

  for (std::size_t first = 0; first < kCells; first += kWidth) {
    ColumnInputs<L> column;
    std::array<L, kSegments> T;
    L repeats, cell_flow, rise, ageing;
    for (std::size_t l = 0; l < kWidth; ++l) {
      const std::size_t c = first + l;
      const auto zone = static_cast<std::size_t>(p.stack.zone[c]);
      for (std::size_t k = 0; k < kSegments; ++k) set_lane(T[k], l, in.temperature[zone * kSegments + k]);
      const double part = share[c] / (share_sum * p.stack.repeats);
      if constexpr (kWidth == 1) {
        cell_flow = S(part * in.flow);
        column.flow = S(part * seen);
      } else {
        set_lane(cell_flow, l, part * value_of(in.flow));
        set_lane(column.flow, l, part * value_of(seen));
      }
      const double damage = slow[at::carbon_damage + c] + slow[at::oxide_damage + c];
      set_lane(rise, l,
               p.stack.resistance_factor[c] *
                   resistance_rise(p.degradation, slow[at::carbon + c], damage, slow[at::oxide + c]));
      set_lane(ageing, l, slow[at::ageing + c]);
      set_lane(repeats, l, p.stack.repeats);
    }
    const L lane_pressure = L(pressure_bar), lane_log_oxygen = L(log_oxygen),
            lane_root = L(oxygen_fifth_root);
    column.current = L(in.current);
    column.inlet_co = L(co);
    column.inlet_co2 = L(co2);
    column.pressure = lane_pressure;
    column.area = p.cell.area;
    column.electronic_leak = p.cell.electronic_leak;
    for (std::size_t k = 0; k < kSegments; ++k) {
      column.chemistry[k] = segment_chemistry(p.cell, T[k], lane_pressure, lane_log_oxygen, lane_root);
      column.resistance[k] = L(column.chemistry[k].resistance * rise + ageing);
    }

    ColumnCurrents<L> solved;
    if constexpr (kWidth == 1) {
      // one Newton step from the converged numbers carries the derivatives of the solution
      solved.voltage = S(get_lane(memory.currents.voltage, first));
      for (std::size_t k = 0; k < kSegments; ++k)
        solved.density[k] = S(get_lane(memory.currents.density[k], first));
      const ColumnStep<S> step = newton_step(column, solved);
      solved.voltage = S(solved.voltage + step.voltage);
      for (std::size_t k = 0; k < kSegments; ++k) solved.density[k] = S(solved.density[k] + step.density[k]);
    } else {
      memory.newton_steps = solve_columns(column, memory.currents);
      solved = memory.currents;
    }

    // March along the flow: gas, heat and limits.
    constexpr double kPer2F = 1.0 / (2.0 * kFaraday);
    const L m = L(kPer2F / column.flow);
    const L leak_heat =
        L(electronic_leak(p.cell.electronic_leak, solved.voltage).current * solved.voltage * segment_area);
    Composition<L> n;  // mol/s in this cell
    L enthalpy_in = L(0.0), s = L(0.0);
    for (std::size_t i = 0; i < kSpecies; ++i) {
      n[i] = L(cell_flow * L(in.feed[i]));
      enthalpy_in = L(enthalpy_in + n[i] * L(inlet_h[i]));
    }
    L oxygen = L(0.0), oxygen_enthalpy = L(0.0);
    L least = L(1e9), least_at = L(0.0), carbon = L(0.0);
    for (std::size_t k = 0; k < kSegments; ++k) {
      const L& i = solved.density[k];
      const L made = L(i * (segment_area * kPer2F));  // mol/s CO
      s = L(s + segment_area * i);
      n[CO2] = L(n[CO2] - made);
      n[CO] = L(n[CO] + made);
      const Composition<L> h = gas_enthalpies(T[k]);
      const L enthalpy_out = dot(n, h);
      const L released = L(0.5 * made);
      const L q =
          L(enthalpy_in - enthalpy_out - released * h[O2] + i * solved.voltage * segment_area + leak_heat);
      oxygen = L(oxygen + released);
      oxygen_enthalpy = L(oxygen_enthalpy + released * h[O2]);
      enthalpy_in = enthalpy_out;
      for (std::size_t l = 0; l < kWidth; ++l) {
        const std::size_t node = static_cast<std::size_t>(p.stack.zone[first + l]) * kSegments + k;
        out.heat[node] = S(out.heat[node] + get_lane(q, l) * p.stack.repeats);
      }
      if constexpr (kWidth > 1) {
        const L u = not_below_trace(L(column.inlet_co + s * m + i * column.chemistry[k].diffusion));
        const L w = not_below_trace(L(column.inlet_co2 - s * m - i * column.chemistry[k].diffusion));
        const L depletion = fourth_root(L(w * lane_pressure * 2.0));
        const L qc = i / (2.0 * column.chemistry[k].cathode_exchange * depletion);
        const L root = sqrt(L(qc * qc + 1.0));
        const L factor = pick(less(i, 0.0), L(1.0 / (root - qc)), L(root + qc));
        const L activity = carbon_activity(column.chemistry[k].log_boudouard, u, w, lane_pressure);
        if (readings != nullptr) {
          const L margin =
              coke_margin(activity, factor, column.chemistry[k].thermal_voltage, p.cell.overpotential_share);
          least_at = select(margin.v < least.v, L(static_cast<double>(k)), least_at);
          least = select(margin.v < least.v, margin, least);
        }
        carbon += segment_area * carbon_formation(p.degradation, L(activity * factor), T[k]);
      }
    }
    const L gas_enthalpy = enthalpy_in;

    for (std::size_t l = 0; l < kWidth; ++l) {
      const double r = p.stack.repeats;
      out.conversion = S(out.conversion + 2.0 * r * get_lane(oxygen, l));
      out.oxygen = S(out.oxygen + r * get_lane(oxygen, l));
      out.oxygen_enthalpy = S(out.oxygen_enthalpy + r * get_lane(oxygen_enthalpy, l));
      out.gas_enthalpy = S(out.gas_enthalpy + r * get_lane(gas_enthalpy, l));
      out.voltage = S(out.voltage + r * get_lane(solved.voltage, l));
    }

    if constexpr (kWidth > 1) {
      // Nickel: the ratio at the inlet against its equilibrium; removal of carbon by the inlet gas.
      const L ratio = exp(
          L(log(L(column.inlet_co / column.inlet_co2)) - log_nickel_oxidation(where_equilibria_hold(T[0]))));
      const L speed = arrhenius(p.degradation.oxidation_energy, T[0]);
      const L removal =
          arrhenius(p.degradation.carbon_energy, T[kSegments - 1]) * (1.0 / p.degradation.gasification_time);
      const L activity_out = carbon_activity(column.chemistry[kSegments - 1].log_boudouard,
                                             not_below_trace(L(column.inlet_co + s * m)),
                                             not_below_trace(L(column.inlet_co2 - s * m)), lane_pressure);
      const L lean = ramp(L(1.0 - activity_out), 0.05);
      const L oxidising = ramp(L(1.0 - ratio), 0.05), reducing = ramp(L(1.0 - 1.0 / ratio), 0.05);
      for (std::size_t l = 0; l < kWidth; ++l) {
        const std::size_t c = first + l;
        const double oxidised = slow[at::oxide + c] / p.degradation.nickel_amount;
        memory.carbon_rate[c] = carbon[l] - slow[at::carbon + c] * removal[l] * lean[l];
        memory.oxide_rate[c] = p.degradation.nickel_amount * speed[l] *
                               (oxidising[l] * (1.0 - oxidised) / p.degradation.oxidation_time -
                                reducing[l] * oxidised / p.degradation.reduction_time);
        if (readings != nullptr) {
          readings->voltage[c] = solved.voltage[l];
          readings->margin[c] = least[l];
          readings->onset_voltage[c] = solved.voltage[l] + least[l];
          readings->worst_segment[c] = least_at[l];
          readings->nickel_ratio[c] = ratio[l];
          readings->outlet_co[c] = column.inlet_co[l] + s[l] * m[l];
        }
      }
    }
  }
  return out;
}

}  // namespace duskline::plant
