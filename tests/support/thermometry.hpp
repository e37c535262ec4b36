/// What thermocouples (types K and N) and platinum thermometers (PT100) give for a temperature, and back.
/// emf: E = sum c_i t^i + a0 exp(a1 (t - a2)^2) (K above 0 degC only); R = R0 (1 + A t + B t^2 + C (t - 100)
/// t^3). Arguments: temperatures K, emf V, resistance ohm; inside t is in degC and E in mV, as in the
/// standards. Valid: K -200 to 1372, N -200 to 1300, PT100 -200 to 850 degC; outside, the inverses give not a
/// number. Source: ITS-90 reference functions, NIST Monograph 175 = IEC 60584-1; IEC 60751 (Callendar-Van
/// Dusen). Left out: inhomogeneity and decalibration of the wires, lead resistance, self-heating.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <limits>

#include "plant-model/random/noise.hpp"

namespace duskline::plant {

inline constexpr double kIcePoint = 273.15;  ///< K, 0 degC

enum class Thermocouple { k, n };

namespace thermometry {

inline constexpr std::array<double, 10> kTypeKAbove{
    -0.176004136860e-1,  0.389212049750e-1,  0.185587700320e-4,   -0.994575928740e-7, 0.318409457190e-9,
    -0.560728448890e-12, 0.560750590590e-15, -0.320207200030e-18, 0.971511471520e-22, -0.121047212750e-25};
inline constexpr double kTypeKBell[3] = {0.118597600000, -0.118343200000e-3, 0.126968600000e3};
inline constexpr std::array<double, 11> kTypeKBelow{0.0,
                                                    0.394501280250e-1,
                                                    0.236223735980e-4,
                                                    -0.328589067840e-6,
                                                    -0.499048287770e-8,
                                                    -0.675090591730e-10,
                                                    -0.574103274280e-12,
                                                    -0.310888728940e-14,
                                                    -0.104516093650e-16,
                                                    -0.198892668780e-19,
                                                    -0.163226974860e-22};
inline constexpr std::array<double, 11> kTypeNAbove{0.0,
                                                    0.259293946010e-1,
                                                    0.157101418800e-4,
                                                    0.438256272370e-7,
                                                    -0.252611697940e-9,
                                                    0.643118193390e-12,
                                                    -0.100634715190e-14,
                                                    0.997453389920e-18,
                                                    -0.608632456070e-21,
                                                    0.208492293390e-24,
                                                    -0.306821961510e-28};
inline constexpr std::array<double, 9> kTypeNBelow{0.0,
                                                   0.261591059620e-1,
                                                   0.109574842280e-4,
                                                   -0.938411115540e-7,
                                                   -0.464120397590e-10,
                                                   -0.263033577160e-11,
                                                   -0.226534380030e-13,
                                                   -0.760893007910e-16,
                                                   -0.934196678350e-19};

/// Derivative of a polynomial with respect to its argument.
template <std::size_t N>
constexpr double slope(const std::array<double, N>& c, double x) {
  double sum = 0.0;
  for (std::size_t i = N - 1; i > 0; --i) sum = sum * x + static_cast<double>(i) * c[i];
  return sum;
}

/// emf in mV and its derivative in mV/K at t in degC.
struct Emf {
  double value, slope;
};

inline Emf emf(Thermocouple type, double t) {
  if (type == Thermocouple::n)
    return t >= 0.0 ? Emf{polynomial(kTypeNAbove, t), slope(kTypeNAbove, t)}
                    : Emf{polynomial(kTypeNBelow, t), slope(kTypeNBelow, t)};
  if (t < 0.0) return {polynomial(kTypeKBelow, t), slope(kTypeKBelow, t)};
  const double x = t - kTypeKBell[2];
  const double bell = kTypeKBell[0] * std::exp(kTypeKBell[1] * x * x);
  return {polynomial(kTypeKAbove, t) + bell, slope(kTypeKAbove, t) + 2.0 * kTypeKBell[1] * x * bell};
}

inline constexpr double kLowest = -200.0;  ///< degC, of all three kinds
inline constexpr double highest(Thermocouple type) {
  return type == Thermocouple::k ? 1372.0 : 1300.0;
}

inline constexpr double kPt100 = 100.0;  ///< ohm at 0 degC
inline constexpr double kA = 3.9083e-3, kB = -5.775e-7, kC = -4.183e-12;
inline constexpr double kPlatinumHighest = 850.0;  ///< degC

/// Resistance in ohm at t in degC.
constexpr double resistance(double t) {
  const double cold = t < 0.0 ? kC * (t - 100.0) * t * t * t : 0.0;
  return kPt100 * (1.0 + t * (kA + t * kB) + cold);
}

}  // namespace thermometry

/// emf of a thermocouple with its junctions at these temperatures (K), V.
inline double thermocouple_emf(Thermocouple type, double hot, double cold = kIcePoint) {
  return 1e-3 *
         (thermometry::emf(type, hot - kIcePoint).value - thermometry::emf(type, cold - kIcePoint).value);
}

/// Change of emf with the temperature of the hot junction, V/K.
inline double seebeck(Thermocouple type, double hot) {
  return 1e-3 * thermometry::emf(type, hot - kIcePoint).slope;
}

/// Temperature of the hot junction from the emf and the temperature of the cold junction, K.
inline double thermocouple_temperature(Thermocouple type, double emf, double cold = kIcePoint) {
  const double e = 1e3 * emf + thermometry::emf(type, cold - kIcePoint).value;
  const double lowest = thermometry::kLowest, highest = thermometry::highest(type);
  if (!(e >= thermometry::emf(type, lowest).value && e <= thermometry::emf(type, highest).value))
    return std::numeric_limits<double>::quiet_NaN();
  // Newton's method on a curve that only rises; eight steps are ample anywhere in the range.
  double t = 0.0;
  for (int step = 0; step < 8; ++step) {
    const thermometry::Emf at = thermometry::emf(type, t);
    t = std::fmin(std::fmax(t + (e - at.value) / at.slope, lowest), highest);
  }
  return t + kIcePoint;
}

/// Resistance of a PT100 at a temperature (K), ohm.
constexpr double platinum_resistance(double temperature) {
  return thermometry::resistance(temperature - kIcePoint);
}

/// Temperature of a PT100 from its resistance (ohm), K.
inline double platinum_temperature(double resistance) {
  using namespace thermometry;
  if (!(resistance >= thermometry::resistance(kLowest) &&
        resistance <= thermometry::resistance(kPlatinumHighest)))
    return std::numeric_limits<double>::quiet_NaN();
  const double ratio = resistance / kPt100;
  double t = (-kA + std::sqrt(kA * kA - 4.0 * kB * (1.0 - ratio))) / (2.0 * kB);
  if (ratio < 1.0)
    for (int step = 0; step < 5; ++step) {
      const double rate = kPt100 * (kA + 2.0 * kB * t + kC * t * t * (4.0 * t - 300.0));
      t += (resistance - thermometry::resistance(t)) / rate;
    }
  return t + kIcePoint;
}

/// Limits of error, K, at a temperature in K.
/// IEC 60584-1 class 1 for types K and N, -40 to 1000 degC.
constexpr double thermocouple_class_1(double temperature) {
  const double t = temperature - kIcePoint;
  const double share = 0.004 * (t < 0.0 ? -t : t);
  return share > 1.5 ? share : 1.5;
}

/// IEC 60751 class A, for elements of wound wire -100 to 450 degC.
constexpr double platinum_class_a(double temperature) {
  const double t = temperature - kIcePoint;
  return 0.15 + 0.002 * (t < 0.0 ? -t : t);
}

/// Step in K of a converter with this many bits over -span..span (V) behind a thermocouple.
inline double thermocouple_step(Thermocouple type, double temperature, double span, int bits) {
  return std::ldexp(span, 1 - bits) / seebeck(type, temperature);
}

/// Step in K of a converter with this many bits over 0..span (ohm) behind a PT100.
inline double platinum_step(double temperature, double span, int bits) {
  const double rate = platinum_resistance(temperature + 0.5) - platinum_resistance(temperature - 0.5);
  return std::ldexp(span, -bits) / rate;
}

}  // namespace duskline::plant
