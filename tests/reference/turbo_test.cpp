// Turbo compressors: stage, centrifugal train, axial group.
// Where a case says "computed", the number is that of an independent calculation from the published equations.
#include <catch2/catch.hpp>
#include <vector>

#include "plant-model/compressors/axial.hpp"
#include "plant-model/compressors/centrifugal.hpp"
#include "plant-model/compressors/surge.hpp"

using namespace duskline::plant;

namespace {

constexpr double kMass = 0.0440095, kExponent = 1.3;
constexpr double kPerKilogram = 1e-3 / kMass;  // J/mol to kJ/kg
constexpr double kTwoPi = 6.28318530717958647693;
constexpr StageGas kGas{kMass, kExponent, 1.2177e-5};  // viscosity at 240 K

/// psi 0.52 at the peak, 0.50 at the design flow of 0.08, surge at 0.06 (common practice, ours).
TurboStage usual_stage() {
  TurboStage s;
  s.surge_flow = 0.06;
  s.design_flow = 0.08;
  // at phi/W - 1 = 5/3 the cubic is 1 + 5/2 - 125/54 = 64/54 of H
  s.head_height = 0.02 / (2.0 - 64.0 / 54.0);
  s.shutoff_head = 0.52 - 2.0 * s.head_height;
  s.throat = 0.2;
  s.efficiency = 0.80;
  s.efficiency_fall = 0.5;
  return s;
}

}  // namespace

TEST_CASE("A polytropic compression loses what it does in the published relation") {
  const auto isentropic_share = [](double ratio) {
    return polytropic_compression(kExponent, 240.0, ratio, 1.0).work /
           polytropic_compression(kExponent, 240.0, ratio, 0.65).work;
  };
  CHECK(isentropic_share(100.0) == Approx(0.45874).epsilon(1e-4));  // computed
  CHECK(isentropic_share(3.0) == Approx(0.60489).epsilon(1e-4));
  // from 240 K over 100, without losses: 372.19 kJ/kg, 694.62 K, computed
  const auto ideal = polytropic_compression(kExponent, 240.0, 100.0, 1.0);
  CHECK(ideal.work * kPerKilogram == Approx(372.19).epsilon(1e-4));
  CHECK(ideal.temperature == Approx(694.62).epsilon(1e-4));
}

TEST_CASE("Coolers between equal stages save the work that was computed") {
  // ratio 100 from 240 K, later inlets at 300 K, polytropic 0.65: work, kJ/kg, and last temperature, K
  struct Row {
    int stages;
    double work, temperature;
  };
  for (const Row& row :
       {Row{1, 811.33, 1231.0}, Row{2, 559.15, 679.4}, Row{4, 471.24, 451.5}, Row{8, 434.39, 368.0}}) {
    const double ratio = std::pow(100.0, 1.0 / row.stages);
    double work = 0.0, last = 0.0;
    for (int i = 0; i < row.stages; ++i) {
      const auto one = polytropic_compression(kExponent, i == 0 ? 240.0 : 300.0, ratio, 0.65);
      work += one.work * kPerKilogram;
      last = one.temperature;
    }
    CHECK(work == Approx(row.work).epsilon(1e-4));
    CHECK(last == Approx(row.temperature).epsilon(5e-4));
  }
}

TEST_CASE("A centrifugal stage has the size, speed, Mach and Reynolds numbers that were computed") {
  // 0.29696 m3/s at 700 Pa and 240 K, 250 m/s, phi 0.08
  const double diameter = impeller_diameter(0.29696, 250.0, 0.08);
  CHECK(diameter == Approx(0.12185).epsilon(1e-4));
  const double speed = 250.0 / (0.5 * diameter);
  CHECK(speed * 60.0 / kTwoPi == Approx(39184.0).epsilon(1e-4));
  const double flow = 0.29696 * 700.0 / (kGasConstant * 240.0);
  const auto one = turbo_stage(impeller(usual_stage(), diameter), kGas, flow, 700.0, 240.0, speed);
  CHECK(one.flow == Approx(0.08).epsilon(1e-6));
  CHECK(one.mach == Approx(1.0297).epsilon(1e-4));
  CHECK(one.reynolds == Approx(3.862e4).epsilon(1e-3));
  CHECK(one.efficiency == Approx(0.6634).epsilon(1e-3));
  CHECK(one.head == Approx(0.50).epsilon(1e-3));
  CHECK(one.pressure_ratio == Approx(1.896).epsilon(1e-3));  // 31.25 kJ/kg
  CHECK(one.surge_margin == Approx(1.0 / 3.0).epsilon(1e-6));
}

