/// Lobe blower: two rotors that carry gas without compressing it, and stages of it in series.
///
/// What it is   a link: swept flow, backflow through the gaps, work, temperature
/// Equation     N = eta_v p1 V n/(R T1), eta_v = K0/(K0 + r), r = p2/p1; P = V n (p2 - p1)/eta_mech;
///              T2 = T1 (1 + (r - 1)(k - 1)/(k eta_v)), without cooling
///              at a given flow p1 is the positive root of K0 p1^2 - c K0 p1 - c p2 = 0, c = N R T1/(V n)
///              K0(p) = K_inf + (K_max - K_inf)/(1 + (p/p_half)^a)
/// Symbols      V [m3/rev], n [rev/s], K0 [1] compression ratio at no flow, p its pressure at the outlet
/// Validity     r up to 2.5 a stage (temperature of the rotors), 100 Pa to 100 kPa, tip speed 50 to 100 m/s
/// Source       eta_v and K0 from handbooks of vacuum technology (from memory: 30 to 60 near 1 to 5 mbar, 10 at 100 mbar,
///              5 to 8 at 1 bar); the fit of K0 is ours
/// Left out     pulsation, seizing, cooling by gas that is led back
#pragma once

#include <algorithm>
#include <array>

#include "plant-model/compressors/drive.hpp"
#include "plant-model/gas/thermochemistry.hpp"

namespace duskline::plant {

struct LobeStage {
  double displacement{};                ///< m3 per revolution
  double mechanical_efficiency = 0.85;  ///< 1
  double ratio_low = 70.0;              ///< 1, K0 at very low pressure
  double ratio_high = 5.5;              ///< 1, K0 at high pressure
  double ratio_half_pressure = 260.0;   ///< Pa
  double ratio_exponent = 0.72;         ///< 1
};

template <class S>
struct LobeResult {
  S flow;         ///< mol/s
  S power;        ///< W, of the shaft
  S temperature;  ///< K, discharge
  S efficiency;   ///< 1, volumetric
};

/// Compression ratio at no flow, for a pressure at the outlet.
template <class S>
S zero_flow_ratio(const LobeStage& l, const S& p2) {
  const S x = exp(l.ratio_exponent * log(p2 * (1.0 / l.ratio_half_pressure)));
  return l.ratio_high + (l.ratio_low - l.ratio_high) / (1.0 + x);
}

template <class S>
S lobe_filling(const S& zero_flow, const S& ratio) {
  return zero_flow / (zero_flow + ratio);
}

/// `speed` [rad/s].
template <class S>
LobeResult<S> lobe_stage(const LobeStage& l, double k, const S& p1, const S& T1, const S& p2,
                         const S& speed) {
  constexpr double kTwoPi = 6.28318530717958647693;
  const S ratio = p2 / p1;
  const S swept = speed * (l.displacement / kTwoPi);
  LobeResult<S> r;
  r.efficiency = lobe_filling(zero_flow_ratio(l, p2), ratio);
  r.flow = r.efficiency * p1 * swept / (kGasConstant * T1);
  r.power = swept * (p2 - p1) * (1.0 / l.mechanical_efficiency);
  r.temperature = T1 * (1.0 + (ratio - 1.0) * ((k - 1.0) / k) / r.efficiency);
  return r;
}

/// The pressure before a stage that passes `flow` [mol/s] from a volume `swept` [m3/s], Pa.
template <class S>
S lobe_inlet_pressure(const LobeStage& l, const S& flow, const S& T1, const S& p2, const S& swept) {
  const S c = flow * kGasConstant * T1 / swept;
  return 0.5 * (c + sqrt(c * (c + 4.0 * p2 / zero_flow_ratio(l, p2))));
}

inline constexpr std::size_t kMostLobeStages = 12;

/// Stages in series on one shaft, with a cooler behind each; all have the same ratio at the design point.
struct LobeParameters : DuctMachineParameters {
  double stages{};                 ///< 1
  double design_flow{};            ///< mol/s
  double design_speed{};           ///< rad/s
  double design_pressure{};        ///< Pa, inlet
  double discharge_pressure{};     ///< Pa, at the design point
  double design_temperature{};     ///< K, inlet
  double cooled_temperature{};     ///< K, inlet of the other stages at the design point
  double isentropic_exponent{};    ///< 1
  double mechanical_efficiency{};  ///< 1, of the rotors and their gears
};

/// What the parameters make of the stages; the first `count` of them count.
struct LobeSize {
  std::array<LobeStage, kMostLobeStages> stages{};
  std::size_t count = 0;
};

inline LobeSize size_of(const LobeParameters& l) {
  constexpr double kTwoPi = 6.28318530717958647693;
  LobeSize size;
  size.count = std::min(kMostLobeStages, static_cast<std::size_t>(l.stages));
  const double ratio =
      std::pow(l.discharge_pressure / l.design_pressure, 1.0 / static_cast<double>(size.count));
  double p = l.design_pressure, T = l.design_temperature;
  for (std::size_t i = 0; i < size.count; ++i) {
    LobeStage& s = size.stages[i];
    s.mechanical_efficiency = l.mechanical_efficiency;
    const double filling = lobe_filling(zero_flow_ratio(s, p * ratio), ratio);
    s.displacement = l.design_flow * kGasConstant * T / (p * filling) * kTwoPi / l.design_speed;
    p *= ratio;
    T = l.cooled_temperature;
  }
  return size;
}

/// Isentropic work over the work of a stage without compression inside, both without losses.
inline double lobe_isentropic_efficiency(double k, double ratio) {
  const double m = (k - 1.0) / k;
  return (std::pow(ratio, m) - 1.0) / (m * (ratio - 1.0));
}

}  // namespace duskline::plant
