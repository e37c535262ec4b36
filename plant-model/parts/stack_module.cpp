#include "plant-model/parts/stack_module.hpp"

#include <algorithm>
#include <utility>

#include "plant-model/stack/ageing.hpp"
#include "plant-model/stack/crack.hpp"
#include "plant-model/wear.hpp"

namespace duskline::plant {

template <std::size_t N>
StackModule<N>::StackModule(Layout& layout, std::size_t number, const std::string& prefix,
                            const ModuleTerminals& terminals)
    : number_(number), terminals_(terminals) {
  // in the order of state.hpp
  const auto kelvin = [&](const char* node, double upper) {
    layout.implicit({prefix + node + ".temperature", "K", 0.05, 100, upper});
  };
  // a module between headers has 25 times the volume and the power of the demo plant, and nine times its current
  const double size = terminals.headers ? 25.0 : 1.0, power = terminals.headers ? 20.0 : 2.0;
  // of 3e-6 mol at rest, when traces of CO decide over the nickel; of 5e-9 mol of oxygen that are left at rest
  first_ = layout.gas(prefix + "cathode", size * 1e-8);
  layout.gas(prefix + "anode", size * 1e-10);
  layout.implicit({prefix + "stack.current", "A", terminals.headers ? 5e-2 : 5e-3, -100, 1000});
  layout.implicit_each(kEnds, {prefix + "end_plate.power", "W", power, -10, 1e5});
  layout.implicit({prefix + "preheater.power", "W", power, -10, 1e5});
  layout.implicit({prefix + (terminals.headers ? "feed.opening" : "recycle.opening"), "1",
                   terminals.headers ? 1e-3 : 5e-3, -0.1, 1.1});
  layout.implicit_each(kZones * N, {prefix + "stack.temperature", "K", 0.05, 120, 1400});
  layout.implicit_each(kEnds, {prefix + "end_plate.temperature", "K", 0.05, 120, 1500});
  for (const char* node : {"manifold", "preheater", "inner_insulation", "outer_insulation"})
    kelvin(node, 1600);
  first_slow_ = layout.slow_each(kCells, {prefix + "cell.carbon", "mol", 1e-8, -1e-6, 10});
  layout.slow_each(kCells, {prefix + "cell.carbon_damage", "1", 1e-4, -1e-6, 1e3});
  layout.slow_each(kCells, {prefix + "cell.oxide", "mol", 1e-6, -1e-6, 10});
  layout.slow_each(kCells, {prefix + "cell.oxide_damage", "1", 1e-4, -1e-6, 1e3});
  layout.slow_each(kCells, {prefix + "cell.ageing", "ohm m2", 1e-8, -1e-6, 1});
  layout.end_module();
}

namespace {

/// The flows between the stores where exhaust and recycle reach their apertures at `exhaust_temperature` K.
template <class S, std::size_t N>
void pass_gas(Board<S>& b, const PlantParameters& p, const ModuleTerminals& t, const S* x,
              const S& exhaust_temperature, ModuleWorkings<S, N>& w) {
  const GasStore<S>& feed = b.at(t.feed);
  const double leak = total_leak(p.flow.seal_leak, p.stack);
  w.exit_enthalpy = gas_enthalpies(exhaust_temperature);
  if (t.headers)
    w.gas = header_flows(p.flow, p.valves, leak, feed, w.cathode, w.anode, b.at(t.exhaust), b.at(t.product),
                         x[at::feed_opening]);
  else
    w.gas = module_flows(p.flow, leak, *b.boundary, feed, w.cathode, w.anode, x[at::recycle_opening],
                         exhaust_temperature);
  w.path = feed_path(p.heat, w.gas, feed, w.cathode, w.exit_enthalpy, x[at::Solids<N>::preheater]);
}

/// Rates of what follows a command with a lag of its own.
template <class S>
void actuator_rates(const PlantParameters& p, bool headers, const ModuleCommandsOf<S>& u, const S* x, S* dx) {
  dx[at::current] = (u.stack_current - x[at::current]) / p.power.current_lag;
  for (std::size_t e = 0; e < kEnds; ++e)
    dx[at::end_power + e] = (u.end_power[e] - x[at::end_power + e]) / p.heat.heater_lag;
  dx[at::preheater_power] = (u.preheater_power - x[at::preheater_power]) / p.heat.heater_lag;
  if (headers)
    dx[at::feed_opening] = valve_travel_rate(control_valve(p.valves, p.valves.feed_capacity, p.valves.stroke),
                                             u.feed_opening, x[at::feed_opening]);
  else
    dx[at::recycle_opening] = (u.feed_opening - x[at::recycle_opening]) / p.flow.recycle_lag;
}

/// Amounts in both gas volumes, and what passes the terminals with them.
template <bool kBetweenHeaders, class S, std::size_t N>
void gas_rates(Board<S>& b, const PlantParameters& p, const ModuleTerminals& t, const ModuleWorkings<S, N>& w,
               S* dx) {
  const GasStore<S>& feed = b.at(t.feed);
  const ModuleFlows<S>& g = w.gas;
  const Composition<double>& air = b.boundary->ambient.composition;
  // oxygen in the cathode volume burns where there is CO
  const Composition<S>& n = w.cathode.amount;
  const S afterburn =
      p.flow.combustion_rate * n[O2] * n[CO] / (positive_part(n[CO], 1e-9) + positive_part(n[O2], 1e-9));
  Composition<S> made;  // in the cathode volume: electrolysis, carbon, oxide, burning
  made[CO2] = w.carbon - w.oxide - w.stack.conversion + 2.0 * afterburn;
  made[CO] = w.stack.conversion - 2.0 * w.carbon + w.oxide - 2.0 * afterburn;
  made[O2] = -1.0 * afterburn;
  made[N2] = made[Ar] = S(0.0);
  GasInflow<S>& to_feed = b.into(t.feed);
  GasInflow<S>& to_suction = b.into(t.suction);
  GasInflow<S>& across = b.sums.surroundings;
  for (std::size_t i = 0; i < kSpecies; ++i) {
    const S& in_feed = feed.share[i];
    const S& in_cathode = w.cathode.share[i];
    const S& in_anode = w.anode.share[i];
    const S leak = g.seal.out * in_cathode - g.seal.back * in_anode;
    const auto [exhaust_side, product_side] = [&] {
      if constexpr (kBetweenHeaders)
        return std::pair<S, S>{b.at(t.exhaust).share[i], b.at(t.product).share[i]};
      else
        return std::pair<double, double>{air[i], air[i]};
    }();
    const S exhaust = g.exhaust.out * in_cathode - g.exhaust.back * exhaust_side;
    const S recycle = g.recycle * in_cathode;
    const S product = g.product.out * in_anode - g.product.back * product_side;
    dx[at::cathode + i] =
        g.feed.out * w.path.per_feed[i] - g.feed.back * in_cathode - recycle - exhaust - leak + made[i];
    dx[at::anode + i] = leak - product;
    if (i == O2) dx[at::anode + i] = dx[at::anode + i] + w.stack.oxygen;
    to_feed.amount[i] = to_feed.amount[i] + (g.feed.back * in_cathode - g.feed.out * in_feed);
    if constexpr (kBetweenHeaders) {
      S& to_exhaust = b.into(t.exhaust).amount[i];
      S& to_product = b.into(t.product).amount[i];
      to_exhaust = to_exhaust + exhaust;
      to_product = to_product + product;
    } else {
      to_suction.amount[i] = to_suction.amount[i] + recycle;
      across.amount[i] = across.amount[i] - (exhaust + product);
    }
  }
  if constexpr (!kBetweenHeaders) {
    b.sums.oxygen = b.sums.oxygen + g.product.out * w.anode.share[O2];
    b.sums.product = b.sums.product + g.product.out;
  }
}

/// Heat of what passes the outlets: W that exhaust and product take along, W that comes back with gas from outside, and W
/// that the product gives to the housing on its way to a header.
template <class S>
struct OutletHeat {
  S back, cooled;
};
template <bool kBetweenHeaders, class S, std::size_t N>
OutletHeat<S> outlet_heat(Board<S>& b, const ModuleTerminals& t, const ModuleWorkings<S, N>& w) {
  const ModuleFlows<S>& g = w.gas;
  const S leaving = dot(w.cathode.share, w.exit_enthalpy);  // J/mol behind the cooler
  if constexpr (kBetweenHeaders) {
    const S product = dot(w.anode.share, w.exit_enthalpy);
    const S exhaust_back = g.exhaust.back * b.at(t.exhaust).molar_enthalpy;
    const S product_back = g.product.back * b.at(t.product).molar_enthalpy;
    S& to_exhaust = b.into(t.exhaust).enthalpy;
    S& to_product = b.into(t.product).enthalpy;
    to_exhaust = to_exhaust + (g.exhaust.out * leaving - exhaust_back);
    to_product = to_product + (g.product.out * product - product_back);
    return {exhaust_back + product_back, g.product.out * (w.anode.molar_enthalpy - product)};
  } else {
    const double air_enthalpy = b.boundary->air_enthalpy;
    b.into(t.suction).enthalpy = b.into(t.suction).enthalpy + g.recycle * leaving;
    b.sums.surroundings.enthalpy =
        b.sums.surroundings.enthalpy + ((g.exhaust.back + g.product.back) * air_enthalpy -
                                        g.exhaust.out * leaving - g.product.out * w.anode.molar_enthalpy);
    return {(g.exhaust.back + g.product.back) * air_enthalpy, S(0.0)};
  }
}

/// Temperatures, and the heat and power that pass the terminals; call after gas_rates: a gas volume shares its wall's
/// temperature.
template <bool kBetweenHeaders, class S, std::size_t N>
void heat_rates(Board<S>& b, const PlantParameters& p, const ModuleTerminals& t,
                const ModuleWorkings<S, N>& w, const S* x, S* dx) {
  const GasStore<S>& feed = b.at(t.feed);
  const auto& heat = p.heat;
  const ModuleFlows<S>& g = w.gas;
  using Solid = at::Solids<N>;
  const OutletHeat<S> outlets = outlet_heat<kBetweenHeaders>(b, t, w);
  const std::array<double, kZones> cells = cells_in_zones(p.stack);
  Conducted<S, N> q = conduct<N>(heat, p.variants.insulation, cells, x, b.at(t.frame));

  constexpr double per_row = 1.0 / static_cast<double>(N);
  for (std::size_t z = 0; z < kZones; ++z)
    for (std::size_t k = 0; k < N; ++k) {
      const std::size_t i = z * N + k;
      S into = w.stack.heat[i] + q.stack[i];
      if (k == 0)
        into = into + w.path.burning_heat * (cells[z] / (p.stack.repeats * static_cast<double>(kCells)));
      dx[at::stack + i] = into / (p.cell.heat_capacity * cells[z] * per_row);
    }
  for (std::size_t e = 0; e < kEnds; ++e)
    dx[Solid::end_plate + e] = (x[at::end_power + e] + q.end_plate[e]) / heat.end_plate_heat_capacity;

  // hot manifolds hold the cathode and the anode gas
  const Composition<S> cp = gas_heat_capacities(x[Solid::manifold]);
  const GasHeat<S> in_cathode = gas_heat(w.cathode, cp, dx + at::cathode),
                   in_anode = gas_heat(w.anode, cp, dx + at::anode);
  const S manifold = w.stack.gas_enthalpy + w.stack.oxygen_enthalpy + outlets.back -
                     g.feed.back * w.cathode.molar_enthalpy - w.path.hot_at_manifold -
                     g.product.out * w.anode.molar_enthalpy - w.carbon * kCarbonEnthalpy -
                     w.oxide * kOxideEnthalpy;
  dx[Solid::manifold] = (manifold + q.manifold - in_cathode.carried - in_anode.carried) /
                        (heat.manifold_heat_capacity + in_cathode.capacity + in_anode.capacity);
  dx[Solid::preheater] =
      (x[at::preheater_power] - (w.path.feed_heated - w.path.feed_recuperated) + q.preheater) /
      heat.preheater_heat_capacity;

  // what the recuperator does not pass from stream to stream, and the heat of backflow, stays in the insulation
  const S backflow_cooled = dot(w.cathode.share, feed.enthalpy);
  const S left_behind = (w.path.hot_at_manifold - w.path.hot_recuperated) -
                        (w.path.feed_recuperated - w.path.feed_at_plenum) +
                        g.feed.back * (w.cathode.molar_enthalpy - backflow_cooled);
  dx[Solid::inner_insulation] = (q.inner + left_behind) / heat.inner_heat_capacity;
  dx[Solid::outer_insulation] = q.outer / heat.outer_heat_capacity;

  b.into(t.feed).enthalpy = b.into(t.feed).enthalpy + (g.feed.back * backflow_cooled - w.path.feed_at_plenum);
  const S supplied = w.stack_supply + w.heaters / p.power.heater_converter;
  const S converters = supplied - x[at::current] * w.stack.voltage - w.heaters;
  b.sums.bus = b.sums.bus + supplied;
  const S into_frame = q.housing + converters + (w.path.hot_recuperated - w.path.hot_at_exit);
  if constexpr (kBetweenHeaders)
    b.into(t.frame) = b.into(t.frame) + (into_frame + outlets.cooled);
  else
    b.into(t.frame) = b.into(t.frame) + into_frame;
}

/// K, mean of the segments of each zone.
template <std::size_t N, class S>
std::array<S, kZones> zone_means(const S* nodes) {
  std::array<S, kZones> mean;
  for (std::size_t z = 0; z < kZones; ++z) {
    mean[z] = S(0.0);
    for (std::size_t k = 0; k < N; ++k) mean[z] = mean[z] + nodes[z * N + k] / static_cast<double>(N);
  }
  return mean;
}

/// Share of the CO2 that the feed brings to the cells that is converted; negative where CO burns instead (a hot stack
/// without current, by its electronic leak).
template <class S, std::size_t N>
S utilisation(const ModuleWorkings<S, N>& w) {
  constexpr double kNothing = 1e-9;  // mol/s of CO2, a thousandth of what diffuses at rest
  const S co2_in = w.path.stack_flow * w.path.burnt[CO2];
  return w.stack.conversion / pick(less(co2_in, kNothing), S(kNothing), co2_in);
}

template <class S, std::size_t N>
S least(const std::array<S, N>& values) {
  S lowest = values[0];
  for (const S& v : values) lowest = pick(less(S(v - lowest), 0.0), v, lowest);
  return lowest;
}

/// What the history of the cells has left in them.
void read_history(const double* slow, CellReadings& cells) {
  for (std::size_t c = 0; c < kCells; ++c) {
    cells.carbon[c] = slow[at::carbon + c];
    cells.oxide[c] = slow[at::oxide + c];
    cells.damage[c] = slow[at::carbon_damage + c] + slow[at::oxide_damage + c];
    cells.ageing[c] = slow[at::ageing + c];
  }
}

}  // namespace

template <std::size_t N>
template <class S>
ModuleWorkings<S, N> StackModule<N>::work_out(Board<S>& b, CellReadings* readings, CellView<S>* view) const {
  const PlantParameters& p = b.parameters.of(number_);
  const S* x = b.x + first_;
  StackMemory& memory = b.memory->stacks[number_];
  ModuleWorkings<S, N> w;
  w.cathode = gas_store(x + at::cathode, x[Solid::manifold], p.flow.cathode_volume);
  w.anode = gas_store(x + at::anode, x[Solid::manifold], p.flow.anode_volume);
  pass_gas(b, p, terminals_, x, b.at(terminals_.frame), w);
  if (p.variants.exhaust == kHotExhaust) {
    constexpr int kSubstitutions = 6;  // each leaves a fifth of the error of 100 K
    for (int n = 0; n < kSubstitutions; ++n) pass_gas(b, p, terminals_, x, S(w.path.exhaust_temperature), w);
  }
  const StackInputs<S> in{
      x[at::current],  w.path.stack_flow,       w.gas.feed.net(),   w.path.burnt,
      w.cathode.share, w.path.feed_temperature, w.cathode.pressure, w.anode.pressure * w.anode.share[O2],
      x + at::stack};
  w.stack = evaluate_stack<N>({p.stack, p.cell, p.degradation, p.flow.back_diffusion, p.variants}, in,
                              b.slow + first_slow_, memory, readings, view);
  for (std::size_t c = 0; c < kCells; ++c) {
    w.carbon += memory.carbon_rate[c] * p.stack.repeats;
    w.oxide += memory.oxide_rate[c] * p.stack.repeats;
  }
  w.heaters = x[at::preheater_power];
  for (std::size_t e = 0; e < kEnds; ++e) w.heaters = w.heaters + x[at::end_power + e];
  w.stack_supply = x[at::current] * w.stack.voltage / p.power.stack_converter;
  return w;
}

template <std::size_t N>
template <class S>
void StackModule<N>::flow_on(Board<S>& b) const {
  const S* x = b.x + first_;
  S* dx = b.dx + first_;
  const PlantParameters& p = b.parameters.of(number_);
  PlantOutputsOf<S>* const out = number_ < b.out.size() ? &b.out[number_] : nullptr;
  ModuleWorkings<S, N> w;
  if constexpr (std::is_same_v<S, double>)
    w = work_out<S>(b, out != nullptr ? &out->cells : nullptr, nullptr);
  else
    w = work_out<S>(b, nullptr, out != nullptr ? &out->cells : nullptr);
  actuator_rates(p, terminals_.headers, b.module_commands[number_], x, dx);
  if (terminals_.headers) {
    gas_rates<true>(b, p, terminals_, w, dx);
    heat_rates<true>(b, p, terminals_, w, x, dx);
  } else {
    gas_rates<false>(b, p, terminals_, w, dx);
    heat_rates<false>(b, p, terminals_, w, x, dx);
  }
  if constexpr (std::is_same_v<S, double>)
    slow_rates<N>(p.degradation, p.cell, p.stack, x[at::current], b.memory->stacks[number_], dx,
                  b.dslow + first_slow_);
  if (out != nullptr) read(b, w, *out);
}

template <std::size_t N>
template <class S>
void StackModule<N>::read(Board<S>& b, const ModuleWorkings<S, N>& w, PlantOutputsOf<S>& out) const {
  const S* x = b.x + first_;
  const ModuleFlows<S>& g = w.gas;
  TrueValues<S>& truth = out.truth;
  out.cathode_pressure = truth.cathode_pressure = w.cathode.pressure;
  out.anode_pressure = truth.anode_pressure = w.anode.pressure;
  out.cathode_gas = w.cathode.share;
  out.anode_gas = w.anode.share;
  out.inlet_gas = w.path.burnt;
  out.inlet_co = w.path.burnt[CO];
  out.feed_flow = truth.feed_flow = mass_flow(g.feed, b.at(terminals_.feed).share);
  out.exhaust_flow = mass_flow(g.exhaust, w.cathode.share);
  out.recycle_flow = g.recycle * molar_mass(w.cathode.share);
  out.product_flow = truth.product_flow = mass_flow(g.product, w.anode.share);
  out.leak_flow = g.seal.net();
  out.oxygen_made = w.stack.oxygen * kMolarMass[O2];
  out.oxygen_delivered = g.product.out * w.anode.share[O2] * kMolarMass[O2];
  out.utilisation = utilisation(w);
  out.stack_voltage = w.stack.voltage;
  out.stack_power = x[at::current] * w.stack.voltage;
  out.heater_power = w.heaters;
  out.feed_temperature = w.path.feed_temperature;
  out.exhaust_temperature = w.path.exhaust_temperature;
  out.recuperator_given = w.path.hot_at_manifold - w.path.hot_recuperated;
  out.recuperator_taken = w.path.feed_recuperated - w.path.feed_at_plenum;
  out.recycle_opening = terminals_.headers ? S(0.0) : x[at::recycle_opening];
  out.feed_opening = terminals_.headers ? x[at::feed_opening] : S(1.0);
  out.zone_temperature = truth.zone_temperature = zone_means<N>(x + at::stack);
  truth.preheater_temperature = x[Solid::preheater];
  truth.stack_current = x[at::current];
  truth.stack_voltage = w.stack.voltage;
  truth.outlet_co_fraction = w.cathode.share[CO];
  truth.product_oxygen_fraction = w.anode.share[O2];
  std::copy_n(x + Solid::end_plate, kEnds, truth.end_temperature.begin());
  truth.cell_voltage = out.cells.voltage;
  out.min_margin = least(out.cells.margin);
  out.min_nickel_ratio = least(out.cells.nickel_ratio);
  if constexpr (std::is_same_v<S, double>) {
    out.gradient = 0.0;
    for (std::size_t z = 1; z < kZones; ++z)
      out.gradient = std::max(out.gradient, std::abs(out.zone_temperature[z] - out.zone_temperature[z - 1]));
    out.zone_rate = zone_means<N>(b.dx + first_ + at::stack);
    out.worst_cell = static_cast<std::size_t>(
        std::min_element(out.cells.margin.begin(), out.cells.margin.end()) - out.cells.margin.begin());
    read_history(b.slow + first_slow_, out.cells);
  }
}

template <std::size_t N>
void StackModule<N>::command(Board<double>& b) const {
  actuator_rates(b.parameters.of(number_), terminals_.headers, b.module_commands[number_], b.x + first_,
                 b.dx + first_);
}

template <std::size_t N>
void StackModule<N>::hold(const ParameterView& view, const double* all, const double* all_slow,
                          Holdings& held) const {
  const PlantParameters& p = view.of(number_);
  const double* x = all + first_;
  const double* slow = all_slow + first_slow_;
  const auto& h = p.heat;
  const double repeats = p.stack.repeats, T = x[Solid::manifold];
  Composition<double> n{};
  for (std::size_t i = 0; i < kSpecies; ++i) n[i] = x[at::cathode + i] + x[at::anode + i];
  const auto atoms = atoms_in(n);
  for (std::size_t e = 0; e < kElements; ++e) held.atoms[e] += atoms[e];
  double energy = internal_energy(n.data(), T);
  for (std::size_t c = 0; c < kCells; ++c) {
    held.atoms[kCarbon] += repeats * slow[at::carbon + c];
    held.atoms[kOxygen] += repeats * slow[at::oxide + c];
    energy += repeats * (slow[at::carbon + c] * kCarbonEnthalpy + slow[at::oxide + c] * kOxideEnthalpy);
    const auto zone = static_cast<std::size_t>(p.stack.zone[c]);
    for (std::size_t k = 0; k < N; ++k)
      energy += repeats * p.cell.heat_capacity / static_cast<double>(N) * x[at::stack + zone * N + k];
  }
  for (std::size_t i = 0; i < kEnds; ++i) energy += h.end_plate_heat_capacity * x[Solid::end_plate + i];
  held.energy += energy + h.manifold_heat_capacity * T + h.preheater_heat_capacity * x[Solid::preheater] +
                 h.inner_heat_capacity * x[Solid::inner_insulation] +
                 h.outer_heat_capacity * x[Solid::outer_insulation];
}

template <std::size_t N>
void StackModule<N>::start(const ParameterView& view, const Start& s, double* all, double* all_slow) const {
  const PlantParameters& p = view.of(number_);
  double* x = all + first_;
  Composition<double> oxygen{};
  oxygen[O2] = 0.97;  // the product line keeps the oxygen of the last run
  oxygen[CO2] = 0.03;
  fill(x + at::cathode, s.cathode, s.cathode_pressure, p.flow.cathode_volume, s.hot);
  fill(x + at::anode, oxygen, s.anode_pressure, p.flow.anode_volume, s.hot);
  for (std::size_t i = 0; i < kZones * N; ++i) x[at::stack + i] = s.hot;
  for (std::size_t i = 0; i < kEnds; ++i) x[Solid::end_plate + i] = s.hot;
  x[Solid::manifold] = x[Solid::preheater] = s.hot;
  x[Solid::inner_insulation] = s.inner;
  x[Solid::outer_insulation] = s.outer;
  x[at::current] = s.current;
  x[at::recycle_opening] = s.opening;
  for (std::size_t e = 0; e < kEnds; ++e) x[at::end_power + e] = s.end_heating * p.heat.end_heater_max;
  x[at::preheater_power] = s.preheating * p.heat.preheater_max;
  if (number_ >= view.shared->form.modules) return;
  const double aged = resistance_after(p, view.shared->module.production[number_]);
  for (std::size_t c = 0; c < kCells; ++c) all_slow[first_slow_ + at::ageing + c] += aged;
}

template class StackModule<kCoarseSegments>;
template void StackModule<kCoarseSegments>::flow_on(Board<double>&) const;
template void StackModule<kCoarseSegments>::flow_on(Board<PlantDual>&) const;
template class StackModule<kSegments>;
template void StackModule<kSegments>::flow_on(Board<double>&) const;
template void StackModule<kSegments>::flow_on(Board<PlantDual>&) const;
template class StackModule<kFineSegments>;
template void StackModule<kFineSegments>::flow_on(Board<double>&) const;
template void StackModule<kFineSegments>::flow_on(Board<PlantDual>&) const;

}  // namespace duskline::plant
