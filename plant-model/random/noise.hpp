/// Random numbers that are a pure function of (seed, stream name, tick).
/// Philox 4x32-10 with key = seed and counter = (floor(t / 4), hash of the name) gives four 32-bit words.
/// Tick t takes word w number t mod 4; u = (w + 1/2) / 2^32 in (0, 1); z = the standard normal quantile of u.
/// Valid for every tick; |z| < 6.4. Only + - * / and sqrt are used, so that every machine gives the same
/// bits. Source: Salmon et al., SC'11; Wichura, Appl. Statist. 37 (1988) 477; Fowler-Noll-Vo hash FNV-1a.
/// Left out: correlated streams, other distributions.
#pragma once

#include <array>
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <string_view>

namespace duskline::plant {

using PhiloxCounter = std::array<std::uint32_t, 4>;
using PhiloxKey = std::array<std::uint32_t, 2>;

/// Philox 4x32-10: four random words from a counter and a key.
constexpr PhiloxCounter philox(PhiloxCounter c, PhiloxKey k) {
  for (int round = 0; round < 10; ++round) {
    const std::uint64_t p0 = std::uint64_t{0xD2511F53U} * c[0];
    const std::uint64_t p1 = std::uint64_t{0xCD9E8D57U} * c[2];
    c = {static_cast<std::uint32_t>(p1 >> 32U) ^ c[1] ^ k[0], static_cast<std::uint32_t>(p1),
         static_cast<std::uint32_t>(p0 >> 32U) ^ c[3] ^ k[1], static_cast<std::uint32_t>(p0)};
    k = {k[0] + 0x9E3779B9U, k[1] + 0xBB67AE85U};
  }
  return c;
}

/// 64-bit hash of a stream name: FNV-1a, then two multiply-and-shift rounds so that near names differ widely.
constexpr std::uint64_t stream_hash(std::string_view name) {
  std::uint64_t h = 0xCBF29CE484222325U;
  for (const char letter : name) h = (h ^ static_cast<unsigned char>(letter)) * 0x100000001B3U;
  h = (h ^ (h >> 32U)) * 0x9E3779B97F4A7C15U;
  h = (h ^ (h >> 29U)) * 0xBF58476D1CE4E5B9U;
  return h ^ (h >> 32U);
}

/// c[0] + c[1] x + c[2] x^2 + ...
template <std::size_t N>
constexpr double polynomial(const std::array<double, N>& c, double x) {
  double sum = c[N - 1];
  for (std::size_t i = N - 1; i-- > 0;) sum = sum * x + c[i];
  return sum;
}

/// ln(x) of a normal positive number, to 2 units in the last place, by the series of 2 artanh((m-1)/(m+1)).
constexpr double portable_log(double x) {
  constexpr std::array<double, 10> kArtanh{2.0,        2.0 / 3.0,  2.0 / 5.0,  2.0 / 7.0,  2.0 / 9.0,
                                           2.0 / 11.0, 2.0 / 13.0, 2.0 / 15.0, 2.0 / 17.0, 2.0 / 19.0};
  constexpr std::uint64_t kRootHalf = 0x3FE6A09E667F3BCDU;  // bits of sqrt(1/2)
  // x = 2^e m with m in [sqrt(1/2), sqrt(2)): the exponent is read from the bits of x.
  const std::int64_t shift = std::bit_cast<std::int64_t>(std::bit_cast<std::uint64_t>(x) - kRootHalf) >> 52;
  const double m =
      std::bit_cast<double>(std::bit_cast<std::uint64_t>(x) - (static_cast<std::uint64_t>(shift) << 52U));
  const double e = static_cast<double>(shift);
  const double s = (m - 1.0) / (m + 1.0);
  return e * 0.693147180369123816490 + (s * polynomial(kArtanh, s * s) + e * 1.90821492927058770002e-10);
}

/// Normal quantile near the middle, |q| <= 0.425 with q = p - 1/2 (AS 241, PPND16).
inline double normal_quantile_middle(double q) {
  constexpr std::array<double, 8> a{3.3871328727963666080e0, 1.3314166789178437745e2, 1.9715909503065514427e3,
                                    1.3731693765509461125e4, 4.5921953931549871457e4, 6.7265770927008700853e4,
                                    3.3430575583588128105e4, 2.5090809287301226727e3};
  constexpr std::array<double, 8> b{1.0,
                                    4.2313330701600911252e1,
                                    6.8718700749205790830e2,
                                    5.3941960214247511077e3,
                                    2.1213794301586595867e4,
                                    3.9307895800092710610e4,
                                    2.8729085735721942674e4,
                                    5.2264952788528545610e3};
  const double r = 0.180625 - q * q;
  return q * polynomial(a, r) / polynomial(b, r);
}

/// Normal quantile of p < 0.075, below the middle (AS 241, PPND16).
inline double normal_quantile_tail(double p) {
  constexpr std::array<double, 8> c{1.42343711074968357734e0,  4.63033784615654529590e0,
                                    5.76949722146069140550e0,  3.64784832476320460504e0,
                                    1.27045825245236838258e0,  2.41780725177450611770e-1,
                                    2.27238449892691845833e-2, 7.74545014278341407640e-4};
  constexpr std::array<double, 8> d{1.0,
                                    2.05319162663775882187e0,
                                    1.67638483018380384940e0,
                                    6.89767334985100004550e-1,
                                    1.48103976427480074590e-1,
                                    1.51986665636164571966e-2,
                                    5.47593808499534494600e-4,
                                    1.05075007164441684324e-9};
  constexpr std::array<double, 8> e{6.65790464350110377720e0,  5.46378491116411436990e0,
                                    1.78482653991729133580e0,  2.96560571828504891230e-1,
                                    2.65321895265761230930e-2, 1.24266094738807843860e-3,
                                    2.71155556874348757815e-5, 2.01033439929228813265e-7};
  constexpr std::array<double, 8> f{1.0,
                                    5.99832206555887937690e-1,
                                    1.36929880922735805310e-1,
                                    1.48753612908506148525e-2,
                                    7.86869131145613259100e-4,
                                    1.84631831751005468180e-5,
                                    1.42151175831644588870e-7,
                                    2.04426310338993978564e-15};
  const double r = std::sqrt(-portable_log(p));
  return r <= 5.0 ? -polynomial(c, r - 1.6) / polynomial(d, r - 1.6)
                  : -polynomial(e, r - 5.0) / polynomial(f, r - 5.0);
}

/// The standard normal deviate with probability p below it, to a relative error of about 1e-16;
/// minus and plus infinity at 0 and 1, not a number outside.
inline double inverse_normal(double p) {
  const double q = p - 0.5;
  if (std::abs(q) <= 0.425) return normal_quantile_middle(q);
  if (!(p >= 0.0 && p <= 1.0)) return std::numeric_limits<double>::quiet_NaN();
  const double tail = q < 0.0 ? p : 1.0 - p;
  const double z = tail > 0.0 ? normal_quantile_tail(tail) : -std::numeric_limits<double>::infinity();
  return q < 0.0 ? z : -z;
}

/// A named stream of random numbers. It holds no position: the same tick always gives the same number,
/// and another stream, or another order of calls, changes nothing.
class NoiseStream {
 public:
  constexpr NoiseStream() = default;
  constexpr NoiseStream(std::uint64_t seed, std::string_view name)
      : seed_(seed), stream_(stream_hash(name)) {}

