// What holds for the plant controller whatever comes in.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>

#include "controller/plant/parameters.hpp"
#include "controller/plant/tick.hpp"
#include "tests/support/random_inputs.hpp"

using namespace duskline::controller;
using duskline::test::Random;

TEST_CASE("Poured shares add up to the demand within what the bounds allow") {
  Random random(5);
  for (int n = 0; n < 20000; ++n) {
    Bounds b{};
    b.in = random.word() & ((1U << CTL_PLANT_MODULES) - 1U);
    float lower = 0.0F, upper = 0.0F;
    for (std::uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
      b.weight[k] = random.between(0.01F, 1.0F);
      b.upper[k] = random.between(0.0F, 2e-4F);
      b.lower[k] = b.upper[k] * random.share();
      if ((b.in >> k & 1U) == 0) continue;
      lower += b.lower[k], upper += b.upper[k];
    }
    const float demand = random.between(0.0F, 2e-3F);
    const Shares s = pour(b, demand);
    for (std::uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
      const bool in = (b.in >> k & 1U) != 0;
      if (s.of[k] < (in ? b.lower[k] : 0.0F) || s.of[k] > (in ? b.upper[k] : 0.0F))
        FAIL("bound of module " << k);
    }
    if (std::fabs(sum_of(s) - std::clamp(demand, lower, upper)) > 1e-5F * upper + 1e-12F)
      FAIL("sum " << sum_of(s) << " of " << demand << " in " << lower << " to " << upper);
  }
}

