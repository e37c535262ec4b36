#include "plant-model/plant.hpp"

#include <algorithm>

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

}  // namespace duskline::plant
