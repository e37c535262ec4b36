/// Changes of a scenario that break what no defect of the controller can: sentences about the plant, its outputs and its wire.
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
           "faults/product-aperture-clogs-then-erodes"},
    Change{"wire-whole", "nothing happens to the wire", "faults=[]", "faults/controller-wire-cut-at-dawn"},
    Change{"wire-cut-for-good", "the wire breaks two minutes earlier, for good",
           "faults=[{at: 58 min, fault: wire-cut, length: 122 min}]", "faults/controller-wire-cut-at-dawn"},
    Change{"current-stuck-behind-cut-wire", "the converter is stuck when the wire breaks",
           "faults=[{at: 59 min, fault: current-stuck, length: 3 min}, {at: 1 h, fault: wire-cut, length: 10 "
           "min}]",
           "faults/controller-wire-cut-at-dawn"},
    Change{"current-stuck-without-flow", "the converter is stuck when the compressor trips",
           "faults=[{at: 57 min, fault: current-stuck, length: 3 min}, {at: 58 min, fault: compressor-trip}]",
           "faults/controller-wire-cut-at-dawn"},
};

}  // namespace duskline::tests
