#include <catch2/catch.hpp>
#include <cmath>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <memory>
#include <string>

#include "plant-model/environment/composites.hpp"
#include "plant-model/environment/environment.hpp"
#include "plant-model/environment/weather_file.hpp"

using namespace duskline::plant;

namespace {

/// The only problem of this text, as the user reads it.
std::string only_problem(const std::string& text) {
  const WeatherFile w = parse_weather(text, "w.csv");
  CHECK_FALSE(w.series.has_value());
  if (w.problems.size() != 1) return std::to_string(w.problems.size()) + " problems";
  return w.problems[0].text();
}

WeatherSeries good(const std::string& text) {
  WeatherFile w = parse_weather(text, "w.csv");
  for (const auto& p : w.problems) UNSCOPED_INFO(p.text());
  REQUIRE(w.series.has_value());
  return *w.series;
}

Environment replay(const WeatherSeries& series, double ls_degrees = 0.0) {
  EnvironmentSettings s;
  s.start_ls = ls_degrees * kDegree;
  s.start_local_time = 0.0;
  s.turbulence = s.synoptic = 0.0;
  s.weather = std::make_shared<WeatherSeries>(series);
  return {s, 1.0};
}

}  // namespace

TEST_CASE("Time in seconds, several units") {
  const WeatherSeries s = good(
      "# made up for this test\n"
      "time [s], temperature [degC], pressure [mbar], wind_speed [m/s], optical_depth [1]\r\n"
      "0, -60, 7.2, 3, 0.4\r\n"
      "600, -62, 7.3, 4, 0.4\r\n"
      "1200, -63, 7.4, 5, 0.5\r\n");
  CHECK(s.from_start);
  Environment e = replay(s);
  const Ambient a = e.at(600);
  CHECK(a.temperature == Approx(273.15 - 62));
  CHECK(a.pressure == Approx(730.0));
  CHECK(a.wind_speed == Approx(4.0));
  CHECK(a.optical_depth == Approx(0.4));
  CHECK(a.dust_concentration == Approx(1.75e-7 * 0.4));
  CHECK(e.at(900).temperature < 273.15 - 62);  // monotone between the samples
  CHECK(e.at(900).temperature > 273.15 - 63);
}

TEST_CASE("Sol with local hour, in any order of rows, quotes and plus signs") {
  const WeatherSeries s = good(
      "\xEF\xBB\xBF\"sol\",local_time [h],\"temperature [K]\"\n"
      "5, 18, +230\n5, 6, 180\n5, 12, 240\n5, 0, 190\n");
  CHECK(s.at(WeatherQuantity::temperature, 5.25) == Approx(180));
  CHECK(s.at(WeatherQuantity::temperature, 5.75) == Approx(230));
  CHECK(replay(s).at(0).temperature == Approx(190));  // the run starts at the midnight of the first sol
}

TEST_CASE("Daily extremes are drawn out along the composite day") {
  const WeatherSeries s = good(
      "sol,min_temp,max_temp,pressure,ls\n"
      "100,-75,-5,800,90\n101,-75,-5,800,90\n102,-75,-5,800,91\n103,-75,-5,800,91\n");
  Environment e = replay(s);
  CHECK(e.mean_at(0).areocentric_longitude == Approx(90 * kDegree));
  double low = 1e9, high = 0, low_hour = 0, high_hour = 0, mean_pressure = 0;
  for (int i = 0; i < 480; ++i) {
    const Ambient a = e.mean_at((1 + i / 480.0) * kSolSeconds);
    if (a.temperature < low) low = a.temperature, low_hour = 24 * a.local_time;
    if (a.temperature > high) high = a.temperature, high_hour = 24 * a.local_time;
    mean_pressure += a.pressure / 480;
  }
  CHECK(low == Approx(273.15 - 75).margin(0.1));
  CHECK(high == Approx(273.15 - 5).margin(0.1));
  CHECK(low_hour == Approx(5.0).margin(1.0));         // composites: minimum 05-06 h
  CHECK(high_hour == Approx(15.0).margin(1.0));       // composites: maximum 14-16 h
  CHECK(mean_pressure == Approx(800.0).margin(0.5));  // tides are added with zero mean
}

TEST_CASE("One composite sol repeats for ever") {
  const WeatherSeries s = good(
      "local_time [h],temperature [K]\n"
      "1,183\n3,179\n5,176\n7,180\n9,211\n11,228\n13,243\n15,249\n17,248\n19,203\n21,193\n23,187\n");
  CHECK(s.repeat == 1.0);
  for (const double sol : {0.0, 1.0, 7.0, 900.0}) {
    CHECK(s.at(WeatherQuantity::temperature, sol + 9.0 / 24) == Approx(211));
    const double midnight = s.at(WeatherQuantity::temperature, sol);
    CHECK(midnight > 183);
    CHECK(midnight < 187);
  }
}

