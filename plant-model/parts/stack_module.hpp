/// A stack module: the hot box with its stack, both gas volumes, recuperator, preheater, heaters, insulation and valves.
///
///   feed terminal -> recuperator -> preheater -> stack -> cathode volume -> exhaust aperture -> surroundings
///                                                   |          |    |   (cooled by recuperator and housing)
///                                                   |        seals  +-> recycle valve -> suction terminal
///                                                   +-> anode volume -> product aperture -> surroundings
///
/// Behind headers: feed valve, and lines with isolation valves to exhaust and product header; no recycle of its own.
///
/// What it is   all states of one module and all flows inside it and to its terminals
/// Equation     as in the files of flow/, heat/ and stack/; amounts and heat of each store from the sum of its flows
/// Symbols      SI
/// Validity     see those files
/// Source       those files
/// Left out     size of the coolers in exhaust and product line
#pragma once

#include "plant-model/flow/module_flows.hpp"
#include "plant-model/heat/feed_path.hpp"
#include "plant-model/heat/network.hpp"
#include "plant-model/network/part.hpp"

namespace duskline::plant {

/// Constant enthalpies at 1073.15 K of the solids that store atoms, J/mol.
inline const double kCarbonEnthalpy = enthalpy(kCarbonFit, kReferenceTemperature);
inline const double kOxideEnthalpy =
    enthalpy(kNickelOxideFit, kReferenceTemperature) - enthalpy(kNickelFit, kReferenceTemperature);

/// Where a module is connected.
struct ModuleTerminals {
  GasTerminal feed, suction;
  HeatTerminal frame;
  bool headers = false;
  GasTerminal exhaust{}, product{};  ///< where there are headers
};

/// Everything that one evaluation of a module works out.
template <class S, std::size_t N>
struct ModuleWorkings {
  GasStore<S> cathode, anode;
  Composition<S> exit_enthalpy;
  ModuleFlows<S> gas;
  FeedPath<S> path;
  StackOutputs<S, N> stack;
  double carbon = 0.0, oxide = 0.0;  ///< mol/s taken up by the cells; constants to the Jacobian (slow)
  S heaters, stack_supply;           ///< W at the heaters; W from the bus for the stack
};

/// N segments along each cell.
template <std::size_t N>
class StackModule final : public PartOf<StackModule<N>> {
 public:
  /// `number` counts the modules from 0; `prefix` goes before the names of the states.
  StackModule(Layout& layout, std::size_t number, const std::string& prefix,
              const ModuleTerminals& terminals);

  template <class S>
  void flow_on(Board<S>& b) const;
  void command(Board<double>& b) const override;
  void hold(const ParameterView& p, const double* x, const double* slow, Holdings& h) const override;
  void start(const ParameterView& p, const Start& s, double* x, double* slow) const override;

 private:
  using Solid = at::Solids<N>;

  /// Everything before any rate.
  template <class S>
  ModuleWorkings<S, N> work_out(Board<S>& b, CellReadings* readings, CellView<S>* view) const;
  template <class S>
  void read(Board<S>& b, const ModuleWorkings<S, N>& w, PlantOutputsOf<S>& out) const;

  std::size_t number_, first_, first_slow_;
  ModuleTerminals terminals_;
};

extern template class StackModule<kCoarseSegments>;
extern template class StackModule<kSegments>;
extern template class StackModule<kFineSegments>;

}  // namespace duskline::plant
