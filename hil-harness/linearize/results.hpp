/// Results for the linear models of one instant: poles, margins, curves; and their files.
///
/// What it is   one plain value, and three ways to write it: JSON, matrices in an exchange format, the page for
///              people
/// Symbols      SI units; the page converts them
/// Validity     as linearize.hpp
/// Source       matrices: Boisvert, Pozo & Remington, The Matrix Market exchange formats, NISTIR 5935 (1996)
/// Left out     reading back
#pragma once

#include "hil-harness/linearize/linearize.hpp"
#include "hil-harness/linearize/operating_point.hpp"

namespace duskline::harness {

struct LoopCurve {
  LoopMargins loop;
  std::vector<std::complex<double>> response;  ///< L at LinearResults::frequency
};

/// Answer of one output to a step of one input.
struct StepCurve {
  Channel input, output;
  double amount;                     ///< of the step, in the unit of the input
  std::vector<double> open, closed;  ///< at LinearResults::time_of_steps; open is empty for references
};

/// Relative gains at a frequency: rows are readings, columns commands of the pairing.
struct RelativeGains {
  double omega;  ///< rad/s
  Eigen::MatrixXcd gains;
};

struct LinearResults {
  std::string title, scenario, law, mode, limiter;
  double time{}, local_time{}, period{};
  std::size_t ticks{};  ///< LinearLoop::ticks
  StateSpace plant, sampled, measured, controller, closed;
  std::vector<std::complex<double>> plant_poles, sampled_poles, closed_poles;
  std::vector<double> states, rates, inputs, outputs;  ///< at the operating point, names as in `plant`
  std::vector<std::string> quasi_static;               ///< states that settle well within a tick
  std::vector<double> frequency;                       ///< rad/s
  std::vector<LoopCurve> loops;
  std::vector<double> sensitivity;  ///< largest singular value of S at `frequency`
  double sensitivity_peak{}, sensitivity_peak_at{};
  Pairing pairing;
  std::vector<RelativeGains> relative_gains;  ///< as good as at rest, then where the first loop crosses over
  std::vector<double> time_of_steps;          ///< s
  std::vector<StepCurve> steps;
};

/// Loops whose controller is a mean over fewer than kFewestTicks, as a sentence; empty: there are none.
std::string warning_of(const LinearResults& results);

LinearResults results_of(const OperatingPoint& point, const LinearLoop& loop);

std::string linear_json(const LinearResults& results);
std::string linear_page(const LinearResults& results);

/// The names of all files: linear.json, linear.html, and each matrix as a Matrix Market file.
std::vector<std::string> linear_file_names();
/// All files with their bytes, in that order.
std::vector<std::pair<std::string, std::string>> linear_files(const LinearResults& results);

}  // namespace duskline::harness
