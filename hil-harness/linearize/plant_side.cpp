// The plant's matrices with names, and the instruments around them.
#include "hil-harness/linearize/plant_side.hpp"

#include "plant-model/instruments/instrument_table.hpp"
#include "plant-model/linear.hpp"

namespace duskline::harness {
namespace {

using Eigen::Index;

constexpr Index kStates = static_cast<Index>(plant::kImplicit);
constexpr Index kInputs = static_cast<Index>(plant::kCommands);
constexpr Index kReadings = static_cast<Index>(plant::kInstruments);

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

}  // namespace

StateSpace plant_model(const OperatingPoint& point) {
  const plant::LinearPlant exact = plant::linearise(point.plant, point.state);
  StateSpace s;
  s.a = exact.a;
  s.b = exact.b;
  s.c = exact.c;
  s.d = exact.d;
  s.state_scale.resize(kStates);
  const auto table = plant::state_table();
  for (Index i = 0; i < kStates; ++i) {
    const auto& info = table[static_cast<std::size_t>(i)];
    s.states.push_back({info.name, info.unit});
    s.state_scale[i] = info.tolerance;
  }
  for (const auto& command : plant::command_table()) s.inputs.push_back({command.name, command.unit});
  for (const auto& output : plant::output_table()) s.outputs.push_back({output.name, output.unit});
  return s;
}

Eigen::VectorXd command_spans(const OperatingPoint& point) {
  const auto& p = point.plant.parameters();
  Eigen::VectorXd spans(kInputs);
  spans << p.power.speed_max, p.power.current_max, p.heat.preheater_max, 1.0, p.heat.end_heater_max,
      p.heat.end_heater_max;
  return spans;
}

StateSpace with_instruments(const StateSpace& sampled, const OperatingPoint& point) {
  const Index n = kStates + kInputs + 2 * kReadings;
  const Index held = kStates, lagged = held + kInputs, before = lagged + kReadings;
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
  s.state_scale.head(kStates) = sampled.state_scale;
  s.state_scale.segment(held, kInputs) = 1e-3 * command_spans(point);

  s.a.topLeftCorner(kStates, kStates) = sampled.a;
  s.b.topRows(kStates) = sampled.b;
  s.b.block(held, 0, kInputs, kInputs).setIdentity();
  for (const auto& input : sampled.inputs) s.states.push_back({"held." + input.name, input.unit});

  // what is true at the tick, before the new commands
  Eigen::MatrixXd truth = Eigen::MatrixXd::Zero(outputs, n);
  truth.leftCols(kStates) = sampled.c;
  truth.middleCols(held, kInputs) = sampled.d;
  s.c.bottomRows(outputs) = truth;
  const auto specs = plant::expand(plant::kInstrumentTable);
  for (const char* what : {"lagged.", "before."})
    for (const auto& spec : specs)
      s.states.push_back({what + std::string(spec.name), std::string(spec.unit)});
  for (Index i = 0; i < kReadings; ++i) {
    const auto& sensor = point.sensors.state(static_cast<std::size_t>(i));
    const auto& spec = specs[static_cast<std::size_t>(i)];
    s.state_scale[lagged + i] = s.state_scale[before + i] = 1e-3 * (spec.upper - spec.lower);
    s.a.row(lagged + i) = sensor.now * truth.row(i);
    s.a(lagged + i, lagged + i) = sensor.keep;
    s.a(lagged + i, before + i) = sensor.before;
    s.a.row(before + i) = truth.row(i);
    s.c.row(i) = gain_of(sensor) * s.a.row(lagged + i);
    s.outputs.push_back({"reading." + std::string(spec.name), std::string(spec.unit)});
  }
  for (const auto& output : sampled.outputs) s.outputs.push_back(output);
  return s;
}

}  // namespace duskline::harness
