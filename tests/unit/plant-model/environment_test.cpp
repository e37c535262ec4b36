#include <algorithm>
#include <bit>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <numeric>
#include <vector>

#include "plant-model/environment/environment.hpp"

using namespace duskline::plant;

namespace {

EnvironmentSettings windy(std::uint64_t seed = 7) {
  EnvironmentSettings s;
  s.start_ls = 30.0 * kDegree;
  s.start_local_time = 0.0;
  s.seed = seed;
  s.synoptic = 0.0;
  return s;
}

EnvironmentSettings still() {
  EnvironmentSettings s = windy();
  s.turbulence = 0.0;
  return s;
}

bool same_bits(const Ambient& a, const Ambient& b) {
  return std::memcmp(&a, &b, sizeof(Ambient)) == 0;
}

constexpr std::int64_t tick_at_hour(double hour) {
  return static_cast<std::int64_t>(hour / 24.0 * kSolSeconds);
}

struct Moments {
  double mean = 0, sd = 0, kurtosis = 0;
};
Moments moments(const std::vector<double>& x) {
  Moments m;
  const auto n = static_cast<double>(x.size());
  for (const double v : x) m.mean += v / n;
  double fourth = 0;
  for (const double v : x) {
    m.sd += (v - m.mean) * (v - m.mean) / n;
    fourth += std::pow(v - m.mean, 4) / n;
  }
  m.kurtosis = fourth / (m.sd * m.sd);
  m.sd = std::sqrt(m.sd);
  return m;
}

double autocorrelation(const std::vector<double>& x, std::size_t lag) {
  double cross = 0, square = 0;
  for (std::size_t i = 0; i + lag < x.size(); ++i) cross += x[i] * x[i + lag], square += x[i] * x[i];
  return cross / square;
}

}  // namespace

TEST_CASE("The same seed gives the same bits, in any order of calls") {
  Environment forward(windy(), 1.0), again(windy(), 1.0), restarted(windy(), 1.0);
  std::vector<Ambient> seen;
  for (std::int64_t n = 40000; n < 52000; ++n) seen.push_back(forward.at(n));
  for (std::int64_t n = 0; n < 12000; n += 7) {
    CHECK(same_bits(again.at(40000 + n), seen[static_cast<std::size_t>(n)]));
  }
  for (std::int64_t n = 11999; n >= 0; n -= 613) {  // backwards, across blocks of turbulence
    CHECK(same_bits(restarted.at(40000 + n), seen[static_cast<std::size_t>(n)]));
  }
  Environment other(windy(8), 1.0);
  CHECK_FALSE(same_bits(other.at(40000), seen[0]));
}

TEST_CASE("Turbulence does not depend on the control period") {
  Environment slow(windy(), 1.0), fast(windy(), 0.25);
  for (std::int64_t n = 43000; n < 43200; ++n) {
    CHECK(fast.at(4 * n).temperature == Approx(slow.at(n).temperature).epsilon(1e-14));
    CHECK(fast.at(4 * n).pressure == Approx(slow.at(n).pressure).epsilon(1e-14));
  }
}

TEST_CASE("Streams are independent: events set by hand change nothing else") {
  EnvironmentSettings s = windy();
  Environment plain(s, 1.0);
  s.vortices = {{.time = 45000.0, .depth = 3.0, .width = 10.0, .warming = 2.0, .dust = 0.0}};
  s.gusts = {{.time = 50000.0, .speed = 20.0, .length = 30.0}};
  Environment disturbed(s, 1.0);
  for (std::int64_t n = 42000; n < 52000; n += 11) {
    if (std::abs(static_cast<double>(n) - 45000.0) < 400.0) continue;
    if (std::abs(static_cast<double>(n) - 50000.0) < 20.0) continue;
    CHECK(same_bits(plain.at(n), disturbed.at(n)));
  }
  CHECK(disturbed.at(45000).pressure - plain.at(45000).pressure ==
        Approx(-3.0).margin(1e-9));  // the given depth
  CHECK(disturbed.at(45000).temperature - plain.at(45000).temperature == Approx(2.0).margin(1e-9));
  // Half of the depth at half of the full width from the centre (definition), less a tail of 1/3601.
  CHECK(disturbed.at(45005).pressure - plain.at(45005).pressure == Approx(-1.5).margin(2e-3));
  CHECK(disturbed.at(50000).wind_speed - plain.at(50000).wind_speed == Approx(20.0).margin(1e-9));
  // Another seed of the sol-to-sol weather has its own streams: turbulence of a calm synoptic run is
  // unchanged.
  EnvironmentSettings weather = windy();
  weather.synoptic = 1.0;
  Environment with_weather(weather, 1.0);
  const double a = with_weather.at(43000).temperature - with_weather.mean_at(43000).temperature;
  const double b = plain.at(43000).temperature - plain.mean_at(43000).temperature;
  CHECK(a == Approx(b).margin(1e-3));
}

