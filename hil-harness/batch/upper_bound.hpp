/// An upper bound on the oxygen of a run: what no law can exceed that keeps the same true margins.
///
/// What it is   watches a run; then, at instants of it, the greatest current for which every cell keeps the coke margin and
///              the nickel ratio, over all flows and recycle openings (continuous), in the weather, the temperatures and the
///              age of that instant, gas settled; no actuator costs anything, no power is too much
/// Equation     bound = sum w_i min(demand, k I_i) + k N (l_1 + sum max(0, l_i+1 - l_i)), k = cells M/4F;
///              I_i = max over n, o of I with margin(I, n, o) = kept; balance of the loop: x_CO = (r d + a)/b,
///              r = R/F, d = conversion/n, a = x_CO,air - 2 x_O2,air, b = 1 - x_O2,air
/// Symbols      w [s], n [mol/s] flow through the stack, o [1] opening, F, R [mol/s] fresh and recycled, N [mol] most that
///              the plenum holds, l [A s/mol] what more gas than the compressor gives would be worth
/// Validity     why it is a bound: limits on speed, acceleration, opening and power are dropped, which only adds; gas kept
///              in the plenum for later is worth N times the rises of l where I(n) is concave (by parts); the cathode
///              volume settles in half a second. Taken from the run and not optimised: temperatures, anode, dust.
///              Instants lie `every` s apart; in between the bound is taken as constant
/// Source       relaxation of an optimal control problem to a static one at each instant; tests hold the search against
///              a dense grid and the bound against laws and the best known schedule (clairvoyant.hpp)
/// Left out     heat or composition that a law stores for later; plants of several modules or with another compressor
///              (nothing is counted for them)
#pragma once

#include "hil-harness/batch/clairvoyant.hpp"

namespace duskline::harness {

/// The plant at an instant of a run in production, with gas, current and opening free.
class SettledPlant {
 public:
  SettledPlant(const plant::Plant& plant, const plant::State& x);

  /// Greatest current up to `wanted` at a flow through the stack (mol/s) and an opening; 0: none keeps the margins.
  /// Where `any_compressor`, one of any size delivers the flow.
  double current(double flow, double opening, const KeptMargins& kept, double wanted, bool any_compressor);
  /// The same, over all flows and openings; `hint` is what was best a while ago, 0: unknown.
  struct Best {
    double current, flow, opening;
    double worth;  ///< A s/mol, of more gas than the compressor delivers
  };
  Best best(const KeptMargins& kept, double wanted, double pressure_max, const Best& hint);
  /// Most gas that the plenum holds at a cathode pressure, mol.
  double held(double pressure) const;

 private:
  struct Seen {
    double margin, nickel, pressure;
    bool delivered;
  };
  Seen at(double current, double flow, double opening);

  plant::Plant plant_;
  plant::State x_;
  std::size_t cathode_, plenum_, current_, opening_;
  double exhaust_temperature_, leak_, wall_, manifold_, shell_;
  double pressure_max_ = 1e9, near_ = 0.0;
};

class OxygenBound {
 public:
  explicit OxygenBound(const scenarios::Case& c, double every = 600.0) : case_(c), every_(every) {}

  /// Every tick of the run.
  void watch(const Snapshot& s);
  /// Oxygen of the run that counts: since the first production, as far as it was asked for, kg.
  double counted() const { return counted_; }
  /// The bound on it, kg.
  double most(const KeptMargins& kept) const;

 private:
  struct Instant {
    plant::Plant plant;
    plant::State x;
    double demanded, duration;  ///< kg, s
  };

  const scenarios::Case& case_;
  double every_, counted_ = 0.0;
  std::vector<Instant> instants_;
};

}  // namespace duskline::harness
