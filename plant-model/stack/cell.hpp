/// One square metre of cell at one place: voltage as a function of current density, gas and
/// temperature.
///
/// What it is   pure functions of the local state; no solve happens here
/// Equation     V = E0 + RT/2F ln(u/w sqrt(p_O2)) + RT/F asinh(i/2 i0c) + RT/F asinh(i/2 i0a) + i r; u = x_CO
///              + i d, w = x_CO2 - i d at the reaction zone, d = R T L/(2 F D_eff p)
/// Symbols      i [A/m2] > 0 in electrolysis; r [ohm m2]; i0 [A/m2]; D_eff p [m2 Pa/s]; p_O2 [bar] at the
///              anode
/// Validity     600-950 degC; below 377 degC the equilibria are held (the electrolyte insulates there anyway)
/// Source       Butler-Volmer with two electrons and symmetric transfer; Fick's law for equimolar
///              counter-diffusion; conductivity of scandia-ceria-zirconia 12 S/m at 800 degC, 75 kJ/mol
///              (Badwal 2000; Kaneko 1993; literature band 8-14)
/// Left out     double layer, in-plane resistance, electrode thickness as such
#pragma once

#include "plant-model/gas/reactions.hpp"

namespace duskline::plant {

struct CellParameters {
  double area{};                   ///< m2, active
  double electrolyte_thickness{};  ///< m
  double conductivity{};           ///< S/m at 1073.15 K
  double conductivity_energy{};    ///< J/mol, of sigma T
  double contact_resistance{};     ///< ohm m2
  double cathode_exchange{};       ///< A/m2 at 1073.15 K and 0.5 bar CO2
  double cathode_energy{};         ///< J/mol
  double anode_exchange{};         ///< A/m2 at 1073.15 K and 1 bar O2
  double anode_energy{};           ///< J/mol
  double diffusion_length{};       ///< m, electrode layer
  double diffusivity{};            ///< m2/s, effective at 1073.15 K and 1 bar
  double overpotential_share{};    ///< 1, share of the cathode overpotential that drives carbon
  double electronic_leak{};        ///< A/m2 through the electrolyte at 1.8 V
  double heat_capacity{};          ///< J/K per cell with its interconnect
};

inline constexpr double kReferenceTemperature = 1073.15;  ///< K, of the rate constants
inline constexpr double kElectronicOnset = 1.8;           ///< V, where the electronic leak is quoted
inline constexpr double kElectronicSlope = 0.08;          ///< V per e-fold, estimate

/// The temperature at which equilibria are taken: T, but not below about 650 K.
template <class S>
S where_equilibria_hold(const S& T) {
  return 650.0 + positive_part(T - 650.0, 5.0);
}

/// What depends on temperature and pressure alone, for one segment.
template <class S>
struct SegmentChemistry {
  S thermal_voltage;   ///< V, RT/F
  S open_circuit;      ///< V, E0 + RT/4F ln p_O2
  S resistance;        ///< ohm m2, electrolyte and contact, before ageing
  S cathode_exchange;  ///< A/m2 at w p = 0.5 bar
  S anode_exchange;    ///< A/m2
  S diffusion;         ///< m2/A, d
  S log_boudouard;     ///< ln K_B
};

/// `log_oxygen` is ln of the anode's p_O2 in bar and `oxygen_fifth_root` its fifth root.
template <class S>
SegmentChemistry<S> segment_chemistry(const CellParameters& c, const S& T, const S& log_oxygen,
                                      const S& oxygen_fifth_root) {
  const Equilibria<S> eq = equilibria(where_equilibria_hold(T));
  const S a = 1.0 / T - 1.0 / kReferenceTemperature;
  SegmentChemistry<S> s;
  s.thermal_voltage = T * (kGasConstant / kFaraday);
  s.open_circuit = eq.reversible_potential + s.thermal_voltage * 0.25 * log_oxygen;
  const S sigma =
      (c.conductivity * kReferenceTemperature) / T * exp(a * (-c.conductivity_energy / kGasConstant));
  s.resistance = c.electrolyte_thickness / sigma + c.contact_resistance;
  s.cathode_exchange = c.cathode_exchange * exp(a * (-c.cathode_energy / kGasConstant));
  s.anode_exchange = c.anode_exchange * oxygen_fifth_root * exp(a * (-c.anode_energy / kGasConstant));
  // D_eff p grows as T^1.75, so d = R T L / (2F D p) falls as T^-0.75
  const S t = T * (1.0 / kReferenceTemperature);
  const double d0 = kGasConstant * kReferenceTemperature * c.diffusion_length /
                    (2.0 * kFaraday * c.diffusivity * kStandardPressure);
  s.diffusion = d0 / sqrt(t * sqrt(t));
  s.log_boudouard = eq.log_boudouard;
  return s;
}

/// exp(F eta/RT) for the overpotential of a transfer with q = i/2i0, written without cancellation for q < 0.
template <class S>
S transfer_factor(const S& q, const S& root) {
  return pick(less(q, 0.0), 1.0 / (root - q), root + q);
}

/// exp(F eta_c/RT) at current density i, where w is the CO2 share at the reaction zone and pressure in bar.
template <class S>
S cathode_factor(const SegmentChemistry<S>& s, const S& i, const S& w, const S& pressure) {
  const S q = i / (2.0 * s.cathode_exchange * fourth_root(w * pressure * 2.0));
  return transfer_factor(q, sqrt(q * q + 1.0));
}

/// Local polarisation at current density i: the voltage, its slopes, and the factor by which the
/// cathode overpotential shifts equilibria (exp(F eta_c/RT)).
template <class S>
struct Polarisation {
  S voltage;         ///< V
  S by_current;      ///< ohm m2, dV/di at fixed u and w
  S by_conversion;   ///< V, dV/d(u) with dw = -du
  S cathode_factor;  ///< 1, exp(F eta_c / RT)
};

template <class S>
Polarisation<S> polarisation(const SegmentChemistry<S>& s, const S& resistance, const S& i, const S& u,
                             const S& w, const S& pressure) {
  const S depletion = fourth_root(w * pressure * 2.0);  // (p_CO2 / 0.5 bar)^(1/4)
  const S qc = i / (2.0 * s.cathode_exchange * depletion);
  const S qa = i / (2.0 * s.anode_exchange);
  const S rc = sqrt(qc * qc + 1.0), ra = sqrt(qa * qa + 1.0);
  const S fc = transfer_factor(qc, rc), fa = transfer_factor(qa, ra);
  const S f = fc * fa;
  Polarisation<S> p;
  p.voltage = s.open_circuit + 0.5 * s.thermal_voltage * log(u / w * f * f) + resistance * i;
  const S slope_c = s.thermal_voltage / rc;
  p.by_current = slope_c / (2.0 * s.cathode_exchange * depletion) +
                 s.thermal_voltage / (2.0 * s.anode_exchange * ra) + resistance;
  p.by_conversion = 0.5 * s.thermal_voltage * (1.0 / u + 1.0 / w) + 0.25 * slope_c * qc / w;
  p.cathode_factor = fc;
  return p;
}

/// Electronic current through the electrolyte, A/m2, and its slope: bounds the voltage of a starved cell.
template <class S>
struct ElectronicLeak {
  S current, slope;
};
template <class S>
ElectronicLeak<S> electronic_leak(const S& at_onset, const S& V) {
  const S up = exp((V - kElectronicOnset) / kElectronicSlope);
  const S down = exp((-1.0 * V - kElectronicOnset) / kElectronicSlope);
  return {at_onset * (up - down), at_onset / kElectronicSlope * (up + down)};
}

}  // namespace duskline::plant
