// Density from the machine and the weather station, and the wear of the gas path, on made-up signals.
#include <catch2/catch.hpp>
#include <cmath>

#include "controller/estimate/health.hpp"

using namespace duskline::controller;

namespace {

/// A machine that sweeps as the estimator's equations say, with a density that drifts.
struct Path {
  ctl_params p;
  DensityMemory memory = initial_density();
  HealthMemory health = initial_health();
  float pressure = 700.0f, temperature = 220.0f, efficiency = 1.0f, speed = 300.0f, loading = 1.0f;
  float plenum = 60000.0f;
  bool station = true;
  Density last{};
  Health worn{};

  Path() { ctl_default_params(&p); }
  float density() const { return pressure * p.air_molar_mass / (kGasConstant * temperature); }
  void run(int ticks, float rate = 0.0f) {
    for (int k = 0; k < ticks; ++k) {
      pressure *= 1.0f + rate;
      Signals y{};
      y.value[in_ambient_pressure] = pressure;
      y.value[in_ambient_temperature] = temperature;
      if (!station) y.lost = bit_of(in_ambient_pressure) | bit_of(in_ambient_temperature);
      y.value[in_plenum_pressure] = plenum;
      y.value[in_plenum_temperature] = 310.0f;
      y.value[in_compressor_speed] = speed;
      y.value[in_compressor_temperature] = 300.0f;
      y.value[in_bearing_vibration] = 0.5f * (speed / 300.0f) * (speed / 300.0f) * (1.0f + 9.0f * 0.2f);
      Gas g{};
      g.molar_mass = 0.0425f;
      g.recycled = 0.1f;
      const float leak = p.compressor_leakage * plenum * plenum;
      const float volume = speed * p.compressor_displacement / 6.28318531f * p.compressor_swept * efficiency;
      const float heated = 1.0f + p.suction_heating * (300.0f / temperature - 1.0f);
      // the loss in the filter depends on the flow through it: three rounds settle it
      float lost = 0.0f, feed = 0.0f;
      for (int round = 0; round < 3; ++round) {
        const float swept = volume * density() / p.air_molar_mass * (1.0f - lost / pressure) / heated;
        feed = swept - leak;
        lost = loading * clean_difference(p, feed * (1.0f - g.recycled), pressure, temperature);
      }
      g.feed = feed;
      y.value[in_feed_flow] = feed * g.molar_mass;
      y.value[in_filter_differential_pressure] = lost;
      last = estimate_density(memory, p, y, g);
      worn = estimate_health(health, p, y, g, last);
    }
  }
};

}  // namespace

TEST_CASE("with the weather station the machine's efficiency comes out beside the density") {
  Path path;
  path.efficiency = 0.9f;
  path.run(20 * 3600);
  CHECK(path.last.value == Approx(path.density()).epsilon(1e-3));
  CHECK(path.last.efficiency == Approx(0.9).epsilon(5e-3));
  CHECK(path.last.sigma < 0.01f * path.density());
}

TEST_CASE("without the station the density still comes out, with the efficiency last known") {
  Path path;
  path.efficiency = 0.9f;
  path.run(20 * 3600);
  path.station = false;
  path.run(3600, 3e-5f);  // a tenth more pressure in an hour
  CHECK(path.last.value == Approx(path.density()).epsilon(0.01));
  CHECK(path.last.efficiency == Approx(0.9).epsilon(0.01));
  CHECK(path.last.rate == Approx(3e-5 * path.density()).epsilon(0.35));
  CHECK(std::abs(path.last.value - path.density()) < 3.0f * path.last.sigma);
}

TEST_CASE("without station and machine the density stands and its deviation grows") {
  Path path;
  path.run(600);
  const Density before = path.last;
  path.station = false;
  path.speed = 0.0f;
  path.run(1800);
  CHECK(path.last.value == Approx(before.value).epsilon(0.02));
  CHECK(path.last.sigma > 5.0f * before.sigma);
}

TEST_CASE("what is learnt of the machine survives a loss of power, the weather does not") {
  Path path;
  path.efficiency = 0.85f;
  path.run(20 * 3600);
  const DensityMemory kept = restore(path.memory);
  CHECK(kept.filter.x[2] == path.memory.filter.x[2]);
  CHECK(kept.filter.x[0] == kDensityStart[0]);
  CHECK(kept.filter.p[0][0] == kDensityDoubt[0]);
}

TEST_CASE("filter loading and bearing wear are read from difference and tone") {
  Path path;
  path.loading = 2.5f;
  path.run(6000);
  CHECK(path.worn.filter_loading == Approx(2.5).epsilon(0.03));
  CHECK(path.worn.bearing_wear == Approx(0.2).epsilon(1e-3));
  // 35 Pa at 5 cm/s through 0.02 m2 of mat at 700 Pa and 240 K: 0.351 mmol/s (Davies with slip, computed)
  CHECK(clean_difference(path.p, 3.508e-4f, 700.0f, 240.0f) == Approx(34.66).epsilon(0.01));
  // a tenfold tone is a worn-out bearing
  CHECK(wear_of_tone(path.p, 5.0f, 300.0f) == Approx(1.0));
}
