/// What it is   the stepper of the closed loop: ROS2, two stages, linearly implicit with a frozen Jacobian A.
/// Equation     (I - g h A) k1 = f(x, t); (I - g h A) k2 = f(x + h k1, t + h) - 2 k1; x += h (3 k1 + k2) / 2.
/// Symbols      h step in s; k stages, f derivative, in unit of the state per s; A in 1/s; g = 1 - 1/sqrt 2.
/// Validity     order 2 for ANY matrix A; L-stable where A is the Jacobian; estimate of order 1 from x + h
///              k1.
/// Source       Verwer, Spee, Blom, Hundsdorfer, SIAM J. Sci. Comput. 20 (1999) 1456;
///              docs/models/integrate.md.
/// Left out     algebraic equations; events (events.hpp); explicit time derivative (not needed for order 2).
#pragma once

#include <algorithm>
#include <array>
#include <boost/numeric/odeint/stepper/controlled_step_result.hpp>
#include <boost/numeric/odeint/stepper/stepper_categories.hpp>
#include <boost/numeric/odeint/util/unwrap_reference.hpp>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <vector>

#include "plant-model/integrate/dense_output.hpp"
#include "plant-model/integrate/division.hpp"
#include "plant-model/integrate/frozen_jacobian.hpp"
#include "plant-model/integrate/stage_sums.hpp"
#include "plant-model/integrate/step_control.hpp"

namespace duskline::plant {

/// State layout: implicit entries, then quadratures (driven by the implicit part, driving
/// nothing), then slow entries (zero rows and columns in A). A system offers
///   void operator()(const Vector& x, Vector& dxdt, double t)
///   void jacobian(const Vector& x, double t, DenseMatrix& j)
///   void block_jacobian(const Vector& x, double t, BorderedJacobian& j)      where it has several modules
/// where j is (implicit + coupled) x implicit and comes zeroed.
///
/// A state much faster than the step follows the implicit part and inputs held over the step exactly, but
/// leads what it takes from explicit states and from time by 0.7 of their change in one step;
/// follow_slow_states removes that lead. The stepper is a value; a copy carries the frozen Jacobian with it.
template <class Vector>
class LinearlyImplicitOn {
 public:
  static constexpr double kGamma = 1 - 0.70710678118654752440;  // the smaller root of L-stability

  // What Odeint asks of a controlled stepper.
  using state_type = Vector;
  using deriv_type = state_type;
  using value_type = double;
  using time_type = double;
  using stepper_category = boost::numeric::odeint::controlled_stepper_tag;
  using State = state_type;

  LinearlyImplicitOn(const Division& division, const TolerancesOf<Vector>& tolerances,
                     const StepControl& control = {})
      : division_(division),
        tolerances_(tolerances),
        control_(control),
        frozen_(division),
        drift_(division.solved()),
        kept_(tolerances.unfiltered.size()) {
    for (State* room : {&f0_, &x1_, &f1_, &k1_, &previous_, &next_, &ratio_}) *room = tolerances.absolute;
  }

  /// One step under error control. On success x and t move and dt may double; on failure x and t stay and dt
  /// is halved, or kept where a new Jacobian comes first. Where dt cannot be halved, outcome() says why.
  template <class System>
  boost::numeric::odeint::controlled_step_result try_step(System system, State& x, double& t, double& dt) {
    auto& plain = unwrap(system);
    evaluate(plain, x, f0_, t);
    return try_step_with(plain, x, f0_, t, dt);
  }

  /// The same, with the derivative f0 = f(x, t) supplied by the caller.
  template <class System>
  boost::numeric::odeint::controlled_step_result try_step_with(System& system, State& x, const State& f0,
                                                               double& t, double& dt) {
    if (dt > control_.max_step) dt = control_.max_step;
    const double error = attempt(system, x, f0, t, dt);
    if (error <= 1) {
      accept(x);
      t += dt;
      if (error < kGrow && 2 * dt <= control_.max_step) dt *= 2;
      outcome_ = {RunEnd::reached_end, t, 0};
      return boost::numeric::odeint::success;
    }
    ++statistics_.rejected;
    if (!fresh_) {
      frozen_.invalidate();
    } else if (std::abs(dt) / 2 >= control_.min_step) {
      dt /= 2;
    } else {
      outcome_ = failure(error, f0, t);
    }
    return boost::numeric::odeint::fail;
  }

  /// Integrates from t to `end`, the whole stretch being tried first, then halves on a binary grid.
  template <class System>
  Advance advance(System& system, State& x, double t, double end) {
    evaluate(system, x, f0_, t);
    return march(system, x, f0_, t, end, [](double) { return true; });
  }
  template <class System>
  Advance advance_with(System& system, State& x, const State& f0, double t, double end) {
    return march(system, x, f0, t, end, [](double) { return true; });
  }

