#include "hil-harness/report/compressor_map.hpp"

#include <array>
#include <cmath>
#include <vector>

#include "hil-harness/report/json_text.hpp"

namespace duskline::harness {
namespace {

using json_text::kValueDigits;
using json_text::List;
using json_text::number;
using json_text::numbers;

constexpr std::array kSpeeds{0.92, 0.94, 0.96, 0.98, 1.00, 1.02, 1.05};  // 1, lines that are drawn
constexpr double kWarmer = 50.0;                                         // K, coolant over the suction
constexpr double kSlowest = 0.88, kFastest = 1.06;                       // 1, ends of the surge line

/// The train at the suction of its design point.
class Machine {
 public:
  explicit Machine(const plant::PlantParameters& p) : t_(p.train), size_(plant::train_size(p)) {}

  plant::TrainResult<double> at(double speed, double flow) const {
    const plant::Intercooling between{t_.design_temperature + kWarmer, t_.cooling, t_.cooler_loss};
    return plant::turbo_train<double>(size_.all(), size_.gas, between, flow, t_.design_pressure,
                                      t_.design_temperature, speed * size_.speed);
  }
  /// Flow, mol/s, at which the margin of the nearest stage is 0.
  double surge_flow(double speed) const {
    return zero([&](double flow) { return at(speed, flow).surge_margin; });
  }
  double choke_flow(double speed) const {
    return zero([&](double flow) { return -at(speed, flow).choke_margin; });
  }
  double mass(double flow) const { return flow * t_.molar_mass; }
  double ratio(double speed, double flow) const { return at(speed, flow).pressure / t_.design_pressure; }

 private:
  /// Where a function that rises with the flow is 0.
  template <class Function>
  double zero(const Function& f) const {
    double low = 0.05 * t_.design_flow, high = 3.0 * t_.design_flow;
    for (int n = 0; n < 50; ++n) {
      const double middle = 0.5 * (low + high);
      (f(middle) < 0.0 ? low : high) = middle;
    }
    return 0.5 * (low + high);
  }

  const plant::TrainParameters& t_;
  plant::TrainSize size_;
};

struct Curve {
  std::vector<double> flow, ratio;  // kg/s, 1
  std::string text() const {
    List text;
    text.member("flow", numbers(flow, kValueDigits));
    text.member("ratio", numbers(ratio, kValueDigits));
    return text.object();
  }
};

}  // namespace

std::string machine_text(const plant::PlantParameters& p) {
  if (p.form.intake != plant::kCentrifugal && p.form.intake != plant::kAxial) return {};
  const Machine machine(p);
  List lines;
  for (const double speed : kSpeeds) {
    constexpr int kPoints = 40;
    const double from = machine.surge_flow(speed), to = machine.choke_flow(speed);
    if (!(from < to)) continue;
    Curve curve;
    for (int k = 0; k <= kPoints; ++k) {
      const double flow = from + (to - from) * k / kPoints;
      curve.flow.push_back(machine.mass(flow));
      curve.ratio.push_back(machine.ratio(speed, flow));
    }
    lines.add("{\"speed\":" + number(speed, kValueDigits) + ",\"curve\":" + curve.text() + "}");
  }
  Curve surge, choke;
  for (double speed = kSlowest; speed < kFastest + 1e-9; speed += 0.01) {
    const double low = machine.surge_flow(speed), high = machine.choke_flow(speed);
    surge.flow.push_back(machine.mass(low)), surge.ratio.push_back(machine.ratio(speed, low));
    choke.flow.push_back(machine.mass(high)), choke.ratio.push_back(machine.ratio(speed, high));
  }
  List text;
  text.member("speed", number(plant::train_size(p).speed, kValueDigits));
  text.member("pressure", number(p.train.design_pressure, kValueDigits));
  text.member("temperature", number(p.train.design_temperature, kValueDigits));
  text.member("lines", lines.array());
  text.member("surge", surge.text());
  text.member("choke", choke.text());
  return text.object();
}

std::string machine_path_text(const TraceReader& trace, const Grid& grid) {
  List text;
  const auto add = [&](std::string_view word, std::string_view signal) {
    const std::vector<double> values = trace.column(signal);
    if (values.size() != trace.rows()) return false;
    text.member(word, numbers(grid.show(trace.times(), values), kValueDigits));
    return true;
  };
  const bool whole = add("flow", "compressor_flow") && add("suction", "suction_pressure") &&
                     add("temperature", "ambient_temperature") && add("discharge", "feed_header_pressure");
  return whole ? text.object() : std::string{};
}

}  // namespace duskline::harness
