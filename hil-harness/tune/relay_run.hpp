/// Relay experiments on the simulated plant: compressor speed to feed flow, stack current to coke margin.
///
/// The shipped controller brings the plant to the operating point and holds it; then a relay takes one command from
/// it and everything else goes on. Rest values and noise are those of the last five minutes before, hysteresis is
/// three standard deviations of the noise, a short margin or an interlock calls the experiment off.
/// Left out: applying what comes out; it is a proposal.
#pragma once

#include <atomic>
#include <functional>
#include <string>
#include <vector>

#include "hil-harness/tune/relay.hpp"
#include "scenarios/reader/scenario_file.hpp"

namespace duskline::harness {

struct RelayExperiment {
  std::string loop, input, output;   ///< in words; the units are those of the gains
  std::string gain_name, time_name;  ///< parameters of the controller that it proposes
  std::string point;
  RelayPlan plan;
  RelayResult result;
  double before_gain{}, before_time{};  ///< as they stand
};

/// Every loop at every operating point of the tuning, or at the start of the scenario where it has none.
std::vector<RelayExperiment> relay_experiments(const scenarios::Case& c, const std::atomic<bool>* interrupted,
                                               const std::function<void(double)>& progress);

/// The parameters with what the experiments propose: the most careful gain over the points of a loop, and its time.
ctl_params proposed(const ctl_params& params, const std::vector<RelayExperiment>& experiments);

std::string relay_json(const std::vector<RelayExperiment>& experiments);
std::string relay_text(const std::vector<RelayExperiment>& experiments);

/// The case on an ordinary day at this local time: no faults, no storms, calm air, one demand, in production for
/// `settling` seconds before.
scenarios::Case settled_at(const scenarios::Case& c, double local_time_h, double settling);

}  // namespace duskline::harness