  /// The same, calling go_on(time) after each accepted step; it may read dense_output(). False stops there.
  template <class System, class GoOn>
  Advance march(System& system, State& x, const State& first_derivative, double t, double end, GoOn&& go_on) {
    if (t == end) return {RunEnd::reached_end, t, 0};
    BinaryGrid grid(t, end);
    while (grid.step() > control_.max_step && grid.halve()) {
    }
    if (&first_derivative != &f0_) f0_ = first_derivative;
    fresh_ = false;
    const double short_step = std::abs(end - t) / kLongSteps;
    while (true) {
      const double error = attempt(system, x, f0_, t, grid.step());
      if (error <= 1) {
        accept(x);
        grid.accept();
        t = grid.time();
        if (!go_on(t) || grid.done()) return {RunEnd::reached_end, t, 0};
        if (control_.stopped()) return {RunEnd::interrupted, t, 0};
        if (error < kGrow) grid.double_if_aligned(control_.max_step);
        evaluate(system, x, f0_, t);
        continue;
      }
      ++statistics_.rejected;
      if (control_.stopped()) return {RunEnd::interrupted, t, 0};
      if (!std::isfinite(error) && !all_finite(f0_)) return failure(error, f0_, t);
      const bool young = t - frozen_.taken_at() < control_.young && std::abs(grid.step()) > short_step;
      if (!fresh_ && !young) {
        frozen_.invalidate();
      } else if (std::abs(grid.step()) / 2 < control_.min_step || !grid.halve()) {
        return failure(error, f0_, t);
      }
    }
  }

  /// One step of exactly h without error control; false when the result is not finite.
  template <class System>
  bool do_step(System& system, State& x, double t, double h) {
    evaluate(system, x, f0_, t);
    fresh_ = false;
    if (!std::isfinite(attempt(system, x, f0_, t, h))) return false;
    accept(x);
    return true;
  }

  /// Interpolant of the last accepted step; to be asked for before the next one. Its slope 2 k1 - M k1 equals
  /// f(x0) to second order for any A and stays bounded where f(x0) is stiff.
  DenseOutput<Vector> dense_output() const {
    DenseOutput<Vector> output{start_, step_, previous_, next_, k1_};
    const BorderedSolution* inverse = frozen_.find(kGamma * step_);
    if (inverse == nullptr) return output;
    for (std::size_t i = 0; i < drift_.size(); ++i) output.slope[i] += drift_[i];
    solve(*inverse, output.slope, output.slope);
    for (std::size_t i = 0; i < k1_.size(); ++i) output.slope[i] = 2 * k1_[i] - output.slope[i];
    return output;
  }

  void request_jacobian() { frozen_.invalidate(); }
  /// Nothing of the steps so far is remembered but their count.
  void start_anew(const StepStatistics& so_far) {
    frozen_.invalidate();
    statistics_ = so_far;
  }
  const StepStatistics& statistics() const { return statistics_; }
  const Advance& outcome() const { return outcome_; }
  const Division& division() const { return division_; }
  const TolerancesOf<Vector>& tolerances() const { return tolerances_; }
  const StepControl& control() const { return control_; }
  void stop_when(const std::atomic<bool>* stop) { control_.stop = stop; }

 private:
  static constexpr double kLongSteps = 16;  // in a stretch, which a young Jacobian serves
  static constexpr double kGrow = 0.2;      // a doubled step has four times the error, with a margin

  template <class System>
  static auto& unwrap(System& system) {
    typename boost::numeric::odeint::unwrap_reference<System>::type& plain = system;
    return plain;
  }

  template <class System>
  void evaluate(System& system, const State& x, State& dxdt, double t) {
    ++statistics_.evaluations;
    system(x, dxdt, t);
  }

  /// Solves (I - g h A) k = right, with k and right of full length; they may be the same vector.
  void solve(const BorderedSolution& inverse, const State& right, State& k) const {
    inverse.solve(right.data(), k.data(), room_);
    for (std::size_t i = division_.solved(); i < right.size(); ++i) k[i] = right[i];
  }

  template <class System>
  void renew_jacobian_if_due(System& system, const State& x, double t) {
    const double age = t - frozen_.taken_at();
    if (frozen_.valid() && age >= 0 && age <= control_.max_age && uses_ < control_.max_uses) return;
    BorderedJacobian& j = frozen_.renew(t);
    if constexpr (requires { system.block_jacobian(x, t, j); })
      system.block_jacobian(x, t, j);
    else
      system.jacobian(x, t, j.border);
    ++statistics_.jacobians;
    uses_ = 0;
    fresh_ = true;
  }

