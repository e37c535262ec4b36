// Whatever the wires bring, the commands are finite and inside the list of controller.h.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include "controller/memory.hpp"
#include "tests/support/controller_rig.hpp"

using namespace duskline::test;

namespace {

bool commands_hold(const ctl_outputs& out) {
  bool good = true;
  const auto check = [&good](float x, float lower, float upper) {
    good = good && std::isfinite(x) && x >= lower && x <= upper;
  };
#define CHECK_SCALAR(name, unit, lower, upper, ...) check(out.name, lower, upper);
#define CHECK_ARRAY(name, count, unit, lower, upper, ...) \
  for (float x : out.name) check(x, lower, upper);
  CTL_OUTPUT_LIST(CHECK_SCALAR, CHECK_ARRAY)
#undef CHECK_SCALAR
#undef CHECK_ARRAY
  return good;
}

bool estimates_finite(const ctl_outputs& out) {
  bool good = true;
#define CHECK_ESTIMATE(name, unit, meaning) good = good && std::isfinite(out.name);
#define CHECK_ESTIMATES(name, count, unit, meaning) \
  for (float x : out.name) good = good && std::isfinite(x);
  CTL_ESTIMATE_LIST(CHECK_ESTIMATE, CHECK_ESTIMATES)
#undef CHECK_ESTIMATES
#undef CHECK_ESTIMATE
  return good && out.mode < CTL_MODES && out.limiter < CTL_LIMITERS && out.worst_cell < CTL_CELLS;
}

/// Everything that can be off in production: the largest currents and powers the parameters allow.
bool inside_parameters(const ctl_outputs& out, const ctl_params& p) {
  return out.stack_current <= p.current_max && out.compressor_speed <= p.speed_max &&
         out.preheater_power <= p.preheater_power_max && out.end_power[0] <= p.end_power_max &&
         out.end_power[1] <= p.end_power_max &&
         out.preheater_power + out.end_power[0] + out.end_power[1] <= p.heater_total_max * (1.0f + 1e-6f);
}

constexpr std::size_t kFloats = offsetof(ctl_inputs, requested_mode) / sizeof(float);

float* float_at(ctl_inputs& in, std::size_t k) {
  return reinterpret_cast<float*>(&in) + k;
}

}  // namespace

TEST_CASE("each input corrupted in each mode leaves the commands finite and inside their limits") {
  const float bad[] = {std::numeric_limits<float>::quiet_NaN(),
                       std::numeric_limits<float>::infinity(),
                       -std::numeric_limits<float>::infinity(),
                       3e38f,
                       -3e38f,
                       1e-42f,
                       0.0f,
                       -0.0f};
  for (uint32_t mode = 0; mode < CTL_MODES; ++mode) {
    const Rig start = rig_in(mode);
    for (std::size_t k = 0; k < kFloats; ++k) {
      for (const float value : bad) {
        Rig rig = start;
        for (int n = 0; n < 8; ++n) {
          rig.step(mode, [&](ctl_inputs& in) { *float_at(in, k) = value; });
          REQUIRE(commands_hold(rig.out));
          REQUIRE(estimates_finite(rig.out));
          REQUIRE(inside_parameters(rig.out, rig.params));
        }
      }
    }
  }
}

TEST_CASE("all inputs lost at once ends with nothing energised that nobody watches") {
  for (const uint32_t mode : {CTL_WARM_UP, CTL_STANDBY, CTL_PRODUCTION, CTL_COOL_DOWN}) {
    Rig rig = rig_in(mode);
    for (int n = 0; n < 10; ++n)
      rig.step(mode, [](ctl_inputs& in) {
        for (std::size_t k = 0; k < kFloats; ++k) *float_at(in, k) = NAN;
      });
    CHECK(rig.out.mode == CTL_SAFE);
    CHECK(rig.out.stack_current == 0.0f);
    CHECK(rig.out.end_power[0] == 0.0f);
    CHECK(rig.out.end_power[1] == 0.0f);
    CHECK(rig.out.preheater_power == 0.0f);
  }
}

