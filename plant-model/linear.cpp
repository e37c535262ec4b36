// The plant in duals: evaluations of the network with every implicit state and every command seeded in turn.
#include "plant-model/linear.hpp"

#include <algorithm>
#include <vector>

namespace duskline::plant {
namespace {

using D = PlantDual;
using Outputs = PlantOutputsOf<D>;

struct Reported {
  QuantityInfo info;
  D Outputs::*value;
};

/// What the report shows beside the instruments, under the names of the trace.
const std::vector<Reported>& reported() {
  static const std::vector<Reported> table{
      {{"coke_margin", "V"}, &Outputs::min_margin},
      {{"nickel_ratio", "1"}, &Outputs::min_nickel_ratio},
      {{"oxygen_rate", "kg s-1"}, &Outputs::oxygen_made},
      {{"oxygen_delivered", "kg s-1"}, &Outputs::oxygen_delivered},
      {{"utilisation", "1"}, &Outputs::utilisation},
      {{"intake_flow", "kg s-1"}, &Outputs::intake_flow},
      {{"exhaust_flow", "kg s-1"}, &Outputs::exhaust_flow},
      {{"recycle_flow", "kg s-1"}, &Outputs::recycle_flow},
      {{"inlet_co", "1"}, &Outputs::inlet_co},
      {{"suction_pressure", "Pa"}, &Outputs::suction_pressure},
      {{"feed_temperature", "K"}, &Outputs::feed_temperature},
      {{"discharge_temperature", "K"}, &Outputs::discharge_temperature},
      {{"compressor_power", "W"}, &Outputs::compressor_power},
      {{"heater_power", "W"}, &Outputs::heater_power},
  };
  return table;
}

/// In the order of the rows of c and d.
std::vector<D> outputs_of(Outputs& out) {
  const auto instruments = values_of<TrueValues>(out.truth);
  std::vector<D> y(instruments.begin(), instruments.end());
  y.insert(y.end(), out.cells.margin.begin(), out.cells.margin.end());
  for (const Reported& r : reported()) y.push_back(out.*r.value);
  return y;
}

std::vector<QuantityInfo> make_reported_table() {
  std::vector<QuantityInfo> t;
  for (std::size_t c = 0; c < kCells; ++c)
    t.push_back({"cell_coke_margin[" + std::to_string(c + 1) + "]", "V"});
  for (const Reported& r : reported()) t.push_back(r.info);
  return t;
}

const std::vector<QuantityInfo> kSharedReported{
    {"anti_surge_flow", "kg s-1"}, {"header_recycle_flow", "kg s-1"}, {"exhaust_flow", "kg s-1"},
    {"intake_flow", "kg s-1"},     {"oxygen_delivered", "kg s-1"},    {"surge_margin", "1"},
    {"choke_margin", "1"},         {"compressor_power", "W"}};
const std::vector<QuantityInfo> kModuleReported{
    {"coke_margin", "V"}, {"nickel_ratio", "1"}, {"oxygen_rate", "kg s-1"}, {"utilisation", "1"}};

/// A demo plant: how its commands are seeded, and what is read of it.
class OneModule {
 public:
  explicit OneModule(const Plant& plant) : u_(plant.commands()) {}
  std::size_t commands() const { return kCommands; }
  std::size_t rows() const { return kTruths + reported_table().size(); }
  void look(Board<D>& b) { b.out = {&out_, 1}; }
  template <class Seed>
  void command(Board<D>& b, Seed&& seed) {
    CommandsOf<D> u;
    for (std::size_t k = 0; k < kCommands; ++k)
      values_of<CommandsOf>(u)[k] = seed(values_of<CommandsOf>(u_)[k], k);
    b.command(u);
  }
  std::vector<D> outputs() { return outputs_of(out_); }

