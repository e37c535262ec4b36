/// What it is   the same system under two library steppers, as references: Rosenbrock 4(3) and Dormand-Prince
///              5(4).
/// Equation     Rosenbrock of order 4 with the exact Jacobian and df/dt; explicit Runge-Kutta pair of order
///              5.
/// Symbols      x states, f derivatives, t and h in s, tolerances for each state as in step_control.hpp.
/// Validity     a new stepper for each stretch: nothing is carried over a change of input except a step size.
/// Source       Boost.Odeint 1.81; Hairer, Wanner, Solving ODEs II (Rosenbrock); Hairer et al., Solving ODEs
///              I.
/// Left out     speed: they exist to check linearly_implicit.hpp and to show what stiffness costs.
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <span>

#include "plant-model/integrate/dense_matrix.hpp"
#include "plant-model/integrate/step_control.hpp"

namespace duskline::plant {

/// A system seen through function pointers, so that the library steppers are compiled once.
struct SystemView {
  std::size_t size = 0;
  void* system = nullptr;
  void (*derivative)(void* system, const double* x, double* dxdt, double t) = nullptr;
  void (*jacobian)(void* system, const double* x, double t, DenseMatrix& j) = nullptr;  // null: differences
};

/// A system with room for its states, in a Vector as in step_control.hpp; the views point into it.
template <class Vector, class System>
struct ViewedSystem {
  System* system;
  Vector state, derivative;
};
template <class Vector, class System>
SystemView view_derivative(ViewedSystem<Vector, System>& viewed) {
  using Viewed = ViewedSystem<Vector, System>;
  SystemView view;
  view.size = viewed.state.size();
  view.system = &viewed;
  view.derivative = [](void* pointer, const double* x, double* dxdt, double t) {
    Viewed& v = *static_cast<Viewed*>(pointer);
    std::copy_n(x, v.state.size(), v.state.begin());
    (*v.system)(v.state, v.derivative, t);
    std::copy_n(v.derivative.begin(), v.state.size(), dxdt);
  };
  return view;
}

/// For systems whose jacobian() is the whole matrix.
template <class Vector, class System>
SystemView view_whole(ViewedSystem<Vector, System>& viewed) {
  using Viewed = ViewedSystem<Vector, System>;
  SystemView view = view_derivative(viewed);
  view.jacobian = [](void* pointer, const double* x, double t, DenseMatrix& j) {
    Viewed& v = *static_cast<Viewed*>(pointer);
    std::copy_n(x, v.state.size(), v.state.begin());
    v.system->jacobian(v.state, t, j);
  };
  return view;
}

/// Whole Jacobian and df/dt by central differences; `absolute` gives the size below which a state is noise.
void jacobian_by_differences(const SystemView& view, const double* x, double t,
                             std::span<const double> absolute, DenseMatrix& j);
void time_derivative_by_differences(const SystemView& view, const double* x, double t, double h,
                                    double* dfdt);

/// What a driver needs besides the system. `step` is the size to try first and is updated.
struct DriverTask {
  std::span<const double> absolute;
  double relative = 1e-6;
  StepControl control;
  double step = 0;  // s
  StepStatistics statistics;
};

/// Integrates x from t to `end`. Failures are values, as in linearly_implicit.hpp.
Advance advance_rosenbrock4(const SystemView& view, std::span<double> x, double t, double end,
                            DriverTask& task);
Advance advance_dormand_prince(const SystemView& view, std::span<double> x, double t, double end,
                               DriverTask& task);

/// `steps` equal steps without error control, for convergence studies.
void step_rosenbrock4(const SystemView& view, std::span<double> x, double t, double h, std::size_t steps);
void step_dormand_prince(const SystemView& view, std::span<double> x, double t, double h, std::size_t steps);

}  // namespace duskline::plant
