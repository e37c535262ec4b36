#include "tests/support/synthetic_trace.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace duskline::tests {
namespace {

using harness::SignalInfo;

constexpr double kTurn = 2.0 * std::numbers::pi;
constexpr double kSol = 88775.244;  // s, length of a mean solar day on Mars
constexpr double kHour = 3600.0;

double step(double t, double at, double width) {
  return 1.0 / (1.0 + std::exp(-(t - at) / width));
}
double bump(double t, double at, double width) {
  return std::exp(-(t - at) * (t - at) / (2.0 * width * width));
}
double ripple(double t, double period, double phase = 0.0) {
  return std::sin(kTurn * t / period + phase);
}

/// What all signals of an instant have in common.
struct Instant {
  double local, elevation, pressure, temperature, density, wind;
  double warm, hot, making, storm, utilisation, stack, law;
};

Instant at(const SyntheticRun& run, double t) {
  Instant now{};
  const double sols = t / kSol + 0.15;
  now.local = sols - std::floor(sols);
  now.elevation = std::asin(0.97 * -std::cos(kTurn * now.local));
  now.pressure =
      715.0 + 14.0 * std::sin(kTurn * now.local + 0.4) + 9.0 * std::sin(2.0 * kTurn * now.local + 1.1);
  const double day = std::max(0.0, -std::cos(kTurn * (now.local - 0.04)));
  now.temperature = 189.0 + 62.0 * std::pow(day, 0.7) - 4.0 * ripple(t, kSol);
  now.density = now.pressure / (191.0 * now.temperature);
  now.wind = 3.0 + 5.0 * day + 1.1 * ripple(t, 611.0) + 0.7 * ripple(t, 173.0);
  now.warm = std::clamp(t / (3.0 * kHour), 0.0, 1.0);
  now.hot = 1.0 - step(t, 23.2 * kHour, 900.0);
  now.making = step(t, 3.4 * kHour, 240.0) * (1.0 - step(t, 22.8 * kHour, 60.0));
  now.storm = bump(t, 12.1 * kHour, 1500.0);
  now.law = run.regulated ? 0.25 : 1.0;
  // Thin warm air at noon and the fall at dusk leave less gas for the same speed.
  const double scarcity = 0.25 * (0.0155 / now.density - 1.0);
  now.utilisation = now.making * (0.47 + now.law * scarcity + 0.05 * now.law * now.storm);
  now.stack =
      293.0 + (1073.0 - 293.0) * now.warm * (0.35 + 0.65 * now.hot) + 2.0 * now.making * ripple(t, 5400.0);
  return now;
}

double onset_voltage(const Instant& now, double cell) {
  return 1.19 - 1.1e-3 * (now.stack - 1073.0) * now.making - 0.30 * (now.utilisation - 0.47) - 0.002 * cell;
}

double cell_voltage(const Instant& now, double cell, double t) {
  const double crowding = 0.006 * std::abs(cell - 3.5) + 0.004 * std::sin(1.7 * cell);
  return now.making * (1.075 + crowding + 0.20 * (now.utilisation - 0.47) + 0.0012 * ripple(t, 97.0, cell)) +
         (1.0 - now.making) * 0.75 * now.warm * now.hot;
}

SignalInfo scalar(const char* name, const char* unit, const char* meaning, const char* group) {
  return {name, unit, meaning, "", 1, group, {}, false};
}
SignalInfo places(const char* name, const char* unit, const char* meaning, const char* group,
                  const char* axis, std::size_t width) {
  return {name, unit, meaning, axis, width, group, {}, false};
}

}  // namespace

