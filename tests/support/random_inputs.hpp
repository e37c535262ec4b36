/// Random bits, inputs and parameters for the fuzzer.
///
/// What it is   a generator and draws over the lists of controller.h
/// Equation     splitmix64
/// Symbols      SI, as in controller.h
/// Validity     any seed
/// Source       G. L. Steele, D. Lea, C. H. Flood, OOPSLA 2014 (splitmix64)
/// Left out     statistics: it only has to reach everything
#pragma once

#include <cmath>
#include <cstddef>
#include <cstring>
#include <vector>

#include "tests/support/controller_rig.hpp"

namespace duskline::test {

class Random {
 public:
  explicit Random(std::uint64_t key) : state_(key) {}
  std::uint64_t bits() {
    std::uint64_t z = (state_ += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
  }
  std::uint32_t word() { return static_cast<std::uint32_t>(bits() >> 32); }
  std::uint32_t below(std::uint32_t count) {
    return static_cast<std::uint32_t>((std::uint64_t{word()} * count) >> 32);
  }
  bool one_in(std::uint32_t count) { return below(count) == 0; }
  float share() { return static_cast<float>(word() >> 8) / 16777216.0f; }
  /// Inside the range, its ends included; spread over the orders of magnitude where there are many.
  float between(float lower, float upper) {
    const std::uint32_t pick = below(10);
    if (pick == 0) return lower;
    if (pick == 1) return upper;
    if (pick == 2 && lower > 0.0f) return std::clamp(lower * std::pow(upper / lower, share()), lower, upper);
    return std::clamp(lower + (upper - lower) * share(), lower, upper);
  }
  float any_float() {
    const std::uint32_t raw = word();
    float x;
    std::memcpy(&x, &raw, sizeof x);
    return x;
  }

 private:
  std::uint64_t state_;
};

/// The bounds of what is checked and what is drawn, from the lists of controller.h.
struct Span {
  float lower, upper;
};
inline constexpr std::size_t kInputFloats = offsetof(ctl_inputs, requested_mode) / sizeof(float);
inline const std::vector<Span>& input_spans() {
  static const std::vector<Span> spans = [] {
    std::vector<Span> all;
#define SPAN_SCALAR(name, unit, lower, upper, ...) all.push_back({lower, upper});
#define SPAN_ARRAY(name, count, unit, lower, upper, ...) all.insert(all.end(), count, Span{lower, upper});
    CTL_INPUT_LIST(SPAN_SCALAR, SPAN_ARRAY)
#undef SPAN_SCALAR
#undef SPAN_ARRAY
    all.push_back({0.0f, 1e-5f});            // oxygen_demand
    all.push_back({0.0f, 1000.0f});          // power_ceiling
    all.push_back({0.0f, 1.0f});             // local_time
    all.push_back({0.0f, 1e5f});             // command_age
    all.resize(kInputFloats, {0.0f, 1e5f});  // what the operator says besides
    all.back() = {0.0f, 1.0f};               // inlet_co_fraction
    return all;
  }();
  return spans;
}
inline float& input_word(ctl_inputs& in, std::size_t k) {
  return reinterpret_cast<float*>(&in)[k];
}

/// Valid parameters, anywhere.
inline ctl_params random_params(Random& random) {
  ctl_params p = default_params();
  const std::uint32_t kind = random.below(4);
#define DRAW(name, value, unit, lower, upper, meaning, source)                             \
  if (kind == 0 || (kind == 1 && random.one_in(8))) p.name = random.between(lower, upper); \
  if (kind == 2)                                                                           \
    p.name = std::clamp((value) * (0.7f + 0.6f * random.share()), (lower) + 0.0f, (upper) + 0.0f);
  CTL_PARAMETER_LIST(DRAW)
#undef DRAW
  p.law = random.below(CTL_LAWS);
  p.table_rows = 1 + random.below(CTL_TABLE_ROWS);
  float time = random.between(-100.0f, 100.0f);
  for (std::uint32_t k = 0; k < p.table_rows; ++k) {
    p.table_time[k] = time;
    p.table_speed[k] = random.between(0.0f, 700.0f);
    p.table_current[k] = random.between(0.0f, 10.0f);
    time += 1.0f + random.between(0.0f, 500.0f);
  }
  return p;
}

/// A parameter corrupted so that it must be refused.
inline void corrupt_params(Random& random, ctl_params& p) {
  std::uint32_t wanted = random.below(100000), seen = 0;
#define COUNT(name, value, unit, lower, upper, meaning, source) ++seen;
  CTL_PARAMETER_LIST(COUNT)
#undef COUNT
  wanted %= seen + 1;
  if (wanted == seen) p.law = CTL_LAWS + random.below(1000);
  const std::uint32_t how = random.below(4);
  seen = 0;
#define INJECT(name, value, unit, lower, upper, meaning, source)              \
  if (seen++ == wanted)                                                       \
    p.name = how == 0   ? NAN                                                 \
             : how == 1 ? INFINITY                                            \
             : how == 2 ? std::nextafter(static_cast<float>(upper), INFINITY) \
                        : std::nextafter(static_cast<float>(lower), -INFINITY);
  CTL_PARAMETER_LIST(INJECT)
#undef INJECT
}

}  // namespace duskline::test
