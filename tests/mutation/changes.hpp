/// Changes of a scenario that break what no defect of the controller can: requirements about the plant, its outputs and its wire.
#pragma once

#include <array>
#include <string_view>

namespace duskline::tests {

struct Change {
  std::string_view name;
  std::string_view what;       ///< in a sentence
  std::string_view setting;    ///< PATH=VALUE
  std::string_view scenarios;  ///< separated by blanks
};

inline constexpr std::array kChanges{
    Change{"bearing-worn-at-once", "a worn bearing warms the machine from the start",
           "faults=[{at: 0 s, fault: bearing-worn, size: 2}]",
           "faults/filter-blocked-at-lowest-density start-stop/demand-above-capacity "
           "endurance/worn-plant-lowest-density"},
    Change{"no-back-pressure-valve", "the product leaves through an aperture, as of the demo plant",
           "plant=bench", "start-stop/planar-seals-kept-within-5-kpa"},
    Change{"product-clogged-for-good", "the product aperture clogs to a third and stays so",
           "faults=[{at: 20 min, fault: product-clogged, size: 0.3}]",
           "faults/product-aperture-clogs-then-erodes start-stop/planar-seals-kept-within-5-kpa"},
    Change{"wire-intact", "the wire is not cut", "faults=[]", "faults/controller-wire-cut-at-dawn"},
    Change{"wire-cut-for-good", "the wire breaks two minutes earlier, for good",
           "faults=[{at: 58 min, fault: wire-cut, length: 122 min}]", "faults/controller-wire-cut-at-dawn"},
    Change{"current-stuck-behind-cut-wire", "the converter is stuck when the wire breaks",
           "faults=[{at: 59 min, fault: current-stuck, length: 3 min}, {at: 1 h, fault: wire-cut, length: 10 "
           "min}]",
           "faults/controller-wire-cut-at-dawn"},
    Change{"current-stuck-without-flow", "the converter is stuck when the compressor trips",
           "faults=[{at: 57 min, fault: current-stuck, length: 3 min}, {at: 58 min, fault: compressor-trip}]",
           "faults/controller-wire-cut-at-dawn"},
    Change{"no-fault", "the fault is not injected", "faults=[]",
           "outpost/train-trips outpost/anti-surge-wide-open outpost/recycle-valve-open"},
    Change{"demand-constant", "the first demand and mode are kept",
           "commands=[{at: 0 min, mode: production, demand: 3 kg/h}]",
           "outpost/half-and-back outpost/turned-down-to-30 outpost/turned-down-with-axial "
           "outpost/module-out-and-back"},
    Change{"begins-in-production", "the stacks are hot and the plant produces from the start",
           "initial={state: producing, stack_temperature: 800 degC, cathode_co: 40 %}",
           "outpost/start-from-half-warm"},
    Change{"begins-cold", "the plant is cold", "initial={state: cold, stack_temperature: 20 degC}",
           "outpost/module-out-and-back"},
    Change{"stacks-conduct-less", "heat spreads along the stacks as badly as the plant file allows",
           "plant.heat.axial_conductance=28 W K-1", "outpost/start-from-half-warm"},
    Change{"lobe-blowers-for-freezer", "the header is filled by lobe blowers in place of freezer beds",
           "plant=outpost-lobe", "outpost/turned-down-with-freezer"},
    Change{"current-stuck-when-train-trips", "a converter is stuck when the train trips",
           "faults=[{at: 1 min, fault: current-stuck, module: 3}, {at: 2 min, fault: train-trip}]",
           "outpost/train-trips"},
    Change{"drive-weak-in-thin-air", "the drive gives 6 % less",
           "faults=[{at: 1 min, fault: train-drive-weak, size: 0.06}]", "outpost/thin-season"},
};

}  // namespace duskline::tests