std::vector<SignalInfo> synthetic_signals() {
  std::vector<std::string> reasons{"stack cold", "stack uneven", "no flow", "no protection", "margin lost"};
  return {
      scalar("ambient_pressure", "Pa", "ambient pressure at the intake", "ambient"),
      scalar("ambient_temperature", "K", "air temperature at the intake", "ambient"),
      scalar("ambient_density", "kg/m3", "density of the air at the intake", "ambient"),
      scalar("wind_speed", "m/s", "wind speed at the intake", "ambient"),
      scalar("solar_elevation", "rad", "elevation of the sun above the horizon", "ambient"),
      scalar("local_time", "1", "local true solar time, fraction of the sol", "ambient"),
      scalar("optical_depth", "1", "dust optical depth", "ambient"),
      scalar("oxygen_rate", "kg/s", "oxygen made", "production"),
      scalar("oxygen_demand", "kg/s", "oxygen asked for", "production"),
      places("cell_voltage", "V", "voltage of each cell", "stack", "cell", 8),
      places("coke_onset_voltage", "V", "voltage at which coke forms in the cell", "stack", "cell", 8),
      places("cell_coke_margin", "V", "coke-onset voltage less cell voltage", "stack", "cell", 8),
      scalar("coke_margin", "V", "least coke margin of all cells", "stack"),
      scalar("nickel_ratio", "1", "CO/CO2 at the inlet over the ratio at which nickel oxidises", "stack"),
      scalar("utilisation", "1", "share of the CO2 entering the cathode that is converted", "stack"),
      scalar("feed_flow", "kg/s", "feed from the plenum to the cathode", "flow"),
      scalar("recycle_flow", "kg/s", "cathode exhaust back to the suction", "flow"),
      scalar("exhaust_flow", "kg/s", "cathode exhaust to the outside", "flow"),
      scalar("product_flow", "kg/s", "product", "flow"),
      scalar("product_purity", "1", "mole fraction of O2 in the product", "flow"),
      scalar("plenum_pressure", "Pa", "pressure behind the compressor", "flow"),
      scalar("cathode_pressure", "Pa", "cathode pressure", "flow"),
      scalar("anode_pressure", "Pa", "anode pressure", "flow"),
      scalar("suction_pressure", "Pa", "pressure at the compressor suction", "flow"),
      places("zone_temperature", "K", "temperature of each zone", "heat", "zone", 5),
      places("end_temperature", "K", "end-plate temperature", "heat", "end", 2),
      scalar("preheater_temperature", "K", "gas preheater body", "heat"),
      scalar("compressor_temperature", "K", "compressor shell", "heat"),
      scalar("housing_temperature", "K", "housing", "heat"),
      scalar("temperature_setpoint", "K", "ramped set-point of the stack temperature", "heat"),
      scalar("compressor_speed", "rad/s", "compressor shaft speed", "actuators"),
      scalar("compressor_speed_command", "rad/s", "compressor speed command", "actuators"),
      scalar("stack_current", "A", "stack current", "actuators"),
      scalar("stack_current_command", "A", "stack current command", "actuators"),
      scalar("recycle_opening", "1", "opening of the recycle valve", "actuators"),
      scalar("heater_power", "W", "all heaters together", "power"),
      scalar("bus_power", "W", "drawn from the bus", "power"),
      scalar("stack_power", "W", "drawn by the stack", "power"),
      scalar("compressor_power", "W", "drawn by the compressor", "power"),
      {"mode",
       "1",
       "mode in force",
       "",
       1,
       "controller",
       {"off", "warm-up", "standby", "production", "cool-down", "safe"},
       false},
      {"limiter",
       "1",
       "what holds the current down",
       "",
       1,
       "controller",
       {"none", "demand", "coke margin", "utilisation", "power", "voltage", "mode", "rate"},
       false},
      {"unmet_permissives", "1", "permissives that are not met", "", 1, "controller", reasons, true},
      {"tripped", "1", "interlocks that acted", "", 1, "controller", reasons, true},
      places("carbon", "mol", "carbon laid down", "wear", "cell", 8),
      places("nickel_oxide", "mol", "nickel oxidised", "wear", "cell", 8),
  };
}

