#include "plant-model/plant.hpp"

#include <algorithm>
#include <cmath>

#include "plant-model/compressors/scroll.hpp"
#include "plant-model/flow/aperture.hpp"
#include "plant-model/flow/filter.hpp"

namespace duskline::plant {

Boundary make_boundary(const PlantParameters& p, const Ambient& ambient, double dust) {
  Boundary b;
  b.ambient = ambient;
  b.air_molar_mass = molar_mass(ambient.composition);
  b.filter_resistance =
      filter_resistance(p.filter, ambient.pressure, ambient.temperature, b.air_molar_mass, dust);
  b.air_enthalpy = dot(ambient.composition, gas_enthalpies(ambient.temperature));
  b.housing = housing_boundary(p.housing, ambient);
  if (has_turbo(p.form)) b.train = train_size(p);
  if (p.form.intake == kLobe) b.lobe = size_of(p.lobe);
  return b;
}

std::vector<PlantParameters> module_parameters(const PlantParameters& p) {
  if (p.form.modules < 2) return {};
  std::vector<PlantParameters> all(p.form.modules, p);
  if (!has_headers(p.form)) return all;  // they have no section of differences
  for (std::size_t n = 0; n < all.size(); ++n) {
    PlantParameters& own = all[n];
    for (double& r : own.stack.resistance_factor) r *= p.module.resistance[n];
    own.flow.seal_leak *= p.module.seals[n];
    own.heat.inner_conductance *= p.module.insulation[n];
    own.heat.outer_conductance *= p.module.insulation[n];
  }
  return all;
}

Plant::Plant(const PlantParameters& parameters)
    : network_(std::make_shared<const Network>(parameters.form, parameters.variants.division)),
      dust_(network_->layout().index("filter.dust")),
      parameters_(parameters),
      modules_(duskline::plant::module_parameters(parameters)),
      memory_(network_->memory()),
      board_(network_->board<double>()) {}

namespace {

PlantParameters with_modules(PlantParameters p, std::size_t modules) {
  p.form.modules = modules;
  return p;
}

}  // namespace

Plant::Plant(PlantParameters parameters, std::size_t modules) : Plant(with_modules(parameters, modules)) {}

void Plant::lay(const State& x, State& dxdt) {
  const Layout& layout = network_->layout();
  dxdt.resize(layout.states());
  board_.parameters = view();
  board_.boundary = &boundary_;
  board_.memory = &memory_;
  board_.x = x.data();
  board_.slow = x.data() + layout.first_slow();
  board_.dx = dxdt.data();
  board_.dq = dxdt.data() + layout.first_quadrature();
  board_.dslow = dxdt.data() + layout.first_slow();
}

void Plant::evaluate(const State& x, State& dxdt, std::span<PlantOutputs> out, SharedOutputs* shared) {
  lay(x, dxdt);
  board_.out = out;
  board_.shared = shared;
  network_->evaluate(board_);
  board_.out = {};
  board_.shared = nullptr;
}

void Plant::operator()(const State& x, State& dxdt, double) {
  evaluate(x, dxdt, {}, nullptr);
}

Board<PlantDual> Plant::dual_board(const State& x) {
  // the warm start must be the solution at x itself
  State scratch;
  evaluate(x, scratch, {}, nullptr);
  Board<PlantDual> b = network_->board<PlantDual>();
  b.parameters = view();
  b.boundary = &boundary_;
  // they are constants here
  const auto copy = [](auto from, auto to) { std::copy(from.begin(), from.end(), to.begin()); };
  copy(values_of<SharedCommandsOf>(board_.commands), values_of<SharedCommandsOf>(b.commands));
  for (std::size_t n = 0; n < b.module_commands.size(); ++n)
    copy(values_of<ModuleCommandsOf>(board_.module_commands[n]),
         values_of<ModuleCommandsOf>(b.module_commands[n]));
  b.memory = &memory_;
  b.slow = x.data() + layout().first_slow();
  return b;
}

void Plant::jacobian(const State& x, double, DenseMatrix& j) {
  Board<PlantDual> b = dual_board(x);
  network_->jacobian(b, x, j);
}

void Plant::block_jacobian(const State& x, double, BorderedJacobian& j) {
  Board<PlantDual> b = dual_board(x);
  network_->jacobian(b, x, j);
}

void Plant::command_rates(const State& x, State& dxdt) {
  // cheaper than a new evaluation: the entries that contain commands are few and linear in them
  lay(x, dxdt);
  network_->command(board_);
}

Commands actuator_positions(const Layout& layout, const State& x) {
  const auto at = [&](const char* name) { return x[layout.index(name)]; };
  return {.compressor_speed = at("compressor.speed"),
          .stack_current = at("stack.current"),
          .preheater_power = at("preheater.power"),
          .recycle_opening = at("recycle.opening"),
          .end_power = {at("end_plate.power[1]"), at("end_plate.power[2]")}};
}

namespace {

State started(const PlantParameters& p, const Start& s) {
  const std::vector<PlantParameters> modules = module_parameters(p);
  return Network(p.form, p.variants.division).start({&p, modules}, s);
}

/// What a turbo train turns faster than at its design point, for the ratio of pressures from this air: the head that
/// cooled stages give goes with the square of the speed, and takes T ln(p2/p1).
double faster_than_design(const PlantParameters& p, const Ambient& a, double discharge) {
  if (p.form.intake != kCentrifugal && p.form.intake != kAxial) return 1.0;
  const double filtered = p.train.design_pressure / 700.0 * a.pressure;  // the filter takes the same share
  return std::sqrt(a.temperature * std::log(discharge / filtered) /
                   (p.train.design_temperature * std::log(discharge / p.train.design_pressure)));
}

/// A plant with headers at these pressures and the compressor at the flow of its design point; a loop settles the rest
/// in minutes.
State between_headers(const PlantParameters& p, const Ambient& a, Start s, double current, double opening) {
  s.cathode_pressure = kHeaderPressure;
  s.anode_pressure = kHeaderPressure - kAcross;
  s.plenum_pressure = kHeaderPressure + kFeedDrop;
  s.current = current;
  s.opening = opening;
  const IntakeRating rated = intake_rating(p);
  s.flow = rated.flow;
  s.speed = std::min(p.power.speed_max, rated.speed * faster_than_design(p, a, s.plenum_pressure));
  s.valves = {s.speed, 0.0, 0.6, 0.7, 0.7, 1.0};
  return started(p, s);
}

Start still(double pressure, double housing, double hot, double inner, double outer, double co,
            const Composition<double>& feed) {
  Start s{pressure, pressure, pressure, hot, inner, outer, housing, feed, {}};
  s.cathode[CO] = co;
  s.cathode[CO2] = 1.0 - co;
  return s;
}

Start hot_start(const Ambient& a, double temperature, double co) {
  const double house = a.temperature + 50.0;  // what electronics and insulation losses hold it at
  return still(a.pressure, house, temperature, house + 0.82 * (temperature - house),
               house + 0.40 * (temperature - house), co, a.composition);
}

}  // namespace

State cold_state(const PlantParameters& p, const Ambient& a, double temperature, double co) {
  const double T = temperature > 0.0 ? temperature : a.temperature;
  return started(p, still(a.pressure, a.temperature, T, T, T, co, a.composition));
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

}  // namespace

namespace {

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

}  // namespace

State standby_state(const PlantParameters& p, const Ambient& a, double temperature, double co) {
  const double current = p.power.current_max / 16.0;  // 0.5 A of the demo plant
  if (has_headers(p.form))
    return between_headers(p, a, working_start(a, temperature, co, 0.045), current, 0.4);
  return settled(p, a, temperature, co, current, 0.11, 1.0);  // 8 mg/s there
}

State producing_state(const PlantParameters& p, const Ambient& a, double temperature, double co) {
  const double current = kRatedCurrent * p.power.current_max;
  if (has_headers(p.form))
    return between_headers(p, a, working_start(a, temperature, co, 0.045), current, 0.7);
  return settled(p, a, temperature, co, current, kRatedConversion, kRatedOpening);
}

}  // namespace duskline::plant