TEST_CASE("Interpolation between knots stays on the smooth climate") {
  Environment e(still(), 1.0);
  for (std::int64_t n = 0; n < 90000; n += 17) {
    const Ambient a = e.at(n), b = e.mean_at(static_cast<double>(n));
    CHECK(a.pressure == Approx(b.pressure).margin(1e-3));
    CHECK(a.temperature == Approx(b.temperature).margin(5e-3));
    CHECK(a.wind_speed == Approx(b.wind_speed).margin(2e-3));
    CHECK(a.ground_temperature == Approx(b.ground_temperature).margin(0.1));  // kink at sunrise
    CHECK(a.solar_elevation == Approx(b.solar_elevation).margin(1e-5));
    CHECK(a.local_time == Approx(b.local_time).margin(1e-9));
    CHECK(a.areocentric_longitude == Approx(b.areocentric_longitude).margin(1e-9));
    CHECK(std::accumulate(a.composition.begin(), a.composition.end(), 0.0) == Approx(1.0).margin(1e-15));
  }
}

TEST_CASE("The random processes have the statistics they claim") {
  // Unit variance and e-folding times of 20 s and 300 s (their definition); 400 h of samples. Sampling error
  // of the variance: sqrt(2 tau/T) = 0.5 % (20 s) and 2 % (300 s).
  Turbulence turbulence(3);
  std::vector<double> fast, slow, tails, pressure;
  for (int i = 0; i < 400 * 3600; ++i) {
    const Turbulence::Sample s = turbulence.at(i);
    tails.push_back(s.temperature_fast);
    pressure.push_back(s.pressure_fast);
    fast.push_back(s.wind_fast);
    slow.push_back(s.wind_slow);
  }
  CHECK(moments(fast).sd == Approx(1.0).margin(0.02));
  CHECK(moments(fast).kurtosis == Approx(3.0).margin(0.1));  // normal distribution
  CHECK(autocorrelation(fast, 20) == Approx(std::exp(-1.0)).margin(0.02));
  CHECK(moments(slow).sd == Approx(1.0).margin(0.06));
  CHECK(autocorrelation(slow, 300) == Approx(std::exp(-1.0)).margin(0.04));
  CHECK(moments(tails).sd == Approx(1.0).margin(0.03));
  CHECK(moments(tails).kurtosis == Approx(5.9).margin(0.5));  // analytic for x + 0.085 x^3; Laplace: 6
  double cross = 0;
  for (std::size_t i = 0; i < fast.size(); ++i)
    cross += fast[i] * pressure[i] / static_cast<double>(fast.size());
  CHECK(std::abs(cross) < 0.03);
  // Nothing happens at the joint of two blocks: steps there are as small as elsewhere.
  double step = 0, joint = 0;
  for (std::size_t i = 1; i < fast.size(); ++i) {
    const double d = fast[i] - fast[i - 1];
    (i % 3600 == 0 ? joint : step) += d * d;
  }
  CHECK(std::sqrt(joint / 399) == Approx(std::sqrt(step / (400 * 3599))).epsilon(0.15));
}

