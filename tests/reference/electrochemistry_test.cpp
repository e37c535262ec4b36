// The local cell model against numbers that follow from published constants: Nernst voltages, carbon limits,
// Faraday's law and area-specific resistance.
//
// Tables marked "computed" were worked out by a separate script from the NASA polynomials (McBride, Gordon,
// Reno 1993) and the formula named; they share coefficients with the model but no code.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <string>

#include "plant-model/stack/limits.hpp"
#include "tests/support/verification.hpp"

using namespace duskline::plant;
using duskline::tests::Deviations;
using duskline::tests::verify;

namespace {

/// Aguiar-type electrodes, 150 um of scandia-ceria-zirconia, contact 0.05 ohm cm2, no diffusion.
CellParameters textbook_cell() {
  CellParameters c;
  c.area = 25e-4;
  c.electrolyte_thickness = 150e-6;
  c.conductivity = 12;
  c.conductivity_energy = 75e3;
  c.contact_resistance = 0.05e-4;
  c.cathode_exchange = 0.20e4;
  c.cathode_energy = 120e3;
  c.anode_exchange = 0.25e4;
  c.anode_energy = 137e3;
  c.diffusion_length = 1e-9;
  c.diffusivity = 1.1e-5;
  c.overpotential_share = 1;
  return c;
}

SegmentChemistry<double> chemistry_at(double T, double oxygen) {
  return segment_chemistry(textbook_cell(), T, std::log(oxygen), std::pow(oxygen, 0.2));
}

/// V at current density i (A/m2) for a CO share x of a CO-CO2 gas.
double voltage(double T, double x, double i, double pressure = 1, double oxygen = 1) {
  const auto s = chemistry_at(T, oxygen);
  return polarisation(s, s.resistance, i, x, 1 - x, pressure).voltage;
}

/// Volts to the onset of carbon without current.
double headroom(double T, double x, double pressure = 1) {
  const auto s = chemistry_at(T, 1);
  return coke_margin(carbon_activity(s.log_boudouard, x, 1 - x, pressure), 1.0, s.thermal_voltage, 1.0);
}

}  // namespace

TEST_CASE("Nernst voltages at 800 degC") {
  // computed: E0 + RT/2F ln(x/(1-x)), 1 bar O2
  verify({"Nernst voltage, 2-80 % CO, 1073.15 K", "computed from McBride et al. 1993", 0.1, "mV"},
         [](Deviations& d) {
           const std::array<std::array<double, 2>, 7> table{{{0.02, 800.6},
                                                             {0.05, 844.4},
                                                             {0.10, 878.9},
                                                             {0.30, 941.4},
                                                             {0.50, 980.5},
                                                             {0.70, 1019.7},
                                                             {0.80, 1044.6}}};
           for (const auto& [x, mv] : table) d.absolute(1e3 * voltage(1073.15, x, 0), mv);
         });
  // RT/4F ln pO2: air (0.21 bar) -36.1 mV, 0.01 bar -106.5 mV; analytic
  CHECK(1e3 * (voltage(1073.15, 0.5, 0, 1, 0.21) - voltage(1073.15, 0.5, 0)) == Approx(-36.1).margin(0.05));
  CHECK(1e3 * (voltage(1073.15, 0.5, 0, 1, 0.01) - voltage(1073.15, 0.5, 0)) == Approx(-106.5).margin(0.05));
  // total cathode pressure cancels at open circuit; analytic
  CHECK(voltage(1073.15, 0.3, 0, 0.5) == Approx(voltage(1073.15, 0.3, 0, 1)).margin(1e-12));
}

TEST_CASE("open-circuit voltages against air") {
  // computed: CO2/CO 70/30 and 50/50 versus air (0.21 bar O2) at 750, 800 and 850 degC
  struct Point {
    double celsius, x, mv;
  };
  constexpr std::array<Point, 6> points{{{750, 0.3, 931.3},
                                         {750, 0.5, 968.6},
                                         {800, 0.3, 905.3},
                                         {800, 0.5, 944.5},
                                         {850, 0.3, 879.3},
                                         {850, 0.5, 920.3}}};
  for (const auto& p : points)
    CHECK(1e3 * voltage(p.celsius + 273.15, p.x, 0, 1, 0.21) == Approx(p.mv).margin(0.2));
}

