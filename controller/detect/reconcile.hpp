/// Data reconciliation: measured streams adjusted so that the balances close, and tests for gross errors.
///
/// What it is   least squares under linear balances for a few streams, with its global, nodal, measurement
///              and likelihood-ratio tests
/// Equation     r = A y, S = A V A', x = y - V A' S^-1 r, g = r' S^-1 r ~ chi2(rank A) nodal z_i =
///              r_i/sqrt(S_ii); W = V A' S^-1 A V, measurement z_j = (y_j - x_j)/sqrt(W_jj) likelihood ratio
///              of a bias in stream j: T_j = (f' S^-1 r)^2/(f' S^-1 f), f = column j of A
/// Symbols      y measured, x reconciled, V variances (independent), A balances (rows) of streams (columns)
/// Validity     rows independent; with one balance all |z_j| are equal: detected, not isolable
/// Source       Narasimhan and Jordache 2000; VDI 2048; examples in the tests
/// Left out     unmeasured streams, bilinear balances
#pragma once

#include <stdint.h>

#include "controller/math.hpp"

namespace duskline::controller {

template <uint32_t kBalances, uint32_t kStreams>
struct Reconciled {
  float stream[kStreams];       // reconciled values
  float global;                 // chi2 of kBalances degrees of freedom
  float nodal[kBalances];       // normal when all is well
  float measurement[kStreams];  // normal when all is well
  float ratio[kStreams];        // chi2 of one degree of freedom
  uint32_t suspect;             // stream with the largest ratio, kStreams: not isolable (a tie)
};

namespace detail {

/// Solves S u = r for a small symmetric positive definite S by elimination; S and r are used up.
template <uint32_t N>
constexpr void solve(float (&s)[N][N], float (&r)[N]) {
  for (uint32_t k = 0; k < N; ++k) {
    const float pivot = max_of(s[k][k], 1e-30f);
    for (uint32_t i = k + 1; i < N; ++i) {
      const float f = s[i][k] / pivot;
      for (uint32_t j = k; j < N; ++j) s[i][j] -= f * s[k][j];
      r[i] -= f * r[k];
    }
  }
  for (uint32_t k = N; k-- > 0;) {
    for (uint32_t j = k + 1; j < N; ++j) r[k] -= s[k][j] * r[j];
    r[k] /= max_of(s[k][k], 1e-30f);
  }
}

}  // namespace detail

template <uint32_t kBalances, uint32_t kStreams>
constexpr Reconciled<kBalances, kStreams> reconcile(const float (&a)[kBalances][kStreams],
                                                    const float (&y)[kStreams],
                                                    const float (&variance)[kStreams]) {
  Reconciled<kBalances, kStreams> out{};
  float s[kBalances][kBalances]{}, r[kBalances]{}, u[kBalances]{}, work[kBalances][kBalances]{};
  for (uint32_t i = 0; i < kBalances; ++i) {
    for (uint32_t j = 0; j < kStreams; ++j) r[i] += a[i][j] * y[j];
    for (uint32_t k = 0; k < kBalances; ++k)
      for (uint32_t j = 0; j < kStreams; ++j) s[i][k] += a[i][j] * variance[j] * a[k][j];
  }
  const auto solved = [&](float(&rhs)[kBalances]) {
    for (uint32_t i = 0; i < kBalances; ++i)
      for (uint32_t k = 0; k < kBalances; ++k) work[i][k] = s[i][k];
    detail::solve(work, rhs);
  };
  for (uint32_t i = 0; i < kBalances; ++i) u[i] = r[i];
  solved(u);
  for (uint32_t i = 0; i < kBalances; ++i) {
    out.global += r[i] * u[i];
    out.nodal[i] = r[i] / square_root(s[i][i]);
  }
  float greatest = -1.0f;
  bool tie = false;
  for (uint32_t j = 0; j < kStreams; ++j) {
    float f[kBalances]{}, g[kBalances]{}, from_r = 0.0f, from_f = 0.0f;
    for (uint32_t i = 0; i < kBalances; ++i) {
      f[i] = g[i] = a[i][j];
      from_r += a[i][j] * u[i];
    }
    solved(g);
    for (uint32_t i = 0; i < kBalances; ++i) from_f += f[i] * g[i];
    out.stream[j] = y[j] - variance[j] * from_r;
    const float spread = square_root(from_f);  // sqrt(W_jj) is the variance times this
    out.measurement[j] = spread > 0.0f ? from_r / spread : 0.0f;
    out.ratio[j] = out.measurement[j] * out.measurement[j];
    if (out.ratio[j] > greatest * 1.001f) {
      tie = false;
      greatest = out.ratio[j];
      out.suspect = j;
    } else if (out.ratio[j] > greatest * 0.999f) {
      tie = true;
    }
  }
  if (tie) out.suspect = kStreams;
  return out;
}

}  // namespace duskline::controller
