// Numbers with units: what is read, to which SI value, and what is refused in which words.
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "scenarios/reader/quantity.hpp"
#include "scenarios/reader/suggest.hpp"

using namespace duskline::scenarios;

namespace {

constexpr double kWide = 1e30;

double read(const char* text, const char* unit) {
  // Absolute temperatures need a range that says so.
  const double lower = std::string{unit} == "K" ? 100.0 : -kWide;
  const Reading reading = read_quantity(text, {unit, lower, kWide});
  INFO(text << ": " << reading.error);
  REQUIRE(reading.error.empty());
  return reading.value;
}

std::string refusal(const char* text, Quantity quantity) {
  const Reading reading = read_quantity(text, quantity);
  REQUIRE_FALSE(reading.error.empty());
  return reading.error;
}

}  // namespace

TEST_CASE("Quantities that only shift the decimal point are the nearest double to the decimal") {
  // Exact by the definition of the units (SI brochure, 9th ed.); the compiler rounds the right-hand sides.
  CHECK(read("0.7 bar", "Pa") == 0.7e5);
  CHECK(read("20 cm3", "m3") == 20e-6);
  CHECK(read("18 cm3", "m3") == 18e-6);
  CHECK(read("0.4 ohm cm2", "ohm m2") == 0.4e-4);
  CHECK(read("15 mg/s", "kg/s") == 15e-6);
  CHECK(read("30 %", "1") == 0.30);
  CHECK(read("250 ppm", "1") == 250e-6);
  CHECK(read("40 mV", "V") == 0.040);
  CHECK(read("1.2e-14 mol s-1 Pa-2", "mol s-1 Pa-2") == 1.2e-14);
  CHECK(read("+3.5e1 mm", "m") == 0.035);
  CHECK(read(".5 L", "m3") == 0.5e-3);
  CHECK(read("  7  kPa ", "Pa") == 7000.0);
}

TEST_CASE("Quantities with other factors") {
  CHECK(read("10 g/h", "kg/s") == 10.0 / 3.6e6);   // 1 g/h = 1 kg / (3.6e6 s), by definition
  CHECK(read("800 degC", "K") == 800.0 + 273.15);  // SI brochure
  CHECK(read("3500 rpm", "rad/s") == Approx(3500.0 * 2.0 * std::numbers::pi / 60.0).epsilon(1e-14));
  CHECK(read("180 deg", "rad") == Approx(std::numbers::pi).epsilon(1e-14));
  CHECK(read("1 sol", "s") == 88775.244);  // Allison & McEwen 2000, mean solar day
  CHECK(read("2 sols", "s") == 2.0 * 88775.244);
  CHECK(read("2 h 30 min", "s") == 9000.0);
  CHECK(read("1 sol 1 h 2 min 3 s", "s") == 88775.244 + 3723.0);
  CHECK(read("0.3 A/cm2", "A m-2") == 3000.0);
  CHECK(read("4 K/min", "K/s") == 4.0 / 60.0);
  CHECK(read("75 kJ/mol", "J mol-1") == 75000.0);
}