TEST_CASE("Choke is the critical flow of the throat") {
  // published values of the critical flow function
  CHECK(critical_flow(1.2) == Approx(0.648531).epsilon(1e-6));
  CHECK(critical_flow(1.3) == Approx(0.667262).epsilon(1e-6));
  CHECK(critical_flow(1.4) == Approx(0.684731).epsilon(1e-6));
  const double diameter = 0.12, speed = 4000.0, p = 700.0, T = 240.0;
  const TurboStage s = impeller(usual_stage(), diameter);
  const double mach = speed * s.radius / std::sqrt(kExponent * kGasConstant * T / kMass);
  const double choked = choke_flow(s, kExponent, mach) * speed * s.radius * s.flow_area;  // m3/s
  const double mass = choked * p * kMass / (kGasConstant * T);
  CHECK(mass ==
        Approx(s.throat * s.flow_area * p * critical_flow(kExponent) / std::sqrt(kGasConstant * T / kMass)));
  // beyond it the head falls away
  const auto at = [&](double times) { return turbo_stage(s, kGas, times * mass / kMass, p, T, speed); };
  CHECK(at(1.0).choke_margin == Approx(0.0).margin(1e-12));
  CHECK(at(1.1).head < at(1.0).head - 1.0);
}

namespace {

CentrifugalDesign usual_design() {
  return {.gas = kGas,
          .between = {.coolant = 300.0, .cooling = 1.0, .pressure = 0.0},
          .like = usual_stage(),
          .flow = 4.5846e-3 / kMass,
          .pressure = 700.0,
          .temperature = 240.0,
          .blade_speed = 250.0};
}

}  // namespace

TEST_CASE("Nine geared stages of 250 m/s with coolers reach a hundredfold pressure with about 2 kW") {
  const CentrifugalDesign d = usual_design();
  std::vector<TurboStage> stages(9);
  const double speed = size_train(d, stages);
  CHECK(speed * 60.0 / kTwoPi == Approx(39184.0).epsilon(1e-3));  // computed for the first stage
  const auto train = turbo_train<double>(stages, d.gas, d.between, d.flow, d.pressure, d.temperature, speed);
  CHECK(train.pressure > 70e3);
  // eight equal stages at a polytropic efficiency of 0.65: 1.99 kW, computed; these are at 0.66 to 0.75
  CHECK(train.work * d.flow == Approx(1990.0).epsilon(0.1));
  CHECK(train.surge_margin == Approx(1.0 / 3.0).epsilon(1e-9));  // all at their design flow
  // heat to the coolant and heat of the gas account for the work
  const double cp = kExponent / (kExponent - 1.0) * kGasConstant;
  CHECK(train.work == Approx(train.rejected + cp * (train.temperature - d.temperature)).epsilon(1e-12));
}

TEST_CASE("On one shaft later impellers are slower, and the train reaches far less") {
  CentrifugalDesign d = usual_design();
  d.geared = false;
  std::vector<TurboStage> stages(9);
  const double speed = size_train(d, stages);
  const auto train = turbo_train<double>(stages, d.gas, d.between, d.flow, d.pressure, d.temperature, speed);
  for (std::size_t i = 1; i < stages.size(); ++i) CHECK(stages[i].radius < stages[i - 1].radius);
  CHECK(train.surge_margin == Approx(1.0 / 3.0).epsilon(1e-9));
  CHECK(train.pressure < 20e3);
}

