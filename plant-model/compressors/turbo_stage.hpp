/// One stage of a turbo compressor, and stages in series: head, surge, choke, losses at low Reynolds number.
///
/// What it is   a link: what stages at a speed do to a flow of gas, in similarity numbers
/// Equation     phi = Q1/(U A), psi = dh_s/U^2, Mu = U/sqrt(k R T1/M), Re = rho1 U 2r/mu1
///              psi = psi0 + H (1 + 3/2 (phi/W - 1) - 1/2 (phi/W - 1)^3) - 4 (phi - phi_choke)+/W, W = phi_surge/2
///              phi_choke = a C*(k)/(sqrt(k) Mu), p2/p1 = (1 + m psi U^2 M/(R T1))^(1/m), m = (k - 1)/k
///              1 - eta = (1 - eta_ref) (Re_ref/Re)^n at the design flow; T2 = T1 (p2/p1)^(m/eta), w = cp (T2 - T1)
/// Symbols      Q1 [m3/s] at the inlet, U [m/s] of the blades at radius r [m], A [m2] reference area (D^2 of a
///              centrifugal stage, the annulus of an axial one), a [1] throat over A, w [J/mol], C* critical flow function
/// Validity     Re 1e4 to 1e7, Mu up to 1.3; left of the peak the cubic is the mean over stalled blades; reverse flow
///              down to phi = -W as the cubic goes on, its work that of the flow forward
/// Source       cubic: Moore and Greitzer 1986; Reynolds penalty after Wiesner and Casey (n from 0.1 to 0.2, from
///              memory); choke: critical flow of an ideal gas; its width, its slope and where it ends are estimates
/// Left out     surge line that moves with Mu, slip in tip clearances, bleed, wet gas
#pragma once

#include <span>

#include "plant-model/gas/thermochemistry.hpp"

