/// Stationary solutions of the discrete Riccati equation by iteration, in double precision.
///
/// What it is   the linear-quadratic gain of two states and one input, and by duality the stationary Kalman
///              filter
/// Equation     P = Q + A'PA - A'PB (R + B'PB)^-1 B'PA, K = (R + B'PB)^-1 B'PA
/// Symbols      P cost, K gain
/// Validity     stabilisable pairs; a fixed, large number of iterations
/// Source       textbook value iteration
/// Left out     other sizes
#pragma once

namespace duskline::test {

struct Pair {
  double a[2][2], b[2], q, r;  // Q = q 1
};

struct Regulator {
  double cost[2][2], gain[2];
};

inline Regulator regulator(const Pair& s) {
  Regulator x{{{s.q, 0.0}, {0.0, s.q}}, {}};
  for (int n = 0; n < 20000; ++n) {
    double pa[2][2], pb[2], next[2][2];
    for (int i = 0; i < 2; ++i) {
      pb[i] = x.cost[i][0] * s.b[0] + x.cost[i][1] * s.b[1];
      for (int j = 0; j < 2; ++j) pa[i][j] = x.cost[i][0] * s.a[0][j] + x.cost[i][1] * s.a[1][j];
    }
    const double weight = s.r + s.b[0] * pb[0] + s.b[1] * pb[1];
    double bpa[2];
    for (int j = 0; j < 2; ++j) {
      bpa[j] = s.b[0] * pa[0][j] + s.b[1] * pa[1][j];
      x.gain[j] = bpa[j] / weight;
    }
    for (int i = 0; i < 2; ++i)
      for (int j = 0; j < 2; ++j)
        next[i][j] = (i == j ? s.q : 0.0) + s.a[0][i] * pa[0][j] + s.a[1][i] * pa[1][j] - bpa[i] * x.gain[j];
    for (int i = 0; i < 2; ++i)
      for (int j = 0; j < 2; ++j) x.cost[i][j] = next[i][j];
  }
  return x;
}

}  // namespace duskline::test
