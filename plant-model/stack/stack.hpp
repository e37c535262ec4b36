/// The stack: eight modelled cells in five zones, each solved along its flow, all under one current.
///
/// What it is   lays zone temperatures and gas into cells, solves them, and returns heat, gas and limits
/// Equation     flow of cell c = share_c / sum of shares; voltages add; heat of a node = sum over the cells
///              in its zone
/// Symbols      flows in mol/s and heat in W of the whole stack; one modelled cell stands for `repeats` real
///              ones
/// Validity     see cell.hpp, column.hpp, march.hpp
/// Source       those files
/// Left out     current collectors, thermal contact of single cells within a zone
#pragma once

#include "plant-model/flow/back_diffusion.hpp"
#include "plant-model/stack/cell_limits.hpp"
#include "plant-model/stack/drift.hpp"
#include "plant-model/stack/lanes.hpp"
#include "plant-model/stack/stack_parameters.hpp"
#include "plant-model/variants.hpp"

namespace duskline::plant {

static_assert(kCells == Pack::kLanes, "the cells of a plant fill one pack");

/// The latest solution of a module; of the three only that of its own division is used.
struct WarmStarts {
  ColumnCurrents<Pack, kCoarseSegments> coarse = initial<kCoarseSegments>();
  ColumnCurrents<Pack, kSegments> usual = initial<kSegments>();
  ColumnCurrents<Pack, kFineSegments> fine = initial<kFineSegments>();

  template <std::size_t N>
  ColumnCurrents<Pack, N>& of() {
    if constexpr (N == kCoarseSegments)
      return coarse;
    else if constexpr (N == kFineSegments)
      return fine;
    else
      return usual;
  }