TEST_CASE("A train stays finite from reverse flow to far beyond choke, and its derivatives are exact") {
  const CentrifugalDesign d = usual_design();
  std::vector<TurboStage> stages(9);
  const double speed = size_train(d, stages);
  double before = 1e9;
  for (int percent = -20; percent < 300; percent += 5) {
    for (const double turning : {0.2, 1.0, 1.1}) {
      const auto at = turbo_train<double>(stages, d.gas, d.between, 0.01 * percent * d.flow, d.pressure,
                                          d.temperature, turning * speed);
      CHECK(std::isfinite(at.pressure));
      CHECK(std::isfinite(at.work));
      if (turning != 1.0 || percent < 100) continue;
      CHECK(at.pressure <= before);  // falls from the design flow on
      CHECK(at.work > 0.0);
      before = at.pressure;
    }
  }
  using D = Dual<3>;
  const auto dual =
      turbo_train<D>(stages, d.gas, d.between, D(d.flow, 0), D(d.pressure, 1), D(d.temperature), D(speed, 2));
  const double values[]{d.flow, d.pressure, speed};
  for (std::size_t i = 0; i < 3; ++i) {
    double up[3], down[3];
    std::copy_n(values, 3, up), std::copy_n(values, 3, down);
    up[i] *= 1.0 + 1e-6, down[i] *= 1.0 - 1e-6;
    const auto at = [&](const double* v) {
      return turbo_train<double>(stages, d.gas, d.between, v[0], v[1], d.temperature, v[2]);
    };
    CHECK(dual.pressure.slope[i] ==
          Approx((at(up).pressure - at(down).pressure) / (2e-6 * values[i])).epsilon(1e-5));
    CHECK(dual.work.slope[i] == Approx((at(up).work - at(down).work) / (2e-6 * values[i])).epsilon(1e-5));
  }
}

TEST_CASE("At low speed the front of an axial group stalls first, at high speed its rear") {
  AxialDesign d{
      .gas = kGas, .like = {}, .flow = 0.104, .pressure = 700.0, .temperature = 240.0, .speed = 2000.0};
  d.like = {.radius = 0.1,
            .shutoff_head = 0.15,
            .head_height = 0.09,
            .surge_flow = 0.40,
            .throat = 3.0,
            .design_flow = 0.5,
            .efficiency = 0.85,
            .efficiency_fall = 1.0};
  std::vector<TurboStage> stages(6);
  size_group(d, stages);
  for (std::size_t i = 1; i < stages.size(); ++i) CHECK(stages[i].flow_area < stages[i - 1].flow_area);
  const auto margins =
      [&](double share) {  // of first and last stage, at the same flow coefficient of the first
        double p = d.pressure, T = d.temperature, first = 0.0, last = 0.0;
        for (const TurboStage& s : stages) {
          const auto one = turbo_stage(s, d.gas, share * d.flow, p, T, share * d.speed);
          if (&s == &stages.front()) first = one.surge_margin;
          last = one.surge_margin;
          p *= one.pressure_ratio, T = one.temperature;
        }
        return std::pair{first, last};
      };
  const auto design = margins(1.0), low = margins(0.7), high = margins(1.1);
  CHECK(design.first == Approx(design.second).epsilon(1e-9));
  CHECK(low.first < low.second);
  CHECK(high.first > high.second);
}

TEST_CASE("The gas in a duct settles as fast far beyond choke as close to where it rests") {
  // expected: the logarithm of the pressure falls by `steep` with each mol/s, so Newton's step in it leads to rest
  constexpr double kSettling = 0.05, steep = 8e3, behind = 65e3, of_duct = 2e-3 / (10 * 0.0433);
  for (const double away : {-2e-5, -1e-6, 1e-6, 1e-5, 1e-4, 1e-3}) {
    INFO("by " << away << " mol/s");
    const double ahead = behind * std::exp(-steep * away);
    const double rate = settled_acceleration(of_duct * (ahead - behind), -of_duct * steep * ahead,
                                             logarithmic_share(ahead, behind));
    CHECK(rate == Approx(-away / kSettling).epsilon(0.01));
  }
  CHECK(logarithmic_share(1.0, 1.0) == 1.0);
  CHECK(logarithmic_share(std::exp(1.0), 1.0) == Approx(1.0 - std::exp(-1.0)));
  // the series and the closed form meet
  CHECK(logarithmic_share(1.00999, 1.0) == Approx(logarithmic_share(1.01006, 1.0)).epsilon(1e-4));
}
