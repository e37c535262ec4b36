// The results as JSON and as text that Octave loads.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "hil-harness/linearize/results.hpp"

namespace duskline::harness {
namespace {

using Json = nlohmann::ordered_json;
using Complexes = std::vector<std::complex<double>>;

/// Infinity has no number in JSON: null stands for it.
Json number(double value) {
  return std::isfinite(value) ? Json(value) : Json(nullptr);
}

Json rows_of(const Eigen::MatrixXd& m) {
  Json rows = Json::array();
  for (Eigen::Index i = 0; i < m.rows(); ++i) {
    Json row = Json::array();
    for (Eigen::Index k = 0; k < m.cols(); ++k) row.push_back(m(i, k));
    rows.push_back(std::move(row));
  }
  return rows;
}

Json names_of(const std::vector<Channel>& channels) {
  Json list = Json::array();
  for (const Channel& c : channels) list.push_back({{"name", c.name}, {"unit", c.unit}});
  return list;
}

Json pairs_of(const Complexes& values) {
  Json list = Json::array();
  for (const auto& z : values) list.push_back({number(z.real()), number(z.imag())});
  return list;
}

Json system_of(const StateSpace& s) {
  return {{"step", s.step},
          {"states", names_of(s.states)},
          {"inputs", names_of(s.inputs)},
          {"outputs", names_of(s.outputs)},
          {"A", rows_of(s.a)},
          {"B", rows_of(s.b)},
          {"C", rows_of(s.c)},
          {"D", rows_of(s.d)}};
}

Json loop_of(const LoopCurve& curve) {
  const LoopMargins& l = curve.loop;
  const Margins& m = l.margins;
  return {{"name", l.name},
          {"command", l.command},
          {"in_charge", l.in_charge},
          {"feedback", l.feedback},
          {"stable", l.stable},
          {"slowest_pole", l.slowest},
          {"sensitivity_peak", m.sensitivity},
          {"sensitivity_peak_at", m.sensitivity_at},
          {"complementary_peak", m.complementary},
          {"gain_margin", number(m.gain)},
          {"gain_margin_at", m.gain_at},
          {"gain_margin_down", m.gain_down},
          {"phase_margin_deg", number(m.phase)},
          {"crossover", m.crossover},
          {"delay_margin", number(m.delay)},
          {"response", pairs_of(curve.response)}};
}

void header(std::string& text, std::string_view name, std::string_view type) {
  text += fmt::format("# name: {}\n# type: {}\n", name, type);
}

void put(std::string& text, std::string_view name, const Eigen::MatrixXd& m) {
  header(text, name, "matrix");
  text += fmt::format("# rows: {}\n# columns: {}\n", m.rows(), m.cols());
  for (Eigen::Index i = 0; i < m.rows(); ++i) {
    for (Eigen::Index k = 0; k < m.cols(); ++k) text += fmt::format(" {}", m(i, k));
    text += '\n';
  }
  text += "\n\n";
}

void put(std::string& text, std::string_view name, double value) {
  header(text, name, "scalar");
  text += fmt::format("{}\n\n\n", value);
}

void put(std::string& text, std::string_view name, const Complexes& values) {
  header(text, name, "complex matrix");
  text += fmt::format("# rows: {}\n# columns: 1\n", values.size());
  for (const auto& z : values) text += fmt::format(" ({},{})\n", z.real(), z.imag());
  text += "\n\n";
}

/// Names as rows of characters, all of one length.
void put(std::string& text, std::string_view name, const std::vector<Channel>& channels) {
  std::size_t width = 0;
  const auto label = [](const Channel& c) { return c.unit.empty() ? c.name : c.name + " [" + c.unit + "]"; };
  for (const Channel& c : channels) width = std::max(width, label(c).size());
  header(text, name, "string");
  text += fmt::format("# elements: {}\n", channels.size());
  for (const Channel& c : channels) text += fmt::format("# length: {}\n{:<{}}\n", width, label(c), width);
  text += "\n\n";
}

void put(std::string& text, const std::string& prefix, const StateSpace& s) {
  put(text, prefix + "A", s.a);
  put(text, prefix + "B", s.b);
  put(text, prefix + "C", s.c);
  put(text, prefix + "D", s.d);
}

}  // namespace

std::string linear_json(const LinearResults& r) {
  Json loops = Json::array(), steps = Json::array();
  for (const LoopCurve& curve : r.loops) loops.push_back(loop_of(curve));
  for (const StepCurve& s : r.steps) {
    Json step{{"input", s.input.name},   {"amount", s.amount},           {"unit", s.input.unit},
              {"output", s.output.name}, {"output_unit", s.output.unit}, {"closed", s.closed}};
    if (!s.open.empty()) step["open"] = s.open;
    steps.push_back(std::move(step));
  }
  Json document{{"format", "duskline-linear/1"},
                {"title", r.title},
                {"scenario", r.scenario},
                {"time", r.time},
                {"local_time", r.local_time},
                {"period", r.period},
                {"law", r.law},
                {"mode", r.mode},
                {"limiter", r.limiter},
                {"operating_point",
                 {{"states", r.states}, {"rates", r.rates}, {"inputs", r.inputs}, {"outputs", r.outputs}}},
                {"quasi_static_states", r.quasi_static},
                {"plant", system_of(r.plant)},
                {"plant_poles", pairs_of(r.plant_poles)},
                {"sampled_plant", system_of(r.sampled)},
                {"sampled_plant_poles", pairs_of(r.sampled_poles)},
                {"measured_plant", system_of(r.measured)},
                {"controller", system_of(r.controller)},
                {"closed_loop", system_of(r.closed)},
                {"closed_loop_poles", pairs_of(r.closed_poles)},
                {"frequency", r.frequency},
                {"loops", loops},
                {"largest_sensitivity",
                 {{"peak", r.sensitivity_peak}, {"at", r.sensitivity_peak_at}, {"values", r.sensitivity}}},
                {"step_time", r.time_of_steps},
                {"steps", steps}};
  return document.dump() + "\n";
}

std::string linear_text(const LinearResults& r) {
  std::string text = "# duskline linear models, text form 1\n";
  put(text, "time", r.time);
  put(text, "period", r.period);
  put(text, "", r.plant);
  put(text, "states", r.plant.states);
  put(text, "inputs", r.plant.inputs);
  put(text, "outputs", r.plant.outputs);
  put(text, "x0",
      Eigen::Map<const Eigen::VectorXd>(r.states.data(), static_cast<Eigen::Index>(r.states.size())));
  put(text, "u0",
      Eigen::Map<const Eigen::VectorXd>(r.inputs.data(), static_cast<Eigen::Index>(r.inputs.size())));
  put(text, "y0",
      Eigen::Map<const Eigen::VectorXd>(r.outputs.data(), static_cast<Eigen::Index>(r.outputs.size())));
  put(text, "poles", r.plant_poles);
  put(text, "sampled_A", r.sampled.a);
  put(text, "sampled_B", r.sampled.b);
  put(text, "closed_", r.closed);
  put(text, "closed_inputs", r.closed.inputs);
  put(text, "closed_outputs", r.closed.outputs);
  put(text, "closed_poles", r.closed_poles);
  put(text, "frequency",
      Eigen::Map<const Eigen::VectorXd>(r.frequency.data(), static_cast<Eigen::Index>(r.frequency.size())));
  for (const LoopCurve& curve : r.loops) {
    if (curve.response.empty()) continue;
    std::string name = "loop_" + curve.loop.name;
    std::replace(name.begin(), name.end(), ' ', '_');
    put(text, name, curve.response);
  }
  return text;
}

}  // namespace duskline::harness