  /// Four random words of one block.
  constexpr PhiloxCounter words(std::int64_t block) const {
    const auto n = static_cast<std::uint64_t>(block);
    return philox({low(n), high(n), low(stream_), high(stream_)}, {low(seed_), high(seed_)});
  }
  /// Uniform on the open interval (0, 1).
  constexpr double uniform(std::int64_t tick) const {
    return to_unit(words(tick >> 2)[static_cast<std::size_t>(tick & 3)]);
  }
  /// Standard normal.
  double normal(std::int64_t tick) const { return inverse_normal(uniform(tick)); }
  /// Standard normals of ticks 4 block .. 4 block + 3, for the price of one generator call.
  std::array<double, 4> normals(std::int64_t block) const {
    const PhiloxCounter w = words(block);
    return {inverse_normal(to_unit(w[0])), inverse_normal(to_unit(w[1])), inverse_normal(to_unit(w[2])),
            inverse_normal(to_unit(w[3]))};
  }

 private:
  static constexpr std::uint32_t low(std::uint64_t x) { return static_cast<std::uint32_t>(x); }
  static constexpr std::uint32_t high(std::uint64_t x) { return static_cast<std::uint32_t>(x >> 32U); }
  static constexpr double to_unit(std::uint32_t w) { return (static_cast<double>(w) + 0.5) * 0x1p-32; }

  std::uint64_t seed_ = 0;
  std::uint64_t stream_ = 0;
};

}  // namespace duskline::plant