 private:
  template <std::size_t N>
  static ColumnCurrents<Pack, N> initial() {
    ColumnCurrents<Pack, N> rest;
    rest.voltage = Pack(0.9);
    rest.density.fill(Pack(0.0));
    return rest;
  }
};

/// What goes along from evaluation to evaluation: warm starts and results that duals treat as constants.
struct StackMemory {
  WarmStarts currents;
  std::array<double, kCells> carbon_rate{}, oxide_rate{};  ///< mol/s per cell
  int newton_steps{};                                      ///< of the latest solve
};

/// The parameters that the stack is made by.
struct StackDesign {
  const StackParameters& stack;
  const CellParameters& cell;
  const DegradationParameters& degradation;
  double back_diffusion;  ///< mol/s, at no flow
  Variants variants{};
};

template <class S>
struct StackInputs {
  S current;              ///< A
  S flow;                 ///< mol/s of feed that passes the stack, >= 0
  S net_flow;             ///< mol/s through the inlet, < 0 in reverse
  Composition<S> feed;    ///< mole fractions of the feed after oxygen has burnt with CO
  Composition<S> backed;  ///< mole fractions in the cathode volume
  S inlet_temperature;    ///< K
  S cathode_pressure;     ///< Pa
  S oxygen_pressure;      ///< Pa, partial pressure at the anode
  const S* temperature;   ///< K, each node of the stack
};

template <class S, std::size_t N = kSegments>
struct StackOutputs {
  std::array<S, kZones * N> heat;  ///< W into each node
  S conversion;                    ///< mol/s CO2 -> CO
  S oxygen;                        ///< mol/s O2 to the anode
  S oxygen_enthalpy;               ///< W carried to the anode
  S gas_enthalpy;                  ///< W carried by the gas that leaves the cells
  S voltage;                       ///< V, sum over all cells
};

/// What the report and the instruments see of each cell; only worked out in double.
struct CellReadings {
  std::array<double, kCells> voltage, onset_voltage, margin, nickel_ratio, outlet_co;
  std::array<double, kCells> worst_segment;
  std::array<double, kCells> carbon, oxide;   ///< mol
  std::array<double, kCells> damage, ageing;  ///< 1; ohm m2
};

/// The same for duals, as far as linear models look at it.
template <class S>
struct CellView {
  std::array<S, kCells> voltage, margin, nickel_ratio;
};

/// What all cells have in common at the inlet and at the electrodes.
template <class S>
struct StackSide {
  S seen;     ///< mol/s, feed and what comes back from the cathode volume, which a cell at no flow still sees
  S co, co2;  ///< mole fractions at the inlet, > 0
  S pressure;                       ///< bar
  S log_oxygen, oxygen_fifth_root;  ///< of the anode's p_O2 in bar
  S oxygen_left;  ///< 1, share of the electronic leak that the anode's oxygen still supports
};

/// Partial pressure of oxygen at the anode at which half of the electronic leak is left, Pa (an estimate): a resting cell
/// that leaks takes its oxygen from the anode, and without any it has nothing to take.
inline constexpr double kOxygenSpent = 0.2;

template <class S>
StackSide<S> stack_side(const StackDesign& p, const StackInputs<S>& in) {
  StackSide<S> side;
  const S back = back_diffusion(p.back_diffusion, in.net_flow);
  side.seen = in.flow + back;
  const S per_seen = 1.0 / side.seen;
  const auto inlet = [&](Species i) {
    const S x = (in.flow * in.feed[i] + back * in.backed[i]) * per_seen;
    return 1e-6 +
           positive_part(x, 1e-7);  // a trace is always there: CO2 dissociates (1e-6 at 800 degC, 1 bar)
  };
  side.co = inlet(CO);
  side.co2 = inlet(CO2);
  side.pressure = in.cathode_pressure * (1.0 / kStandardPressure);
  const S oxygen = pick(less(in.oxygen_pressure, 0.0), S(0.0), in.oxygen_pressure);
  side.oxygen_left = oxygen / (oxygen + kOxygenSpent);
  side.log_oxygen = log(positive_part(in.oxygen_pressure, 0.2) * (1.0 / kStandardPressure));
  side.oxygen_fifth_root = exp(0.2 * side.log_oxygen);
  return side;
}

/// Share of the flow that each modelled cell gets, sum 1; carbon and damage block it.
inline std::array<double, kCells> flow_shares(const StackDesign& p, const double* slow) {
  std::array<double, kCells> share;
  double sum = 0.0;
  for (std::size_t c = 0; c < kCells; ++c) {
    const double damage = slow[at::carbon_damage + c] + slow[at::oxide_damage + c];
    share[c] = p.stack.flow_share[c] * flow_remaining(p.degradation, slow[at::carbon + c], damage);
    sum += share[c];
  }
  for (double& s : share) s /= sum;
  return share;
}

/// The chemistry of a segment after drift that is not ohmic, and its resistance.
template <class L>
void drift(const StackDesign& p, const L& rise, const L& ageing, SegmentChemistry<L>& chemistry,
           L& resistance) {
  const bool contact = p.variants.drift == kContactLoss;
  const L growth = 1.0 + ageing * (1.0 / drift_reference(p.cell, contact));
  chemistry.cathode_exchange = chemistry.cathode_exchange / growth;
  chemistry.anode_exchange = chemistry.anode_exchange / growth;
  resistance = chemistry.resistance * rise;
  if (!contact) return;
  resistance = resistance * growth;
  chemistry.diffusion = chemistry.diffusion * growth;
}

/// Cells `first` and following laid into lanes.
template <class L, std::size_t N>
struct CellGroup {
  ColumnInputs<L, N> column;
  std::array<L, N> temperature;
  L flow;  ///< mol/s of feed through one real cell
};

template <class L, std::size_t N, class S>
CellGroup<L, N> lay_cells(const StackDesign& p, const StackInputs<S>& in, const StackSide<S>& side,
                          const std::array<double, kCells>& share, const double* slow, std::size_t first) {
  CellGroup<L, N> g;
  L rise, ageing;
  for (std::size_t l = 0; l < Lane<S>::width; ++l) {
    const std::size_t c = first + l, node = static_cast<std::size_t>(p.stack.zone[c]) * N;
    for (std::size_t k = 0; k < N; ++k) set_lane(g.temperature[k], l, in.temperature[node + k]);
    const double part = share[c] / p.stack.repeats;
    set_lane(g.flow, l, part * in.flow);
    set_lane(g.column.flow, l, part * side.seen);
    const double damage = slow[at::carbon_damage + c] + slow[at::oxide_damage + c];
    set_lane(rise, l,
             p.stack.resistance_factor[c] *
                 resistance_rise(p.degradation, slow[at::carbon + c], damage, slow[at::oxide + c]));
    set_lane(ageing, l, slow[at::ageing + c]);
  }
  g.column.current = in.current;
  g.column.inlet_co = side.co;
  g.column.inlet_co2 = side.co2;
  g.column.pressure = side.pressure;
  g.column.area = p.cell.area;
  g.column.electronic_leak = p.cell.electronic_leak * side.oxygen_left;
  if (p.variants.transport == kRibs) g.column.ribs = rib_transport(p.cell.diffusion_length);
  const L log_oxygen = side.log_oxygen, root = side.oxygen_fifth_root;
  for (std::size_t k = 0; k < N; ++k) {
    g.column.chemistry[k] = segment_chemistry(p.cell, g.temperature[k], log_oxygen, root);
    g.column.resistance[k] = g.column.chemistry[k].resistance * rise + ageing;
    if (p.variants.drift != kOhmicDrift)
      drift(p, rise, ageing, g.column.chemistry[k], g.column.resistance[k]);
    if (p.variants.transport == kRibs)
      g.column.chemistry[k].diffusion = g.column.chemistry[k].diffusion * (1.0 + g.column.ribs.mean);
  }
  return g;
}

/// The solution for a group: found from the warm start in double; in duals one Newton step from there carries
/// the exact derivatives (implicit function theorem).
template <std::size_t N>
ColumnCurrents<Pack, N> solve_group(const ColumnInputs<Pack, N>& column, StackMemory& memory, std::size_t) {
  memory.newton_steps = solve_columns(column, memory.currents.of<N>());
  return memory.currents.of<N>();
}
template <std::size_t W, std::size_t N>
ColumnCurrents<Dual<W>, N> solve_group(const ColumnInputs<Dual<W>, N>& column, StackMemory& memory,
                                       std::size_t cell) {
  using S = Dual<W>;
  const ColumnCurrents<Pack, N>& latest = memory.currents.of<N>();
  ColumnCurrents<S, N> solved;
  solved.voltage = latest.voltage[cell];
  for (std::size_t k = 0; k < N; ++k) solved.density[k] = latest.density[k][cell];
  const ColumnStep<S, N> step = newton_step(column, solved);
  solved.voltage = solved.voltage + step.voltage;
  for (std::size_t k = 0; k < N; ++k) solved.density[k] = solved.density[k] + step.density[k];
  return solved;
}

/// Rates of carbon and oxide into the memory, and readings where they are wanted.
template <std::size_t N>
void note_limits(const StackDesign& p, const CellGroup<Pack, N>& g, const ColumnCurrents<Pack, N>& solved,
                 const March<Pack, N>& flow, const double* slow, StackMemory& memory,
                 CellReadings* readings) {
  const CellLimits seen =
      cell_limits(p.cell, p.degradation, g.column, solved, g.temperature, flow, readings != nullptr);
  const Pack converted = flow.charge[N - 1] / (2.0 * kFaraday * g.column.flow);
  for (std::size_t c = 0; c < kCells; ++c) {
    const double nickel = p.degradation.nickel_amount, oxide = slow[at::oxide + c];
    memory.carbon_rate[c] = seen.carbon_formed[c] - slow[at::carbon + c] * seen.carbon_removal[c];
    memory.oxide_rate[c] = seen.oxidation[c] * (nickel - oxide) - seen.reduction[c] * oxide;
    if (readings == nullptr) continue;
    readings->voltage[c] = solved.voltage[c];
    readings->margin[c] = seen.margin[c];
    readings->onset_voltage[c] = solved.voltage[c] + seen.margin[c];
    readings->worst_segment[c] = seen.segment[c];
    readings->nickel_ratio[c] = seen.nickel_ratio[c];
    readings->outlet_co[c] = g.column.inlet_co[c] + converted[c];
  }
}

/// `slow` are the slow entries of the module. With S = double the memory is updated; with duals it is read. A view
/// is filled for duals only.
template <std::size_t N, class S>
StackOutputs<S, N> evaluate_stack(const StackDesign& p, const StackInputs<S>& in, const double* slow,
                                  StackMemory& memory, [[maybe_unused]] CellReadings* readings,
                                  [[maybe_unused]] CellView<S>* view = nullptr) {
  using L = typename Lane<S>::type;
  constexpr std::size_t kWidth = Lane<S>::width;
  StackOutputs<S, N> out;
  out.heat.fill(S(0.0));
  out.conversion = out.oxygen = out.oxygen_enthalpy = out.gas_enthalpy = out.voltage = S(0.0);
  const StackSide<S> side = stack_side(p, in);
  const std::array<double, kCells> share = flow_shares(p, slow);
  const Composition<S> feed_enthalpy = gas_enthalpies(in.inlet_temperature);
  const double r = p.stack.repeats;

  for (std::size_t first = 0; first < kCells; first += kWidth) {
    const CellGroup<L, N> group = lay_cells<L, N>(p, in, side, share, slow, first);
    const ColumnCurrents<L, N> solved = solve_group(group.column, memory, first);
    const March<L, N> flow =
        march(group.column, solved, group.temperature, group.flow, in.feed, feed_enthalpy);
    for (std::size_t l = 0; l < kWidth; ++l) {
      const std::size_t node = static_cast<std::size_t>(p.stack.zone[first + l]) * N;
      for (std::size_t k = 0; k < N; ++k)
        out.heat[node + k] = out.heat[node + k] + r * get_lane(flow.heat[k], l);
      out.conversion = out.conversion + 2.0 * r * get_lane(flow.oxygen, l);
      out.oxygen = out.oxygen + r * get_lane(flow.oxygen, l);
      out.oxygen_enthalpy = out.oxygen_enthalpy + r * get_lane(flow.oxygen_enthalpy, l);
      out.gas_enthalpy = out.gas_enthalpy + r * get_lane(flow.gas_enthalpy, l);
      out.voltage = out.voltage + r * get_lane(solved.voltage, l);
    }
    if constexpr (std::is_same_v<S, double>)
      note_limits(p, group, solved, flow, slow, memory, readings);
    else if (view != nullptr) {
      view->voltage[first] = solved.voltage;
      view->margin[first] = min_margin(p.cell, group.column, solved, flow);
      view->nickel_ratio[first] = nickel_ratio(group.column, group.temperature[0]);
    }
  }
  return out;
}

}  // namespace duskline::plant
