/// What it is   one integrator for the loop, whichever method was chosen.
/// Equation     x(end) from x(t) under dx/dt = f(x, t), with inputs held between t and end.
/// Symbols      x states, t and end in s.
/// Validity     the linearly implicit method is the one to run with; the others check it.
/// Source       linearly_implicit.hpp and drivers.hpp.
/// Left out     events for the library methods.
#pragma once

#include <array>
#include <cstddef>
#include <string_view>

#include "plant-model/integrate/drivers.hpp"
#include "plant-model/integrate/linearly_implicit.hpp"

namespace duskline::plant {

enum class Method { linearly_implicit, rosenbrock4, dormand_prince };

inline constexpr std::array<std::string_view, 3> kMethodWords = {"linearly implicit", "Rosenbrock 4",
                                                                 "Dormand-Prince"};

template <class Vector>
class IntegratorOn {
 public:
  using Stepper = LinearlyImplicitOn<Vector>;
  using State = Vector;

  IntegratorOn(Method method, const Division& division, const TolerancesOf<Vector>& tolerances,
               const StepControl& control = {})
      : method_(method), stepper_(division, tolerances, control) {
    task_.control = control;
    task_.relative = tolerances.relative;
  }

  template <class System>
  Advance advance(System& system, State& x, double t, double end) {
    if (method_ == Method::linearly_implicit) return stepper_.advance(system, x, t, end);
    return advance_library(system, x, t, end);
  }

  /// The same with f0 = f(x, t) already known; the library methods have no use for it.
  template <class System>
  Advance advance_with(System& system, State& x, const State& f0, double t, double end) {
    if (method_ == Method::linearly_implicit) return stepper_.advance_with(system, x, f0, t, end);
    return advance_library(system, x, t, end);
  }

  /// Looked at between steps; when it is true, the stretch ends there as interrupted.
  void stop_when(const std::atomic<bool>* stop) {
    stepper_.stop_when(stop);
    task_.control.stop = stop;
  }

  /// Nothing of the steps so far is remembered but their count.
  void start_anew(const StepStatistics& so_far) {
    stepper_.start_anew(so_far);
    task_.step = 0.0;
    task_.statistics = so_far;
  }

  Method method() const { return method_; }
  Stepper& stepper() { return stepper_; }
  const StepStatistics& statistics() const {
    return method_ == Method::linearly_implicit ? stepper_.statistics() : task_.statistics;
  }

 private:
  template <class System>
  Advance advance_library(System& system, State& x, double t, double end) {
    task_.absolute = stepper_.tolerances().absolute;
    const Division& division = stepper_.division();
    ViewedSystem<Vector, System> viewed{&system, x, x};
    const SystemView view =
        division.implicit == division.states() ? view_whole(viewed) : view_derivative(viewed);
    if (method_ == Method::rosenbrock4) return advance_rosenbrock4(view, x, t, end, task_);
    return advance_dormand_prince(view, x, t, end, task_);
  }

  Method method_;
  Stepper stepper_;
  DriverTask task_;
};

/// For systems whose size is known when they are compiled.
template <std::size_t Implicit, std::size_t Coupled = 0, std::size_t Explicit = 0>
class Integrator : public IntegratorOn<std::array<double, Implicit + Coupled + Explicit>> {
 public:
  static constexpr std::size_t kStates = Implicit + Coupled + Explicit;
  Integrator(Method method, const Tolerances<kStates>& tolerances, const StepControl& control = {})
      : IntegratorOn<std::array<double, kStates>>(method, {Implicit, Coupled, Explicit}, tolerances,
                                                  control) {}
};

}  // namespace duskline::plant