TEST_CASE("coke-onset voltage and headroom without current") {
  // computed: E_coke = E(CO/C) + RT/2F ln(1/pCO), headroom = -RT/2F ln(K_B pCO^2/pCO2), 1 bar
  struct Point {
    double T, x, onset, headroom;  // K, 1, mV, mV
  };
  constexpr std::array<Point, 18> points{{{1023.15, 0.1, 1150.0, 244},
                                          {1023.15, 0.3, 1101.6, 136},
                                          {1023.15, 0.5, 1079.1, 76},
                                          {1023.15, 0.6, 1071.0, 50},
                                          {1023.15, 0.7, 1064.2, 24},
                                          {1023.15, 0.8, 1058.3, -6},
                                          {1073.15, 0.1, 1177.8, 299},
                                          {1073.15, 0.3, 1127.0, 186},
                                          {1073.15, 0.5, 1103.4, 123},
                                          {1073.15, 0.6, 1094.9, 96},
                                          {1073.15, 0.7, 1087.8, 68},
                                          {1073.15, 0.8, 1081.6, 37},
                                          {1123.15, 0.1, 1205.5, 354},
                                          {1123.15, 0.3, 1152.3, 235},
                                          {1123.15, 0.5, 1127.6, 170},
                                          {1123.15, 0.6, 1118.8, 141},
                                          {1123.15, 0.7, 1111.3, 112},
                                          {1123.15, 0.8, 1104.8, 80}}};
  verify({"coke-onset voltage, 10-80 % CO, 750-850 degC", "computed from McBride et al. 1993", 0.1, "mV"},
         [&](Deviations& d) {
           for (const auto& p : points)
             d.absolute(1e3 * (voltage(p.T, p.x, 0) + headroom(p.T, p.x)), p.onset);
         });
  for (const auto& p : points) CHECK(1e3 * headroom(p.T, p.x) == Approx(p.headroom).margin(0.55));
}

TEST_CASE("CO share at which carbon forms, by temperature, pressure and overpotential") {
  // computed: K_B p x^2/(1-x) exp(2F eta/RT) = 1 (lambda = 1), and = 1/2 for the last column
  struct Line {
    double celsius;
    std::array<double, 4> by_pressure;       // 0.3, 0.5, 1, 2 bar, no overpotential
    std::array<double, 5> by_overpotential;  // 25, 50, 100, 150, 200 mV at 1 bar
    double half;                             // 1 bar, activity 1/2
  };
  constexpr std::array<Line, 6> table{
      {{600, {0.415, 0.341, 0.257, 0.189}, {0.192, 0.142, 0.076, 0.040, 0.021}, 0.189},
       {650, {0.628, 0.541, 0.427, 0.327}, {0.336, 0.259, 0.148, 0.082, 0.045}, 0.327},
       {700, {0.805, 0.732, 0.618, 0.500}, {0.516, 0.420, 0.261, 0.154, 0.088}, 0.500},
       {750, {0.911, 0.866, 0.782, 0.675}, {0.696, 0.600, 0.413, 0.262, 0.159}, 0.675},
       {800, {0.961, 0.938, 0.889, 0.814}, {0.833, 0.761, 0.584, 0.406, 0.263}, 0.814},
       {850, {0.983, 0.972, 0.946, 0.902}, {0.915, 0.872, 0.740, 0.568, 0.400}, 0.902}}};
  const auto limit = [](double T, double p, double eta, double activity) {
    const auto s = chemistry_at(T, 1);
    const double factor = std::exp(eta / s.thermal_voltage);
    double low = 1e-6, high = 1 - 1e-6;
    while (high - low > 1e-9) {
      const double x = 0.5 * (low + high);
      const double gas = carbon_activity(s.log_boudouard, x, 1 - x, p) / activity;
      (coke_margin(gas, factor, s.thermal_voltage, 1.0) > 0 ? low : high) = x;
    }
    return low;
  };
  verify({"CO share at carbon activity 1, 600-850 degC, 0.3-2 bar, 0-200 mV",
          "computed from McBride et al. 1993", 0.0015, ""},
         [&](Deviations& d) {
           for (const auto& line : table) {
             const double T = line.celsius + 273.15;
             const std::array<double, 4> p{0.3, 0.5, 1, 2};
             const std::array<double, 5> eta{0.025, 0.05, 0.1, 0.15, 0.2};
             for (std::size_t i = 0; i < p.size(); ++i)
               d.absolute(limit(T, p[i], 0, 1), line.by_pressure[i], std::to_string(line.celsius));
             for (std::size_t i = 0; i < eta.size(); ++i)
               d.absolute(limit(T, 1, eta[i], 1), line.by_overpotential[i], std::to_string(line.celsius));
             d.absolute(limit(T, 1, 0, 0.5), line.half, std::to_string(line.celsius));
           }
         });
}

