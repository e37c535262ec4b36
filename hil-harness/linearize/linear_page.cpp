// The results as the data of their page; units as people read them are made there and here.
#include <cmath>
#include <numbers>

#include "hil-harness/linearize/results.hpp"
#include "hil-harness/report/display_units.hpp"
#include "hil-harness/report/json_text.hpp"
#include "hil-harness/report/page_assets.hpp"
#include "hil-harness/report/report.hpp"

namespace duskline::harness {
namespace {

using json_text::in_quotes;
using json_text::List;
using json_text::number;
using json_text::numbers;

constexpr int kDigits = 5;

struct Shown {
  std::string_view unit, as;
};
constexpr Shown kUnits[] = {{"kg s-1", "mg/s"}, {"kg/s", "mg/s"}, {"V", "mV"}, {"rad s-1", "rad/s"}};

/// Values and the unit in which the page shows them.
std::string readable(std::vector<double>& values, const std::string& unit,
                     std::vector<double>* more = nullptr) {
  for (const Shown& u : kUnits) {
    if (u.unit != unit || !convert_units(values, unit, std::string(u.as))) continue;
    if (more != nullptr) convert_units(*more, unit, std::string(u.as));
    return unit_label(std::string(u.as));
  }
  return unit_label(unit);
}

std::string loop_data(const LoopCurve& curve) {
  const LoopMargins& l = curve.loop;
  std::vector<double> size, phase, real, imaginary;
  double turned = 0.0, last = 0.0;
  for (const auto& z : curve.response) {
    double now = std::arg(z);
    if (!phase.empty()) {
      if (now - last > std::numbers::pi) turned -= 2.0 * std::numbers::pi;
      if (now - last < -std::numbers::pi) turned += 2.0 * std::numbers::pi;
    } else if (now > 0.5 * std::numbers::pi) {
      turned = -2.0 * std::numbers::pi;
    }
    last = now;
    size.push_back(std::abs(z));
    phase.push_back((now + turned) * 180.0 / std::numbers::pi);
    real.push_back(z.real());
    imaginary.push_back(z.imag());
  }
  List data;
  data.member("name", in_quotes(l.name));
  data.member("inCharge", l.in_charge ? "true" : "false");
  data.member("feedback", l.feedback ? "true" : "false");
  data.member("stable", l.stable ? "true" : "false");
  data.member("ms", number(l.margins.sensitivity, kDigits));
  data.member("gain", number(l.margins.gain, kDigits));
  data.member("gainDown", number(l.margins.gain_down, kDigits));
  data.member("phase", number(l.margins.phase, kDigits));
  data.member("crossover", number(l.margins.crossover, kDigits));
  data.member("delay", number(l.margins.delay, kDigits));
  data.member("tuning", in_quotes(l.tuning));
  data.member("sizes", numbers(size, kDigits));
  data.member("phases", numbers(phase, kDigits));
  data.member("real", numbers(real, kDigits));
  data.member("imaginary", numbers(imaginary, kDigits));
  return data.object();
}

std::string relative_gain_data(const LinearResults& r) {
  List commands, readings, all, data;
  for (const std::string& name : r.pairing.commands) commands.add(in_quotes(name));
  for (const std::string& name : r.pairing.readings) readings.add(in_quotes(name));
  for (const RelativeGains& at : r.relative_gains) {
    List rows, one;
    for (Eigen::Index i = 0; i < at.gains.rows(); ++i) {
      std::vector<double> row;
      for (Eigen::Index k = 0; k < at.gains.cols(); ++k) row.push_back(at.gains(i, k).real());
      rows.add(numbers(row, kDigits));
    }
    one.member("frequency", number(at.omega, kDigits));
    one.member("rows", rows.array());
    all.add(one.object());
  }
  data.member("commands", commands.array());
  data.member("readings", readings.array());
  data.member("at", all.array());
  return data.object();
}

std::string pole_data(const std::vector<std::complex<double>>& poles) {
  List list;
  for (const auto& z : poles) list.add("[" + number(z.real(), 9) + "," + number(z.imag(), 9) + "]");
  return list.array();
}

std::string step_data(const StepCurve& s) {
  std::vector<double> amount{s.amount};
  const bool rate = s.input.name == "oxygen_demand";
  std::string unit = unit_label(s.input.unit);
  if (rate && convert_units(amount, s.input.unit, "g/h")) unit = "g/h";
  if (!rate) unit = readable(amount, s.input.unit == "V" ? "1" : s.input.unit);
  std::vector<double> closed = s.closed, open = s.open;
  const std::string shown = readable(closed, s.output.unit, &open);
  List data;
  data.member("input", in_quotes(s.input.name));
  data.member("amount", number(amount[0], 4));
  data.member("unit", in_quotes(unit));
  data.member("output", in_quotes(s.output.name));
  data.member("outputUnit", in_quotes(shown));
  data.member("closed", numbers(closed, kDigits));
  data.member("open", numbers(open, kDigits));
  return data.object();
}

}  // namespace

std::string linear_page(const LinearResults& r) {
  List loops, steps, data;
  for (const LoopCurve& curve : r.loops) loops.add(loop_data(curve));
  for (const StepCurve& step : r.steps) steps.add(step_data(step));
  data.member("title", in_quotes(r.title));
  data.member("time", number(r.time, 9));
  data.member("localTime", number(r.local_time, 6));
  data.member("period", number(r.period, 6));
  data.member("law", in_quotes(r.law));
  data.member("mode", in_quotes(r.mode));
  data.member("limiter", in_quotes(r.limiter));
  data.member("ticks", number(static_cast<double>(r.ticks), 9));
  data.member("warning", in_quotes(warning_of(r)));
  data.member("frequency", numbers(r.frequency, kDigits));
  data.member("loops", loops.array());
  data.member("sensitivity", numbers(r.sensitivity, kDigits));
  data.member("sensitivityPeak", number(r.sensitivity_peak, kDigits));
  data.member("sensitivityPeakAt", number(r.sensitivity_peak_at, kDigits));
  data.member("relativeGains", relative_gain_data(r));
  data.member("plantPoles", pole_data(r.plant_poles));
  data.member("closedPoles", pole_data(r.closed_poles));
  data.member("stepTime", numbers(r.time_of_steps, kDigits));
  data.member("steps", steps.array());
  return whole_page(r.title + ", linear models", data.object(), assets::linear_js());
}

}  // namespace duskline::harness
