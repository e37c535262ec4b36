#include "tests/support/thermometry.hpp"

#include <catch2/catch.hpp>

using namespace duskline::plant;

namespace {
constexpr double celsius(double t) {
  return t + kIcePoint;
}
}  // namespace

TEST_CASE("Thermocouple voltages are those of the ITS-90 tables") {
  struct Row {
    double t, k, n;  // degC, mV, mV
  };
  // NIST Monograph 175 / IEC 60584-1 tables, three decimals, reference junction at 0 degC.
  for (const Row& row :
       {Row{-100, -3.554, -2.407}, Row{-50, -1.889, -1.269}, Row{0, 0.0, 0.0}, Row{25, 1.000, 0.659},
        Row{100, 4.096, 2.774}, Row{200, 8.138, 5.913}, Row{300, 12.209, 9.341}, Row{400, 16.397, 12.974},
        Row{500, 20.644, 16.748}, Row{600, 24.905, 20.613}, Row{700, 29.129, 24.527},
        Row{800, 33.275, 28.455}, Row{850, 35.313, 30.416}, Row{1000, 41.276, 36.256}}) {
    CHECK(thermocouple_emf(Thermocouple::k, celsius(row.t)) ==
          Approx(1e-3 * row.k).margin(0.51e-6).epsilon(0));
    CHECK(thermocouple_emf(Thermocouple::n, celsius(row.t)) ==
          Approx(1e-3 * row.n).margin(0.51e-6).epsilon(0));
  }
}

TEST_CASE("The ITS-90 pieces meet at 0 degC") {
  // NIST Monograph 175: both pieces give 0 mV; the type K exponential cancels the constant to 1e-9 mV or so.
  for (const auto type : {Thermocouple::k, Thermocouple::n}) {
    CHECK(thermocouple_emf(type, celsius(0.0) + 1e-9) == Approx(0.0).margin(1e-12));
    CHECK(seebeck(type, celsius(-1e-6)) == Approx(seebeck(type, celsius(0.0))).epsilon(0.01));
  }
}

TEST_CASE("Seebeck coefficients are those of the tables") {
  // NIST Monograph 175: K 39.45 and 41.00, N 26.05 (mean of the two pieces at 0 degC: 25.93 above, 26.16
  // below) and 39.26 microvolt per kelvin.
  CHECK(seebeck(Thermocouple::k, celsius(0)) == Approx(39.45e-6).margin(0.006e-6));
  CHECK(seebeck(Thermocouple::k, celsius(800)) == Approx(41.00e-6).margin(0.006e-6));
  CHECK(seebeck(Thermocouple::n, celsius(800)) == Approx(39.26e-6).margin(0.006e-6));
  CHECK(seebeck(Thermocouple::n, celsius(0)) == Approx(26.05e-6).margin(0.13e-6));
}

TEST_CASE("The Seebeck coefficient is the slope of the voltage") {
  for (const auto type : {Thermocouple::k, Thermocouple::n})
    for (double t = -195.0; t < 1290.0; t += 7.3) {
      const double h = 1e-3;
      const double slope =
          (thermocouple_emf(type, celsius(t + h)) - thermocouple_emf(type, celsius(t - h))) / (2.0 * h);
      CHECK(seebeck(type, celsius(t)) == Approx(slope).epsilon(1e-6));
    }
}

TEST_CASE("A cold junction at 20 degC lowers the voltage as the tables say") {
  // 33.2754 mV at 800 degC less 0.7981 mV at 20 degC (computed from NIST Monograph 175).
  CHECK(thermocouple_emf(Thermocouple::k, celsius(800), celsius(20)) == Approx(32.4773e-3).margin(0.06e-6));
  CHECK(thermocouple_temperature(Thermocouple::k, 32.4773e-3, celsius(20)) ==
        Approx(celsius(800)).margin(0.002));
}

TEST_CASE("A cold junction that is 1 K off shifts the reading by the ratio of the Seebeck coefficients") {
  // Analytic: dT_hot / dT_cold = S(cold) / S(hot).
  const double emf = thermocouple_emf(Thermocouple::k, celsius(800), celsius(20));
  const double shift = thermocouple_temperature(Thermocouple::k, emf, celsius(21)) - celsius(800);
  CHECK(
      shift ==
      Approx(seebeck(Thermocouple::k, celsius(20.5)) / seebeck(Thermocouple::k, celsius(800))).epsilon(1e-3));
}

