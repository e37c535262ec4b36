#include "plant-model/integrate/drivers.hpp"

#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/rosenbrock4.hpp>
#include <boost/numeric/odeint/stepper/rosenbrock4_controller.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <cmath>
#include <utility>
#include <vector>

namespace duskline::plant {
namespace {

namespace odeint = boost::numeric::odeint;
namespace ublas = boost::numeric::ublas;
using Vector = ublas::vector<double>;
using Matrix = ublas::matrix<double>;

/// Odeint 1.81 has +0.0362 for the fourth factor of df/dt, where the method (RODAS: Hairer, Wanner, Solving
/// ODEs II, section VI.4) has -0.0362; with that the order on non-autonomous systems is 1, measured in
/// order_test. This member hides the one inherited.
struct RosenbrockCoefficients : odeint::default_rosenbrock_coefficients<double> {
  const double d4 = -0.3620000000000023e-01;
};
using Rosenbrock = odeint::rosenbrock4<double, RosenbrockCoefficients>;

/// The system in the variables y = x / scale. Odeint's Rosenbrock controller knows one absolute tolerance;
/// scaling each state by its own tolerance makes that one right for all.
class Scaled {
 public:
  Scaled(const SystemView& view, std::span<const double> absolute, StepStatistics& statistics)
      : view_(view),
        scale_(absolute.begin(), absolute.end()),
        statistics_(statistics),
        jacobian_(view.size, view.size),
        x_(view.size),
        f_(view.size) {}

  void derivative(const Vector& y, Vector& dydt, double t) {
    ++statistics_.evaluations;
    unscale(y);
    view_.derivative(view_.system, x_.data(), f_.data(), t);
    for (std::size_t i = 0; i < view_.size; ++i) dydt[i] = f_[i] / scale_[i];
  }

  void jacobian(const Vector& y, Matrix& j, double t, Vector& dfdt) {
    ++statistics_.jacobians;
    ++statistics_.factorisations;
    unscale(y);
    jacobian_.set_zero();
    if (view_.jacobian != nullptr) {
      view_.jacobian(view_.system, x_.data(), t, jacobian_);
    } else {
      jacobian_by_differences(view_, x_.data(), t, scale_, jacobian_);
      statistics_.evaluations += 2 * view_.size;
    }
    time_derivative_by_differences(view_, x_.data(), t, step_, f_.data());
    statistics_.evaluations += 2;
    for (std::size_t row = 0; row < view_.size; ++row) {
      dfdt[row] = f_[row] / scale_[row];
      for (std::size_t column = 0; column < view_.size; ++column) {
        j(row, column) = jacobian_(row, column) * scale_[column] / scale_[row];
      }
    }
  }

  Vector scale(std::span<const double> x) const {
    Vector y(view_.size);
    for (std::size_t i = 0; i < view_.size; ++i) y[i] = x[i] / scale_[i];
    return y;
  }
  void unscale(const Vector& y) {
    for (std::size_t i = 0; i < view_.size; ++i) x_[i] = y[i] * scale_[i];
  }
  const std::vector<double>& state() const { return x_; }
  void set_step(double h) { step_ = h; }

  auto functions() {
    return std::make_pair(
        [this](const Vector& y, Vector& dydt, double t) { derivative(y, dydt, t); },
        [this](const Vector& y, Matrix& j, const double& t, Vector& dfdt) { jacobian(y, j, t, dfdt); });
  }

 private:
  const SystemView& view_;
  std::vector<double> scale_;
  StepStatistics& statistics_;
  DenseMatrix jacobian_;
  std::vector<double> x_;
  std::vector<double> f_;
  double step_ = 1;  // s
};

/// Error checker for Odeint's explicit controller with a tolerance for each state.
class StateTolerances {
 public:
  StateTolerances(std::span<const double> absolute, double relative)
      : absolute_(absolute), relative_(relative) {}

  template <class Algebra, class Time>
  double error(Algebra&, const std::vector<double>& x, const std::vector<double>& dxdt,
               std::vector<double>& error, Time h) const {
    double worst = 0;
    for (std::size_t i = 0; i < x.size(); ++i) {
      const double size = std::abs(x[i]) + std::abs(h * dxdt[i]);
      error[i] = std::abs(error[i]) / (absolute_[i] + relative_ * size);
      if (!(error[i] <= worst)) worst = error[i];
      if (!std::isfinite(worst)) return 1e30;  // a number, so that the controller shortens the step
    }
    return worst;
  }

