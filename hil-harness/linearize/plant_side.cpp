// The plant's matrices with names, and the instruments around them.
#include "hil-harness/linearize/plant_side.hpp"

#include "hil-harness/loop/instruments.hpp"
#include "plant-model/linear.hpp"

namespace duskline::harness {
namespace {

using Eigen::Index;

constexpr Index kInputs = static_cast<Index>(scenarios::kCommandChannels);
constexpr Index kReadings = static_cast<Index>(scenarios::kReadingChannels);

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

/// Where the plant's walk over its fields has the channels of the lists, in their order.
std::vector<Index> places_of_readings() {
  const auto place = plant::places<plant::TrueValues>();
  std::vector<Index> order;
#define PLACE(name, ...) order.push_back(static_cast<Index>(place.name));
#define PLACES(name, ...) \
  for (const std::size_t one : place.name) order.push_back(static_cast<Index>(one));
  CTL_INPUT_LIST(PLACE, PLACES)
  return order;
}
std::vector<Index> places_of_commands() {
  const auto place = plant::places<plant::CommandsOf>();
  std::vector<Index> order;
  CTL_OUTPUT_LIST(PLACE, PLACES)
#undef PLACE
#undef PLACES
  return order;
}

}  // namespace

std::vector<Index> places_of_outputs() {
  std::vector<Index> rows = places_of_readings();
  const std::size_t all = plant::kTruths + plant::reported_table().size();
  for (std::size_t r = plant::kTruths; r < all; ++r) rows.push_back(static_cast<Index>(r));
  return rows;
}

std::vector<double> commands_in_order(const plant::Commands& u) {
  std::vector<double> values;
#define VALUE(name, ...) values.push_back(u.name);
#define VALUES(name, ...) values.insert(values.end(), u.name.begin(), u.name.end());
  CTL_OUTPUT_LIST(VALUE, VALUES)
#undef VALUE
#undef VALUES
  return values;
}

StateSpace plant_model(const OperatingPoint& point) {
  const plant::LinearPlant exact = plant::linearise(point.plant, point.state);
  StateSpace s;
  s.a = exact.a;
  const std::vector<Index> commands = places_of_commands();
  const std::vector<Index> rows = places_of_outputs();
  s.b = exact.b(Eigen::all, commands);
  s.c = exact.c(rows, Eigen::all);
  s.d = exact.d(rows, commands);
  s.state_scale.resize(exact.a.rows());
  const auto table = point.plant.layout().table();
  for (Index i = 0; i < exact.a.rows(); ++i) {
    const auto& info = table[static_cast<std::size_t>(i)];
    s.states.push_back({info.name, info.unit});
    s.state_scale[i] = info.tolerance;
  }
  for (const auto& c : scenarios::command_channels()) s.inputs.push_back({c.name, std::string(c.unit)});
  for (const auto& c : scenarios::reading_channels()) s.outputs.push_back({c.name, std::string(c.unit)});
  for (const auto& output : plant::reported_table()) s.outputs.push_back({output.name, output.unit});
  return s;
}

Eigen::VectorXd command_spans(const OperatingPoint& point) {
  const auto rated = plant::ratings(point.plant.parameters());
  Eigen::VectorXd spans(kInputs);
  Index n = 0;
  const auto add = [&](double upper) { spans[n++] = upper > 0.0 ? upper : 1.0; };  // 0: not fitted
#define SPAN(name, ...) add(rated.name.upper);
#define SPANS(name, ...) \
  for (const plant::Rating& one : rated.name) add(one.upper);
  CTL_OUTPUT_LIST(SPAN, SPANS)
#undef SPAN
#undef SPANS
  return spans;
}

StateSpace with_instruments(const StateSpace& sampled, const OperatingPoint& point) {
  const Index states = sampled.a.rows(), n = states + kInputs + 2 * kReadings;
  const Index held = states, lagged = held + kInputs, before = lagged + kReadings;
  const Index outputs = sampled.c.rows();
  StateSpace s;
  s.step = sampled.step;
  s.inputs = sampled.inputs;
  s.states = sampled.states;
  s.a = Eigen::MatrixXd::Zero(n, n);
  s.b = Eigen::MatrixXd::Zero(n, kInputs);
  s.c = Eigen::MatrixXd::Zero(kReadings + outputs, n);
  s.d = Eigen::MatrixXd::Zero(kReadings + outputs, kInputs);
  s.state_scale = Eigen::VectorXd::Ones(n);
  s.state_scale.head(states) = sampled.state_scale;
  s.state_scale.segment(held, kInputs) = 1e-3 * command_spans(point);

  s.a.topLeftCorner(states, states) = sampled.a;
  s.b.topRows(states) = sampled.b;
  s.b.block(held, 0, kInputs, kInputs).setIdentity();
  for (const auto& input : sampled.inputs) s.states.push_back({"held." + input.name, input.unit});

  // what is true at the tick, before the new commands
  Eigen::MatrixXd truth = Eigen::MatrixXd::Zero(outputs, n);
  truth.leftCols(states) = sampled.c;
  truth.middleCols(held, kInputs) = sampled.d;
  s.c.bottomRows(outputs) = truth;
  const auto& channels = scenarios::reading_channels();
  for (const char* what : {"lagged.", "before."})
    for (const auto& c : channels) s.states.push_back({what + c.name, std::string(c.unit)});
  for (Index i = 0; i < kReadings; ++i) {
    const auto& sensor = point.sensors.state(static_cast<std::size_t>(i));
    const auto& spec = point.sensors.spec(static_cast<std::size_t>(i));
    const auto& channel = channels[static_cast<std::size_t>(i)];
    s.state_scale[lagged + i] = s.state_scale[before + i] = 1e-3 * (spec.upper - spec.lower);
    s.a.row(lagged + i) = sensor.now * truth.row(i);
    s.a(lagged + i, lagged + i) = sensor.keep;
    s.a(lagged + i, before + i) = sensor.before;
    s.a.row(before + i) = truth.row(i);
    s.c.row(i) = gain_of(sensor) * s.a.row(lagged + i);
    s.outputs.push_back({"reading." + channel.name, std::string(channel.unit)});
  }
  for (const auto& output : sampled.outputs) s.outputs.push_back(output);
  return s;
}

}  // namespace duskline::harness
