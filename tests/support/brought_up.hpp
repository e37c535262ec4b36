/// Plants whose constants the controller does not know, brought up by it from hot standby.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "tests/support/shipped_case.hpp"

namespace duskline::tests {

// Constants of the cell at the ends of their ranges (plant-model/plants/bench.yaml).
inline const std::vector<std::string> kSlowCathode{"plant.cell.cathode_exchange=0.12 A cm-2"};
inline const std::vector<std::string> kSlowCell{
    "plant.cell.cathode_exchange=0.12 A cm-2", "plant.cell.anode_exchange=0.2 A cm-2",
    "plant.cell.diffusion_length=300 um", "plant.cell.diffusivity=0.03 cm2 s-1"};
/// The cathode is slow and all else quick: the voltage is that of the file's plant, and no voltage shows it.
inline const std::vector<std::string> kHiddenSlowCathode{
    "plant.cell.cathode_exchange=0.12 A cm-2", "plant.cell.conductivity=14 S m-1",
    "plant.cell.contact_resistance=0.03 ohm cm2", "plant.cell.anode_exchange=0.4 A cm-2"};

struct BroughtUp {
  double margin_min = 10.0, early_margin_min = 10.0;  ///< V, true; early: the first 10 min of production
  double oxygen = 0.0;                                ///< kg
  bool diagnosed = false, tripped = false;
};

/// Four hours under `law` at `demand`, commissioned in the first hour of production. `each` gets the error of the
/// estimated coke margin and its stated deviation, both V, and the time, s, at every tick of production after its first
/// minute.
template <class Each>
BroughtUp brought_up(const std::string& law, const std::string& demand, std::vector<std::string> settings,
                     Each&& each) {
  settings.insert(settings.end(), {"controller.law=" + law, "commands[2].demand=" + demand, "duration=4 h",
                                   "record=1 s", "controller.parameters.commissioning=1 h"});
  BroughtUp b;
  double since = 0.0;
  harness::LoopOptions options;
  options.record = [&](const harness::Snapshot& s) {
    b.diagnosed = b.diagnosed || s.control.diagnosed != 0;
    b.tripped = b.tripped || s.control.mode == CTL_SAFE;
    b.margin_min = std::min(b.margin_min, s.plant.min_margin);
    b.oxygen += s.plant.oxygen_made;  // ticks of 1 s
    since = s.control.mode == CTL_PRODUCTION ? since + 1.0 : 0.0;
    if (since > 0.0 && since < 600.0) b.early_margin_min = std::min(b.early_margin_min, s.plant.min_margin);
    if (since > 60.0 && s.control.coke_sigma > 0.0f)
      each(double(s.control.coke_margin) - s.plant.min_margin, double(s.control.coke_sigma), s.time);
    return true;
  };
  run_shipped("start-stop/start-from-hot-standby.yaml", settings, options);
  return b;
}

}  // namespace duskline::tests