 private:
  Commands u_;
  Outputs out_;
};

/// The same of a plant whose modules stand between headers.
class ModulesAndHeaders {
 public:
  explicit ModulesAndHeaders(const Plant& plant)
      : shared_u_(plant.shared_commands()),
        module_u_(plant.module_commands().begin(), plant.module_commands().end()),
        modules_(plant.modules()) {}
  std::size_t commands() const { return kSharedCommands + kModuleCommands * modules_.size(); }
  std::size_t rows() const {
    return kSharedTruths + kSharedReported.size() + modules_.size() * (kTruths + kModuleReported.size());
  }
  void look(Board<D>& b) { b.out = modules_, b.shared = &shared_; }
  template <class Seed>
  void command(Board<D>& b, Seed&& seed) {
    std::size_t place = 0;
    for (std::size_t k = 0; k < kSharedCommands; ++k)
      values_of<SharedCommandsOf>(b.commands)[k] = seed(values_of<SharedCommandsOf>(shared_u_)[k], place++);
    for (std::size_t n = 0; n < modules_.size(); ++n)
      for (std::size_t k = 0; k < kModuleCommands; ++k)
        values_of<ModuleCommandsOf>(b.module_commands[n])[k] =
            seed(values_of<ModuleCommandsOf>(module_u_[n])[k], place++);
  }
  std::vector<D> outputs() {
    const auto instruments = values_of<SharedValuesOf>(shared_.truth);
    std::vector<D> y(instruments.begin(), instruments.end());
    // in the order of kSharedReported and kModuleReported
    for (const D& value :
         {shared_.anti_surge_flow, shared_.recycle_flow, shared_.exhaust_flow, shared_.intake_flow,
          shared_.oxygen_delivered, shared_.surge_margin, shared_.choke_margin, shared_.compressor_power})
      y.push_back(value);
    for (Outputs& module : modules_) {
      const auto own = values_of<TrueValues>(module.truth);
      y.insert(y.end(), own.begin(), own.end());
      for (const D& value :
           {module.min_margin, module.min_nickel_ratio, module.oxygen_made, module.utilisation})
        y.push_back(value);
    }
    return y;
  }

 private:
  SharedCommands shared_u_;
  std::vector<ModuleCommands> module_u_;
  std::vector<Outputs> modules_;
  SharedOutputsOf<D> shared_{};
};

template <class Form>
LinearPlant differentiate(const Plant& plant, const State& x) {
  // the warm start must be the solution at x itself; a copy keeps the caller's plant as it is
  Plant settled = plant;
  State scratch;
  for (int n = 0; n < 3; ++n) settled(x, scratch, 0.0);
  Memory memory = settled.memory();

  Form form(settled);
  const Network& network = settled.network();
  const std::size_t states = network.layout().division().implicit, seeds = states + form.commands();
  std::vector<D> dual(states), rates(network.layout().division().solved());
  Board<D> b = network.board<D>();
  b.parameters = settled.view();
  b.boundary = &settled.boundary();
  b.memory = &memory;
  b.x = dual.data();
  b.slow = x.data() + network.layout().first_slow();
  b.dx = rates.data();
  b.dq = rates.data() + states;
  form.look(b);

  const auto rows = static_cast<Eigen::Index>(form.rows());
  const auto size_x = static_cast<Eigen::Index>(states), size_u = static_cast<Eigen::Index>(form.commands());
  LinearPlant m{Eigen::MatrixXd(size_x, size_x), Eigen::MatrixXd(size_x, size_u),
                Eigen::MatrixXd(rows, size_x),   Eigen::MatrixXd(rows, size_u),
                Eigen::VectorXd(size_x),         Eigen::VectorXd(rows)};
  for (std::size_t first = 0; first < seeds; first += D::kWidth) {
    const std::size_t end = std::min(seeds, first + D::kWidth);
    const auto seed = [&](double value, std::size_t place) {
      return place >= first && place < end ? D(value, place - first) : D(value);
    };
    for (std::size_t i = 0; i < states; ++i) dual[i] = seed(x[i], i);
    form.command(b, [&](double value, std::size_t k) { return seed(value, states + k); });
    network.evaluate(b);
    const std::vector<D> y = form.outputs();
    for (std::size_t place = first; place < end; ++place) {
      const bool of_state = place < states;
      const auto column = static_cast<Eigen::Index>(of_state ? place : place - states);
      auto rate_column = of_state ? m.a.col(column) : m.b.col(column);
      auto output_column = of_state ? m.c.col(column) : m.d.col(column);
      for (Eigen::Index i = 0; i < size_x; ++i)
        rate_column[i] = rates[static_cast<std::size_t>(i)].slope[place - first];
      for (Eigen::Index i = 0; i < rows; ++i)
        output_column[i] = y[static_cast<std::size_t>(i)].slope[place - first];
    }
    for (Eigen::Index i = 0; i < size_x; ++i) m.rates[i] = rates[static_cast<std::size_t>(i)].value;
    for (Eigen::Index i = 0; i < rows; ++i) m.outputs[i] = y[static_cast<std::size_t>(i)].value;
  }
  return m;
}

}  // namespace

std::span<const QuantityInfo> reported_table() {
  static const std::vector<QuantityInfo> table = make_reported_table();
  return table;
}

std::span<const QuantityInfo> shared_reported_table() {
  return kSharedReported;
}

std::span<const QuantityInfo> module_reported_table() {
  return kModuleReported;
}

LinearPlant linearise(const Plant& plant, const State& x) {
  return differentiate<OneModule>(plant, x);
}

LinearPlant linearise_whole(const Plant& plant, const State& x) {
  return differentiate<ModulesAndHeaders>(plant, x);
}

}  // namespace duskline::plant