TEST_CASE("Temperatures come back from thermocouple voltages over the whole range") {
  for (const auto type : {Thermocouple::k, Thermocouple::n})
    for (double t = -199.9; t < thermometry::highest(type); t += 0.9)
      for (const double cold : {-60.0, 0.0, 45.0}) {
        const double emf = thermocouple_emf(type, celsius(t), celsius(cold));
        CHECK(thermocouple_temperature(type, emf, celsius(cold)) ==
              Approx(celsius(t)).margin(2e-9).epsilon(0));
      }
}

TEST_CASE("A voltage that no junction gives is not a temperature") {
  CHECK(std::isnan(thermocouple_temperature(Thermocouple::k, 0.060)));   // above 54.886 mV at 1372 degC
  CHECK(std::isnan(thermocouple_temperature(Thermocouple::n, 0.048)));   // above 47.513 mV at 1300 degC
  CHECK(std::isnan(thermocouple_temperature(Thermocouple::k, -0.007)));  // below -5.891 mV at -200 degC
  CHECK(std::isnan(platinum_temperature(18.0)));
  CHECK(std::isnan(platinum_temperature(391.0)));
  CHECK(std::isnan(platinum_temperature(std::numeric_limits<double>::quiet_NaN())));
}

TEST_CASE("PT100 resistances are those of IEC 60751") {
  struct Row {
    double t, ohm;
  };
  // IEC 60751 table (two decimals), continued here from its equation to four.
  for (const Row& row :
       {Row{-200, 18.5201}, Row{-100, 60.2558}, Row{-33.15, 86.9785}, Row{0, 100.0}, Row{25, 109.7347},
        Row{100, 138.5055}, Row{200, 175.8560}, Row{400, 247.0920}, Row{600, 313.7080}, Row{850, 390.4811}}) {
    CHECK(platinum_resistance(celsius(row.t)) == Approx(row.ohm).margin(0.51e-4).epsilon(0));
    if (row.t > -200 && row.t < 850)  // the rounded ends of the table lie a hair outside
      CHECK(platinum_temperature(row.ohm) == Approx(celsius(row.t)).margin(2e-4).epsilon(0));
  }
}

TEST_CASE("Temperatures come back from PT100 resistances over the whole range") {
  for (double t = -199.9; t < 850.0; t += 0.7)
    CHECK(platinum_temperature(platinum_resistance(celsius(t))) ==
          Approx(celsius(t)).margin(1e-9).epsilon(0));
}

TEST_CASE("Limits of error are those of the classes") {
  // IEC 60584-1 class 1: the greater of 1.5 K and 0.004 |t|; at 800 degC 3.2 K. IEC 60751 class A: 0.15 +
  // 0.002 |t|.
  CHECK(thermocouple_class_1(celsius(20)) == 1.5);
  CHECK(thermocouple_class_1(celsius(800)) == Approx(3.2));
  CHECK(platinum_class_a(celsius(0)) == Approx(0.15));
  CHECK(platinum_class_a(celsius(-60)) == Approx(0.27));
}

TEST_CASE("Converter steps in kelvin follow from the slope at the working point") {
  // 78.125 mV / 2^15 = 2.384 microvolt; over 41.00 microvolt/K: 0.0582 K. Twelve bits: 16 times that.
  CHECK(thermocouple_step(Thermocouple::k, celsius(800), 78.125e-3, 16) == Approx(0.05815).margin(1e-4));
  CHECK(thermocouple_step(Thermocouple::k, celsius(800), 78.125e-3, 12) == Approx(0.9304).margin(1e-3));
  // 400 ohm / 2^16 = 6.104 mohm; over 0.3907 ohm/K (A + 2 B t at 0 degC is 0.39083): 0.0156 K.
  CHECK(platinum_step(celsius(0), 400.0, 16) == Approx(0.01562).margin(1e-5));
}