  /// Computes next_ and returns the scaled error (not finite when anything is not).
  template <class System>
  double attempt(System& system, const State& x, const State& f0, double t, double h) {
    renew_jacobian_if_due(system, x, t);
    const BorderedSolution* inverse = frozen_.iteration_matrix(kGamma * h, statistics_.factorisations);
    start_ = t;
    step_ = h;
    if (inverse == nullptr) {
      std::fill(ratio_.begin(), ratio_.end(), std::numeric_limits<double>::infinity());
      return ratio_[0];
    }
    k1_ = f0;
    if (control_.follow_slow_states) {
      find_drift(system, x, f0, t, h);
      for (std::size_t i = 0; i < drift_.size(); ++i) k1_[i] += drift_[i];
    }
    solve(*inverse, k1_, k1_);
    const std::size_t states = x.size();
    first_stage(states, x.data(), h, k1_.data(), x1_.data());
    evaluate(system, x1_, f1_, t + h);
    second_right_side(states, k1_.data(), f1_.data());
    if (control_.follow_slow_states) {
      for (std::size_t i = 0; i < drift_.size(); ++i) f1_[i] -= drift_[i];
    }
    solve(*inverse, f1_, f1_);
    combine_stages(states, x.data(), h, k1_.data(), f1_.data(), next_.data());
    if (control_.filter_error) filter_error(*inverse);
    return scaled_error(states, tolerances_.absolute.data(), tolerances_.relative, x.data(), next_.data(),
                        f1_.data(), ratio_.data());
  }

  /// Damps the estimate of states that relax within the step, but of those that `tolerances` names.
  void filter_error(const BorderedSolution& inverse) {
    for (std::size_t i = 0; i < kept_.size(); ++i) kept_[i] = f1_[tolerances_.unfiltered[i]];
    solve(inverse, f1_, f1_);
    for (std::size_t i = 0; i < kept_.size(); ++i) f1_[tolerances_.unfiltered[i]] = kept_[i];
  }

  /// g h times the rate at which explicit states and time change the derivatives of the others. It enters the
  /// first stage with +, the second with -, and cancels in the order conditions whatever its value.
  template <class System>
  void find_drift(System& system, const State& x, const State& f0, double t, double h) {
    x1_ = x;
    for (std::size_t i = drift_.size(); i < x.size(); ++i) x1_[i] += h * f0[i];
    evaluate(system, x1_, f1_, t + h);
    for (std::size_t i = 0; i < drift_.size(); ++i) drift_[i] = kGamma * (f1_[i] - f0[i]);
  }

  void accept(State& x) {
    previous_ = x;
    x = next_;
    ++statistics_.steps;
    ++uses_;
    fresh_ = false;
  }

  Advance failure(double error, const State& f0, double t) const {
    if (std::isfinite(error)) return {RunEnd::step_too_small, t, worst_state(ratio_)};
    return {RunEnd::solver_failed, t, worst_state(all_finite(f0) ? ratio_ : f0)};
  }

  static bool all_finite(const State& values) {
    return std::all_of(values.begin(), values.end(), [](double value) { return std::isfinite(value); });
  }

  Division division_;
  TolerancesOf<Vector> tolerances_;
  StepControl control_;
  FrozenJacobian frozen_;
  std::vector<double> drift_;
  std::vector<double> kept_;             // room for filter_error()
  mutable BorderedSolution::Room room_;  // for solve()
  State f0_{}, x1_{}, f1_{};             // room for a step
  State k1_{};
  State previous_{};
  State next_{};
  State ratio_{};
  double start_ = 0;
  double step_ = 0;
  std::uint64_t uses_ = 0;
  bool fresh_ = false;  // the Jacobian was taken at the present state
  StepStatistics statistics_;
  Advance outcome_;
};

/// For systems whose size is known when they are compiled.
template <std::size_t Implicit, std::size_t Coupled = 0, std::size_t Explicit = 0>
class LinearlyImplicit : public LinearlyImplicitOn<std::array<double, Implicit + Coupled + Explicit>> {
 public:
  static constexpr std::size_t kStates = Implicit + Coupled + Explicit;
  explicit LinearlyImplicit(const Tolerances<kStates>& tolerances, const StepControl& control = {})
      : LinearlyImplicitOn<std::array<double, kStates>>({Implicit, Coupled, Explicit}, tolerances, control) {}
};

}  // namespace duskline::plant