TEST_CASE("Quantities that are refused, and why") {
  const Quantity volume{"m3", 5e-6, 1e-4}, pure{"1", 0.0, 1.0}, time{"s", 0.0, 1e9},
      speed{"rad/s", 0.0, 700.0};
  const Quantity difference{"K", 0.0, 100.0}, absolute{"K", 150.0, 1500.0};
  const std::string volume_wanted = "expected a number with a unit that fits m3";
  CHECK(refusal("", volume) == "has no value; " + volume_wanted);
  CHECK(refusal("20", volume) == "'20': a unit is missing; " + volume_wanted);
  CHECK(refusal("0", volume) == "'0': a unit is missing; " + volume_wanted);
  CHECK(refusal("yes", volume) == "'yes' is not a number; " + volume_wanted);
  CHECK(refusal("cm3", volume) == "'cm3' is not a number; " + volume_wanted);
  CHECK(refusal("20 cm2", volume) == "'20 cm2': unit 'cm2' does not fit m3");
  CHECK(refusal("20 ccm3", volume) == "'20 ccm3': unknown unit 'ccm3'; did you mean 'cm3'?");
  CHECK(refusal("20 furlong_x", volume) == "'20 furlong_x': unknown unit 'furlong_x'; " + volume_wanted);
  CHECK(refusal("200 cm3", volume) == "200 cm3 is outside [5, 100] cm3");
  CHECK(refusal("-1 L", volume) == "-1 L is outside [0.005, 0.1] L");
  CHECK(refusal("1,5 L", volume) == "'1,5 L': the decimal sign is a point, not a comma");
  CHECK(refusal("010 cm3", volume) ==
        "'010 cm3': a number does not begin with 0 (in some programs that means base 8)");
  CHECK(refusal("0x10", pure) == "'0x10': a number is written in decimal digits");
  CHECK(refusal(".nan", pure) == "'.nan' is not a finite number");
  CHECK(refusal("-.inf", pure) == "'-.inf' is not a finite number");
  CHECK(refusal("1e999", pure) == "'1e999' is too large for a number");
  CHECK(refusal("1e99999999999", pure) == "'1e99999999999' is too large for a number");
  CHECK(refusal("3 g", pure) == "'3 g': unit 'g' does not belong here; expected a plain number or %");
  CHECK(refusal("0.2 junk", pure) == "'0.2 junk': unknown unit 'junk'; expected a plain number or %");
  CHECK(refusal("true", pure) == "'true' is not a number; expected a plain number or %");
  CHECK(refusal("130 %", pure) == "130 % is outside [0, 100] %");
  CHECK(refusal("2 h 70", time) == "'2 h 70': a unit is missing; expected a number with a unit that fits s");
  CHECK(refusal("2 h -3 min", time) == "'2 h -3 min': a duration of several parts has no signs");
  for (const char* text : {"2 h 3 h", "30 min 2 h", "1 h 60 min 2 min"})
    CHECK(
        refusal(text, time).ends_with(": the parts of a duration go from the largest unit to the smallest"));
  CHECK(refusal("3 m", time) == "'3 m': unit 'm' does not fit s; did you mean 'min'?");
  CHECK(refusal("3 s since 2000-01-01", time) ==
        "'3 s since 2000-01-01': unknown unit 's since'; expected a number with a unit that fits s");
  CHECK(refusal("50 Hz", speed) == "'50 Hz': unit 'Hz' does not fit rad/s; did you mean 'rpm'?");
  CHECK(refusal("5 degC", difference) == "'5 degC': a difference of temperatures is given in K, not in degC");
  CHECK(refusal("800 C", absolute) == "'800 C': unit 'C' does not fit K; did you mean 'degC'?");
  CHECK(refusal("-300 degC", absolute) == "-300 degC is outside [-123.15, 1226.85] degC");
  CHECK(refusal(std::string(1000, '1').c_str(), pure) ==
        "is too long for a number; expected a plain number or %");
}

TEST_CASE("A unit is letters, digits and the signs of products and powers") {
  const Quantity time{"s", 0.0, 1e9};
  for (const char* unit : {"s\n", "s;", "s@3", "lg(re 1 s)", "5 s", "-s", "s$", "\"s\"", "s since 3"})
    CHECK_FALSE(read_quantity(std::string{"3 "} + unit, time).error.empty());
}

TEST_CASE("A unit is a product of named units with small whole powers") {
  const Quantity time{"s", 0.0, 1e9}, pressure{"Pa", 0.0, 1e9}, share{"1", 0.0, 1.0};
  for (const char* text : {"1'000 s", "2 h/2", "20 s s-1 s", "3 s10", "3 s^", "3 s0", "3 (s", "3 s)",
                           "3 s//1", "3 s h/h", "3 /s", "3 s*"})
    CHECK_FALSE(read_quantity(text, time).error.empty());
  CHECK_FALSE(read_quantity("12'000 mPa", pressure).error.empty());
  CHECK_FALSE(read_quantity("5 % %", share).error.empty());
  CHECK(read("300 kg m-1 s-2", "Pa") == 300.0);
  CHECK(read("300 kg/(m s2)", "Pa") == 300.0);
  CHECK(read("300 kg / m / s^2", "Pa") == 300.0);
  CHECK(read("2 1/h", "s-1") == 2.0 / 3600.0);
  CHECK(read("6 K/min/min", "K s-2") == Approx(6.0 / 3600.0).epsilon(1e-14));
}

