// The results as JSON, and each matrix in an exchange format.
#include <fmt/format.h>

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
          {"controller_ticks", l.ticks},
          {"tuning", l.tuning},
          {"response", pairs_of(curve.response)}};
}

Json relative_gains_of(const LinearResults& r) {
  Json list = Json::array();
  for (const RelativeGains& at : r.relative_gains)
    list.push_back({{"frequency", at.omega},
                    {"real", rows_of(at.gains.real())},
                    {"imaginary", rows_of(at.gains.imag())}});
  return {{"commands", r.pairing.commands}, {"readings", r.pairing.readings}, {"at", list}};
}

/// A dense matrix in the exchange format: rows and columns, then the entries column by column.
std::string matrix_market(const Eigen::MatrixXd& m) {
  std::string text = fmt::format("%%MatrixMarket matrix array real general\n{} {}\n", m.rows(), m.cols());
  for (Eigen::Index k = 0; k < m.cols(); ++k)
    for (Eigen::Index i = 0; i < m.rows(); ++i) text += fmt::format("{}\n", m(i, k));
  return text;
}

/// The matrices that have a file of their own.
struct MatrixFile {
  const char* name;
  StateSpace LinearResults::*system;
  Eigen::MatrixXd StateSpace::*matrix;
};
constexpr MatrixFile kMatrices[] = {
    {"plant-A.mtx", &LinearResults::plant, &StateSpace::a},
    {"plant-B.mtx", &LinearResults::plant, &StateSpace::b},
    {"plant-C.mtx", &LinearResults::plant, &StateSpace::c},
    {"plant-D.mtx", &LinearResults::plant, &StateSpace::d},
    {"closed-loop-A.mtx", &LinearResults::closed, &StateSpace::a},
    {"closed-loop-B.mtx", &LinearResults::closed, &StateSpace::b},
    {"closed-loop-C.mtx", &LinearResults::closed, &StateSpace::c},
    {"closed-loop-D.mtx", &LinearResults::closed, &StateSpace::d},
};

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
                {"controller_ticks", r.ticks},
                {"warning", warning_of(r)},
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
                {"relative_gains", relative_gains_of(r)},
                {"step_time", r.time_of_steps},
                {"steps", steps}};
  return document.dump() + "\n";
}

std::vector<std::string> linear_file_names() {
  std::vector<std::string> names{"linear.json", "linear.html"};
  for (const MatrixFile& file : kMatrices) names.emplace_back(file.name);
  return names;
}

std::vector<std::pair<std::string, std::string>> linear_files(const LinearResults& r) {
  std::vector<std::pair<std::string, std::string>> files{{"linear.json", linear_json(r)},
                                                         {"linear.html", linear_page(r)}};
  for (const MatrixFile& file : kMatrices)
    files.emplace_back(file.name, matrix_market((r.*file.system).*file.matrix));
  return files;
}

}  // namespace duskline::harness