TEST_CASE("random bits in every input for a million ticks") {
  std::mt19937 random(20260101);
  const ctl_params p = default_params();
  ctl_state state{};
  REQUIRE(ctl_init(&state, &p) == CTL_OK);
  ctl_inputs in{};
  ctl_outputs out{};
  bool good = true;
  uint32_t modes_seen = 0;
  const ctl_inputs sane = rig_in(CTL_PRODUCTION).in;
  for (int k = 0; k < 1000000 && good; ++k) {
    if (k % 4 !=
        0) {  // most ticks: a plausible plant with a few corrupted words, so that every mode is visited
      in = sane;
      in.requested_mode = (random() >> 8) % 7;
      in.tick = static_cast<uint32_t>(k);
      for (uint32_t n = random() % 4; n > 0; --n) {
        const uint32_t bits = random();
        std::memcpy(float_at(in, random() % kFloats), &bits, sizeof bits);
      }
    } else {  // the rest: nothing but noise
      for (std::size_t n = 0; n < sizeof in / 4; ++n) {
        const uint32_t bits = random();
        std::memcpy(reinterpret_cast<char*>(&in) + 4 * n, &bits, sizeof bits);
      }
    }
    good = ctl_step(&state, &p, &in, &out) == CTL_OK && commands_hold(out) && estimates_finite(out) &&
           inside_parameters(out, p);
    modes_seen |= 1u << out.mode;
  }
  CHECK(good);
  CHECK(modes_seen == (1u << CTL_MODES) - 1);
}

TEST_CASE("parameters anywhere inside their ranges keep the commands inside the list") {
  std::mt19937 random(7);
  const auto between = [&random](float lower, float upper) {
    const uint32_t pick = random() % 8;
    if (pick == 0) return lower;
    if (pick == 1) return upper;
    return std::min(upper, lower + (upper - lower) * static_cast<float>(random() >> 8) / 16777216.0f);
  };
  const ctl_inputs sane = rig_in(CTL_PRODUCTION).in;
  int stepped = 0;
  for (int set = 0; set < 1500; ++set) {
    ctl_params p = default_params();
#define DRAW(name, value, unit, lower, upper, meaning, source) p.name = between(lower, upper);
    CTL_PARAMETER_LIST(DRAW)
#undef DRAW
    p.law = random() % CTL_LAWS;
    p.table_rows = 1;
    p.table_current[0] = 10.0f;
    p.table_speed[0] = 700.0f;
    ctl_state state{};
    REQUIRE(ctl_init(&state, &p) == CTL_OK);
    ctl_inputs in = sane;
    ctl_outputs out{};
    for (int k = 0; k < 60; ++k, ++stepped) {
      in.tick = static_cast<uint32_t>(k);
      in.feed_flow = between(-1e-5f, 2e-4f);
      in.cell_voltage[k % CTL_CELLS] = between(0.5f, 1.4f);
      in.stack_current = between(0.0f, 6.0f);
      REQUIRE(ctl_step(&state, &p, &in, &out) == CTL_OK);
      REQUIRE(commands_hold(out));
      REQUIRE(estimates_finite(out));
    }
  }
  CHECK(stepped == 90000);
}

TEST_CASE("a copied state continues to the same bits") {
  Rig first = rig_in(CTL_PRODUCTION);
  first.run(CTL_PRODUCTION, 50);
  Rig second = first;
  for (int k = 0; k < 500; ++k) {
    first.step(CTL_PRODUCTION);
    second.step(CTL_PRODUCTION);
    REQUIRE(std::memcmp(&first.state, &second.state, sizeof(ctl_state)) == 0);
    REQUIRE(std::memcmp(&first.out, &second.out, sizeof(ctl_outputs)) == 0);
  }
}

