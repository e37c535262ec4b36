#include "hil-harness/report/compressor_map.hpp"

#include <array>
#include <cmath>
#include <vector>

#include "hil-harness/report/json_text.hpp"
#include "plant-model/compressors/train_map.hpp"

namespace duskline::harness {
namespace {

using json_text::kValueDigits;
using json_text::List;
using json_text::number;
using json_text::numbers;

constexpr std::array kSpeeds{0.92, 0.94, 0.96, 0.98, 1.00, 1.02, 1.05};  // 1, lines that are drawn
constexpr double kSlowest = 0.88, kFastest = 1.06;                       // 1, ends of the surge line

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
  const plant::TrainSize size = plant::train_size(p);
  const plant::TrainMap map{p.train, size, p.train.design_pressure, p.train.design_temperature};
  const auto add = [&](Curve& curve, double speed, double flow) {
    curve.flow.push_back(flow * p.train.molar_mass);
    curve.ratio.push_back(map.at(speed, flow).pressure / map.pressure);
  };
  List lines;
  for (const double share : kSpeeds) {
    constexpr int kPoints = 40;
    const double speed = share * size.speed, from = map.surge_flow(speed), to = map.choke_flow(speed);
    if (!(from < to)) continue;
    Curve curve;
    for (int k = 0; k <= kPoints; ++k) add(curve, speed, from + (to - from) * k / kPoints);
    lines.add("{\"speed\":" + number(share, kValueDigits) + ",\"curve\":" + curve.text() + "}");
  }
  Curve surge, choke;
  for (double share = kSlowest; share < kFastest + 1e-9; share += 0.01) {
    const double speed = share * size.speed;
    add(surge, speed, map.surge_flow(speed));
    add(choke, speed, map.choke_flow(speed));
  }
  List text;
  text.member("speed", number(size.speed, kValueDigits));
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