std::vector<double> synthetic_row(const SyntheticRun& run, double t) {
  const Instant now = at(run, t);
  std::vector<double> row;
  const auto add = [&row](auto... values) { (row.push_back(values), ...); };
  const auto each = [&row](int count, auto value) {
    for (int i = 0; i < count; ++i) row.push_back(value(static_cast<double>(i)));
  };
  const double demand = now.making > 0.02 ? 10e-3 / kHour : 0.0;
  const double wanted = 4.19 * now.making * (run.regulated ? 1.0 - 0.35 * now.storm : 1.0);
  const double made = wanted * 8.0 / 4.0 / 96485.33 * 31.998e-3;
  const double feed = wanted * 8.0 / 2.0 / 96485.33 * 44.01e-3 / std::max(now.utilisation, 0.1);
  const double speed = now.making * (run.regulated ? 330.0 * 0.0155 / now.density : 345.0);
  std::vector<double> onset, voltage, margin;
  for (int i = 0; i < 8; ++i) {
    onset.push_back(onset_voltage(now, i));
    voltage.push_back(cell_voltage(now, i, t));
    margin.push_back(onset.back() - voltage.back());
  }
  add(now.pressure, now.temperature, now.density, now.wind, now.elevation, now.local, 0.4 + 1.3 * now.storm);
  add(made * (1.0 + 0.004 * ripple(t, 149.0)), demand);
  row.insert(row.end(), voltage.begin(), voltage.end());
  row.insert(row.end(), onset.begin(), onset.end());
  row.insert(row.end(), margin.begin(), margin.end());
  add(*std::min_element(margin.begin(), margin.end()), 2.4 - 0.6 * now.storm, now.utilisation);
  add(feed, 0.12 * feed, 0.88 * feed, made, 0.985 + 0.003 * ripple(t, 21000.0));
  add(58e3 * now.making + now.pressure, 56e3 * now.making + now.pressure, 12e3 * now.making + now.pressure,
      0.93 * now.pressure);
  each(5, [&](double i) { return now.stack - (7.0 - 5.0 * now.making) * (i - 2.0) * (i - 2.0) / 4.0; });
  each(2, [&](double i) { return now.stack - 9.0 + 4.0 * i; });
  add(now.stack - 45.0, 260.0 + 55.0 * now.making,
      245.0 + 30.0 * now.warm * now.hot + 0.2 * now.temperature - 40.0,
      293.0 + 780.0 * std::min(1.0, now.warm * 1.01) * (0.35 + 0.65 * now.hot));
  add(speed * (1.0 + 0.002 * ripple(t, 83.0)), speed, wanted, wanted * 1.0005, 0.35 * now.making);
  const double heaters = 190.0 * (now.warm < 1.0 ? 1.0 : 0.72) * now.hot;
  const double drive = 55.0 * speed / 330.0;
  add(heaters, heaters + drive + wanted * 9.0 + 8.0, wanted * 9.0, drive);
  const bool cooling = t > 22.8 * kHour;
  const double mode = t < 60.0 ? 0 : now.warm < 1.0 ? 1 : t < 3.3 * kHour ? 2 : cooling ? 4 : 3;
  add(mode, mode != 3 ? 6.0 : now.storm > 0.5 ? 2.0 : 1.0, now.warm < 1.0 ? 5.0 : 0.0, 0.0);
  each(8, [&](double i) { return run.regulated ? 0.0 : 1e-7 * (i + 1.0) * step(t, 18.5 * kHour, 1200.0); });
  each(8, [](double) { return 0.0; });
  return row;
}

std::string write_synthetic_trace(const std::string& path, const SyntheticRun& run,
                                  harness::TraceOptions options) {
  harness::TraceWriter writer(path, synthetic_signals(), {{"title", "synthetic sol"}}, options);
  const long rows = std::lround(std::floor(run.duration / run.period)) + 1;
  for (long i = 0; i < rows; ++i) {
    const double time = static_cast<double>(i) * run.period;
    writer.append(time, synthetic_row(run, time));
  }
  writer.close();
  return writer.problem();
}

std::string synthetic_summary() {
  return R"({
  "figures": [
    {"text": "Oxygen made", "value": 189.4, "unit": "g", "note": "asked for: 194.0 g", "verdict": "good"},
    {"text": "Product purity, least", "value": 98.2, "unit": "%", "verdict": "good"},
    {"text": "Least coke margin", "value": 66.3, "unit": "mV", "note": "cell 8, at dusk", "verdict": "close"},
    {"text": "Largest temperature ramp", "value": 4.33, "unit": "K/min", "verdict": "good"},
    {"text": "Energy from the bus", "value": 5.61, "unit": "kWh"}
  ],
  "requirements": [
    {"text": "No carbon in any cell", "margin": 66.3, "unit": "mV", "time": 66240, "verdict": "satisfied"},
    {"text": "Nickel stays metallic", "margin": 0.8, "unit": "", "time": 43560, "verdict": "satisfied"},
    {"text": "Oxygen follows the demand within 5 % of it", "margin": -3.2, "unit": "g/h", "time": 43560,
     "verdict": "violated"},
    {"text": "Stack ramps no faster than 5 K/min", "margin": 0.67, "unit": "K/min", "time": 5400, "verdict": "satisfied"}
  ],
  "events": [
    {"time": 60, "text": "operator asks for production", "kind": "operator"},
    {"time": 10800, "text": "standby", "kind": "mode"},
    {"time": 11900, "text": "production", "kind": "mode"},
    {"time": 41400, "text": "dust storm front arrives", "kind": "weather"},
    {"time": 43560, "text": "active current limit: coke margin", "kind": "alarm"},
    {"time": 82080, "text": "operator asks for cool-down", "kind": "operator"}
  ]
})";
}

}  // namespace duskline::tests