namespace duskline::plant {

struct TurboStage {
  double radius{};           ///< m, at which the blade speed is taken
  double flow_area{};        ///< m2
  double gear = 1.0;         ///< 1, its speed over that of the drive
  double shutoff_head{};     ///< 1, psi0
  double head_height{};      ///< 1, H; the peak is psi0 + 2 H
  double surge_flow{};       ///< 1, phi at the peak
  double throat{};           ///< 1, throat over the reference area
  double design_flow{};      ///< 1, phi of the best efficiency
  double efficiency{};       ///< 1, polytropic, there and at the reference Reynolds number
  double efficiency_fall{};  ///< 1, loss away from it: eta/(1 + fall (phi/phi_d - 1)^2)
  bool cooled = true;        ///< a cooler stands before it, unless it is the first
};

inline constexpr double kReferenceReynolds = 1e6;
inline constexpr double kReynoldsExponent = 0.16;

// S is double or a dual.

/// The working gas, taken as ideal with a constant exponent.
struct StageGas {
  double molar_mass{};  ///< kg/mol
  double exponent{};    ///< 1, k
  double viscosity{};   ///< Pa s, at the inlet
};

template <class S>
struct StageResult {
  S flow;            ///< 1, phi
  S head;            ///< 1, psi
  S mach;            ///< 1, Mu
  S reynolds;        ///< 1, Re
  S efficiency;      ///< 1, polytropic
  S pressure_ratio;  ///< 1
  S temperature;     ///< K, discharge
  S work;            ///< J/mol
  S surge_margin;    ///< 1, (phi - phi_surge)/phi_surge
  S choke_margin;    ///< 1, (phi_choke - phi)/phi_choke
};

/// Critical flow function C* of an ideal gas.
inline double critical_flow(double k) {
  return std::sqrt(k) * std::pow(2.0 / (k + 1.0), (k + 1.0) / (2.0 * (k - 1.0)));
}

/// Flow coefficient at which the throat chokes.
template <class S>
S choke_flow(const TurboStage& s, double k, const S& mach) {
  return s.throat * critical_flow(k) / std::sqrt(k) / mach;
}

/// The cubic of a characteristic: valley at no flow, peak at twice the half width.
template <class S>
S cubic_head(double at_no_flow, double height, double half_width, const S& flow) {
  const S x = flow * (1.0 / half_width) - 1.0;
  return at_no_flow + height * (1.0 + 1.5 * x - 0.5 * x * x * x);
}

/// Head coefficient; beyond choke and beyond the flow of a machine that is blown through it keeps its last value.
template <class S>
S head_coefficient(const TurboStage& s, const S& flow, const S& choke) {
  constexpr double kChokeSlope = 4.0, kChokeWidth = 0.02;          // of psi per W; of W
  constexpr double kBlown = 2.5, kBeyond = 0.3, kEndWidth = 0.02;  // of the surge flow; of W, as the next
  const double w = 0.5 * s.surge_flow;
  const S end = smooth_min(choke, S(kBlown * s.surge_flow), kEndWidth * w) + kBeyond * w;
  const S counts = smooth_min(flow, end, kEndWidth * w);
  return cubic_head(s.shutoff_head, s.head_height, w, counts) -
         kChokeSlope * ramp(S((counts - choke) * (1.0 / w)), kChokeWidth);
}

/// Polytropic efficiency at a Reynolds number and away from the design flow.
template <class S>
S stage_efficiency(const TurboStage& s, const S& reynolds, const S& flow) {
  const S penalty = exp(kReynoldsExponent * log(kReferenceReynolds / reynolds));
  const S away = flow * (1.0 / s.design_flow) - 1.0;
  constexpr double kLeast = 0.1, kWidth = 0.01;  // far from where it is meant to work
  const S share = (1.0 - (1.0 - s.efficiency) * penalty) / (1.0 + s.efficiency_fall * away * away);
  return kLeast + positive_part(S(share - kLeast), kWidth);
}

template <class S>
struct Polytropic {
  S work;         ///< J/mol
  S temperature;  ///< K
};
/// An ideal gas of constant exponent from T1 over a pressure ratio.
template <class S>
Polytropic<S> polytropic_compression(double k, const S& T1, const S& ratio, const S& efficiency) {
  const double m = (k - 1.0) / k;
  const S rise = exp(log(ratio) * m / efficiency);
  return {kGasConstant / m * T1 * (rise - 1.0), T1 * rise};
}

/// `flow` [mol/s] at the inlet conditions p1 [Pa], T1 [K]; `speed` [rad/s].
template <class S>
StageResult<S> turbo_stage(const TurboStage& s, const StageGas& gas, const S& flow, const S& p1, const S& T1,
                           const S& speed) {
  const double k = gas.exponent, m = (k - 1.0) / k;
  const S blade = speed * (s.gear * s.radius);
  const S rt = kGasConstant * T1;
  StageResult<S> r;
  r.flow = flow * rt / (p1 * blade * s.flow_area);
  r.mach = blade / sqrt(rt * (k / gas.molar_mass));
  const S choke = choke_flow(s, k, r.mach);
  r.head = head_coefficient(s, r.flow, choke);
  r.reynolds = p1 * gas.molar_mass / rt * blade * (2.0 * s.radius / gas.viscosity);
  r.efficiency = stage_efficiency(s, r.reynolds, r.flow);
  // deep in choke a stage is a throttle: its ratio ends at kThrottled^(1/m), 0.05 for carbon dioxide
  constexpr double kThrottled = 0.5, kThrottledWidth = 0.005;
  const S base = 1.0 + m * gas.molar_mass * r.head * blade * blade / rt;
  r.pressure_ratio = exp(log(kThrottled + positive_part(S(base - kThrottled), kThrottledWidth)) * (1.0 / m));
  constexpr double kWorkWidth = 0.002;  // of the logarithm of the ratio: a throttle does no work
  const S worked = exp(positive_part(S(log(r.pressure_ratio)), kWorkWidth));
  const Polytropic<S> end = polytropic_compression(k, T1, worked, r.efficiency);
  r.temperature = end.temperature;
  r.work = end.work;
  r.surge_margin = r.flow * (1.0 / s.surge_flow) - 1.0;
  r.choke_margin = 1.0 - r.flow / choke;
  return r;
}

/// Coolers between stages.
struct Intercooling {
  double coolant{};   ///< K
  double cooling{};   ///< 1, share of the way to the coolant's temperature; 0: no coolers
  double pressure{};  ///< 1, share of the pressure that a cooler costs
};

template <class S>
struct TrainResult {
  S pressure;      ///< Pa, what the train gives at this flow in the steady state
  S temperature;   ///< K, after the last stage
  S work;          ///< J/mol
  S rejected;      ///< J/mol, to the coolant
  S surge_margin;  ///< 1, of the stage that is nearest to surge
  S choke_margin;  ///< 1, of the stage that is nearest to choke
};

/// Stages in series, driven by one shaft, each by its gear; `speed` [rad/s] is the shaft's.
template <class S>
TrainResult<S> turbo_train(std::span<const TurboStage> stages, const StageGas& gas,
                           const Intercooling& between, const S& coolant, const S& flow, const S& p1,
                           const S& T1, const S& speed) {
  const double cp = gas.exponent / (gas.exponent - 1.0) * kGasConstant;
  TrainResult<S> r{p1, T1, S(0.0), S(0.0), S(0.0), S(0.0)};
  for (std::size_t i = 0; i < stages.size(); ++i) {
    S inlet = r.temperature;
    if (i > 0 && stages[i].cooled) {
      const S cooled = between.cooling * (r.temperature - coolant);
      inlet = inlet - cooled;
      r.rejected = r.rejected + cp * cooled;
      r.pressure = r.pressure * (1.0 - between.pressure);
    }
    const StageResult<S> one = turbo_stage(stages[i], gas, flow, r.pressure, inlet, speed);
    r.pressure = r.pressure * one.pressure_ratio;
    r.temperature = one.temperature;
    r.work = r.work + one.work;
    if (i == 0 || value_of(one.surge_margin) < value_of(r.surge_margin)) r.surge_margin = one.surge_margin;
    if (i == 0 || value_of(one.choke_margin) < value_of(r.choke_margin)) r.choke_margin = one.choke_margin;
  }
  return r;
}

/// With the coolant at its usual temperature.
template <class S>
TrainResult<S> turbo_train(std::span<const TurboStage> stages, const StageGas& gas,
                           const Intercooling& between, const S& flow, const S& p1, const S& T1,
                           const S& speed) {
  return turbo_train(stages, gas, between, S(between.coolant), flow, p1, T1, speed);
}

}  // namespace duskline::plant