TEST_CASE("Gaps are filled and reported") {
  std::string text = "sol,temperature [K],pressure [Pa]\n";
  const auto value = [](int sol, int i) { return 220 + 20 * std::sin(kTurn * i / 24.0) + 2 * sol; };
  for (int sol = 0; sol < 12; ++sol) {
    for (int i = 0; i < 24; ++i) {
      if (sol >= 3 && sol < 7) continue;  // four sols without rows
      const std::string temperature = sol == 1 && (i == 8 || i == 9) ? "NaN" : std::to_string(value(sol, i));
      text += std::to_string(sol + i / 24.0) + "," + temperature + ",700\n";
    }
  }
  const WeatherFile w = parse_weather(text, "w.csv");
  REQUIRE(w.series.has_value());
  REQUIRE(w.notes.size() == 3);
  CHECK(w.notes[0] == "temperature: nothing between sol 1.29167 and sol 1.41667; filled by interpolation");
  CHECK(w.notes[1] ==
        "temperature: nothing between sol 2.95833 and sol 7; filled from the sols on both sides at the same "
        "local hour");
  CHECK(w.notes[2].substr(0, 9) == "pressure:");
  // Missing hours: a smooth curve through the neighbours.
  CHECK(w.series->at(WeatherQuantity::temperature, 1 + 8.5 / 24) == Approx(value(1, 8)).margin(2.0));
  // Missing sols: the day goes on, its level moves from one side (sol 2) to the other (sol 7); no jumps.
  double before = w.series->at(WeatherQuantity::temperature, 2.9);
  for (double sol = 2.9; sol < 7.2; sol += 0.01) {
    const double x = w.series->at(WeatherQuantity::temperature, sol);
    CHECK(std::abs(x - before) <
          2.0);  // steepest samples, at midnight: (20 sin 15 deg + 2) K an hour = 1.7 K a step
    before = x;
  }
  const double warm = w.series->at(WeatherQuantity::temperature, 5.25);
  const double cold = w.series->at(WeatherQuantity::temperature, 5.75);
  CHECK(warm - cold == Approx(40.0).margin(3.0));
  CHECK(0.5 * (warm + cold) == Approx(220 + 2 * 4.75).margin(2.0));
  // Beyond both ends the nearest sol is repeated.
  CHECK(w.series->at(WeatherQuantity::temperature, -3.75) == Approx(value(0, 6)).margin(0.5));
  CHECK(w.series->at(WeatherQuantity::temperature, 40.25) == Approx(value(11, 6)).margin(2.5));
}

TEST_CASE("A column without values leaves the model's own in place") {
  const WeatherFile w = parse_weather("sol,pressure [Pa],wind_speed\n1,700,NaN\n2,710,\n3,,NaN\n", "w.csv");
  REQUIRE(w.series.has_value());
  CHECK_FALSE(w.series->has(WeatherQuantity::wind_speed));
  CHECK(w.notes.back() == "column 'wind_speed' holds no value; the model's own is used");
}

TEST_CASE("Every problem is reported with its place") {
  CHECK(only_problem("") == "w.csv:1:1: file: is empty: no header row");
  CHECK(only_problem("# nothing\n\n") == "w.csv:1:1: file: is empty: no header row");
  CHECK(only_problem("sol,pressure\n") == "w.csv:1:1: file: has a header row but no data");
  CHECK(only_problem("sol,pressure\n1,700\n2,7x0\n") == "w.csv:3:3: pressure: '7x0' is not a number");
  CHECK(only_problem("sol,temperature [K]\n1,-63\n") ==
        "w.csv:2:3: temperature: '-63' is outside 100 to 350 K; is the unit right?");
  CHECK(only_problem("sol, temperature\n1,200\n") ==
        "w.csv:1:6: temperature: no unit; give one of [K], [degC], [C]");
  CHECK(only_problem("sol,pressure [psi]\n1,1\n") ==
        "w.csv:1:5: pressure [psi]: unknown unit [psi]; give one of [Pa], [hPa], [mbar], [mb], [kPa]");
  CHECK(only_problem("sol,pressure\n1,700\n2\n") == "w.csv:3:1: file: 1 cells where the header has 2");
  CHECK(only_problem("sol,pressure\n1,700\n1,701\n") == "w.csv:3:1: file: is at the same time as line 2");
  CHECK(only_problem("sol,pressure\n1,700\nNaN,701\n") == "w.csv:3:1: sol: this row has no time");
  CHECK(only_problem("pressure\n700\n") ==
        "w.csv:1:1: file: no time column; name one time [s], sol, local_time [h] or ls [deg]");
  CHECK(only_problem("sol,cheese\n1,2\n") ==
        "w.csv:1:1: file: no column of weather found; name one temperature [K], pressure [Pa], wind_speed "
        "[m/s], ...");
  CHECK(only_problem("sol,pressure,p_mb\n1,700,7\n") ==
        "w.csv:1:14: p_mb: means the same as column 'pressure'; keep one of them");
  CHECK(only_problem("sol,min_temp,max_temp\n1,-5,-70\n") == "w.csv:2:3: min_temp: is above max_temp");
  CHECK(only_problem("sol,min_temp\n1,-70\n") ==
        "w.csv:1:1: file: min_temp and max_temp are needed together");
  CHECK(only_problem("sol,N2,Ar\n1,0.9,0.2\n") == "w.csv:2:1: file: mole fractions add up to more than 1");
  CHECK(only_problem("sol,pressure\n1,inf\n") ==
        "w.csv:2:3: pressure: 'inf' is outside 50 to 2000 Pa; is the unit right?");
  CHECK(only_problem("sol,pressure\n1,1e999\n") ==
        "w.csv:2:3: pressure: '1e999' is outside 50 to 2000 Pa; is the unit right?");
  CHECK(only_problem("sol,pressure\n1,NaN\n") ==
        "w.csv:1:1: file: not one value of weather in the whole file");
  CHECK(only_problem(std::string("sol,pressure\n1,7\0", 17)) ==
        "w.csv:2:4: file: a byte 0; this is not a text file");
}

