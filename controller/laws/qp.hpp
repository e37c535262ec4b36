/// Small convex quadratic programme.
///
/// What it is   dual active set of Goldfarb and Idnani, dense, in fixed memory, with a cap on its steps
/// Equation     least of 1/2 x'Hx + f'x with A x >= b; in u = L'x, H = LL': a step along the part of L^-1 a_p
///              that no active constraint spans, as far as the multipliers of the active ones stay positive
/// Symbols      H [variables x variables] positive definite, A [constraints x variables], multipliers >= 0
/// Validity     any bits: what is not finite or not positive definite ends with a status; rows are scaled to
///              length 1, tolerance 1e-5 of the scaled right-hand side
/// Source       Goldfarb and Idnani, Math. Programming 27 (1983) 1; values in
///              tests/unit/controller/controller_qp_test.cpp
/// Left out     updates of factors (small systems are solved anew at each step); warm start; equalities other
///              than as two inequalities
#pragma once

#include "controller/math.hpp"

namespace duskline::controller {

enum class QpStatus : uint32_t {
  solved = 0,
  infeasible = 1,
  not_positive = 2,
  too_many_steps = 3,
  not_finite = 4
};

template <uint32_t kVariables, uint32_t kConstraints>
struct Qp {
  static_assert(kVariables <= 12 && kConstraints <= 32);
  static constexpr uint32_t steps_max() { return 2 * kConstraints + kVariables; }

  uint32_t variables = kVariables;      // in use
  uint32_t constraints = kConstraints;  // in use
  float hessian[kVariables][kVariables];
  float gradient[kVariables];
  float row[kConstraints][kVariables];
  float bound[kConstraints];
};

template <uint32_t kVariables, uint32_t kConstraints>
struct QpAnswer {
  QpStatus status;
  uint32_t steps;
  float x[kVariables];
  float multiplier[kConstraints];
};

/// In place: the lower triangle of a becomes its Cholesky factor; false when a is not positive definite.
template <uint32_t kSize>
constexpr bool factorise(float (&a)[kSize][kSize], uint32_t n) {
  for (uint32_t j = 0; j < n; ++j) {
    float d = a[j][j];
    const float least = 1e-6f * d;
    for (uint32_t k = 0; k < j; ++k) d -= a[j][k] * a[j][k];
    if (!(d > least) || !is_finite(d)) return false;
    const float root = square_root(d);
    if (!(root > 0.0f)) return false;
    a[j][j] = root;
    for (uint32_t i = j + 1; i < n; ++i) {
      float s = a[i][j];
      for (uint32_t k = 0; k < j; ++k) s -= a[i][k] * a[j][k];
      a[i][j] = s / root;
    }
  }
  return true;
}

/// x becomes L^-1 x.
template <uint32_t kSize>
constexpr void forward(const float (&l)[kSize][kSize], uint32_t n, float (&x)[kSize]) {
  for (uint32_t i = 0; i < n; ++i) {
    for (uint32_t k = 0; k < i; ++k) x[i] -= l[i][k] * x[k];
    x[i] /= l[i][i];
  }
}

/// x becomes L'^-1 x.
template <uint32_t kSize>
constexpr void backward(const float (&l)[kSize][kSize], uint32_t n, float (&x)[kSize]) {
  for (uint32_t i = n; i-- > 0;) {
    for (uint32_t k = i + 1; k < n; ++k) x[i] -= l[k][i] * x[k];
    x[i] /= l[i][i];
  }
}

/// The work of one solution; all of it on the stack.
template <uint32_t kVariables, uint32_t kConstraints>
class QpSolver {
  using Problem = Qp<kVariables, kConstraints>;
  using Answer = QpAnswer<kVariables, kConstraints>;

 public:
  constexpr explicit QpSolver(const Problem& problem)
      : p_(problem),
        n_(problem.variables < kVariables ? problem.variables : kVariables),
        m_(problem.constraints < kConstraints ? problem.constraints : kConstraints) {}

  constexpr Answer solve() {
    Answer a{};
    a.status = prepare();
    if (a.status != QpStatus::solved) return a;
    a.status = QpStatus::too_many_steps;
    while (a.steps < Problem::steps_max()) {
      const uint32_t added = most_violated();
      if (added == kConstraints) {
        a.status = polish() ? QpStatus::solved : QpStatus::not_finite;
        break;
      }
      const QpStatus status = add(added, a.steps);
      if (status == QpStatus::solved) continue;
      a.status = status;
      break;
    }
    for (uint32_t i = 0; i < n_; ++i) a.x[i] = u_[i];
    backward(l_, n_, a.x);
    for (uint32_t k = 0; k < active_; ++k) a.multiplier[set_[k]] = multiplier_[k] * scale_[set_[k]];
    for (uint32_t i = 0; i < n_; ++i)
      if (!is_finite(a.x[i])) a.status = QpStatus::not_finite;
    return a;
  }

 private:
  constexpr QpStatus prepare() {
    for (uint32_t i = 0; i < n_; ++i)
      for (uint32_t j = 0; j <= i; ++j) l_[i][j] = p_.hessian[i][j];
    if (!factorise(l_, n_)) return QpStatus::not_positive;
    for (uint32_t i = 0; i < n_; ++i) free_[i] = -p_.gradient[i];
    forward(l_, n_, free_);
    for (uint32_t i = 0; i < n_; ++i) {
      if (!is_finite(free_[i])) return QpStatus::not_finite;
      u_[i] = free_[i];
    }
    for (uint32_t c = 0; c < m_; ++c) {
      for (uint32_t i = 0; i < n_; ++i) y_[c][i] = p_.row[c][i];
      forward(l_, n_, y_[c]);
      const float length = square_root(dot(y_[c], y_[c]));
      if (!is_finite(length) || !is_finite(p_.bound[c])) return QpStatus::not_finite;
      scale_[c] = length > 0.0f ? 1.0f / length : 1.0f;
      if (!is_finite(scale_[c])) scale_[c] = 1.0f;
      for (uint32_t i = 0; i < n_; ++i) y_[c][i] *= scale_[c];
      b_[c] = p_.bound[c] * scale_[c];
    }
    return QpStatus::solved;
  }

