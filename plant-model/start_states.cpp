/// States that runs begin with.
///
/// What it is   what the choked apertures or the valves, the feed line and the machine of a plant settle at, worked out from
///              its own numbers, so that a drawn or worn plant begins as calmly as that of the file
/// Equation     bench: N = A p psi/sqrt(M R T) at each aperture, N = G (p1^2 - p2^2) in the feed line, swept flow of the machine;
///              headers: pressures and the travel of the feed valves are given; N of each valve gives the travel of the
///              others, the characteristic of the train its speed, the surge line what the anti-surge valve passes
/// Symbols      N [mol/s], p [Pa], T [K], A [m2], G [mol/s/Pa2]
/// Validity     temperatures of solids are guesses that hours of a run settle
/// Left out     heat balance; speed of lobe blowers, scroll banks and freezers, which begin at their design point
#include <algorithm>
#include <cmath>

#include "plant-model/compressors/scroll.hpp"
#include "plant-model/flow/aperture.hpp"
#include "plant-model/plant.hpp"

namespace duskline::plant {
namespace {

State started(const PlantParameters& p, const Start& s) {
  const std::vector<PlantParameters> modules = module_parameters(p);
  return Network(p.form, p.variants.division).start({&p, modules}, s);
}

/// Where a function that rises passes zero between two places; the nearer of them where it does not.
template <class F>
double where_zero(double low, double high, F&& f) {
  for (int n = 0; n < 45; ++n) {
    const double middle = 0.5 * (low + high);
    (f(middle) < 0.0 ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

/// A place that gas comes from or goes to.
struct Place {
  double pressure, temperature, molar_mass;  ///< Pa, K, kg/mol
};

/// mol/s through a valve of the headers.
double passed(const ValveParameters& v, double capacity, double travel, const Place& from, const Place& to) {
  return valve_flow<double>(control_valve(v, capacity, v.stroke), kIsentropicExponent, travel, from.pressure,
                            from.temperature, from.molar_mass, to.pressure, to.temperature, to.molar_mass);
}
double travel_for(const ValveParameters& v, double capacity, double flow, const Place& from,
                  const Place& to) {
  return where_zero(0.0, 1.0, [&](double travel) { return passed(v, capacity, travel, from, to) - flow; });
}

/// Puts the cathode at the pressure that its exhaust line needs; mol/s through the feed valve of a module.
double feed_flow(const PlantParameters& p, Start& s) {
  const ValveParameters& v = p.valves;
  const Place header{s.plenum_pressure, s.housing, molar_mass(s.feed)};
  double flow = 0.0;
  for (int n = 0; n < 8; ++n) {
    flow =
        passed(v, v.feed_capacity, s.opening, header, {s.cathode_pressure, s.housing, molar_mass(s.cathode)});
    s.cathode_pressure = std::sqrt(s.exhaust_pressure * s.exhaust_pressure + flow / v.exhaust_line);
  }
  return flow;
}

/// A turbo train that takes `air` and what comes back, and holds the feed header.
struct TurboStart {
  const PlantParameters& p;
  const Ambient& ambient;
  const Boundary boundary = make_boundary(p, ambient, 0.0);

  TrainResult<double> at(const Start& s, double air, double flow, double speed) const {
    const double suction =
        std::max(0.1 * ambient.pressure, ambient.pressure - boundary.filter_resistance * air);
    const double mixed = (air * ambient.temperature + (flow - air) * s.housing) / flow;
    return turbo_train<double>(boundary.train.all(), boundary.train.gas,
                               {0.0, p.train.cooling, p.train.cooler_loss}, s.housing, flow, suction, mixed,
                               speed);
  }
  double speed(const Start& s, double air, double flow) const {
    return where_zero(0.3 * boundary.train.speed, p.power.speed_max,
                      [&](double n) { return at(s, air, flow, n).pressure - s.plenum_pressure; });
  }
  /// At least `needed`, and so much that the machine stands clear of its surge line.
  double flow(const Start& s, double air, double needed) const {
    constexpr double kClear = 0.3;  // beyond the control line of the plant controller
    return where_zero(needed, 2.0 * p.train.design_flow,
                      [&](double n) { return at(s, air, n, speed(s, air, n)).surge_margin - kClear; });
  }
};

Start still(const Ambient& a, double housing, double hot, double inner, double outer, double co) {
  Start s{a.pressure, a.pressure, a.pressure, hot, inner, outer, housing, a.composition, {}};
  s.ambient = a.temperature;
  s.exhaust_pressure = s.product_pressure = a.pressure;
  s.cathode[CO] = co;
  s.cathode[CO2] = 1.0 - co;
  return s;
}

Start hot_start(const Ambient& a, double temperature, double co) {
  const double house = a.temperature + 50.0;  // what electronics and insulation losses hold it at
  return still(a, house, temperature, house + 0.82 * (temperature - house),
               house + 0.40 * (temperature - house), co);
}

}  // namespace

State cold_state(const PlantParameters& p, const Ambient& a, double temperature, double co) {
  const double T = temperature > 0.0 ? temperature : a.temperature;
  return started(p, still(a, a.temperature, T, T, T, co));
}

State hot_state(const PlantParameters& p, const Ambient& a, double temperature, double co) {
  return started(p, hot_start(a, temperature, co));
}

namespace {

/// With the CO that the recycle brings into the plenum.
Start working_start(const Ambient& a, double temperature, double co, double inlet_co) {
  Start s = hot_start(a, temperature, co);
  const double carbonic = s.feed[CO2] + s.feed[CO];
  s.feed[CO] = inlet_co * carbonic;
  s.feed[CO2] = carbonic - s.feed[CO];
  s.end_heating = 0.2;
  s.preheating = 0.1;
  return s;
}

/// What the choked apertures, the feed line and the machine of this plant settle at, with this current, a share of the feed
/// that it converts, and a recycle valve so far open.
State settled(const PlantParameters& p, const Ambient& a, double temperature, double co, double current,
              double converted, double opening) {
  const double made = static_cast<double>(kCells) * p.stack.repeats * current / (2.0 * kFaraday);  // mol/s
  const double feed = made / converted;
  const double recycle = opening * p.flow.recycle_aperture, outlets = p.flow.exhaust_aperture + recycle;
  const double recycled = recycle / outlets;
  const double inlet_co = recycled * converted / (1.0 - recycled);

  Composition<double> exhaust = a.composition, oxygen{};
  exhaust[CO] += inlet_co + converted;
  exhaust[CO2] -= inlet_co + converted;
  oxygen[O2] = 1.0;
  const auto pressure = [](double flow, double area, double T, const Composition<double>& gas) {
    return flow * std::sqrt(molar_mass(gas) * kGasConstant * T) / (area * flow_function(0.0));
  };
  Start s = working_start(a, temperature, co, inlet_co);
  s.cathode_pressure = pressure(feed, outlets, s.housing, exhaust);
  s.plenum_pressure = std::sqrt(s.cathode_pressure * s.cathode_pressure + feed / p.flow.feed_conductance);
  const double product = 0.5 * made + p.flow.seal_leak * s.cathode_pressure;
  s.anode_pressure = p.form.outlet == kBackPressure
                         ? s.cathode_pressure - p.flow.product_below
                         : pressure(product, p.flow.product_aperture, temperature, oxygen);
  const double filter = make_boundary(p, a, 0.0).filter_resistance;
  const double suction = std::max(0.1 * a.pressure, a.pressure - filter * (1.0 - recycled) * feed);
  const double drawn =
      feed + p.compressor.leakage * (s.plenum_pressure * s.plenum_pressure - suction * suction);
  const double warm = a.temperature + p.heat.suction_heating * (s.housing - a.temperature);
  s.speed = std::min(p.power.speed_max, drawn / (suction * swept_flow_per_pascal(p.compressor, 1.0, warm)));
  s.current = current;
  s.opening = opening;
  return started(p, s);
}

/// A plant with headers at these pressures: the feed header as high as its machine holds it.
State between_headers(const PlantParameters& p, const Ambient& a, double temperature, double co,
                      double current, double opening) {
  constexpr double kInletCo = 0.045;  // against oxidation of the nickel
  const ValveParameters& v = p.valves;
  const double modules = static_cast<double>(p.form.modules);
  const double made = static_cast<double>(kCells) * p.stack.repeats * current / (2.0 * kFaraday);  // mol/s
  Start s = working_start(a, temperature, co, kInletCo);
  s.exhaust_pressure = s.cathode_pressure = kExhaustHeader;
  s.product_pressure = kProductHeader;
  s.anode_pressure = std::sqrt(s.product_pressure * s.product_pressure + 0.5 * made / v.product_line);
  s.plenum_pressure = kFeedHeader;
  s.current = current;
  s.opening = opening;
  // of the gas that leaves the modules, so much as brings the CO of their inlets
  const auto recycled = [&](double feed) { return feed * kInletCo / (kInletCo + made / feed); };
  const IntakeRating rated = intake_rating(p);
  s.flow = rated.flow;
  s.speed = rated.speed;
  double feed = feed_flow(p, s), anti_surge = 0.0;
  if (has_turbo(p.form)) {
    const TurboStart turbo{p, a};
    const auto air = [&] { return modules * (feed - recycled(feed)); };
    s.plenum_pressure = where_zero(s.cathode_pressure, s.plenum_pressure, [&](double header) {
      s.plenum_pressure = header;
      feed = feed_flow(p, s);
      return header - turbo.at(s, air(), modules * feed, 0.98 * p.power.speed_max).pressure;
    });
    feed = feed_flow(p, s);
    s.flow = turbo.flow(s, air(), modules * feed);
    s.speed = turbo.speed(s, air(), s.flow);
    anti_surge = s.flow - modules * feed;
  }
  const Place header{s.plenum_pressure, s.housing, molar_mass(s.feed)},
      exhaust{s.exhaust_pressure, s.housing, molar_mass(s.cathode)},
      product{s.product_pressure, s.housing, kMolarMass[O2]},
      outside{a.pressure, a.temperature, molar_mass(a.composition)},
      tank{p.product.tank_pressure, s.housing, kMolarMass[O2]};
  s.valves = {
      .compressor_speed = s.speed,
      .anti_surge_opening = travel_for(v, v.anti_surge_capacity, anti_surge, header, outside),
      .recycle_opening = travel_for(v, v.recycle_capacity, modules * recycled(feed), exhaust, outside),
      .exhaust_opening =
          travel_for(v, v.exhaust_capacity, modules * (feed - recycled(feed)), exhaust, outside),
      .product_opening = travel_for(v, v.product_capacity, modules * 0.5 * made, product, tank),
      .liquefier_run = 1.0};
  return started(p, s);
}

}  // namespace

State standby_state(const PlantParameters& p, const Ambient& a, double temperature, double co) {
  const double current = p.power.current_max / 16.0;  // 0.5 A of the demo plant
  if (has_headers(p.form)) return between_headers(p, a, temperature, co, current, 0.4);
  return settled(p, a, temperature, co, current, 0.11, 1.0);  // 8 mg/s there
}

State producing_state(const PlantParameters& p, const Ambient& a, double temperature, double co) {
  const double current = kRatedCurrent * p.power.current_max;
  if (has_headers(p.form)) return between_headers(p, a, temperature, co, current, 0.7);
  return settled(p, a, temperature, co, current, kRatedConversion, kRatedOpening);
}

}  // namespace duskline::plant
