/// Scroll compressors in parallel, some of them running.
///
/// What it is   a bank as one machine: what each has, as many times as run; what stands still leaks through its check
///              valve; the shells of all store heat
/// Equation     N = m N_one(p1, p2, speed) - (n - m) G (p2 - p1) for m of n running
/// Symbols      G [mol/s/Pa] leak of a closed check valve
/// Validity     scroll.hpp, for each machine; all that run have one speed, and all shells one temperature
/// Source       scroll.hpp; leak of a check valve 1e-6 to 1e-4 of the full flow (from memory)
/// Left out     pulsation between machines, start of one against the pressure of the others, check valves of those
///              that run, number of running machines as a command
#pragma once

#include "plant-model/compressors/scroll.hpp"

namespace duskline::plant {

struct BankParameters {
  double count{};             ///< 1, machines
  double running{};           ///< 1, of them
  double check_valve_leak{};  ///< mol/s/Pa, of one that stands still
  double design_speed{};      ///< rad/s
};

/// The machine that does what those that run do together; `c` is one of them.
inline CompressorParameters as_one(const CompressorParameters& c, const BankParameters& b) {
  CompressorParameters all = c;
  for (double* each :
       {&all.displacement, &all.leakage, &all.friction_torque, &all.viscous_friction, &all.inertia})
    *each *= b.running;
  for (double* each : {&all.shell_heat_capacity, &all.shell_conductance}) *each *= b.count;
  return all;
}

/// mol/s/Pa.
inline double leak_of_standing(const BankParameters& b) {
  return (b.count - b.running) * b.check_valve_leak;
}

}  // namespace duskline::plant