namespace {

/// A word of random bits, or a value that is plausible: so that all modes are reached.
void draw(Random& random, ctl_plant_inputs& in, bool wild) {
  const auto number = [&](float& x, float lower, float upper) {
    if (wild || random.one_in(50))
      x = random.any_float();
    else
      x = random.between(lower, upper);
  };
#define DRAW(name, unit, lower, upper, ...) \
  number(in.name, static_cast<float>(lower), static_cast<float>(upper));
  CTL_PLANT_INPUT_LIST(DRAW)
#undef DRAW
  number(in.oxygen_demand, 0.0F, 2e-3F);
  number(in.power_ceiling, 0.0F, 4e4F);
  number(in.shelve_time, 0.0F, 3e4F);
  in.requested_mode = wild ? random.word() : random.below(CTL_PLANT_MODES);
  in.alarm_action = random.below(CTL_ALARM_ACTIONS + 1);
  in.alarm_number = random.below(CTL_PLANT_ALARMS + 2);
  in.maintenance = random.below(2);
  for (std::uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    in.service[k] = wild ? random.word() : random.below(CTL_SERVICES);
    ctl_module_report& r = in.module[k];
#define DRAW_NUMBER(name, unit, lower, upper, meaning) \
  number(r.name, static_cast<float>(lower), static_cast<float>(upper));
#define DRAW_WORD(name, meaning) r.name = wild ? random.word() : random.below(8);
    CTL_MODULE_REPORT_LIST(DRAW_NUMBER, DRAW_WORD)
#undef DRAW_NUMBER
#undef DRAW_WORD
  }
}

/// Readings of a plant in order, so that it gets out of safe.
void calm(ctl_plant_inputs& in) {
  in.feed_header_pressure = in.discharge_pressure = 65000.0F;
  in.exhaust_header_pressure = 55000.0F, in.product_header_pressure = 55500.0F;
  in.discharge_temperature = 350.0F, in.compressor_vibration = 1.0F, in.bus_voltage = 120.0F;
  in.compressor_speed = 4000.0F, in.compressor_flow = 5e-3F;
  in.feed_header_co_fraction = 0.03F;
  for (std::uint32_t k = 0; k < 6; ++k) {
    in.service[k] = CTL_SERVICE_IN;
    ctl_module_report& r = in.module[k];
    r = {};
    r.feed_wanted = r.feed_flow = 7e-4F, r.oxygen_rate = 1e-4F, r.coke_margin = 0.05F;
    r.power = 1000.0F, r.heating = 100.0F, r.temperature = r.hottest = 1073.0F;
    r.mode = CTL_PRODUCTION;
  }
}

/// False, with the reason, when an output is none that may leave the controller.
std::string wrong(const ctl_plant_outputs& out, const ctl_plant_params& p) {
  std::string text;
#define BOUND(name, ...)                                            \
  if (!(out.name >= p.output_span[CTL_PLANT_OUTPUT_##name].lower && \
        out.name <= p.output_span[CTL_PLANT_OUTPUT_##name].upper))  \
    text += #name " ";
  CTL_PLANT_OUTPUT_LIST(BOUND)
#undef BOUND
#define FINITE(name, ...) \
  if (!std::isfinite(out.name)) text += #name " ";
#define FINITES(name, count, ...) \
  for (const float x : out.name)  \
    if (!std::isfinite(x)) text += #name " ";
  CTL_PLANT_ESTIMATE_LIST(FINITE, FINITES)
#undef FINITE
#undef FINITES
  float sum = 0.0F;
  for (std::uint32_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    const ctl_module_order& o = out.order[k];
    sum += o.oxygen_demand;
    if (!(o.oxygen_demand >= 0.0F && o.oxygen_demand <= p.module_oxygen * 1.0001F)) text += "share ";
    if (!(std::isnan(o.power_ceiling) || (o.power_ceiling >= -1e-3F && o.power_ceiling < 1e9F)))
      text += "ceiling ";
    if (o.requested_mode >= CTL_MODES) text += "request ";
    if (o.feed_opening_max != 0.0F && o.feed_opening_max != 1.0F) text += "feed ";
    if (o.oxygen_demand > 0.0F && o.requested_mode != CTL_PRODUCTION) text += "share without production ";
  }
  if (out.mode >= CTL_PLANT_MODES || out.limiter >= CTL_PLANT_LIMITERS) text += "word ";
  if (out.mode == CTL_PLANT_SAFE && (out.compressor_speed != 0.0F || sum != 0.0F)) text += "safe ";
  return text;
}

}  // namespace

TEST_CASE("A million ticks of random bits bring no number that is none and no command out of its span") {
  Random random(17);
  ctl_plant_params p = default_plant_params();
  ctl_plant_state state{};
  ctl_plant_inputs in{};
  ctl_plant_outputs out{};
  REQUIRE(ctl_plant_init(&state, &p) == CTL_OK);
  std::uint32_t visited = 0;
  for (int n = 0; n < 1000000; ++n) {
    if (n % 1000 == 0) {  // other parameters, anywhere in their ranges
#define DRAW(name, value, unit, lower, upper, meaning, source) \
  p.name = n % 2000 == 0 ? random.between(lower, upper) : (value);
      CTL_PLANT_PARAMETER_LIST(DRAW)
#undef DRAW
      p.intake = random.below(CTL_INTAKES);
      p.not_fitted = random.one_in(2) ? 0U : random.word();
      REQUIRE(ctl_plant_init(&state, &p) == CTL_OK);
    }
    draw(random, in, n % 4 == 0);
    if (n / 100 % 2 == 0) {
      calm(in);
      in.requested_mode = n / 50 % 2 == 0 ? CTL_PLANT_PRODUCTION : CTL_PLANT_STANDBY;
    }
    in.tick = static_cast<std::uint32_t>(n);
    if (ctl_plant_step(&state, &p, &in, &out) != CTL_OK) FAIL("refused at " << n);
    visited |= 1U << out.mode;
    const std::string text = wrong(out, p);
    if (!text.empty()) FAIL("tick " << n << ": " << text);
  }
  CHECK(visited == (1U << CTL_PLANT_MODES) - 1U);
}

TEST_CASE("The same inputs give the same bytes") {
  Random random(23);
  const ctl_plant_params p = default_plant_params();
  ctl_plant_state one{}, two{};
  ctl_plant_outputs first{}, second{};
  REQUIRE(ctl_plant_init(&one, &p) == CTL_OK);
  REQUIRE(ctl_plant_init(&two, &p) == CTL_OK);
  for (int n = 0; n < 2000; ++n) {
    ctl_plant_inputs in{};
    draw(random, in, n % 4 == 0);
    ctl_plant_step(&one, &p, &in, &first);
    ctl_plant_step(&two, &p, &in, &second);
    REQUIRE(std::memcmp(&first, &second, sizeof first) == 0);
    REQUIRE(std::memcmp(&one, &two, sizeof one) == 0);
  }
}
