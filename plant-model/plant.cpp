#include "plant-model/plant.hpp"

#include "plant-model/flowsheet.hpp"

namespace duskline::plant {

Boundary make_boundary(const PlantParameters& p, const Ambient& ambient, double dust) {
  Boundary b;
  b.ambient = ambient;
  b.air_molar_mass = molar_mass(ambient.composition);
  b.filter_resistance =
      filter_resistance(p.filter, ambient.pressure, ambient.temperature, b.air_molar_mass, dust);
  b.air_enthalpy = dot(ambient.composition, gas_enthalpies(ambient.temperature));
  b.housing = housing_boundary(p.housing, ambient);
  return b;
}

void slow_rates(const PlantParameters& p, const Boundary& b, const State& x, const StackMemory& memory,
                const std::array<double, kImplicit>& rates, double intake, double* d) {
  const auto& g = p.degradation;
  const double current_density = std::abs(x[at::current]) / p.cell.area;
  for (std::size_t c = 0; c < kCells; ++c) {
    const auto zone = static_cast<std::size_t>(p.stack.zone[c]);
    double rate = 0.0;  // K/s, mean over the zone
    for (std::size_t k = 0; k < kSegments; ++k)
      rate += rates[at::stack + zone * kSegments + k] / static_cast<double>(kSegments);
    constexpr double kGentle = 2.0 / 60.0, kFullCycle = 2.0 * 780.0;  // K/s; K up and down
    const double harsh = std::max(1.0, (rate / kGentle) * (rate / kGentle));
    d[at::carbon + c] = memory.carbon_rate[c];
    d[at::carbon_damage + c] = g.carbon_damage * std::max(0.0, memory.carbon_rate[c]);
    d[at::oxide + c] = memory.oxide_rate[c];
    d[at::oxide_damage + c] = g.oxide_damage / g.nickel_amount * std::max(0.0, memory.oxide_rate[c]);
    d[at::ageing + c] =
        g.ageing_rate * current_density / 3000.0 + g.cycle_ageing * std::abs(rate) / kFullCycle * harsh;
  }
  const Ambient& a = b.ambient;
  const double air_density = plant::density(a.pressure, a.temperature, a.composition);
  d[at::dust] = p.filter.efficiency * a.dust_concentration * std::max(0.0, intake) / air_density;
}

void Plant::observe(const State& x, State& dxdt, PlantOutputs& out) {
  const double* slow = x.data() + kImplicit + kQuadratures;
  const Derivatives<double> d =
      flowsheet<double>(parameters_, boundary_, commands_, x.data(), slow, memory_, &out);
  std::copy(d.implicit.begin(), d.implicit.end(), dxdt.begin());
  std::copy(d.quadrature.begin(), d.quadrature.end(), dxdt.begin() + kImplicit);
  slow_rates(parameters_, boundary_, x, memory_, d.implicit, out.intake_flow,
             dxdt.data() + kImplicit + kQuadratures);
  intake_ = out.intake_flow;
  shaft_load_ = out.shaft_load;
}

void Plant::operator()(const State& x, State& dxdt, double) {
  const double* slow = x.data() + kImplicit + kQuadratures;
  const Derivatives<double> d =
      flowsheet<double>(parameters_, boundary_, commands_, x.data(), slow, memory_, nullptr);
  std::copy(d.implicit.begin(), d.implicit.end(), dxdt.begin());
  std::copy(d.quadrature.begin(), d.quadrature.end(), dxdt.begin() + kImplicit);
  slow_rates(parameters_, boundary_, x, memory_, d.implicit, intake_, dxdt.data() + kImplicit + kQuadratures);
}

void Plant::jacobian(const State& x, double t, DenseMatrix& j) {
  // the warm start must be the solution at x itself
  State scratch;
  (*this)(x, scratch, t);
  using D = Dual<kImplicit>;
  std::array<D, kImplicit> dual;
  for (std::size_t i = 0; i < kImplicit; ++i) dual[i] = D(x[i], i);
  const double* slow = x.data() + kImplicit + kQuadratures;
  const Derivatives<D> d =
      flowsheet<D>(parameters_, boundary_, commands_, dual.data(), slow, memory_, nullptr);
  for (std::size_t r = 0; r < kImplicit + kQuadratures; ++r) {
    const D& rate = r < kImplicit ? d.implicit[r] : d.quadrature[r - kImplicit];
    for (std::size_t c = 0; c < kImplicit; ++c) j(r, c) = rate.slope[c];
  }
}

void Plant::command_rates(const State& x, State& dxdt) {
  // cheaper than a new evaluation: the entries that contain commands are few and linear in them
  const auto& comp = parameters_.compressor;
  const double before = dxdt[at::speed],
               now = drive_acceleration(comp, commands_.compressor_speed, x[at::speed]);
  actuator_rates(parameters_, commands_, now, x.data(), dxdt.data());
  // the drive's power follows the torque of acceleration: shell heat, bus and boundary energy with it
  const double change = drive_power(comp, shaft_load_, now, x[at::speed]) -
                        drive_power(comp, shaft_load_, before, x[at::speed]);
  dxdt[at::shell] += change / comp.shell_heat_capacity;
  dxdt[kImplicit + at::energy] += change;
  dxdt[kImplicit + at::bus_energy] += change;
}

std::array<double, kElements> Plant::atoms(const State& x) const {
  Composition<double> n{};
  for (std::size_t i = 0; i < kSpecies; ++i) n[i] = x[at::plenum + i] + x[at::cathode + i] + x[at::anode + i];
  auto a = atoms_in(n);
  const double* slow = x.data() + kImplicit + kQuadratures;
  for (std::size_t c = 0; c < kCells; ++c) {
    a[kCarbon] += parameters_.stack.repeats * slow[at::carbon + c];
    a[kOxygen] += parameters_.stack.repeats * slow[at::oxide + c];
  }
  return a;
}

double Plant::energy(const State& x) const {
  const auto& h = parameters_.heat;
  const double T_pl = x[at::plenum_wall], T_m = x[at::manifold];
  const auto h_pl = gas_enthalpies(T_pl), h_m = gas_enthalpies(T_m);
  double e = 0.0;
  for (std::size_t i = 0; i < kSpecies; ++i)
    e += x[at::plenum + i] * (h_pl[i] - kGasConstant * T_pl) +
         (x[at::cathode + i] + x[at::anode + i]) * (h_m[i] - kGasConstant * T_m);
  for (std::size_t c = 0; c < kCells; ++c) {
    const auto zone = static_cast<std::size_t>(parameters_.stack.zone[c]);
    for (std::size_t k = 0; k < kSegments; ++k)
      e += parameters_.stack.repeats * parameters_.cell.heat_capacity / static_cast<double>(kSegments) *
           x[at::stack + zone * kSegments + k];
  }
  for (std::size_t i = 0; i < kEnds; ++i) e += h.end_plate_heat_capacity * x[at::end_plate + i];
  e += h.manifold_heat_capacity * T_m + h.preheater_heat_capacity * x[at::preheater] +
       h.inner_heat_capacity * x[at::inner_insulation] + h.outer_heat_capacity * x[at::outer_insulation] +
       parameters_.housing.heat_capacity * x[at::housing] +
       parameters_.compressor.shell_heat_capacity * x[at::shell] + h.plenum_heat_capacity * T_pl;
  const double* slow = x.data() + kImplicit + kQuadratures;
  for (std::size_t c = 0; c < kCells; ++c)
    e += parameters_.stack.repeats *
         (slow[at::carbon + c] * kCarbonEnthalpy + slow[at::oxide + c] * kOxideEnthalpy);
  return e;
}

namespace {

struct Start {
  double pressure;                  // Pa in all gas volumes
  double hot, inner, outer, house;  // K
  double co;                        // mole fraction in the cathode
  const Composition<double>& feed;  // in the plenum
};

State still_state(const PlantParameters& p, const Start& s) {
  State x{};
  const auto fill = [&](std::size_t first, double volume, double T, const Composition<double>& gas) {
    for (std::size_t i = 0; i < kSpecies; ++i)
      x[first + i] = gas[i] * s.pressure * volume / (kGasConstant * T);
  };
  Composition<double> protective{}, oxygen{};
  protective[CO] = s.co;
  protective[CO2] = 1.0 - s.co;
  oxygen[O2] = 0.97;  // the product line keeps the oxygen of the last run
  oxygen[CO2] = 0.03;
  fill(at::plenum, p.flow.plenum_volume, s.house, s.feed);
  fill(at::cathode, p.flow.cathode_volume, s.hot, protective);
  fill(at::anode, p.flow.anode_volume, s.hot, oxygen);
  for (std::size_t i = 0; i < kStackNodes; ++i) x[at::stack + i] = s.hot;
  for (std::size_t i = 0; i < kEnds; ++i) x[at::end_plate + i] = s.hot;
  x[at::manifold] = x[at::preheater] = s.hot;
  x[at::inner_insulation] = s.inner;
  x[at::outer_insulation] = s.outer;
  x[at::housing] = x[at::shell] = x[at::plenum_wall] = s.house;
  return x;
}

Start hot_start(const Ambient& a, double pressure, double temperature, double co) {
  const double house = a.temperature + 50.0;  // what electronics and insulation losses hold it at
  return {pressure,
          temperature,
          house + 0.82 * (temperature - house),
          house + 0.40 * (temperature - house),
          house,
          co,
          a.composition};
}

}  // namespace

State cold_state(const PlantParameters& p, const Ambient& a, double temperature, double co) {
  const double T = temperature > 0.0 ? temperature : a.temperature;
  return still_state(p, {a.pressure, T, T, T, a.temperature, co, a.composition});
}

State hot_state(const PlantParameters& p, const Ambient& a, double temperature, double co) {
  return still_state(p, hot_start(a, a.pressure, temperature, co));
}

namespace {

/// Working pressures, and the CO that the recycle brings into the plenum.
void pressurise(State& x, double plenum, double cathode, double anode, double inlet_co) {
  for (std::size_t i = 0; i < kSpecies; ++i) {
    x[at::plenum + i] *= plenum / cathode;
    x[at::anode + i] *= anode / cathode;
  }
  const double moved = inlet_co * (x[at::plenum + CO2] + x[at::plenum + CO]) - x[at::plenum + CO];
  x[at::plenum + CO] += moved;
  x[at::plenum + CO2] -= moved;
}

}  // namespace

State standby_state(const PlantParameters& p, const Ambient& a, double temperature, double co) {
  constexpr double kCurrent = 1.0 / 16.0;  // of current_max: 0.5 A of the demo plant
  constexpr double kConverted = 0.11;      // of the feed: 8 mg/s there
  const double current = kCurrent * p.power.current_max;
  const double made = static_cast<double>(kCells) * p.stack.repeats * current / (2.0 * kFaraday);  // mol/s
  const double feed = made / kConverted;
  const double outlets = p.flow.exhaust_aperture + p.flow.recycle_aperture;
  const double recycled = p.flow.recycle_aperture / outlets;
  const double inlet_co = recycled * kConverted / (1.0 - recycled);

  Composition<double> exhaust = a.composition, oxygen{};
  exhaust[CO] += inlet_co + kConverted;
  exhaust[CO2] -= inlet_co + kConverted;
  oxygen[O2] = 1.0;
  const Start air = hot_start(a, a.pressure, temperature, co);
  const auto pressure = [](double flow, double area, double T, const Composition<double>& gas) {
    return flow * std::sqrt(molar_mass(gas) * kGasConstant * T) / (area * flow_function(0.0));
  };
  const double cathode = pressure(feed, outlets, air.house, exhaust);
  const double plenum = std::sqrt(cathode * cathode + feed / p.flow.feed_conductance);
  const double product = 0.5 * made + p.flow.seal_leak * cathode;
  const double anode = pressure(product, p.flow.product_aperture, temperature, oxygen);

  State x = still_state(p, hot_start(a, cathode, temperature, co));
  pressurise(x, plenum, cathode, anode, inlet_co);
  const double filter = make_boundary(p, a, 0.0).filter_resistance;
  const double suction = std::max(0.1 * a.pressure, a.pressure - filter * (1.0 - recycled) * feed);
  const double drawn = feed + p.compressor.leakage * (plenum * plenum - suction * suction);
  const double warm = a.temperature + p.heat.suction_heating * (air.house - a.temperature);
  x[at::speed] =
      std::min(p.power.speed_max, drawn / (suction * swept_flow_per_pascal(p.compressor, 1.0, warm)));
  x[at::current] = current;
  x[at::recycle_opening] = 1.0;
  for (std::size_t e = 0; e < kEnds; ++e) x[at::end_power + e] = 0.2 * p.heat.end_heater_max;
  x[at::preheater_power] = 0.1 * p.heat.preheater_max;
  return x;
}

State producing_state(const PlantParameters& p, const Ambient& a, double temperature, double co) {
  // near the operating point at 10 g/h and 65 % utilisation; the loop settles the rest in minutes
  constexpr double kPlenum = 42e3, kCathode = 40e3, kAnode = 36e3, kInletCo = 0.045;
  const Start start = hot_start(a, kCathode, temperature, co);
  State x = still_state(p, start);
  pressurise(x, kPlenum, kCathode, kAnode, kInletCo);
  // the speed that the flow takes at this density, a curve through two runs of the demo plant
  const double air = density(a.pressure, a.temperature, a.composition);
  x[at::speed] = std::min(p.power.speed_max, (8.6 + 4.58 / air) * p.power.speed_max / 630.0);
  x[at::current] = 0.524 * p.power.current_max;
  x[at::recycle_opening] = 0.35;
  for (std::size_t e = 0; e < kEnds; ++e) x[at::end_power + e] = 0.2 * p.heat.end_heater_max;
  x[at::preheater_power] = 0.1 * p.heat.preheater_max;
  return x;
}

}  // namespace duskline::plant
