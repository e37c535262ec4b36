// A stretch of closed loop, recorded tick by tick and replayed open loop by any method of integration.
//
// What is replayed: the surroundings and the commands of every tick, and the state at its start. Each tick is
// what the loop does with the plant: set the surroundings, observe the plant (the cell voltages are read
// here), set the commands, integrate from t_n to t_n+1. The method starts anew at every tick, because the
// commands jump there and are held until the next.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <ctime>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "hil-harness/loop/instruments.hpp"
#include "hil-harness/loop/loop.hpp"
#include "scenarios/reader/scenario_file.hpp"
#include "tests/support/cvode.hpp"
#include "tests/support/places.hpp"

namespace duskline::tests {

using Voltages = std::array<double, plant::kCells>;

inline const std::string kSol = "dawn-dusk/equinox-sol.yaml";

inline scenarios::Case library_case(const std::string& name, const std::vector<std::string>& settings = {}) {
  const std::filesystem::path home = DUSKLINE_SOURCE_DIR;
  auto read = scenarios::read_case(home / "scenarios/library" / name, home / "plant-model/plants", settings);
  if (!read) throw std::runtime_error(scenarios::to_text(read.problems));
  return std::move(*read.value);
}

/// Seconds that this process has spent on its processors.
inline double cpu_time() {
  timespec t{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

inline plant::TolerancesOf<plant::State> plant_tolerances(double relative) {
  plant::TolerancesOf<plant::State> t{{}, relative};
  for (const plant::StateInfo& info : plant::Network().layout().table())
    t.absolute.push_back(info.tolerance * relative * 1e3);  // as the loop does
  return t;
}

struct Recording {
  struct Tick {
    plant::Ambient ambient;
    plant::Commands commands;
  };
  plant::PlantParameters parameters;
  plant::State start{};
  double period = 1.0;  // s
  std::vector<Tick> ticks;
};

/// Runs the loop up to `end` and keeps what happened from `begin` on; both in s since the start of the run.
inline Recording record_loop(const std::string& name, double begin, double end) {
  const auto c = library_case(name, {"duration=" + std::to_string(end) + " s", "record=1 s"});
  Recording r;
  r.parameters = c.plant.parameters;
  r.period = c.scenario.period;
  std::optional<harness::ActuatorBank> actuators;
  harness::InProcess link(c.scenario.controller);
  harness::LoopOptions options;
  options.record = [&](const harness::Snapshot& s) {
    if (!actuators) actuators.emplace(r.parameters, plant::actuator_positions(s.model->layout(), *s.state));
    const plant::Commands commands = actuators->actuate(s.control, r.period);
    if (s.time < begin) return true;
    if (r.ticks.empty()) r.start = *s.state;
    r.ticks.push_back({s.ambient, commands});
    return true;
  };
  harness::run_loop(c, link, options);
  return r;
}

struct Replay {
  std::vector<Voltages> voltages;  ///< at the start of every tick, V
  double seconds = 0;              ///< of processor
  double evaluations = 0;          ///< of the right-hand side by the integration
  double rejected = 0;             ///< steps
  plant::State end{};

  double microseconds_per_tick() const { return 1e6 * seconds / static_cast<double>(voltages.size()); }
};

/// `advance(plant, x, f, t, t1)` integrates one tick; f are the rates at x under the new commands.
template <class Advance>
Replay replay(const Recording& r, Advance&& advance) {
  plant::Plant plant(r.parameters);
  plant::State x = r.start, f{};
  plant::PlantOutputs out;
  Replay result;
  result.voltages.reserve(r.ticks.size());
  const double began = cpu_time();
  double t = 0;
  for (std::size_t n = 0; n < r.ticks.size(); ++n) {
    plant.set_boundary(r.ticks[n].ambient, x);
    plant.observe(x, f, out);
    result.voltages.push_back(out.cells.voltage);
    plant.set_commands(r.ticks[n].commands);
    plant.command_rates(x, f);
    const double t1 = static_cast<double>(n + 1) * r.period;
    advance(plant, x, f, t, t1);
    t = t1;
  }
  result.seconds = cpu_time() - began;
  result.end = x;
  return result;
}

/// Largest difference of the voltage of any cell at any tick, V.
inline double worst_voltage(const std::vector<Voltages>& a, const std::vector<Voltages>& b) {
  double worst = 0;
  for (std::size_t n = 0; n < std::min(a.size(), b.size()); ++n)
    for (std::size_t c = 0; c < plant::kCells; ++c) worst = std::max(worst, std::abs(a[n][c] - b[n][c]));
  return worst;
}

/// A whole run of the closed loop, with the cell voltages of every tick.
struct ClosedLoop {
  harness::RunRecord record;
  std::vector<Voltages> voltages;
  double seconds = 0;  ///< of processor

  double microseconds_per_tick() const { return 1e6 * seconds / static_cast<double>(record.ticks); }
  double steps_per_tick() const {
    return static_cast<double>(record.steps.steps) / static_cast<double>(record.ticks);
  }
};

/// Not `stepped`, the controller moves compressor and recycle valve by any amount, however small.
inline ClosedLoop closed_loop(const std::string& name, double relative, bool stepped = true) {
  auto c = library_case(name, {"record=1 s"});
  if (!stepped) c.scenario.controller.speed_step = c.scenario.controller.recycle_step = 0;
  c.scenario.integrator.relative_tolerance = relative;
  ClosedLoop result;
  result.voltages.reserve(scenarios::periods(c.scenario));
  harness::InProcess link(c.scenario.controller);
  harness::LoopOptions options;
  options.record = [&](const harness::Snapshot& s) {
    result.voltages.push_back(s.plant.cells.voltage);
    return true;
  };
  const double began = cpu_time();
  result.record = harness::run_loop(c, link, options);
  result.seconds = cpu_time() - began;
  return result;
}

/// The plant with all of its Jacobian: the columns of quadratures (exact) and of slow states (left out) are
/// zero. With `keep` above zero a Jacobian serves that many seconds, as it does in our own stepper.
struct WholePlant {
  plant::Plant* plant = nullptr;
  double keep = 0;  // s
  mutable double taken_at = -1;
  mutable plant::DenseMatrix part{plant::kImplicit + plant::kQuadratures, plant::kImplicit};

  void operator()(const plant::State& x, plant::State& dxdt, double t) const { (*plant)(x, dxdt, t); }
  void jacobian(const plant::State& x, double t, plant::DenseMatrix& whole) const {
    if (taken_at < 0 || t > taken_at + keep) {
      plant->jacobian(x, t, part);
      taken_at = t;
    }
    for (std::size_t i = 0; i < part.rows(); ++i)
      for (std::size_t k = 0; k < part.columns(); ++k) whole(i, k) = part(i, k);
  }
};

/// The implicit states alone, which is all that a method needs to be implicit in. Slow states stand still
/// during a tick and then take an Euler step; quadratures are left out. A lower bound for any library.
struct FastPlant {
  using Fast = std::array<double, plant::kImplicit>;
  plant::Plant* plant = nullptr;
  double keep = 0;  // s
  mutable double taken_at = -1;
  mutable plant::State at{};
  mutable plant::DenseMatrix part{plant::kImplicit + plant::kQuadratures, plant::kImplicit};

  void operator()(const Fast& x, Fast& dxdt, double t) const {
    plant::State rates;
    at.resize(plant::kStates);
    std::copy(x.begin(), x.end(), at.begin());
    (*plant)(at, rates, t);
    std::copy_n(rates.begin(), plant::kImplicit, dxdt.begin());
  }
  void jacobian(const Fast& x, double t, plant::DenseMatrix& whole) const {
    if (taken_at < 0 || t > taken_at + keep) {
      at.resize(plant::kStates);
      std::copy(x.begin(), x.end(), at.begin());
      plant->jacobian(at, t, part);
      taken_at = t;
    }
    for (std::size_t i = 0; i < plant::kImplicit; ++i)
      for (std::size_t k = 0; k < plant::kImplicit; ++k) whole(i, k) = part(i, k);
  }
};

}  // namespace duskline::tests
