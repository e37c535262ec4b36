// Surge: stability and limit cycles; the guard against it: tests/unit/controller/surge_guard_test.cpp.
// Where a case says "computed", the number is that of an independent calculation from the published equations.
#include <array>
#include <catch2/catch.hpp>
#include <vector>

#include "plant-model/compressors/surge.hpp"

using namespace duskline::plant;

namespace {

constexpr double kMass = 0.0440095;

struct Cycle {
  double flow_min = 1e9, flow_max = -1e9, pressure_min = 1e9, pressure_max = -1e9, period = 0.0;
};

/// Extremes and period over the second half of a run; `rates(x)` of an array of any size, flow and pressure its first two.
template <std::size_t N, class F>
Cycle cycle_of(std::array<double, N> x, double end, double step, F rates) {
  Cycle c;
  std::vector<double> rises;
  const auto plus = [](const std::array<double, N>& a, const std::array<double, N>& b, double h) {
    std::array<double, N> r;
    for (std::size_t i = 0; i < N; ++i) r[i] = a[i] + h * b[i];
    return r;
  };
  for (double t = 0.0; t < end; t += step) {
    const auto k1 = rates(x), k2 = rates(plus(x, k1, 0.5 * step)), k3 = rates(plus(x, k2, 0.5 * step)),
               k4 = rates(plus(x, k3, step));
    const double before = x[0];
    for (std::size_t i = 0; i < N; ++i) x[i] += step / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]);
    if (t < 0.5 * end) continue;
    c.flow_min = std::min(c.flow_min, x[0]), c.flow_max = std::max(c.flow_max, x[0]);
    c.pressure_min = std::min(c.pressure_min, x[1]), c.pressure_max = std::max(c.pressure_max, x[1]);
    constexpr double kLevel = 0.39;  // of the flow, near the equilibrium
    if (before < kLevel && x[0] >= kLevel) rises.push_back(t + step * (kLevel - before) / (x[0] - before));
  }
  if (rises.size() > 1) c.period = (rises.back() - rises.front()) / static_cast<double>(rises.size() - 1);
  return c;
}

// Moore and Greitzer 1986, part II
double published_head(double flow) {
  return cubic_head(0.30, 0.18, 0.25, flow);
}
constexpr double kLength = 3.0;
Cycle two_state_cycle(double gamma, double b) {
  return cycle_of(std::array{0.5, 0.6}, 3000.0, 0.02, [&](const std::array<double, 2>& x) {
    const auto r = surge_rates(SurgeState<double>{x[0], x[1]}, published_head(x[0]), gamma, b, kLength);
    return std::array{r.flow, r.pressure};
  });
}

}  // namespace

TEST_CASE("The published characteristic and the numbers of surge") {
  CHECK(published_head(0.0) == Approx(0.30));
  CHECK(published_head(0.25) == Approx(0.48));
  CHECK(published_head(0.50) == Approx(0.66));
  CHECK(published_head(0.60) == Approx(0.61104).epsilon(1e-5));  // computed
  const SurgeDuct duct{.area = 0.002, .length = 1.0};
  CHECK(helmholtz_frequency(duct, 0.05, 243.0) == Approx(48.600).epsilon(1e-5));  // computed
  CHECK(greitzer_b(duct, 0.05, 243.0, 250.0) == Approx(2.57202).epsilon(1e-5));
}

TEST_CASE("Operating points are stable and unstable where they were computed to be") {
  struct Row {
    double gamma, flow, head, characteristic;
  };
  for (const Row& row : {Row{0.65, 0.526778, 0.656792, -0.24375}, Row{0.5, 0.392917, 0.617537, 0.727049}}) {
    CHECK(published_head(row.flow) == Approx(row.head).epsilon(1e-5));
    CHECK(row.gamma * std::sqrt(row.head) == Approx(row.flow).epsilon(1e-5));
    const Dual<1> head = cubic_head(0.30, 0.18, 0.25, Dual<1>(row.flow, 0));
    CHECK(head.slope[0] == Approx(row.characteristic).epsilon(1e-4));
  }
  const double throttle = 2.0 * 0.392917 / 0.25;
  CHECK(throttle == Approx(3.143340).epsilon(1e-5));
  CHECK(surge_stability(0.727049, throttle, 0.2).in_motion);
  CHECK(surge_stability(0.727049, throttle, 0.330).in_motion);  // critical: 0.33074
  CHECK_FALSE(surge_stability(0.727049, throttle, 0.331).in_motion);
  CHECK(surge_stability(0.727049, throttle, 0.5).stable);
  CHECK(surge_stability(-0.24375, 2.0 * 0.526778 / 0.4225, 100.0).in_motion);
}

TEST_CASE("Surge has the limit cycles that were computed") {
  struct Row {
    double b, flow_min, flow_max, pressure_min, pressure_max, period;
  };
  // gamma 0.5, l 3, from (0.5, 0.6): an independent integration with a tolerance of 1e-9
  for (const Row& row :
       {Row{0.5, -0.039, 0.683, 0.090, 0.821, 22.13}, Row{0.8, -0.164, 0.738, 0.123, 0.754, 37.46},
        Row{1.8, -0.232, 0.755, 0.224, 0.695, 116.95}}) {
    const Cycle c = two_state_cycle(0.5, row.b);
    INFO("B " << row.b);
    CHECK(c.flow_min == Approx(row.flow_min).margin(0.002));
    CHECK(c.flow_max == Approx(row.flow_max).margin(0.002));
    CHECK(c.pressure_min == Approx(row.pressure_min).margin(0.002));
    CHECK(c.pressure_max == Approx(row.pressure_max).margin(0.002));
    CHECK(c.period == Approx(row.period).epsilon(0.01));
  }
  const Cycle calm = two_state_cycle(0.5, 0.2);
  CHECK(calm.flow_max - calm.flow_min < 1e-6);
  CHECK(calm.flow_max == Approx(0.392917).epsilon(1e-5));
  CHECK(two_state_cycle(0.65, 1.8).flow_max == Approx(0.526778).epsilon(1e-5));
}

TEST_CASE("The form with a throttle of its own and a head that lags gives the same cycle where both vanish") {
  const double b = 0.8, gamma = 0.5;
  // Psi = 2 psi; a short throttle and a short lag (estimates: a fiftieth of the duct's time)
  const auto c = cycle_of(std::array{0.5, 1.2, 0.5, 1.2}, 300.0, 2e-4, [&](const std::array<double, 4>& x) {
    const double share = x[2] / gamma;
    const auto r = greitzer_rates(GreitzerState<double>{x[0], x[2], x[1], x[3]},
                                  2.0 * share * std::abs(share), 2.0 * published_head(x[0]), b, 0.005, 0.005);
    return std::array{r.flow, r.pressure, r.throttle_flow, r.head};
  });
  CHECK(c.period == Approx(37.46 / (2.0 * b * kLength)).epsilon(0.02));
  CHECK(c.flow_min == Approx(-0.164).margin(0.01));
  CHECK(c.pressure_max == Approx(2.0 * 0.754).margin(0.02));
}

TEST_CASE("The duct accelerates as Newton says") {
  // 2.5 mol (110 g) a second in a duct of 1 m and 20 cm2: a pressure of 1 kPa speeds it up by 45.4 mol/s2
  CHECK(duct_acceleration(SurgeDuct{.area = 0.002, .length = 1.0}, kMass, 71e3, 70e3) ==
        Approx(1000.0 * 0.002 / kMass).epsilon(1e-12));
}
