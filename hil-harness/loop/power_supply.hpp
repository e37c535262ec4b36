/// What the bus voltage allows: consumers and controller switched off, the controller started again.
///
/// Source       the two voltages are estimates: converters of a 28 V bus give up near 16 V, small regulators near 9 V
#pragma once

#include "hil-harness/links/link.hpp"
#include "hil-harness/loop/event_log.hpp"

namespace duskline::harness {

inline constexpr double kBrownOut = 16.0;      ///< V: below it heaters, drive and converter are off
inline constexpr double kControllerOff = 9.0;  ///< V: below it the controller is off

class PowerSupply {
 public:
  explicit PowerSupply(ModuleLog log) : log_(std::move(log)) {}

  /// Follows the bus voltage; `resets`: a fault resets the controller, `intact`: its memory survives.
  /// False: the controller could not be started again.
  bool follow(double voltage, double time, bool resets, bool intact, Link& link) {
    const bool powered = voltage >= kBrownOut, controller_powered = voltage >= kControllerOff;
    if (powered != powered_)
      log_.log(time, LogKind::power,
               powered ? "heaters, drive and converter have power again"
                       : "heaters, drive and converter lost power",
               "consumers", !powered);
    if (controller_powered_ && !controller_powered)
      log_.log(time, LogKind::power, "the controller lost power", "controller");
    const bool starts = controller_powered && (!controller_powered_ || resets);
    powered_ = powered;
    controller_powered_ = controller_powered;
    return !starts || restart(time, intact, link);
  }
  bool powered() const { return powered_; }
  bool controller_powered() const { return controller_powered_; }
  void keep(scenarios::Keeper& k) {
    auto& [log, powered, controller_powered] = *this;
    k(powered, controller_powered);
  }

 private:
  bool restart(double time, bool intact, Link& link) {
    const ctl_status status = link.restart(intact);
    if (status != CTL_OK && status != CTL_NOT_RETAINED) return false;
    log_.log(time, LogKind::power,
             status == CTL_OK ? "the controller started again from its retained memory"
                              : "the controller started anew: its memory was not retained",
             "controller", false);
    return true;
  }

  ModuleLog log_;
  bool powered_ = true, controller_powered_ = true;
};

}  // namespace duskline::harness