TEST_CASE("the margin is the distance to onset for every share of the overpotential") {
  // by definition of the activity, a_C = a_gas exp(2F lambda eta/RT): raising eta by the margin gives a_C = 1
  const auto s = chemistry_at(1073.15, 0.5);
  const double gas = carbon_activity(s.log_boudouard, 0.45, 0.5, 0.6);
  for (const double share : {0.3, 0.5, 1.0})
    for (const double eta : {0.0, 0.05, 0.2}) {
      const double margin = coke_margin(gas, std::exp(eta / s.thermal_voltage), s.thermal_voltage, share);
      CHECK(std::log(gas) + 2 * share * (eta + margin) / s.thermal_voltage == Approx(0).margin(1e-12));
    }
}

TEST_CASE("Faraday's law") {
  // 2018 CODATA charge and IUPAC 2021 masses: 0.298480 g/(A h) for M(O2) = 31.9988; ours is 31.998 (abridged)
  verify({"oxygen per ampere hour and cell, 0.298480 g", "Faraday's law, CODATA 2018", 5e-5, ""},
         [](Deviations& d) { d.relative(kMolarMass[O2] / (4 * kFaraday) * 3600 * 1e3, 0.298480); });
  CHECK(1e3 / (kMolarMass[O2] / (4 * kFaraday) * 3600 * 1e3) == Approx(3350.31).epsilon(5e-5));  // A h/kg
  // CO2 consumed and CO made per ampere hour: 0.82103 and 0.52255 g, and the balance closes
  CHECK(kMolarMass[CO2] / (2 * kFaraday) * 3.6e6 == Approx(0.82103).epsilon(5e-5));
  CHECK(kMolarMass[CO] / (2 * kFaraday) * 3.6e6 == Approx(0.52255).epsilon(5e-5));
  CHECK(kMolarMass[CO2] == Approx(kMolarMass[CO] + 0.5 * kMolarMass[O2]).epsilon(1e-12));
}

TEST_CASE("energy of oxygen at the stack") {
  // kWh/kg: reversible minimum at 1000, 1073.15, 1100 K: 3.395, 3.285, 3.245;
  // isothermal: 4.907, 4.902, 4.900; computed from the reaction potentials with 3.35031 kWh/kg per volt
  verify({"reversible and thermoneutral energy of oxygen, 1000-1100 K, kWh/kg",
          "computed from McBride et al. 1993", 0.001, "kWh/kg"},
         [](Deviations& d) {
           const double per_volt = 4 * kFaraday / kMolarMass[O2] / 3.6e6;
           const std::array<std::array<double, 3>, 3> table{
               {{1000, 3.395, 4.907}, {1073.15, 3.285, 4.902}, {1100, 3.245, 4.900}}};
           for (const auto& [T, least, isothermal] : table) {
             d.absolute(equilibria(T).reversible_potential * per_volt, least);
             d.absolute(thermoneutral_voltage(T) * per_volt, isothermal);
           }
         });
}

TEST_CASE("polarisation of a textbook cell") {
  // computed with the same exchange currents by a separate script: E_N and V in V at 0.1, 0.2, 0.3, 0.5
  // A/cm2, CO:CO2 = 50:50 at 1 bar, 1 bar O2; split at 0.2 A/cm2 in mV: cathode, anode, ohmic
  struct Line {
    double celsius;
    std::array<double, 5> volts;
    double cathode, ohmic;  // mV at 0.2 A/cm2
  };
  constexpr std::array<Line, 3> table{{{750, {1.0030, 1.104, 1.193, 1.269, 1.393}, 76, 46},
                                       {800, {0.9805, 1.040, 1.097, 1.150, 1.248}, 45, 35},
                                       {850, {0.9581, 0.995, 1.032, 1.069, 1.138}, 26, 28}}};
  constexpr std::array<double, 5> density{0, 0.1e4, 0.2e4, 0.3e4, 0.5e4};
  verify({"cell voltage, 0-0.5 A/cm2, 750-850 degC",
          "computed from exchange currents of Aguiar et al. 2004 (from memory)", 2, "mV"},
         [&](Deviations& d) {
           for (const auto& line : table)
             for (std::size_t i = 0; i < density.size(); ++i)
               d.absolute(1e3 * voltage(line.celsius + 273.15, 0.5, density[i]), 1e3 * line.volts[i],
                          std::to_string(line.celsius) + " degC");
         });
  for (const auto& line : table) {
    const auto s = chemistry_at(line.celsius + 273.15, 1);
    const auto p = polarisation(s, s.resistance, 0.2e4, 0.5, 0.5, 1.0);
    CHECK(1e3 * s.thermal_voltage * std::log(p.cathode_factor) == Approx(line.cathode).margin(1));
    CHECK(1e3 * s.resistance * 0.2e4 == Approx(line.ohmic).margin(1));
  }
}

