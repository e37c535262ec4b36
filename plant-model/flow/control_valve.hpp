/// Control valve with gas: flow by sizing coefficients, inherent characteristic, actuator.
///
/// What it is   a link: molar flow through a valve at an opening, choked or not; its sizing
/// Equation     W = A_v Y sqrt(x p1 rho1), Y = 1 - x/(3 F_k x_T), x = (p1 - p2)/p1, at most F_k x_T; F_k = k/1.40;
///              A_v = 2.776532e-5 m2 K_v; equal percentage K_v = K_100 R^(y - 1), linear K_v = K_100 y
///              dy/dt = (u - y)/tau, at most 1/stroke
/// Symbols      W [kg/s], p1 [Pa], rho1 [kg/m3] = p1 M/(R T1), x_T [1] of the valve at choke, y [1] travel, R [1]
///              rangeability
/// Validity     turbulent flow (valve Reynolds number above 1e4), ideal gas; reverse flow as forward
/// Source       IEC 60534-2-1 (gas), 60534-2-4 (characteristics); classes of leakage 60534-4 (from memory)
/// Left out     fittings (F_P), laminar flow, dead band and stiction (faults)
#pragma once

#include "plant-model/gas/thermochemistry.hpp"

namespace duskline::plant {

struct ControlValve {
  double capacity{};           ///< K_v open, m3/h of water at 1 bar
  double choke_ratio = 0.70;   ///< x_T
  double rangeability = 50.0;  ///< R; 0: linear
  double leakage = 1e-4;       ///< 1, of the open capacity when closed (class IV)
  double lag = 1.0;            ///< s
  double stroke = 2.0;         ///< s, from closed to open at most
};

inline constexpr double kFlowAreaPerCapacity = 2.776532e-5;  ///< m2

/// K_v at a travel from 0 to 1.
template <class S>
S valve_capacity(const ControlValve& v, const S& travel) {
  const double closed = v.leakage * v.capacity;
  if (v.rangeability <= 0.0) return closed + (v.capacity - closed) * travel;
  // equal percentage, led to the leakage below its smallest controllable flow
  const S open = v.capacity * exp(std::log(v.rangeability) * (travel - 1.0));
  constexpr double kSeat = 0.02;  // of the travel
  const S lift = travel * travel / (travel * travel + kSeat * kSeat);
  return closed + (open - closed) * lift;
}

/// Expansion factor and pressure ratio that counts, for x >= 0.
template <class S>
S valve_flow_number(const ControlValve& v, double k, const S& x) {
  const double choked = k / 1.40 * v.choke_ratio;
  const S counts = pick(less(x, choked), x, S(choked));
  constexpr double kWidth = 1e-4;  // regularises the square root at no difference
  const S root = counts / fourth_root(counts * counts + kWidth * kWidth);
  return (1.0 - counts * (1.0 / (3.0 * choked))) * root;  // Y sqrt(x)
}

/// Molar flow from 1 to 2, mol/s, negative when 2 drives; M [kg/mol] and T [K] of both sides, k of the gas.
template <class S>
S valve_flow(const ControlValve& v, double k, const S& travel, const S& p1, const S& T1, const S& M1,
             const S& p2, const S& T2, const S& M2) {
  const bool forward = value_of(p1) >= value_of(p2);
  const S p = forward ? p1 : p2, q = forward ? p2 : p1;
  const S T = forward ? T1 : T2, M = forward ? M1 : M2;
  const S n = kFlowAreaPerCapacity * valve_capacity(v, travel) * valve_flow_number(v, k, S(1.0 - q / p)) * p /
              sqrt(M * T * kGasConstant);
  return forward ? n : -n;
}

/// Rate of the travel, 1/s.
template <class S, class U>
S valve_travel_rate(const ControlValve& v, const U& asked, const S& travel) {
  const S free = (asked - travel) * (v.stroke / v.lag);
  return free / sqrt(1.0 + free * free) * (1.0 / v.stroke);
}

/// K_v that passes `flow` [kg/s] of a gas: what a plant file is sized with.
inline double capacity_for(const ControlValve& v, double k, double M, double flow, double p1, double T1,
                           double p2) {
  const double density = p1 * M / (kGasConstant * T1);
  return flow / (kFlowAreaPerCapacity * valve_flow_number(v, k, 1.0 - p2 / p1) * std::sqrt(p1 * density));
}

}  // namespace duskline::plant
