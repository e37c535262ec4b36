/// A part of a plant: declares its states, shows what its stores hold, adds its flows, says what it holds.
///
/// What it is   an immutable description with places in the state; parameters, state and memory come with each call, so
///              that copies of a plant share their parts
/// Validity     a part writes the rates of its own states and adds to terminals; it reads what others show and, where
///              the network places it behind them, the sums
/// Left out     parts that change their number of states
#pragma once

#include "plant-model/network/board.hpp"

namespace duskline::plant {

/// Atoms (mol) and energy (J) in stores.
struct Holdings {
  std::array<double, kElements> atoms{};
  double energy = 0.0;
};

/// What a run begins with.
struct Start {
  double plenum_pressure, cathode_pressure, anode_pressure;  ///< Pa
  double hot, inner, outer, housing;                         ///< K
  Composition<double> feed, cathode;                         ///< mole fractions
  double speed = 0.0;                                        ///< rad/s
  double current = 0.0;                                      ///< A
  double opening = 0.0;                                      ///< 1
  double end_heating = 0.0, preheating = 0.0;                ///< 1, share of the largest power
  double flow = 0.0;                                         ///< mol/s through a turbo compressor
  double ambient = 0.0;                                      ///< K
  SharedCommandsOf<double> valves{};                         ///< 1, where those of the headers stand
  double exhaust_pressure = 0.0, product_pressure = 0.0;     ///< Pa, of the headers
};

class Part {
 public:
  virtual ~Part() = default;

  virtual void show(Board<double>&) const {}
  virtual void show(Board<PlantDual>&) const {}
  virtual void flow(Board<double>&) const {}
  virtual void flow(Board<PlantDual>&) const {}
  virtual void settle(Board<double>&) const {}
  virtual void settle(Board<PlantDual>&) const {}
  /// Corrects rates and sums at unchanged state for new commands.
  virtual void command(Board<double>&) const {}
  virtual void hold(const ParameterView&, const double* /*x*/, const double* /*slow*/, Holdings&) const {}
  virtual void start(const ParameterView&, const Start&, double* /*x*/, double* /*slow*/) const {}
};

/// The rounds of a part that is written once, as templates over the scalar: show_on, flow_on and settle_on, each where
/// it has one.
template <class Own>
class PartOf : public Part {
 public:
  void show(Board<double>& b) const override { show_any(b); }
  void show(Board<PlantDual>& b) const override { show_any(b); }
  void flow(Board<double>& b) const override { flow_any(b); }
  void flow(Board<PlantDual>& b) const override { flow_any(b); }
  void settle(Board<double>& b) const override { settle_any(b); }
  void settle(Board<PlantDual>& b) const override { settle_any(b); }

 private:
  const Own& own() const { return static_cast<const Own&>(*this); }
  template <class B>
  void show_any(B& b) const {
    if constexpr (requires { own().show_on(b); }) own().show_on(b);
  }
  template <class B>
  void flow_any(B& b) const {
    if constexpr (requires { own().flow_on(b); }) own().flow_on(b);
  }
  template <class B>
  void settle_any(B& b) const {
    if constexpr (requires { own().settle_on(b); }) own().settle_on(b);
  }
};

}  // namespace duskline::plant