  constexpr float dot(const float (&a)[kVariables], const float (&b)[kVariables]) const {
    float s = 0.0f;
    for (uint32_t i = 0; i < n_; ++i) s += a[i] * b[i];
    return s;
  }

  constexpr float slack(uint32_t c) const { return dot(y_[c], u_) - b_[c]; }

  constexpr bool is_active(uint32_t c) const {
    for (uint32_t k = 0; k < active_; ++k)
      if (set_[k] == c) return true;
    return false;
  }

  constexpr uint32_t most_violated() const {
    uint32_t worst = kConstraints;
    float least = 0.0f;
    for (uint32_t c = 0; c < m_; ++c) {
      const float excess = slack(c) + kTolerance * (1.0f + abs_of(b_[c]));
      if (excess < least && !is_active(c)) {
        least = excess;
        worst = c;
      }
    }
    return worst;
  }

  /// r = (Y'Y)^-1 Y' v over the active set; false when the active rows depend on each other.
  constexpr bool project(const float (&v)[kVariables], float (&r)[kVariables]) {
    for (uint32_t k = 0; k < active_; ++k) {
      for (uint32_t j = 0; j <= k; ++j) s_[k][j] = dot(y_[set_[k]], y_[set_[j]]);
      r[k] = dot(y_[set_[k]], v);
    }
    if (!factorise(s_, active_)) return false;
    forward(s_, active_, r);
    backward(s_, active_, r);
    return true;
  }

  constexpr void drop(uint32_t k) {
    for (uint32_t i = k + 1; i < active_ && i < kVariables; ++i) {
      set_[i - 1] = set_[i];
      multiplier_[i - 1] = multiplier_[i];
    }
    --active_;
  }

  /// Makes constraint c hold, dropping what stands in the way.
  constexpr QpStatus add(uint32_t c, uint32_t& steps) {
    float gained = 0.0f;
    while (steps++ < Problem::steps_max()) {
      float r[kVariables]{}, z[kVariables]{};
      if (!project(y_[c], r)) return QpStatus::not_positive;
      for (uint32_t i = 0; i < n_; ++i) {
        z[i] = y_[c][i];
        for (uint32_t k = 0; k < active_; ++k) z[i] -= r[k] * y_[set_[k]][i];
      }
      const float reach = dot(z, z);
      const bool independent = active_ < n_ && reach > kDependent;
      const float full = independent ? -slack(c) / reach : 0.0f;
      uint32_t blocking = active_;
      float step = full;
      for (uint32_t k = 0; k < active_; ++k) {
        if (!(r[k] > kTolerance)) continue;
        const float ratio = multiplier_[k] / r[k];
        if ((blocking == active_ && !independent) || ratio < step) {
          step = ratio;
          blocking = k;
        }
      }
      if (!independent && blocking == active_) return QpStatus::infeasible;
      if (!is_finite(step)) return QpStatus::not_finite;
      if (independent)
        for (uint32_t i = 0; i < n_; ++i) u_[i] += step * z[i];
      for (uint32_t k = 0; k < active_; ++k) multiplier_[k] = max_of(0.0f, multiplier_[k] - step * r[k]);
      gained += step;
      if (blocking == active_) {
        set_[active_] = c;
        multiplier_[active_++] = gained;
        return QpStatus::solved;
      }
      drop(blocking);
    }
    return QpStatus::too_many_steps;
  }

  /// The final set is solved once more, so that rounding of the steps does not add up.
  constexpr bool polish() {
    if (active_ == 0) return true;
    float r[kVariables]{};
    if (!project(free_, r)) return true;
    float need[kVariables]{};
    for (uint32_t k = 0; k < active_; ++k) need[k] = b_[set_[k]] - dot(y_[set_[k]], free_);
    forward(s_, active_, need);
    backward(s_, active_, need);
    for (uint32_t k = 0; k < active_; ++k)
      if (!is_finite(need[k])) return false;
    for (uint32_t i = 0; i < n_; ++i) {
      u_[i] = free_[i];
      for (uint32_t k = 0; k < active_; ++k) u_[i] += need[k] * y_[set_[k]][i];
    }
    for (uint32_t k = 0; k < active_; ++k) multiplier_[k] = max_of(0.0f, need[k]);
    return true;
  }

  static constexpr float kTolerance = 1e-5f;
  static constexpr float kDependent = 1e-6f;  // squared length of what is left of a row of length 1

  const Problem& p_;
  uint32_t n_, m_;
  uint32_t active_ = 0;
  uint32_t set_[kVariables]{};
  float multiplier_[kVariables]{};
  float l_[kVariables][kVariables]{}, s_[kVariables][kVariables]{};
  float y_[kConstraints][kVariables]{};
  float b_[kConstraints]{}, scale_[kConstraints]{};
  float free_[kVariables]{}, u_[kVariables]{};
};

template <uint32_t kVariables, uint32_t kConstraints>
constexpr QpAnswer<kVariables, kConstraints> solve(const Qp<kVariables, kConstraints>& problem) {
  return QpSolver<kVariables, kConstraints>(problem).solve();
}

}  // namespace duskline::controller
