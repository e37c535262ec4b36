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

}  // namespace

std::span<const QuantityInfo> reported_table() {
  static const std::vector<QuantityInfo> table = make_reported_table();
  return table;
}

LinearPlant linearise(const Plant& plant, const State& x) {
  // the warm start must be the solution at x itself; a copy keeps the caller's plant as it is
  Plant settled = plant;
  State scratch;
  for (int n = 0; n < 3; ++n) settled(x, scratch, 0.0);
  Memory memory = settled.memory();

  const Network& network = settled.network();
  const std::size_t states = network.layout().division().implicit, seeds = states + kCommands;
  Outputs out;
  std::vector<D> dual(states), rates(network.layout().division().solved());
  Board<D> b = network.board<D>();
  b.parameters = settled.view();
  b.boundary = &settled.boundary();
  b.memory = &memory;
  b.x = dual.data();
  b.slow = x.data() + network.layout().first_slow();
  b.dx = rates.data();
  b.dq = rates.data() + states;
  b.out = {&out, 1};
  Commands u = settled.commands();

  const auto rows = static_cast<Eigen::Index>(kTruths + reported_table().size());
  const auto size_x = static_cast<Eigen::Index>(states), size_u = static_cast<Eigen::Index>(kCommands);
  LinearPlant m{Eigen::MatrixXd(size_x, size_x), Eigen::MatrixXd(size_x, size_u),
                Eigen::MatrixXd(rows, size_x),   Eigen::MatrixXd(rows, size_u),
                Eigen::VectorXd(size_x),         Eigen::VectorXd(rows)};
  for (std::size_t first = 0; first < seeds; first += D::kWidth) {
    const std::size_t end = std::min(seeds, first + D::kWidth);
    const auto seed = [&](double value, std::size_t place) {
      return place >= first && place < end ? D(value, place - first) : D(value);
    };
    for (std::size_t i = 0; i < states; ++i) dual[i] = seed(x[i], i);
    CommandsOf<D> commands;
    for (std::size_t k = 0; k < kCommands; ++k)
      values_of<CommandsOf>(commands)[k] = seed(values_of<CommandsOf>(u)[k], states + k);
    b.command(commands);
    network.evaluate(b);
    const std::vector<D> y = outputs_of(out);
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

}  // namespace duskline::plant