TEST_CASE("Air temperature is rough by day and smooth by night") {
  Environment e(windy(), 1.0);
  const auto spread = [&](double hour) {  // standard deviation within 10 minutes, mean of 12 windows
    double sum = 0;
    for (int w = 0; w < 12; ++w) {
      std::vector<double> x;
      for (std::int64_t i = 0; i < 600; ++i) {
        const std::int64_t n = tick_at_hour(hour) + 600 * w + i;
        x.push_back(e.at(n).temperature - e.mean_at(static_cast<double>(n)).temperature);
      }
      sum += moments(x).sd / 12;
    }
    return sum;
  };
  const double noon = spread(12.0), night = spread(1.0);
  CHECK(noon >
        1.3);  // measured at 18 N, 14 h: 1.3-4.3 K in 10 min windows; typical 2.5 K at noon (Munguira 2023)
  CHECK(noon < 4.3);
  CHECK(night > 0.1);  // from memory: 0.1-0.5 K
  CHECK(night < 0.5);
}

TEST_CASE("Vortices come as often and as deep as seen") {
  Environment e(windy(), 1.0);
  const std::vector<VortexEvent> all = e.vortices_between(0.0, 500 * kSolSeconds);
  const double per_sol = static_cast<double>(all.size()) / 500.0;
  CHECK(per_sol == Approx(4.9).margin(0.6));  // Hueso et al. 2023: 4.9 a sol deeper than 0.5 Pa
  double deeper = 0, hours = 0;
  for (const VortexEvent& v : all) {
    CHECK(v.depth >= 0.5);
    CHECK(v.depth <= 9.0);  // same: the deepest was 9.0 Pa
    const double hour = 24.0 * e.mean_at(v.time).local_time;
    CHECK(hour > 6.9);
    CHECK(hour < 17.1);
    hours += hour / static_cast<double>(all.size());
    deeper += v.depth > 1.0 ? 1.0 : 0.0;
  }
  CHECK(hours == Approx(12.0).margin(0.2));  // peak at noon
  // Cumulative exponent -2: a quarter is deeper than twice the threshold, less the part beyond 9 Pa.
  CHECK(deeper / static_cast<double>(all.size()) == Approx(0.25).margin(0.03));
  // One of them, seen from the air.
  const auto deep = std::max_element(
      all.begin(), all.end(), [](const VortexEvent& a, const VortexEvent& b) { return a.depth < b.depth; });
  const auto n = static_cast<std::int64_t>(std::round(deep->time));
  CHECK(e.mean_at(deep->time).pressure - e.at(n).pressure > 0.8 * deep->depth - 0.4);
  CHECK(Environment(still(), 1.0).vortices_between(0.0, 10 * kSolSeconds).empty());
}

TEST_CASE("Swirl of the deepest vortex") {
  // Hueso et al. 2023: 9.0 Pa with winds of 25 m/s; cyclostrophic balance at 0.0165 kg/m3 gives 23 m/s.
  const VortexEvent v{.time = 0, .depth = 9.0, .width = 10.0, .warming = 5.0, .dust = 7e-5};
  CHECK(vortex_at(v, 5.0, 0.0165).wind_speed == Approx(23.4).margin(1.0));
  CHECK(vortex_at(v, 0.0, 0.0165).wind_speed == Approx(0.0).margin(1e-9));
  CHECK(vortex_at(v, 301.0, 0.0165).pressure == 0.0);
  CHECK(std::abs(vortex_at(v, 299.9, 0.0165).pressure) < 1e-4);
}

TEST_CASE("Weather differs from sol to sol by the measured scatter") {
  EnvironmentSettings s = still();
  s.synoptic = 1.0;
  const Climate with(s), without(still());
  const auto scatter = [&](double hour) {
    std::vector<double> x;
    for (int sol = 0; sol < 600; ++sol) {
      const double t = with.time_at(sol + hour / 24.0);
      x.push_back(with.at(t).ambient.temperature - without.at(t).ambient.temperature);
    }
    return moments(x).sd;
  };
  CHECK(scatter(13.0) == Approx(5.4).epsilon(0.1));  // K, same lander record as the composites
  CHECK(scatter(5.0) == Approx(1.1).epsilon(0.1));
  double largest = 0;
  for (int i = 0; i < 2000; ++i) {
    const double t = i * 0.1 * kSolSeconds;
    largest = std::max(largest, std::abs(with.at(t).ambient.pressure - without.at(t).ambient.pressure));
  }
  CHECK(largest == Approx(2.7).margin(0.4));  // Pa: up to 4 seen near the equator (Forget 2021)
}
