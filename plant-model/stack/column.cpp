#include "plant-model/stack/column.hpp"

#include <algorithm>

namespace duskline::plant {
namespace {

constexpr int kMaxSteps = 40;
/// Share of the inlet gas that a warm start may use up; a starved cell goes on from where it was.
constexpr double kAlmost = 1.0 - 1e-9;
/// The error after a Newton step is about its square (over the thermal voltage): below 1e-7 of the current
/// and below 1e-7 V where the latest step was smaller than these.
constexpr double kSettledCurrent = 1e-4;  // of the mean current density
constexpr double kSettledVoltage = 5e-5;  // V

template <std::size_t N>
ColumnInputs<double, N> lane(const ColumnInputs<Pack, N>& in, std::size_t l) {
  ColumnInputs<double, N> out;
  for (std::size_t k = 0; k < N; ++k) {
    const auto& c = in.chemistry[k];
    out.chemistry[k] = {c.thermal_voltage[l], c.open_circuit[l], c.resistance[l],   c.cathode_exchange[l],
                        c.anode_exchange[l],  c.diffusion[l],    c.log_boudouard[l]};
    out.resistance[k] = in.resistance[k][l];
  }
  out.current = in.current[l];
  out.flow = in.flow[l];
  out.inlet_co = in.inlet_co[l];
  out.inlet_co2 = in.inlet_co2[l];
  out.pressure = in.pressure[l];
  out.area = in.area;
  out.electronic_leak = in.electronic_leak[l];
  return out;
}

/// Makes a warm start lie inside the domain: finite, and every composition at the reaction zone positive.
template <std::size_t N>
void make_feasible(const ColumnInputs<Pack, N>& in, ColumnCurrents<Pack, N>& at) {
  at.voltage = select(at.voltage.v == at.voltage.v, at.voltage, Pack(0.9));
  for (Pack& i : at.density) i = select(i.v == i.v, i, Pack(0.0));
  const double segment_area = in.area / static_cast<double>(N);
  const Pack m = 1.0 / (2.0 * kFaraday * in.flow);
  Pack s(0.0), scale(1.0);
  for (std::size_t k = 0; k < N; ++k) {
    s += segment_area * at.density[k];
    const Pack gain = s * m + at.density[k] * in.chemistry[k].diffusion;
    const Pack room = select(gain.v > 0.0, kAlmost * in.inlet_co2, kAlmost * in.inlet_co);
    const Pack size = select(gain.v > 0.0, gain, -gain) + 1e-300;
    const Pack limit = room / size;
    scale = select(limit.v < scale.v, limit, scale);
  }
  for (std::size_t k = 0; k < N; ++k) at.density[k] *= scale;
}

Pack abs_of(const Pack& a) {
  return select(a.v < 0.0, -a, a);
}

}  // namespace

template <std::size_t N>
int solve_columns(const ColumnInputs<Pack, N>& in, ColumnCurrents<Pack, N>& at) {
  make_feasible(in, at);
  const Pack scale = select(in.current.v < 0.0, -in.current, in.current) / in.area + 1.0;
  Pack::Mask open{};
  int n = 0;
  for (bool unsettled = true; unsettled && n < kMaxSteps; ++n) {
    const ColumnStep<Pack, N> step = newton_step(in, at);
    open = step.fraction.v < 1.0;
    for (std::size_t k = 0; k < N; ++k) {
      const Pack d = step.density[k] * step.fraction;
      at.density[k] += d;
      open |= !(abs_of(d).v <= kSettledCurrent * scale.v);  // also true where d is not a number
    }
    const Pack dv = step.voltage * step.fraction;
    at.voltage += dv;
    open |= !(abs_of(dv).v <= kSettledVoltage);
    unsettled = !none(open);
  }
  if (!none(open))
    for (std::size_t l = 0; l < Pack::kLanes; ++l)
      if (open[l] != 0) {
        const ColumnCurrents<double, N> safe = solve_column_safely(lane(in, l));
        at.voltage.set(l, safe.voltage);
        for (std::size_t k = 0; k < N; ++k) at.density[k].set(l, safe.density[k]);
      }
  return n;
}

template <std::size_t N>
ColumnCurrents<double, N> solve_column_safely(const ColumnInputs<double, N>& in) {
  const double segment_area = in.area / static_cast<double>(N);
  const double m = 1.0 / (2.0 * kFaraday * in.flow);
  ColumnCurrents<double, N> out;
  // For a given V each segment's current is the root of a rising function on the open interval where
  // both compositions are positive; bisection there cannot fail.
  const auto total_at = [&](double V) {
    double s = 0.0;
    for (std::size_t k = 0; k < N; ++k) {
      const double x1 = in.inlet_co + s * m, x2 = in.inlet_co2 - s * m;
      const double per_i = segment_area * m + in.chemistry[k].diffusion;
      double low = -x1 / per_i, high = x2 / per_i;
      for (int n = 0; n < 200 && high - low > 1e-15 * (std::abs(low) + std::abs(high)); ++n) {
        const double i = 0.5 * (low + high);
        const double u = x1 + i * per_i, w = x2 - i * per_i;
        const bool below =
            u <= 0.0 ||
            (w > 0.0 && polarisation(in.chemistry[k], in.resistance[k], i, u, w, in.pressure).voltage < V);
        (below ? low : high) = i;
      }
      out.density[k] = 0.5 * (low + high);
      s += segment_area * out.density[k];
    }
    return s + in.area * electronic_leak(in.electronic_leak, V).current;
  };
  double low = -8.0, high = 8.0;
  for (int n = 0; n < 200 && high - low > 1e-14; ++n) {
    const double V = 0.5 * (low + high);
    (total_at(V) < in.current ? low : high) = V;
  }
  out.voltage = 0.5 * (low + high);
  total_at(out.voltage);
  return out;
}

template int solve_columns(const ColumnInputs<Pack, kCoarseSegments>&,
                           ColumnCurrents<Pack, kCoarseSegments>&);
template int solve_columns(const ColumnInputs<Pack>&, ColumnCurrents<Pack>&);
template int solve_columns(const ColumnInputs<Pack, kFineSegments>&, ColumnCurrents<Pack, kFineSegments>&);
template ColumnCurrents<double, kCoarseSegments> solve_column_safely(
    const ColumnInputs<double, kCoarseSegments>&);
template ColumnCurrents<double> solve_column_safely(const ColumnInputs<double>&);
template ColumnCurrents<double, kFineSegments> solve_column_safely(
    const ColumnInputs<double, kFineSegments>&);

}  // namespace duskline::plant