TEST_CASE("calls that cannot be served answer with a status, safe outputs and an untouched state") {
  Rig rig = rig_in(CTL_PRODUCTION);
  const ctl_state before = rig.state;
  ctl_outputs out;
  const auto safe = [&out] {
    return commands_hold(out) && out.mode == CTL_SAFE && out.stack_current == 0.0f &&
           out.compressor_speed == 0.0f && out.end_power[0] == 0.0f && out.end_power[1] == 0.0f &&
           out.preheater_power == 0.0f;
  };
  CHECK(ctl_step(&rig.state, &rig.params, &rig.in, nullptr) == CTL_BAD_ARGUMENT);
  CHECK(ctl_step(nullptr, &rig.params, &rig.in, &out) == CTL_BAD_ARGUMENT);
  CHECK(safe());
  CHECK(ctl_step(&rig.state, nullptr, &rig.in, &out) == CTL_BAD_ARGUMENT);
  CHECK(ctl_step(&rig.state, &rig.params, nullptr, &out) == CTL_BAD_ARGUMENT);
  CHECK(safe());
  ctl_params bad = rig.params;
  bad.period = NAN;
  CHECK(ctl_step(&rig.state, &bad, &rig.in, &out) == CTL_BAD_PARAMETER);
  CHECK(safe());
  CHECK(std::memcmp(&before, &rig.state, sizeof before) == 0);
  ctl_state old = rig.state;
  old.abi_version = CTL_ABI_VERSION + 1;
  CHECK(ctl_step(&old, &rig.params, &rig.in, &out) == CTL_BAD_VERSION);
  CHECK(safe());
  ctl_state empty{};
  CHECK(ctl_step(&empty, &rig.params, &rig.in, &out) == CTL_BAD_VERSION);
  CHECK(ctl_init(nullptr, &rig.params) == CTL_BAD_ARGUMENT);
  CHECK(ctl_abi_version() == CTL_ABI_VERSION);
}

TEST_CASE("every parameter refuses what lies outside its range and accepts its default") {
  const ctl_params good = default_params();
  ctl_state state{};
  CHECK(ctl_init(&state, &good) == CTL_OK);
  struct Row {
    float ctl_params::*field;
    std::string name, meaning, source;
    float lower, upper;
  };
  const std::vector<Row> rows{
#define ROW(name, value, unit, lower, upper, meaning, source) \
  {&ctl_params::name, #name, meaning, source, static_cast<float>(lower), static_cast<float>(upper)},
      CTL_PARAMETER_LIST(ROW)
#undef ROW
  };
  for (const Row& row : rows) {
    INFO(row.name);
    for (const float bad :
         {std::nextafter(row.upper, INFINITY), std::nextafter(row.lower, -INFINITY), std::nanf("")}) {
      ctl_params p = good;
      p.*row.field = bad;
      CHECK(ctl_init(&state, &p) == CTL_BAD_PARAMETER);
    }
    CHECK(row.meaning.size() > 5);
    CHECK(row.source.size() > 2);
  }
  ctl_params p = good;
  p.law = CTL_LAWS;
  CHECK(ctl_init(&state, &p) == CTL_BAD_PARAMETER);
  p.law = CTL_LAW_FIXED;  // no table
  CHECK(ctl_init(&state, &p) == CTL_BAD_PARAMETER);
  p.table_rows = 2;
  p.table_time[1] = p.table_time[0] = 5.0f;  // does not rise
  CHECK(ctl_init(&state, &p) == CTL_BAD_PARAMETER);
  p.table_time[1] = 6.0f;
  CHECK(ctl_init(&state, &p) == CTL_OK);
}

TEST_CASE("bits, values and words of the lists are unique and in order") {
#define COUNT_ROW(...) +1
  CHECK((0 CTL_MODE_LIST(COUNT_ROW)) == CTL_MODES);
  CHECK((0 CTL_LIMITER_LIST(COUNT_ROW)) == CTL_LIMITERS);
#undef COUNT_ROW
  uint32_t bits = 0;
#define MARK_BIT(identifier, bit, word, meaning)          \
  CHECK((bits & static_cast<uint32_t>(identifier)) == 0); \
  bits |= static_cast<uint32_t>(identifier);
  CTL_CONDITION_LIST(MARK_BIT)
#undef MARK_BIT
  CHECK(((bits + 1) & bits) == 0);  // no gap
  CHECK(duskline::controller::kInputs == 20 + CTL_ENDS + CTL_ZONES + CTL_CELLS);
}
