// The outpost under a simple loop of the tests: one PI for each valve, the speed and the heat of each module.
#pragma once

#include <algorithm>
#include <stdexcept>

#include "controller/laws/surge_guard.hpp"
#include "tests/support/modules.hpp"

namespace duskline::tests {

inline plant::PlantParameters outpost(const std::string& name = "outpost") {
  auto file = scenarios::read_plant(DUSKLINE_SOURCE_DIR "/plant-model/plants/" + name + ".yaml");
  if (!file.value) throw std::runtime_error(name + ".yaml does not read");
  return file.value->parameters;
}

/// PI between two limits, which stops its integral at them.
struct LoopPi {
  double gain, integral_time, lower, upper, integral;

  double operator()(double error, double period) {
    const double asked = integral + gain * error, given = std::clamp(asked, lower, upper);
    if (asked == given || (asked - given) * error < 0) integral += gain / integral_time * error * period;
    return given;
  }
};

struct OutpostAims {
  double current = 34.9;         // A: 10 051 cell-amperes by 288 cells
  double temperature = 1073.15;  // K
  double feed = 0.83e-3;         // kg/s a module
  double feed_header = 66e3;     // Pa
  double exhaust_header = 57e3;  // Pa
  double across = 1e3;           // Pa, exhaust header above product header
  double co = 0.05;              // in the feed header
  bool anti_surge = true;
  double surge_line = 0.30;  // margin at which the anti-surge valve begins to open
};

class Outpost {
 public:
  explicit Outpost(const plant::PlantParameters& p = outpost())
      : plant(p),
        isolated(plant.modules()),
        modules(plant.modules()),
        integrator_(module_integrator(plant.layout(), true)),
        u_(plant.modules()),
        loops_(plant.modules()) {
    const double shaft = p.power.speed_max / 4500;  // the loop is that of the centrifugal train
    for (double* each : {&speed_.gain, &speed_.lower, &speed_.upper, &speed_.integral}) *each *= shaft;
    plant.set_boundary(afternoon(), 0.0);
    x = plant::producing_state(p, afternoon(), 1073.15, 0.4);
  }

  /// One tick: look, decide, integrate.
  plant::Advance tick() {
    plant.observe(x, f_, modules, shared);
    decide();
    plant.set_commands(u_, v_);
    plant.command_rates(x, f_);
    const plant::Advance done = integrator_.advance_with(plant, x, f_, t, t + 1);
    t += 1;
    return done;
  }
  void run(int ticks) {
    for (int n = 0; n < ticks; ++n)
      if (const plant::Advance done = tick(); !done.ok())
        throw std::runtime_error(std::string(plant::word(done.reason)) + " at " +
                                 plant.layout().table()[done.state].name);
  }

  const plant::StepStatistics& statistics() const { return integrator_.statistics(); }

  plant::Plant plant;
  plant::State x;
  OutpostAims aims;
  std::vector<bool> isolated;
  std::vector<plant::PlantOutputs> modules;
  plant::SharedOutputs shared{};
  double t = 0;

 private:
  void decide() {
    const plant::SharedValues& seen = shared.truth;
    for (std::size_t n = 0; n < u_.size(); ++n) {
      const auto& zones = modules[n].zone_temperature;
      double mean = 0;
      for (const double zone : zones) mean += zone / static_cast<double>(plant::kZones);
      const double heat = loops_[n].heat(aims.temperature - mean, 1);
      u_[n].end_power = {heat, heat};
      u_[n].preheater_power = 100;
      u_[n].stack_current = isolated[n] ? 0 : aims.current;
      u_[n].feed_opening = isolated[n] ? 0 : loops_[n].feed(aims.feed - modules[n].feed_flow, 1);
    }
    v_.compressor_speed = speed_(aims.feed_header - seen.feed_header_pressure, 1);
    v_.exhaust_opening = exhaust_(seen.exhaust_header_pressure - aims.exhaust_header, 1);
    v_.product_opening =
        product_(seen.product_header_pressure - (seen.exhaust_header_pressure - aims.across), 1);
    v_.recycle_opening = recycle_(aims.co - seen.feed_header_co_fraction, 1);
    const auto margin = static_cast<float>(shared.surge_margin);
    controller::SurgeGuardSettings guard = kGuard;
    guard.control_line = static_cast<float>(aims.surge_line);
    guard.open_line = std::min(guard.open_line, 0.25f * guard.control_line);
    const float open = controller::guard_surge(guard_, guard, margin, 0.0f, 1.0f);
    v_.anti_surge_opening = aims.anti_surge ? static_cast<double>(open) : 0.0;
  }

  // wider and slower than usual: a tick of 1 s is long against the fall from the line to surge, and the loops of pressure
  // answer within seconds
  static constexpr controller::SurgeGuardSettings kGuard{.control_line = 0.30f,
                                                         .open_line = 0.08f,
                                                         .gain = 2.0f,
                                                         .integral_time = 20.0f,
                                                         .close_time = 120.0f,
                                                         .surges_to_trip = 1000};

  struct ModuleLoop {
    LoopPi heat{60, 600, 0, 900, 200}, feed{300, 3, 0, 1, 0.7};
  };
  plant::State f_;
  plant::IntegratorOn<plant::State> integrator_;
  std::vector<plant::ModuleCommands> u_;
  plant::SharedCommands v_{.liquefier_run = 1.0};
  std::vector<ModuleLoop> loops_;
  LoopPi speed_{0.02, 20, 500, 4500, 4050}, exhaust_{2e-5, 10, 0, 1, 0.7}, product_{5e-5, 10, 0, 1, 0.7};
  LoopPi recycle_{4, 60, 0, 1, 0.5};
  controller::SurgeGuard guard_;
};

}  // namespace duskline::tests