 private:
  std::span<const double> absolute_;
  double relative_;
};

using DormandPrince = odeint::runge_kutta_dopri5<std::vector<double>>;
using ControlledDormandPrince = odeint::controlled_runge_kutta<DormandPrince, StateTolerances>;

std::size_t first_not_finite(std::span<const double> values) {
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (!std::isfinite(values[i])) return i;
  }
  return values.size();
}

/// The loop that both drivers share: try(t, h) makes one attempt and changes both.
template <class Try>
Advance advance_with(Try&& attempt, double t, double end, DriverTask& task) {
  double step = task.step > 0 ? std::min(task.step, end - t) : end - t;
  while (t < end) {
    step = std::min(step, task.control.max_step);
    const bool last = t + step * (1 + 1e-12) >= end;
    double h = last ? end - t : step;
    const double tried = h;
    const double before = t;
    if (attempt(t, h)) {
      ++task.statistics.steps;
      if (last) t = end;
      // A last step cut short says nothing against the size before it.
      step = std::isfinite(h) && h > 0 ? (last ? std::max(step, h) : h) : tried;
    } else {
      ++task.statistics.rejected;
      step = std::isfinite(h) && h > 0 && h < tried ? h : tried / 5;
      if (step < task.control.min_step) return {RunEnd::step_too_small, before, 0};
    }
    if (t < end && task.control.stopped()) return {RunEnd::interrupted, t, 0};
  }
  task.step = step;
  return {RunEnd::reached_end, end, 0};
}

Advance with_cause(Advance advance, const SystemView& view, std::span<const double> x) {
  if (advance.ok() || advance.reason == RunEnd::interrupted) return advance;
  std::vector<double> f(view.size);
  view.derivative(view.system, x.data(), f.data(), advance.time);
  const std::size_t bad = first_not_finite(f);
  if (bad < view.size) return {RunEnd::solver_failed, advance.time, bad};
  return advance;
}

}  // namespace

void jacobian_by_differences(const SystemView& view, const double* x, double t,
                             std::span<const double> absolute, DenseMatrix& j) {
  const std::size_t n = view.size;
  std::vector<double> moved(x, x + n);
  std::vector<double> above(n);
  std::vector<double> below(n);
  for (std::size_t column = 0; column < n; ++column) {
    const double width = 6e-6 * std::max(std::abs(x[column]), 1e3 * absolute[column]);  // about eps^(1/3)
    moved[column] = x[column] + width;
    const double upper = moved[column];
    view.derivative(view.system, moved.data(), above.data(), t);
    moved[column] = x[column] - width;
    view.derivative(view.system, moved.data(), below.data(), t);
    for (std::size_t row = 0; row < n; ++row) {
      j(row, column) = (above[row] - below[row]) / (upper - moved[column]);
    }
    moved[column] = x[column];
  }
}

void time_derivative_by_differences(const SystemView& view, const double* x, double t, double h,
                                    double* dfdt) {
  const double width = std::max(1e-3 * h, 6e-6 * std::abs(t) * 1e-3);
  std::vector<double> below(view.size);
  const double later = t + width;
  const double earlier = t - width;
  view.derivative(view.system, x, dfdt, later);
  view.derivative(view.system, x, below.data(), earlier);
  for (std::size_t i = 0; i < view.size; ++i) dfdt[i] = (dfdt[i] - below[i]) / (later - earlier);
}

Advance advance_rosenbrock4(const SystemView& view, std::span<double> x, double t, double end,
                            DriverTask& task) {
  Scaled scaled(view, task.absolute, task.statistics);
  odeint::rosenbrock4_controller<Rosenbrock> stepper(1.0, task.relative);
  Vector y = scaled.scale(x);
  auto functions = scaled.functions();
  const Advance advance = advance_with(
      [&](double& time, double& h) {
        scaled.set_step(h);
        Vector trial = y;
        double trial_time = time;
        if (stepper.try_step(std::ref(functions), trial, trial_time, h) != odeint::success) return false;
        if (first_not_finite({&trial[0], trial.size()}) < trial.size()) {
          h = 0;
          return false;
        }
        y = trial;
        time = trial_time;
        return true;
      },
      t, end, task);
  scaled.unscale(y);
  std::copy(scaled.state().begin(), scaled.state().end(), x.begin());
  return with_cause(advance, view, x);
}

Advance advance_dormand_prince(const SystemView& view, std::span<double> x, double t, double end,
                               DriverTask& task) {
  ControlledDormandPrince stepper(StateTolerances(task.absolute, task.relative));
  std::vector<double> state(x.begin(), x.end());
  const auto derivative = [&](const std::vector<double>& at, std::vector<double>& dxdt, double time) {
    ++task.statistics.evaluations;
    view.derivative(view.system, at.data(), dxdt.data(), time);
  };
  const Advance advance = advance_with(
      [&](double& time, double& h) {
        return stepper.try_step(std::cref(derivative), state, time, h) == odeint::success;
      },
      t, end, task);
  std::copy(state.begin(), state.end(), x.begin());
  return with_cause(advance, view, x);
}

void step_rosenbrock4(const SystemView& view, std::span<double> x, double t, double h, std::size_t steps) {
  StepStatistics statistics;
  const std::vector<double> ones(view.size, 1.0);
  Scaled scaled(view, ones, statistics);
  scaled.set_step(h);
  Rosenbrock stepper;
  Vector y = scaled.scale(x);
  auto functions = scaled.functions();
  for (std::size_t i = 0; i < steps; ++i)
    stepper.do_step(std::ref(functions), y, t + static_cast<double>(i) * h, h);
  scaled.unscale(y);
  std::copy(scaled.state().begin(), scaled.state().end(), x.begin());
}

void step_dormand_prince(const SystemView& view, std::span<double> x, double t, double h, std::size_t steps) {
  DormandPrince stepper;
  std::vector<double> state(x.begin(), x.end());
  const auto derivative = [&](const std::vector<double>& at, std::vector<double>& dxdt, double time) {
    view.derivative(view.system, at.data(), dxdt.data(), time);
  };
  for (std::size_t i = 0; i < steps; ++i) {
    stepper.do_step(std::cref(derivative), state, t + static_cast<double>(i) * h, h);
  }
  std::copy(state.begin(), state.end(), x.begin());
}

}  // namespace duskline::plant
