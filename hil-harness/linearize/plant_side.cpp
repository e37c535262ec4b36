// The plant's matrices with names, and the instruments around them.
#include "hil-harness/linearize/plant_side.hpp"

#include "hil-harness/linearize/headers_side.hpp"
#include "hil-harness/loop/instruments.hpp"
#include "plant-model/linear.hpp"

namespace duskline::harness {
namespace {

using Eigen::Index;

/// By what a change of the truth shows in the reading.
double gain_of(const plant::SensorState& sensor) {
  using Mode = plant::SensorFaultMode;
  switch (sensor.fault.mode) {
    case Mode::frozen:
    case Mode::open:
    case Mode::saturated:
      return 0.0;
    case Mode::gain:
      return sensor.gain * (1.0 + sensor.fault.size);
    case Mode::none:
    case Mode::bias:
    case Mode::drift:
    case Mode::noise:
      break;
  }
  return sensor.gain;
}

/// The places of the commands of the controller in the list of fields of the plant, in the order of the controller.
std::vector<Index> places_of_commands() {
  const auto place = plant::places<plant::CommandsOf>();
  std::vector<Index> order;
#define PLACE(name, ...) order.push_back(static_cast<Index>(place.name));
#define PLACES(name, ...) \
  for (const std::size_t one : place.name) order.push_back(static_cast<Index>(one));
  CTL_OUTPUT_LIST(PLACE, PLACES)
#undef PLACE
#undef PLACES
  return order;
}

/// f of each command of the plant, in the order of the inputs of plant_model: its value, or its rating, from `of_one`,
/// `of_shared` and `of_module`.
template <class OfOne, class OfShared, class OfModule, class F>
void each_command(const OperatingPoint& point, const OfOne& of_one, const OfShared& of_shared,
                  const OfModule& of_module, F&& f) {
  if (!point.shared) {
#define ONE(name, ...) f(of_one.name);
#define SEVERAL(name, ...) \
  for (const auto& one : of_one.name) f(one);
    CTL_OUTPUT_LIST(ONE, SEVERAL)
#undef ONE
#undef SEVERAL
    return;
  }
#define ONE(name, ...) f(of_shared.name);
  CTL_PLANT_OUTPUT_LIST(ONE)
#undef ONE
  for (std::size_t n = 0; n < point.plant.modules(); ++n) {
    const auto& m = of_module(n);
    f(m.stack_current), f(m.preheater_power), f(m.feed_opening);
    for (const auto& one : m.end_power) f(one);
  }
}

}  // namespace

std::vector<Index> places_of_readings() {
  const auto place = plant::places<plant::TrueValues>();
  std::vector<Index> order;
#define PLACE(name, ...) order.push_back(static_cast<Index>(place.name));
#define PLACES(name, ...) \
  for (const std::size_t one : place.name) order.push_back(static_cast<Index>(one));
  CTL_INPUT_LIST(PLACE, PLACES)
#undef PLACE
#undef PLACES
  return order;
}

std::vector<Index> places_of_outputs() {
  std::vector<Index> rows = places_of_readings();
  const std::size_t all = plant::kTruths + plant::reported_table().size();
  for (std::size_t r = plant::kTruths; r < all; ++r) rows.push_back(static_cast<Index>(r));
  return rows;
}

std::vector<double> commands_in_force(const OperatingPoint& point) {
  std::vector<double> values;
  each_command(
      point, point.plant.commands(), point.plant.shared_commands(),
      [&](std::size_t n) { return point.plant.module_commands()[n]; },
      [&](double value) { values.push_back(value); });
  return values;
}

Eigen::VectorXd command_spans(const OperatingPoint& point) {
  const auto& p = point.plant.parameters();
  const auto one = plant::ratings(p);
  std::vector<double> spans;
  each_command(
      point, one, plant::shared_ratings(p), [&](std::size_t) { return one; },
      [&](const plant::Rating& r) { spans.push_back(r.upper > 0.0 ? r.upper : 1.0); });  // 0: not fitted
  return Eigen::Map<const Eigen::VectorXd>(spans.data(), static_cast<Index>(spans.size()));
}

void name_states(const plant::Plant& plant, StateSpace& s) {
  s.state_scale.resize(s.a.rows());
  const auto table = plant.layout().table();
  for (Index i = 0; i < s.a.rows(); ++i) {
    const auto& info = table[static_cast<std::size_t>(i)];
    s.states.push_back({info.name, info.unit});
    s.state_scale[i] = info.tolerance;
  }
}

StateSpace plant_model(const OperatingPoint& point) {
  if (point.shared) return whole_model(point);
  const plant::LinearPlant exact = plant::linearise(point.plant, point.state);
  StateSpace s;
  s.a = exact.a;
  const std::vector<Index> commands = places_of_commands();
  const std::vector<Index> rows = places_of_outputs();
  s.b = exact.b(Eigen::all, commands);
  s.c = exact.c(rows, Eigen::all);
  s.d = exact.d(rows, commands);
  name_states(point.plant, s);
  for (const auto& c : scenarios::command_channels()) s.inputs.push_back({c.name, std::string(c.unit)});
  for (const auto& c : scenarios::reading_channels()) s.outputs.push_back({c.name, std::string(c.unit)});
  for (const auto& output : plant::reported_table()) s.outputs.push_back({output.name, output.unit});
  return s;
}

std::vector<Instrument> instruments_of(const OperatingPoint& point) {
  std::vector<Instrument> all;
  const auto& channels = scenarios::reading_channels();
  for (std::size_t k = 0; k < channels.size(); ++k)
    all.push_back(
        {static_cast<Index>(k), &point.sensors, k, channels[k].name, std::string(channels[k].unit)});
  return all;
}

StateSpace with_instruments(const StateSpace& sampled, const std::vector<Instrument>& instruments,
                            const Eigen::VectorXd& spans) {
  const Index states = sampled.a.rows(), inputs = sampled.b.cols(), outputs = sampled.c.rows();
  const auto readings = static_cast<Index>(instruments.size());
  const Index held = states, lagged = held + inputs, n = lagged + readings;
  StateSpace s;
  s.step = sampled.step;
  s.inputs = sampled.inputs;
  s.states = sampled.states;
  s.a = Eigen::MatrixXd::Zero(n, n);
  s.b = Eigen::MatrixXd::Zero(n, inputs);
  s.c = Eigen::MatrixXd::Zero(readings + outputs, n);
  s.d = Eigen::MatrixXd::Zero(readings + outputs, inputs);
  s.state_scale = Eigen::VectorXd::Ones(n);
  s.state_scale.head(states) = sampled.state_scale;
  s.state_scale.segment(held, inputs) = 1e-3 * spans;

  s.a.topLeftCorner(states, states) = sampled.a;
  s.b.topRows(states) = sampled.b;
  s.b.block(held, 0, inputs, inputs).setIdentity();
  for (const auto& input : sampled.inputs) s.states.push_back({"held." + input.name, input.unit});

  // what is true at the tick, before the new commands
  Eigen::MatrixXd truth = Eigen::MatrixXd::Zero(outputs, n);
  truth.leftCols(states) = sampled.c;
  truth.middleCols(held, inputs) = sampled.d;
  s.c.bottomRows(outputs) = truth;
  for (Index i = 0; i < readings; ++i) {
    const Instrument& instrument = instruments[static_cast<std::size_t>(i)];
    const auto& sensor = instrument.bank->state(instrument.channel);
    const auto& spec = instrument.bank->spec(instrument.channel);
    s.state_scale[lagged + i] = 1e-3 * (spec.upper - spec.lower);
    s.a.row(lagged + i) = (sensor.keep * sensor.now + sensor.before) * truth.row(instrument.output);
    s.a(lagged + i, lagged + i) = sensor.keep;
    s.c.row(i) = sensor.now * truth.row(instrument.output);
    s.c(i, lagged + i) = 1.0;
    s.c.row(i) *= gain_of(sensor);
    s.states.push_back({"lagged." + instrument.name, instrument.unit});
    s.outputs.push_back({"reading." + instrument.name, instrument.unit});
  }
  for (const auto& output : sampled.outputs) s.outputs.push_back(output);
  return s;
}

}  // namespace duskline::harness
