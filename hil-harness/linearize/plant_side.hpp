/// What lies between the commands and the readings: the plant over a tick, and the instruments.
///
/// What it is   the plant's exact linear model, held commands over a tick, and the first-order lag of each
///              instrument
/// Equation     truth[n] = C x[n] + D u[n-1]; l[n] = w[n] + a truth[n]; w[n+1] = k w[n] + (k a + b) truth[n];
///              y[n] = gain l[n]; x[n+1] = A_d x[n] + B_d u[n]
/// Symbols      k, b, a weights of the lag (sensor.cpp): l[n] = k l[n-1] + b truth[n-1] + a truth[n]; states x, u[n-1],
///              w[n]
/// Validity     instruments within their span; a frozen, open or saturated one shows nothing (gain 0)
/// Left out     noise, steps of the converters, drift
#pragma once

#include "hil-harness/linearize/operating_point.hpp"
#include "hil-harness/linearize/state_space.hpp"

namespace duskline::harness {

/// dx/dt = A x + B u of the plant at the operating point; of a plant with headers the whole of it, as headers_side.hpp.
StateSpace plant_model(const OperatingPoint& point);

/// The plant's layout gives the states of a model their names and sizes.
void name_states(const plant::Plant& plant, StateSpace& s);

/// An instrument that looks at an output of a model.
struct Instrument {
  Eigen::Index output;
  const plant::SensorBank* bank;
  std::size_t channel;
  std::string name, unit;
};

/// `sampled` is a model between ticks, `spans` those of its inputs. Outputs: the readings, then the outputs of the model.
StateSpace with_instruments(const StateSpace& sampled, const std::vector<Instrument>& instruments,
                            const Eigen::VectorXd& spans);

/// Of one module with apertures: its instruments are the first outputs of its plant_model.
std::vector<Instrument> instruments_of(const OperatingPoint& point);

/// Which rows of plant::LinearPlant are the readings, in the order of the controller's list.
std::vector<Eigen::Index> places_of_readings();
/// Which rows of plant::LinearPlant are the outputs of plant_model: the readings, then the rest.
std::vector<Eigen::Index> places_of_outputs();

/// Values of the inputs of plant_model at the operating point.
std::vector<double> commands_in_force(const OperatingPoint& point);
/// Span of each of them: what a disturbance of it is measured by.
Eigen::VectorXd command_spans(const OperatingPoint& point);

}  // namespace duskline::harness
