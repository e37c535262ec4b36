// The methods that are compared on the plant, each replaying the same recording.
#pragma once

#include <array>
#include <string_view>

#include "plant-model/integrate/advance.hpp"
#include "tests/benchmark/replay.hpp"

namespace duskline::tests {

enum class Candidate {
  ours,            ///< linearly implicit, Jacobian kept for 300 s
  ours_each_tick,  ///< the same with a new Jacobian at every tick
  rosenbrock4,     ///< Odeint, exact Jacobian at every step
  dormand_prince,  ///< Odeint, explicit
  cvode_differences,
  cvode_exact,
  cvode_fast,  ///< fast states alone, exact Jacobian kept for 300 s
};
inline constexpr std::array<std::string_view, 7> kCandidateWords = {
    "linearly implicit",
    "linearly implicit, Jacobian renewed each tick",
    "Rosenbrock 4, exact Jacobian",
    "Dormand-Prince 5(4)",
    "CVODE BDF, Jacobian by differences",
    "CVODE BDF, exact Jacobian",
    "CVODE BDF, fast states alone, Jacobian kept 300 s"};

inline constexpr double kMaxAge = plant::StepControl{}.max_age;

inline void must(const plant::Advance& advance) {
  if (!advance.ok()) throw std::runtime_error("the integration ended early");
}

inline Replay replay_ours(const Recording& r, double relative, const plant::StepControl& control) {
  plant::LinearlyImplicitOn<plant::State> stepper(plant::Network().layout().division(),
                                                  plant_tolerances(relative), control);
  Replay result = replay(r, [&](auto& plant, auto& x, const auto& f, double t, double t1) {
    must(stepper.advance_with(plant, x, f, t, t1));
  });
  result.evaluations = static_cast<double>(stepper.statistics().evaluations);
  result.rejected = static_cast<double>(stepper.statistics().rejected);
  return result;
}

inline Replay replay_library(const Recording& r, double relative, bool rosenbrock) {
  const auto tolerances = plant_tolerances(relative);
  plant::DriverTask task;
  task.absolute = tolerances.absolute;
  task.relative = relative;
  WholePlant whole;
  plant::ViewedSystem<plant::State, WholePlant> viewed{&whole, r.start, r.start};
  const auto view = view_whole(viewed);
  Replay result = replay(r, [&](auto& plant, auto& x, const auto&, double t, double t1) {
    whole.plant = &plant;
    must(rosenbrock ? advance_rosenbrock4(view, x, t, t1, task)
                    : advance_dormand_prince(view, x, t, t1, task));
    whole.taken_at = -1;
  });
  result.evaluations = static_cast<double>(task.statistics.evaluations);
  return result;
}

inline Replay replay_cvode(const Recording& r, double relative, CvodeJacobian how) {
  WholePlant whole;
  plant::Plant first(r.parameters);
  whole.plant = &first;
  Cvode<WholePlant, plant::kStates, plant::State> cvode(whole, r.start, 0, relative,
                                                        plant_tolerances(relative).absolute, how);
  Replay result = replay(r, [&](auto& plant, auto& x, const auto&, double t, double t1) {
    whole.plant = &plant;
    whole.taken_at = -1;
    cvode.restart(x, t);
    x = cvode.integrate(t1);
  });
  result.evaluations = static_cast<double>(cvode.evaluations());
  return result;
}

inline Replay replay_cvode_fast(const Recording& r, double relative) {
  FastPlant fast;
  fast.keep = kMaxAge;
  plant::Plant first(r.parameters);
  fast.plant = &first;
  FastPlant::Fast y{}, absolute{};
  const auto tolerances = plant_tolerances(relative);
  std::copy_n(tolerances.absolute.begin(), plant::kImplicit, absolute.begin());
  std::copy_n(r.start.begin(), plant::kImplicit, y.begin());
  Cvode<FastPlant, plant::kImplicit> cvode(fast, y, 0, relative, absolute, CvodeJacobian::from_system);
  Replay result = replay(r, [&](auto& plant, auto& x, const auto& f, double t, double t1) {
    fast.plant = &plant;
    fast.at = x;
    std::copy_n(x.begin(), plant::kImplicit, y.begin());
    cvode.restart(y, t);
    y = cvode.integrate(t1);
    std::copy(y.begin(), y.end(), x.begin());
    for (std::size_t i = plant::kImplicit + plant::kQuadratures; i < plant::kStates; ++i)
      x[i] += (t1 - t) * f[i];
  });
  result.evaluations = static_cast<double>(cvode.evaluations());
  return result;
}

inline Replay replay_with(Candidate candidate, const Recording& r, double relative) {
  switch (candidate) {
    case Candidate::ours:
      return replay_ours(r, relative, {});
    case Candidate::ours_each_tick:
      return replay_ours(r, relative, {.max_age = 0.5 * r.period});
    case Candidate::rosenbrock4:
      return replay_library(r, relative, true);
    case Candidate::dormand_prince:
      return replay_library(r, relative, false);
    case Candidate::cvode_differences:
      return replay_cvode(r, relative, CvodeJacobian::by_differences);
    case Candidate::cvode_exact:
      return replay_cvode(r, relative, CvodeJacobian::from_system);
    case Candidate::cvode_fast:
      return replay_cvode_fast(r, relative);
  }
  return {};
}

}  // namespace duskline::tests
