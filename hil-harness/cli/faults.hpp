/// Faults of the plant that a scenario can bring about, each by an event that changes one parameter.
///
/// Source: our own list of what wears, clogs, leaks and breaks in such a plant; effects follow from the
/// model. Left out: faults of instruments and actuators, which scenarios cannot set yet.
#pragma once

#include <array>
#include <string_view>

namespace duskline::harness {

struct FaultEntry {
  std::string_view word;
  std::string_view parameter;  ///< path in the dictionary; empty: the model does it by itself
  std::string_view effect;
};

inline constexpr std::array kFaults = {
    FaultEntry{"cell cracks", "stack.crack_leak", "gas passes between cathode and anode of that cell"},
    FaultEntry{
        "cell cracks by itself", "",
        "when zones differ by more than stack.crack_gradient or the sides by more than "
        "stack.crack_pressure, the cell with the least coke margin leaks stack.crack_size from then on"},
    FaultEntry{"contact lost in a cell", "stack.resistance_factor",
               "that cell needs more voltage and runs hotter"},
    FaultEntry{"channel of a cell blocked", "stack.flow_share",
               "less feed reaches that cell; its utilisation rises and its coke margin falls"},
    FaultEntry{"seal leaks", "flow.seal_leak", "gas passes between the sides; purity and yield fall"},
    FaultEntry{"exhaust clogs", "flow.exhaust_aperture", "cathode pressure rises, flow falls"},
    FaultEntry{"product outlet clogs", "flow.product_aperture", "anode pressure rises"},
    FaultEntry{"recycle clogs", "flow.recycle_aperture",
               "less CO reaches the inlet, and nickel loses its protection"},
    FaultEntry{"filter clogs", "filter.cake_resistance", "suction pressure falls for the dust that is held"},
    FaultEntry{"compressor leaks", "compressor.leakage", "less flow at the same speed"},
    FaultEntry{"bearing worn", "compressor.friction_torque", "more drive power at the same flow"},
    FaultEntry{"end heater weak", "heat.end_heater_max",
               "the stack cannot be held at temperature in the cold"},
    FaultEntry{"preheater weak", "heat.preheater_max", "cold gas enters the stack, zones drift apart"},
    FaultEntry{"electronic leak in the cells", "cell.electronic_leak", "current without oxygen"},
    FaultEntry{"bus voltage sags", "power.bus_voltage",
               "the controller sees a low bus and sheds load or trips"},
};

}  // namespace duskline::harness
