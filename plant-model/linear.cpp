// The plant in duals: one evaluation of the flowsheet with every implicit state and every command seeded.
#include "plant-model/linear.hpp"

#include "plant-model/flowsheet.hpp"

namespace duskline::plant {
namespace {

constexpr std::size_t kSeeds = kImplicit + kCommands;
using D = Dual<kSeeds>;

CommandsOf<D> seeded_commands(const Commands& u) {
  CommandsOf<D> s;
  Commands copy = u;
  std::size_t place = kImplicit;
  for (std::size_t k = 0; k < kCommands; ++k)
    values_of<CommandsOf>(s)[k] = D(values_of<CommandsOf>(copy)[k], place++);
  return s;
}

D min_of(const std::array<D, kCells>& values) {
  D least = values[0];
  for (const D& v : values) least = pick(less(D(v - least), 0.0), v, least);
  return least;
}

struct Reported {
  QuantityInfo info;
  D (*read)(const PlantParameters& p, const Boundary& b, const Flowsheet<D>& f, const CellView<D>& cells);
};

/// What the report shows beside the instruments, under the names of the trace.
const std::vector<Reported>& reported() {
  using P = PlantParameters;
  using B = Boundary;
  using F = Flowsheet<D>;
  using V = CellView<D>;
  static const std::vector<Reported> table{
      {{"coke_margin", "V"}, [](const P&, const B&, const F&, const V& v) { return min_of(v.margin); }},
      {{"nickel_ratio", "1"},
       [](const P&, const B&, const F&, const V& v) { return min_of(v.nickel_ratio); }},
      {{"oxygen_rate", "kg s-1"},
       [](const P&, const B&, const F& f, const V&) { return D(f.stack.oxygen * kMolarMass[O2]); }},
      {{"oxygen_delivered", "kg s-1"},
       [](const P&, const B&, const F& f, const V&) {
         return D(f.gas.product.out * f.anode.share[O2] * kMolarMass[O2]);
       }},
      {{"utilisation", "1"}, [](const P&, const B&, const F& f, const V&) { return utilisation(f); }},
      {{"intake_flow", "kg s-1"},
       [](const P&, const B& b, const F& f, const V&) {
         return D((f.gas.suction.intake - f.gas.suction.outflow) * b.air_molar_mass);
       }},
      {{"exhaust_flow", "kg s-1"},
       [](const P&, const B&, const F& f, const V&) { return mass_flow(f.gas.exhaust, f.cathode.share); }},
      {{"recycle_flow", "kg s-1"},
       [](const P&, const B&, const F& f, const V&) {
         return D(f.gas.recycle * molar_mass(f.cathode.share));
       }},
      {{"inlet_co", "1"}, [](const P&, const B&, const F& f, const V&) { return f.path.burnt[CO]; }},
      {{"suction_pressure", "Pa"},
       [](const P&, const B&, const F& f, const V&) { return f.gas.suction.pressure; }},
      {{"feed_temperature", "K"},
       [](const P&, const B&, const F& f, const V&) { return f.path.feed_temperature; }},
      {{"discharge_temperature", "K"},
       [](const P&, const B&, const F& f, const V&) { return f.compressor.discharge_temperature; }},
      {{"compressor_power", "W"},
       [](const P&, const B&, const F& f, const V&) { return f.compressor.power; }},
      {{"heater_power", "W"}, [](const P&, const B&, const F& f, const V&) { return f.heaters; }},
  };
  return table;
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

namespace {

auto slopes(const D& x) {
  return Eigen::Map<const Eigen::VectorXd>(x.slope.data(), static_cast<Eigen::Index>(kSeeds));
}

}  // namespace

LinearPlant linearise(const Plant& plant, const State& x) {
  // the warm start must be the solution at x itself; a copy keeps the caller's plant as it is
  Plant settled = plant;
  State scratch;
  for (int n = 0; n < 3; ++n) settled(x, scratch, 0.0);
  StackMemory memory = settled.memory();

  const PlantParameters& p = settled.parameters();
  const Boundary& b = settled.boundary();
  std::vector<D> dual(kImplicit), rates(kImplicit);
  for (std::size_t i = 0; i < kImplicit; ++i) dual[i] = D(x[i], i);
  const CommandsOf<D> u = seeded_commands(settled.commands());
  const double* slow = x.data() + kImplicit + kQuadratures;
  CellView<D> cells;
  const Flowsheet<D> f = stores_and_links(p, b, u, dual.data(), slow, memory, nullptr, &cells);
  gas_rates(p, b, f, rates.data());
  actuator_rates(p, u, f.compressor.acceleration, dual.data(), rates.data());
  heat_rates(p, b, f, dual.data(), rates.data());
  TrueValues<D> truth = true_values(p, b, f, cells.voltage, dual.data());
  const auto instruments = values_of<TrueValues>(truth);
  std::vector<D> y(instruments.begin(), instruments.end());
  for (const D& margin : cells.margin) y.push_back(margin);
  for (const Reported& r : reported()) y.push_back(r.read(p, b, f, cells));

  constexpr auto kX = static_cast<Eigen::Index>(kImplicit), kU = static_cast<Eigen::Index>(kCommands);
  const auto rows = static_cast<Eigen::Index>(y.size());
  LinearPlant m{Eigen::MatrixXd(kX, kX),   Eigen::MatrixXd(kX, kU), Eigen::MatrixXd(rows, kX),
                Eigen::MatrixXd(rows, kU), Eigen::VectorXd(kX),     Eigen::VectorXd(rows)};
  for (Eigen::Index i = 0; i < kX; ++i) {
    const D& rate = rates[static_cast<std::size_t>(i)];
    m.rates[i] = rate.value;
    m.a.row(i) = slopes(rate).head(kX).transpose();
    m.b.row(i) = slopes(rate).tail(kU).transpose();
  }
  for (Eigen::Index i = 0; i < rows; ++i) {
    const D& value = y[static_cast<std::size_t>(i)];
    m.outputs[i] = value.value;
    m.c.row(i) = slopes(value).head(kX).transpose();
    m.d.row(i) = slopes(value).tail(kU).transpose();
  }
  return m;
}

}  // namespace duskline::plant