TEST_CASE("electrolyte conductivity lies within the published band") {
  // 10Sc1CeSZ at 800 degC: 8-14 S/m (Badwal et al., Solid State Ionics 136 (2000) 91, from memory); computed
  // from the default Arrhenius law at 700, 750, 850 degC: 5.6, 8.4, 16.7 S/m
  const auto sigma = [](double T) { return 150e-6 / (chemistry_at(T, 1).resistance - 0.05e-4); };
  CHECK(sigma(973.15) == Approx(5.6).margin(0.06));
  CHECK(sigma(1023.15) == Approx(8.4).margin(0.06));
  CHECK(sigma(1073.15) == Approx(12.0).margin(0.01));
  CHECK(sigma(1123.15) == Approx(16.7).margin(0.1));
}

TEST_CASE("diffusion to the reaction zone") {
  // Fick's law for equimolar counter-diffusion, analytic: limiting current 2F D p x/(R T L); 79 A/cm2 in pure
  // CO2 for L = 30 um, D = 0.11 cm2/s, 1 bar, 800 degC
  CellParameters c = textbook_cell();
  c.diffusion_length = 30e-6;
  const auto s = segment_chemistry(c, 1073.15, 0.0, 1.0);
  CHECK(1.0 / s.diffusion ==
        Approx(2 * kFaraday * 1.1e-5 * 1e5 / (kGasConstant * 1073.15 * 30e-6)).epsilon(1e-9));
  CHECK(1.0 / s.diffusion / 1e4 == Approx(79).margin(1));
  // Fuller: D p grows as T^1.75, so the loss of composition per current falls as T^-0.75
  const auto warmer = segment_chemistry(c, 1173.15, 0.0, 1.0);
  CHECK(warmer.diffusion / s.diffusion == Approx(std::pow(1173.15 / 1073.15, -0.75)).epsilon(1e-9));
}

TEST_CASE("slopes of the polarisation equal differences") {
  // analytic derivative against central differences
  const auto s = chemistry_at(1050, 0.48);
  const double u = 0.3, w = 0.6, p = 0.56;
  for (const double i : {-3000.0, -1.0, 0.0, 1.0, 1676.0, 8000.0}) {
    const auto at = polarisation(s, s.resistance, i, u, w, p);
    const double di = 1e-2, dx = 1e-6;
    const double by_current = (polarisation(s, s.resistance, i + di, u, w, p).voltage -
                               polarisation(s, s.resistance, i - di, u, w, p).voltage) /
                              (2 * di);
    const double by_conversion = (polarisation(s, s.resistance, i, u + dx, w - dx, p).voltage -
                                  polarisation(s, s.resistance, i, u - dx, w + dx, p).voltage) /
                                 (2 * dx);
    CHECK(at.by_current == Approx(by_current).epsilon(1e-7));
    CHECK(at.by_conversion == Approx(by_conversion).epsilon(1e-7));
  }
}

TEST_CASE("reversed current gives the mirrored overpotential") {
  // asinh is odd: V(i) + V(-i) = 2 V(0) at fixed composition
  const auto s = chemistry_at(1073.15, 0.48);
  const double rest = polarisation(s, s.resistance, 0.0, 0.3, 0.6, 0.56).voltage;
  for (const double i : {1e-3, 10.0, 2000.0, 1e5}) {
    const auto up = polarisation(s, s.resistance, i, 0.3, 0.6, 0.56);
    const auto down = polarisation(s, s.resistance, -i, 0.3, 0.6, 0.56);
    CHECK(up.voltage + down.voltage == Approx(2 * rest).margin(1e-12));
    CHECK(up.cathode_factor * down.cathode_factor == Approx(1).epsilon(1e-12));
  }
}
