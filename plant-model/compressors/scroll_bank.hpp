/// Scroll compressors in parallel, some of them running.
///
/// What it is   a link: flow and power of a bank; what stands still leaks back through its check valve
/// Equation     N = m N_one(p1, p2, speed) - (n - m) G p2 (1 - p1/p2) for m of n running
/// Symbols      G [mol/s/Pa] leak of a closed check valve
/// Validity     scroll.hpp, for each machine; all that run have one speed
/// Source       scroll.hpp; leak of a check valve 1e-6 to 1e-4 of the full flow (from memory)
/// Left out     pulsation between machines, start of one against the pressure of the others
#pragma once

#include "plant-model/compressors/scroll.hpp"

namespace duskline::plant {

struct ScrollBank {
  CompressorParameters machine{};
  int count = 1;
  double check_valve_leak{};  ///< mol/s/Pa
};

template <class S>
struct ScrollBankResult {
  S flow;   ///< mol/s, net
  S power;  ///< W, from the bus
  S shell;  ///< W, friction into all shells that run
};

template <class S>
ScrollBankResult<S> scroll_bank(const ScrollBank& b, int running, const S& p1, const S& T1, const S& p2,
                                const S& speed) {
  const CompressorParameters& c = b.machine;
  const S swept = swept_flow_per_pascal(c, speed, T1) * p1;
  const S leaked = c.leakage * (p2 * p2 - p1 * p1);
  const S gas = swept * kGasConstant * T1 * reduced_work(c, S(p2 / p1));
  const S friction =
      (c.friction_torque * speed / sqrt(speed * speed + 25.0) + c.viscous_friction * speed) * speed;
  ScrollBankResult<S> r;
  r.flow = static_cast<double>(running) * (swept - leaked) -
           (static_cast<double>(b.count - running) * b.check_valve_leak) * (p2 - p1);
  r.power = static_cast<double>(running) * (gas + friction) * (1.0 / c.motor_efficiency);
  r.shell = static_cast<double>(running) * friction;
  return r;
}

}  // namespace duskline::plant