TEST_CASE("Hostile files give problems, never a crash") {
  std::uint64_t state = 1;
  for (int round = 0; round < 200; ++round) {  // random bytes behind a good header
    std::string text = round % 2 == 0 ? "" : "sol,temperature [K],pressure,ls\n";
    for (int i = 0; i < 300; ++i) {
      state = state * 6364136223846793005U + 1442695040888963407U;
      constexpr std::string_view kAlphabet = "0123456789.,,,\n\n-+eE\"#[] NaNinf\xff\x80";
      text += kAlphabet[(state >> 40U) % kAlphabet.size()];
    }
    const WeatherFile w = parse_weather(text, "random");
    CHECK(w.series.has_value() == w.problems.empty());
    CHECK(w.problems.size() <= 100);
    for (const auto& p : w.problems) {
      CHECK(p.line >= 1);
      CHECK(p.column >= 1);
    }
  }
  std::string many = "sol,pressure\n";
  for (int i = 0; i < 5000; ++i) many += "bad,bad\n";
  CHECK(parse_weather(many, "many").problems.size() == 100);
  CHECK(parse_weather(std::string(4000, ','), "commas").problems.size() == 2);  // no weather, no time
  CHECK(only_problem(std::string(1000000, ',')) ==
        "w.csv:1:1: file: a line of more than 4096 bytes; is this a table?");
  CHECK_FALSE(read_weather_file("no/such/file.csv").problems.empty());
  CHECK_FALSE(read_weather_file(DUSKLINE_SOURCE_DIR).problems.empty());  // a folder
  CHECK(read_weather_file("/dev/zero").problems.at(0).message == "is not a regular file");
}

TEST_CASE("A number has one sign, and an atmosphere holds something") {
  CHECK(only_problem("sol,pressure\n1,+-700\n") == "w.csv:2:3: pressure: '+-700' is not a number");
  CHECK(good("sol,pressure\n1,+700\n").at(WeatherQuantity::pressure, 1.5) == 700.0);
  CHECK(only_problem("sol,CO2,N2,Ar\n1,0,0,0\n") == "w.csv:2:1: file: mole fractions are all 0");
}

TEST_CASE("Rows in any order are put in order with all their columns") {
  const WeatherSeries s = good("sol,pressure,temperature [K]\n3.5,730,230\n1.5,710,210\n2.5,720,220\n");
  for (const double sol : {1.5, 2.5, 3.5}) {
    CHECK(s.at(WeatherQuantity::pressure, sol) == Approx(695.0 + 10.0 * sol));
    CHECK(s.at(WeatherQuantity::temperature, sol) == Approx(195.0 + 10.0 * sol));
  }
}

TEST_CASE("The composite table that is shipped is the one in the model") {
  const std::string path = DUSKLINE_SOURCE_DIR "/scenarios/library/weather/equatorial-composite.csv";
  const WeatherFile w = read_weather_file(path);
  for (const auto& p : w.problems) UNSCOPED_INFO(p.text());
  REQUIRE(w.series.has_value());
  CHECK(w.series->by_season);
  CHECK(w.series->repeat == 669.0);
  const Tides tides;
  for (std::size_t i = 0; i < kCompositeSeasons.size(); ++i) {
    const double ls = kCompositeSeasons[i] * kDegree, sol = std::floor(sols_since_equinox(ls));
    for (std::size_t j = 0; j < kCompositeHours.size(); ++j) {
      const double hour = kCompositeHours[j] / 24.0;
      for (const double year : {0.0, 669.0}) {
        CHECK(w.series->at(WeatherQuantity::temperature, year + sol + hour) ==
              Approx(kCompositeTemperature[i][j]));
      }
      CHECK(w.series->at(WeatherQuantity::pressure, sol + hour) ==
            Approx(seasonal_pressure(kSites[0], ls) * tides(ls, hour, 1.0, 0.3, 0.3)).margin(0.06));
    }
  }
  // A run that starts in a season starts there in the table.
  Environment e = replay(*w.series, 105.0);
  CHECK(e.mean_at(e.time_at(15.0 / 24)).temperature == Approx(251.0).margin(0.1));
}
