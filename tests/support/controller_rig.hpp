/// The controller with the stand-in plant around it, for tests that start from a mode.
#pragma once

#include <stdexcept>

#include "tests/support/controller_stand_in.hpp"

namespace duskline::test {

inline ctl_params default_params() {
  ctl_params p;
  ctl_default_params(&p);
  p.detection = 0.0f;  // the stand-in is not the plant that the parity relations describe
  return p;
}

struct Rig {
  ctl_params params = default_params();
  ctl_state state{};
  ctl_inputs in{};
  ctl_outputs out{};
  StandIn plant;
  uint32_t tick = 0;
  double demand = 10e-3 / 3600.0;  // kg/s, 10 g/h

  explicit Rig(double temperature, ctl_params p = default_params()) : params(p) {
    plant.stack = plant.end[0] = plant.end[1] = plant.preheater = temperature;
    if (ctl_init(&state, &params) != CTL_OK) throw std::runtime_error("bad parameters");
  }

  /// One tick; `edit` may inject the measurements on their way.
  template <class Edit>
  const ctl_outputs& step(uint32_t mode, Edit edit) {
    in = plant.sense(tick++, mode, demand);
    edit(in);
    if (ctl_step(&state, &params, &in, &out) != CTL_OK) throw std::runtime_error("step refused");
    plant.move(out);
    return out;
  }
  const ctl_outputs& step(uint32_t mode) {
    return step(mode, [](ctl_inputs&) {});
  }
  void run(uint32_t mode, int ticks) {
    for (int k = 0; k < ticks; ++k) step(mode);
  }
  /// Ticks until the mode is reached, or -1.
  int reach(uint32_t wanted, uint32_t request, int most = 30000) {
    for (int k = 0; k < most; ++k)
      if (step(request).mode == wanted) return k;
    return -1;
  }
};

/// A controller in the mode wanted, with a plant that fits it.
inline Rig rig_in(uint32_t mode, ctl_params p = default_params()) {
  Rig rig(mode == CTL_OFF ? 250.0 : mode == CTL_WARM_UP ? 900.0 : 1073.15, p);
  int reached = 0;
  if (mode == CTL_WARM_UP) reached = rig.reach(CTL_WARM_UP, CTL_WARM_UP);
  if (mode == CTL_STANDBY || mode == CTL_SAFE || mode == CTL_COOL_DOWN)
    reached = rig.reach(CTL_STANDBY, CTL_STANDBY);
  if (mode == CTL_PRODUCTION) reached = rig.reach(CTL_PRODUCTION, CTL_PRODUCTION);
  if (mode == CTL_SAFE || mode == CTL_COOL_DOWN) reached = rig.reach(mode, mode);
  if (mode == CTL_PRODUCTION) rig.run(mode, 400);
  if (reached < 0) throw std::runtime_error("mode not reached");
  rig.run(mode, 5);
  return rig;
}

}  // namespace duskline::test