TEST_CASE("A power that no number holds is too large, not nothing") {
  const Quantity pressure{"Pa", 0.0, 1e300};
  CHECK(refusal("1e2147483647 kPa", pressure) == "'1e2147483647 kPa' is too large for a number");
  CHECK(refusal("1e99999999999999999999 kPa", pressure) ==
        "'1e99999999999999999999 kPa' is too large for a number");
  CHECK(read_quantity("1e-2147483648 mPa", pressure).value ==
        0.0);  // below the least number there is nothing
}

TEST_CASE("The edges of a range are inside it, in every unit of the same size") {
  const Quantity volume{"m3", 5e-6, 1e-4};
  for (const char* text : {"5 cm3", "100 cm3", "0.1 L", "100000 mm3", "0.0001 m3", "5e-6 m3", "5 mL"})
    CHECK(read_quantity(text, volume).error.empty());
  // A range that is held as float is judged after rounding: 0.1f is a little more than 0.1.
  const Quantity single{"1", static_cast<double>(0.1F), 1.0, true};
  CHECK(read_quantity("0.1", single).error.empty());
}

TEST_CASE("A local time is hours, or a time of day as clocks show it") {
  CHECK(read("15:30", "h") == 15.5);
  CHECK(read("9:06", "h") == 9.1);
  CHECK(read("5 h", "h") == 5.0);
  CHECK(read("330 min", "h") == 5.5);
  for (const char* text : {"0.5 sol", "600 s", "0.5 day"})  // a sol has 24 of its hours, and 24.66 of ours
    CHECK(refusal(text, {"h", 0.0, 24.0}).find("a local time is given in h or min") != std::string::npos);
  for (const char* text : {"24:00", "9:60", "9:6", "123:00", ":30", "9:-5"}) refusal(text, {"h", 0.0, 24.0});
  refusal("15:30", {"s", 0.0, 1e9});  // a duration is none
}

TEST_CASE("Whole numbers") {
  CHECK(read_whole("0", 0, 10).value == 0);
  CHECK(read_whole("18446744073709551615", 0, ~0ULL).value == ~0ULL);
  for (const char* text : {"-1", "+1", "1.0", "1e3", "0x1", "01", "", "18446744073709551616", "one"})
    CHECK_FALSE(read_whole(text, 0, ~0ULL).error.empty());
}

TEST_CASE("What is written reads back to the same bits") {
  for (double value : {0.1, 1.0 / 3.0, 1e-300, 88775.244, -2.5e-14, 5e-324, 1.7976931348623157e308, 0.0}) {
    const std::string text = write_quantity(value, "m3");
    INFO(text);
    CHECK(read_quantity(text, {"m3", -INFINITY, INFINITY}).value == value);
  }
  for (float value : {0.1F, 1.0F / 3.0F, 3.4028235e38F, 1.17549435e-38F, 16777217.0F}) {
    const std::string text = write_quantity(value, "V");
    INFO(text);
    CHECK(static_cast<float>(read_quantity(text, {"V", -INFINITY, INFINITY}).value) == value);
  }
  CHECK(write_quantity(0.1, "1") == "0.1");
  CHECK(write_quantity(0.1F, "V") == "0.1 V");
}

TEST_CASE("Typing slips are counted by hand") {
  CHECK(typing_slips("", "abc") == 3);
  CHECK(typing_slips("displacment", "displacement") == 1);  // one letter dropped
  CHECK(typing_slips("durration", "duration") == 1);        // one letter added
  CHECK(typing_slips("sede", "seed") == 1);                 // two neighbours swapped
  CHECK(typing_slips("Warm_up", "warm-up") == 0);           // capitals and dashes are equal
  CHECK(typing_slips("kitten", "sitting") == 3);            // Wagner & Fischer's example, from memory
}

TEST_CASE("Suggestions name the nearest word and stay silent when none is near") {
  const std::vector<std::string> words{"duration", "period", "record", "seed"};
  CHECK(nearest("perod", words) == "period");
  CHECK(nearest("Duraton", words) == "duration");
  CHECK(nearest("temperature", words).empty());
  CHECK(nearest("x", words).empty());
  CHECK(did_you_mean("sede", words) == "; did you mean 'seed'?");
  CHECK(did_you_mean(std::string(5000, 'd'), words).empty());
}
