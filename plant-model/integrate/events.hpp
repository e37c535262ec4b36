/// What it is   finds where a guard function of the state changes sign, and stops the integration there.
/// Equation     g(x(t), t) passes from below zero to zero or above (rising), or the other way (falling).
/// Symbols      g in a unit of its own; times in s; a step covers the half-open interval (t0, t1].
/// Validity     one change of sign between two looks; looks are the step ends and `looks` points inside.
/// Source       Dowell, Jarratt, BIT 11 (1971) 168 (the Illinois rule), on the interpolant of
///              dense_output.hpp.
/// Left out     guards that touch zero without crossing it.
#pragma once

#include <array>
#include <cstddef>
#include <functional>
#include <span>
#include <vector>

#include "plant-model/integrate/dense_output.hpp"
#include "plant-model/integrate/linearly_implicit.hpp"
#include "plant-model/integrate/step_control.hpp"

namespace duskline::plant {

enum class Crossing { rising, falling, either };

/// Zero counts as above, so every point of time lies on exactly one side and no crossing is seen twice.
constexpr bool above(double g) {
  return g >= 0;
}

constexpr bool crosses(double before, double after, Crossing wanted) {
  if (above(before) == above(after)) return false;
  return wanted == Crossing::either || (wanted == Crossing::rising) == above(after);
}

template <class Vector>
struct GuardOn {
  std::function<double(const Vector& x, double t)> value;
  Crossing crossing = Crossing::either;
};
template <std::size_t N>
using Guard = GuardOn<std::array<double, N>>;

struct EventControl {
  double time_tolerance = 1e-9;  // s
  std::size_t looks = 0;         // inside each step
};

/// First time after the crossing, within `tolerance` of it, for g(a) and g(b) on different sides.
template <class Value>
double locate_crossing(Value&& g, double a, double b, double g_a, double g_b, double tolerance) {
  const bool before = above(g_a);
  int same_end = 0;  // how often in turn the same end moved: +1 for a, -1 for b
  for (int i = 0; i < 200 && b - a > tolerance; ++i) {
    double t = b - g_b * (b - a) / (g_b - g_a);
    if (i % 3 == 2 || !(t > a && t < b)) t = a + 0.5 * (b - a);  // every third is a bisection: bounded work
    if (t <= a || t >= b) break;                                 // no number left between them
    const double g_t = g(t);
    if (above(g_t) == before) {
      a = t;
      g_a = g_t;
      if (same_end > 0) g_b *= 0.5;
      same_end = 1;
    } else {
      b = t;
      g_b = g_t;
      if (same_end < 0) g_a *= 0.5;
      same_end = -1;
    }
  }
  return b;
}

/// Where a stretch with guards ended. `fired` lists the guards that crossed at advance.time, in their order;
/// it is empty when the end was reached or the integration failed.
struct EventAdvance {
  Advance advance;
  std::vector<std::size_t> fired;
};

/// Looks at the guards along one accepted step and remembers their values at its end.
template <class Vector>
class Watch {
 public:
  Watch(std::span<const GuardOn<Vector>> guards, const EventControl& control, const Vector& x, double t)
      : guards_(guards), control_(control), before_(guards.size()), after_(guards.size()) {
    for (std::size_t i = 0; i < guards_.size(); ++i) before_[i] = guards_[i].value(x, t);
  }

  /// Time of the first crossing in (step.start, end], else `end`; fired() then tells which guards crossed
  /// there.
  double first_crossing(const DenseOutput<Vector>& step, double end) {
    fired_.clear();
    double from = step.start;
    for (std::size_t look = 1; look <= control_.looks + 1; ++look) {
      const bool last = look == control_.looks + 1;
      const double share = static_cast<double>(look) / static_cast<double>(control_.looks + 1);
      const double to = last ? end : step.start + share * step.step;
      const Vector x = last ? step.x1 : step(to);
      const double found = within(step, x, from, to);
      if (!fired_.empty()) return found;
      before_ = after_;
      from = to;
    }
    return end;
  }
  const std::vector<std::size_t>& fired() const { return fired_; }

 private:
  double within(const DenseOutput<Vector>& step, const Vector& x, double from, double to) {
    double first = to;
    for (std::size_t i = 0; i < guards_.size(); ++i) {
      after_[i] = guards_[i].value(x, to);
      if (!crosses(before_[i], after_[i], guards_[i].crossing)) continue;
      const auto g = [&](double t) { return guards_[i].value(step(t), t); };
      const double t = locate_crossing(g, from, to, before_[i], after_[i], control_.time_tolerance);
      if (fired_.empty() || t < first) {
        fired_.clear();
        first = t;
      }
      if (t == first) fired_.push_back(i);
    }
    if (fired_.empty() || first == to) return first;
    // Others may have crossed by then as well: what is above or below there is what the next stretch starts
    // from.
    const Vector there = step(first);
    fired_.clear();
    for (std::size_t i = 0; i < guards_.size(); ++i) {
      if (crosses(before_[i], guards_[i].value(there, first), guards_[i].crossing)) fired_.push_back(i);
    }
    return first;
  }

  std::span<const GuardOn<Vector>> guards_;
  EventControl control_;
  std::vector<double> before_;
  std::vector<double> after_;
  std::vector<std::size_t> fired_;
};

/// Integrates from t to `end` or to the first crossing, whichever comes first; x is then the state just after
/// it. The next call starts anew from there.
template <class Vector, class System>
EventAdvance advance_to_event(LinearlyImplicitOn<Vector>& stepper, System& system, Vector& x, double t,
                              double end, std::span<const GuardOn<Vector>> guards,
                              const EventControl& control = {}) {
  Watch<Vector> watch(guards, control, x, t);
  Vector f0 = x;
  system(x, f0, t);
  Advance advance = stepper.march(system, x, f0, t, end, [&](double now) {
    if (guards.empty()) return true;
    const DenseOutput<Vector> step = stepper.dense_output();
    const double found = watch.first_crossing(step, now);
    if (watch.fired().empty()) return true;
    if (found < now) x = step(found);
    t = found;
    return false;
  });
  if (advance.ok() && !watch.fired().empty()) advance.time = t;
  return {advance, watch.fired()};
}

}  // namespace duskline::plant
