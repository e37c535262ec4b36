/// One cell along its flow: current distribution under one voltage, from inlet to outlet.
///
/// What it is   the inner solve: segment currents i_k and voltage V of a cell for a given total current
/// Equation     V_k(i_k, s_k) = V for every segment, A_s sum i_k + A i_e(V) = I; s_k = s_(k-1) + A_s i_k;
///              x_CO,k = x_CO,0 + s_k m, x_CO2,k = x_CO2,0 - s_k m, m = 1/(2 F N)
/// Symbols      N [mol/s] flow through the cell, I [A], A_s [m2] segment area, i_e [A/m2] electronic leak
/// Validity     any I and N > 0: the total current rises monotonically with V, so the solution exists and is
///              unique
/// Source       Newton's method on a lower-triangular system with a border; derivatives by the implicit
///              function theorem
/// Left out     gas inertia and storage inside a cell (below a second), lateral diffusion; what the division into N
///              segments leaves, in proportion to 1/N: six are 4 to 6 mV cautious about the margin (docs/models/stack.md)
#pragma once

#include <limits>

#include "plant-model/stack/cell.hpp"
#include "plant-model/stack/ribs.hpp"

namespace duskline::plant {

inline constexpr std::size_t kSegments = 6;  ///< of the usual division
inline constexpr std::size_t kCoarseSegments = 3, kFineSegments = 12;

template <class S, std::size_t N = kSegments>
struct ColumnInputs {
  std::array<SegmentChemistry<S>, N> chemistry;
  std::array<S, N> resistance;  ///< ohm m2, with ageing, carbon and oxide
  S current;                    ///< A
  S flow;                       ///< mol/s, all gases, > 0
  S inlet_co, inlet_co2;        ///< mole fractions, > 0
  S pressure;                   ///< bar
  double area;                  ///< m2 of the whole cell
  S electronic_leak;            ///< A/m2 at 1.8 V
  RibTransport ribs{};          ///< `diffusion` holds the mean already
};

template <class S, std::size_t N = kSegments>
struct ColumnCurrents {
  S voltage;                 ///< V
  std::array<S, N> density;  ///< A/m2
};

/// One Newton step from `at`; `by_voltage` and `step` are in the units of density. With duals as inputs and a
/// converged `at` the result carries the exact derivatives of the solution.
template <class S, std::size_t N = kSegments>
struct ColumnStep {
  S voltage;
  std::array<S, N> density;
  S fraction;  ///< largest share of the step that keeps every composition positive, <= 1
};

/// Keeps a mole fraction that round-off has made vanish defined.
template <class S>
S not_below_trace(const S& x) {
  return pick(less(x, 1e-14), S(1e-14), x);
}

template <class S, std::size_t N>
ColumnStep<S, N> newton_step(const ColumnInputs<S, N>& in, const ColumnCurrents<S, N>& at) {
  const double segment_area = in.area / static_cast<double>(N);
  const S m = 1.0 / (2.0 * kFaraday * in.flow);
  S s = S(0.0), alpha_s = S(0.0), beta_s = S(0.0);
  std::array<S, N> alpha, beta, u, w, du_alpha, du_beta;
  for (std::size_t k = 0; k < N; ++k) {
    const S& i = at.density[k];
    const S& d = in.chemistry[k].diffusion;
    s = s + segment_area * i;
    u[k] = not_below_trace(in.inlet_co + s * m + i * d);
    w[k] = not_below_trace(in.inlet_co2 - s * m - i * d);
    const Polarisation<S> p = polarisation(in.chemistry[k], in.resistance[k], i, u[k], w[k], in.pressure);
    const S carried = p.by_conversion * m;  // V per ampere upstream
    const S own = 1.0 / (p.by_current + p.by_conversion * (d + segment_area * m));
    alpha[k] = (at.voltage - p.voltage - carried * alpha_s) * own;
    beta[k] = (1.0 - carried * beta_s) * own;
    alpha_s = alpha_s + segment_area * alpha[k];
    beta_s = beta_s + segment_area * beta[k];
    du_alpha[k] = alpha_s * m + alpha[k] * d;
    du_beta[k] = beta_s * m + beta[k] * d;
  }
  const ElectronicLeak<S> leak = electronic_leak(in.electronic_leak, at.voltage);
  ColumnStep<S, N> step;
  step.voltage = (in.current - s - in.area * leak.current - alpha_s) / (beta_s + in.area * leak.slope);
  if constexpr (std::is_same_v<S, Pack>) {
    // held to 0.3 V so that the exponential leak cannot throw the iteration out
    step.voltage =
        select(step.voltage.v > 0.3, Pack(0.3), select(step.voltage.v < -0.3, Pack(-0.3), step.voltage));
  }
  step.fraction = S(1.0);
  for (std::size_t k = 0; k < N; ++k) {
    step.density[k] = alpha[k] + beta[k] * step.voltage;
    if constexpr (std::is_same_v<S, Pack>) {
      const Pack change = du_alpha[k] + du_beta[k] * step.voltage;  // u gains it, w loses it
      const Pack room = select(change.v > 0.0, 0.9 * w[k], 0.9 * u[k]);
      const Pack size = select(change.v > 0.0, change, -change) + 1e-300;
      const Pack limit = room / size;
      step.fraction = select(limit.v < step.fraction.v, limit, step.fraction);
    }
  }
  return step;
}

/// Voltage at which the cell carries the current, by bracketing in V and, inside, in each segment's
/// conversion; slow, never fails. Used for a lane that the Newton iteration does not settle.
template <std::size_t N>
ColumnCurrents<double, N> solve_column_safely(const ColumnInputs<double, N>& in);

/// Solves eight cells at once from a warm start, which is overwritten by the solution.
/// Returns the number of Newton steps; 0 current and open circuit need no special case.
template <std::size_t N>
int solve_columns(const ColumnInputs<Pack, N>& in, ColumnCurrents<Pack, N>& warm);

}  // namespace duskline::plant
