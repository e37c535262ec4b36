/// What lies between the commands and the readings: the plant over a tick, and the instruments.
///
/// What it is   the plant's exact linear model, held commands over a tick, and the first-order lag of each
///              instrument
/// Equation     truth[n] = C x[n] + D u[n-1]; l[n] = k l[n-1] + b truth[n-1] + a truth[n]; y[n] = gain l[n];
///              x[n+1] = A_d x[n] + B_d u[n]
/// Symbols      k, b, a weights of the lag (sensor.cpp); states x, u[n-1], l[n-1], truth[n-1]
/// Validity     instruments within their span; a frozen, open or saturated one shows nothing (gain 0)
/// Left out     noise, steps of the converters, drift
#pragma once

#include "hil-harness/linearize/operating_point.hpp"
#include "hil-harness/linearize/state_space.hpp"

namespace duskline::harness {

/// dx/dt = A x + B u of the plant at the operating point.
StateSpace plant_model(const OperatingPoint& point);

/// `sampled` is that model between ticks. Outputs: the readings, then the outputs of the plant.
StateSpace with_instruments(const StateSpace& sampled, const OperatingPoint& point);

/// Span of each command: what a disturbance of it is measured by.
/// Which rows of plant::LinearPlant are the outputs of plant_model: the readings in the order of the controller's list,
/// then the rest.
std::vector<Eigen::Index> places_of_outputs();
/// Values of commands in the order of the controller's list.
std::vector<double> commands_in_order(const plant::Commands& u);

Eigen::VectorXd command_spans(const OperatingPoint& point);

}  // namespace duskline::harness
