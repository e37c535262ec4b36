/// Kalman filters of a few states in single precision, updated by one scalar measurement after the other.
///
/// What it is   state and covariance, prediction of (value, rate) pairs and of values that return to their prior, gated
///              update, consistency of what came in
/// Equation     S = h P h' + r; K = P h'/S; x += K nu; P = (I - K h) P (I - K h)' + K r K'; NIS = nu^2/S
/// Symbols      x state, P covariance, h row of the measurement, nu innovation, r its noise variance
/// Validity     one to three states; an outlier (NIS above the 0.999 quantile) is counted and not used,
///              several in a row widen P by steps up to a bound, so that the filter cannot lock itself out
/// Source       Joseph form and NIS: Bar-Shalom, Li, Kirubarajan 2001; Gauss-Markov: Gelb 1974 (from memory); quantile 10.828 of chi-square with one
///              degree of freedom; band of a mean: Wilson and Hilferty 1931
/// Left out     correlated measurements; smoothing
#pragma once

#include "controller/math.hpp"

namespace duskline::controller {

inline constexpr float kGate = 10.8276f;  // chi-square, one degree of freedom, 0.999
inline constexpr float kNoGate = 1e6f;    // every measurement is used
inline constexpr uint32_t kPatience = 5;  // outliers in a row before the covariance is widened
inline constexpr float kWidening = 4.0f;  // of each variance, at each further outlier

template <uint32_t N>
struct Kalman {
  float x[N];
  float p[N][N];
  uint32_t outliers;  // all of them, saturating
  uint32_t in_a_row;
};

struct Innovation {
  float value;
  float variance;
  float nis;
  bool used;
};

/// Starts with independent states.
template <uint32_t N>
constexpr Kalman<N> kalman_at(const float (&x)[N], const float (&variance)[N]) {
  Kalman<N> f{};
  for (uint32_t i = 0; i < N; ++i) {
    f.x[i] = x[i];
    f.p[i][i] = variance[i];
  }
  return f;
}

/// Holds the variances at or below `most`; correlations stay as they are.
template <uint32_t N>
constexpr void bound(Kalman<N>& f, const float (&most)[N]) {
  for (uint32_t i = 0; i < N; ++i) {
    if (!(f.p[i][i] > most[i])) continue;
    const float scale = square_root(most[i] / f.p[i][i]);
    for (uint32_t j = 0; j < N; ++j) {
      f.p[i][j] *= scale;
      f.p[j][i] *= scale;
    }
    f.p[i][i] = most[i];
  }
}

/// State i gains h times state j, and j decays: a value with its rate.
template <uint32_t N>
constexpr void predict_rate(Kalman<N>& f, uint32_t i, uint32_t j, float h, float decay = 1.0f) {
  f.x[i] += h * f.x[j];
  f.x[j] *= decay;
  for (uint32_t k = 0; k < N; ++k) f.p[i][k] += h * f.p[j][k];
  for (uint32_t k = 0; k < N; ++k) f.p[k][i] += h * f.p[k][j];
  for (uint32_t k = 0; k < N; ++k) f.p[j][k] *= decay;
  for (uint32_t k = 0; k < N; ++k) f.p[k][j] *= decay;
}

/// State i returns to zero by a share of it, and its variance to `prior` (first-order Gauss-Markov process):
/// share = h/tau, far below 1.
template <uint32_t N>
constexpr void return_to_prior(Kalman<N>& f, uint32_t i, float share, float prior) {
  const float kept = 1.0f - share;
  f.x[i] *= kept;
  for (uint32_t k = 0; k < N; ++k) f.p[i][k] *= kept;
  for (uint32_t k = 0; k < N; ++k) f.p[k][i] *= kept;
  f.p[i][i] += prior * (1.0f - kept * kept);
}

template <uint32_t N>
constexpr float row_variance(const Kalman<N>& f, const float (&h)[N]) {
  float sum = 0.0f;
  for (uint32_t i = 0; i < N; ++i)
    for (uint32_t j = 0; j < N; ++j) sum += h[i] * f.p[i][j] * h[j];
  return max_of(0.0f, sum);
}

/// Takes in a measurement whose difference from its prediction is `residual`, unless its NIS is above `gate`; `most` bounds
/// the widening.
template <uint32_t N>
constexpr Innovation update(Kalman<N>& f, const float (&h)[N], float residual, float noise,
                            const float (&most)[N], float gate = kGate) {
  float ph[N]{};
  float s = noise;
  for (uint32_t i = 0; i < N; ++i) {
    for (uint32_t j = 0; j < N; ++j) ph[i] += f.p[i][j] * h[j];
    s += h[i] * ph[i];
  }
  Innovation out{residual, s, 0.0f, false};
  if (!(s > 0.0f) || !is_finite(s) || !is_finite(residual)) return out;
  out.nis = min_of(residual * (residual / s), 1e6f);
  if (out.nis > gate) {
    if (f.outliers < 0xffffffffu) ++f.outliers;
    if (f.in_a_row < kPatience) {
      ++f.in_a_row;
    } else {
      // each state by itself: widened as a whole, what no measurement tells apart would grow the most
      for (uint32_t i = 0; i < N; ++i) f.p[i][i] *= kWidening;
      bound(f, most);
    }
    return out;
  }
  f.in_a_row = 0;
  out.used = true;
  float k[N]{}, a[N][N]{}, joseph[N][N]{};
  for (uint32_t i = 0; i < N; ++i) {
    k[i] = ph[i] / s;
    f.x[i] += k[i] * residual;
    for (uint32_t j = 0; j < N; ++j) a[i][j] = f.p[i][j] - k[i] * ph[j];  // (I - K h) P
  }
  for (uint32_t i = 0; i < N; ++i) {
    float ah = 0.0f;
    for (uint32_t j = 0; j < N; ++j) ah += a[i][j] * h[j];
    for (uint32_t j = 0; j < N; ++j) joseph[i][j] = a[i][j] - ah * k[j] + k[i] * noise * k[j];
  }
  for (uint32_t i = 0; i < N; ++i)
    for (uint32_t j = 0; j < N; ++j) f.p[i][j] = 0.5f * (joseph[i][j] + joseph[j][i]);
  return out;
}

/// Recursive least squares with forgetting is the update with noise `factor`, then this.
template <uint32_t N>
constexpr void forget(Kalman<N>& f, float factor, const float (&most)[N]) {
  for (auto& row : f.p)
    for (float& p : row) p /= factor;
  bound(f, most);
}

/// Mean of the normalised innovations squared, with forgetting: 1 when noise is as the filters expect.
struct Consistency {
  float mean;
  float count;  // of innovations, up to the memory of the mean
};
inline constexpr Consistency kConsistentAtRest{1.0f, 0.0f};

/// A mean that forgets over n innovations has the scatter of about 2 n independent ones. An outlier counts at the
/// gate: one wild sample must not hide all others.
constexpr void note(Consistency& c, const Innovation& i, float memory) {
  if (!(i.variance > 0.0f)) return;
  c.count = min_of(c.count + 1.0f, memory);
  c.mean += (min_of(i.nis, kGate) - c.mean) / max_of(c.count, 1.0f);
}

struct Band {
  float lower, upper;
};

/// 95 % band of the mean of `count` independent NIS with `dimensions` degrees of freedom each.
constexpr Band consistency_band(float count, float dimensions) {
  const float k = count * dimensions, a = 2.0f / (9.0f * k), z = 1.959964f * square_root(a);
  const auto quantile = [&](float r) { return dimensions * r * r * r; };
  return {quantile(1.0f - a - z), quantile(1.0f - a + z)};
}

}  // namespace duskline::controller
