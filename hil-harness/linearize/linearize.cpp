// Plant, instruments and controller put together; loops broken at one command after another.
#include "hil-harness/linearize/linearize.hpp"

#include <fmt/format.h>

#include <Eigen/LU>
#include <Eigen/SVD>
#include <algorithm>
#include <limits>
#include <map>
#include <numbers>
#include <stdexcept>

#include "hil-harness/linearize/controller_model.hpp"
#include "hil-harness/linearize/headers_side.hpp"
#include "hil-harness/linearize/plant_controller_model.hpp"
#include "hil-harness/linearize/plant_side.hpp"
#include "plant-model/linear.hpp"
#include "scenarios/reader/instruments.hpp"

namespace duskline::harness {
namespace {

using Eigen::Index;
using Eigen::MatrixXcd;
using Eigen::MatrixXd;

/// First channel of a command of the controller's list.
consteval Index channel_of(std::string_view name) {
  std::size_t channel = 0;
  for (const scenarios::CommandRow& row : scenarios::kCommandTable) {
    if (row.name == name) return static_cast<Index>(channel);
    channel += row.count;
  }
  throw "there is no such command";
}
constexpr Index kSpeed = channel_of("compressor_speed"), kCurrent = channel_of("stack_current");
constexpr Index kEnds = channel_of("end_power");
constexpr double kLowest = 1e-5;  ///< rad/s: a day is 7e-5
constexpr int kPointsADecade = 60;

struct Named {
  Index command;
  const char* name;
};
constexpr Named kLoops[] = {{kSpeed, "speed"},
                            {kCurrent, "current"},
                            {channel_of("recycle_opening"), "recycle valve"},
                            {channel_of("preheater_power"), "preheater"},
                            {kEnds, "end heater 1"},
                            {kEnds + 1, "end heater 2"}};
/// A loop of the plant controller. Broken at its reading where another loop has the same command, at its command where
/// another has the same reading.
struct HeaderLoop {
  const char* name;
  Index command;
  Index reading;            ///< -1: several
  bool at_reading;          ///< where it is broken
  bool paired;              ///< one of those that share the pressures and the CO between them
  const char *gain, *time;  ///< parameters
};
constexpr HeaderLoop kHeaderLoops[] = {
    {"feed header by speed", CTL_PLANT_OUTPUT_compressor_speed, CTL_PLANT_INPUT_feed_header_pressure, true,
     true, "pressure_gain", "pressure_time"},
    {"shaft that lacks speed", CTL_PLANT_OUTPUT_compressor_speed, CTL_PLANT_INPUT_compressor_speed, true,
     false, "shaft_gain", "shaft_time"},
    {"CO by recycle valve", CTL_PLANT_OUTPUT_recycle_opening, CTL_PLANT_INPUT_feed_header_co_fraction, true,
     true, "recycle_gain", "recycle_time"},
    {"exhaust header by its valve", CTL_PLANT_OUTPUT_exhaust_opening, CTL_PLANT_INPUT_exhaust_header_pressure,
     false, true, "exhaust_gain", "exhaust_time"},
    {"product header by its valve", CTL_PLANT_OUTPUT_product_opening, CTL_PLANT_INPUT_product_header_pressure,
     false, true, "product_gain", "product_time"},
    {"anti-surge valve", CTL_PLANT_OUTPUT_anti_surge_opening, -1, false, false, "surge_gain", "surge_time"}};

/// "gain 0.008 rad/s/Pa, integral time 28 s; SIMC: ...": what the plant controller has for a loop, and why.
std::string tuning_of(const HeaderLoop& loop, const ctl_plant_params& params) {
  std::string gain, time, source;
#define PARAMETER(name, initial, unit, lower, upper, meaning, why)                                   \
  if (std::string_view(loop.gain) == #name) {                                                        \
    gain = fmt::format("gain {:.3g}{}", params.name, std::string_view(unit) == "1" ? "" : " " unit); \
    source = why;                                                                                    \
  }                                                                                                  \
  if (std::string_view(loop.time) == #name) time = fmt::format(", integral time {:.3g} s", params.name);
  CTL_PLANT_PARAMETER_LIST(PARAMETER)
#undef PARAMETER
  return gain + time + "; " + source;
}

struct NamedOverride {
  Override active_limiter;
  const char* name;
  std::uint32_t limiter;
};
constexpr NamedOverride kOverrides[] = {{Override::coke_margin, "current by coke margin", CTL_BY_COKE_MARGIN},
                                        {Override::voltage, "current by voltage", CTL_BY_VOLTAGE},
                                        {Override::power, "current by power", CTL_BY_POWER}};

/// A controller that does nothing, for a plant whose controller is without power.
StateSpace nothing(const StateSpace& measured, Index readings, const std::vector<Channel>& references) {
  StateSpace s;
  s.step = measured.step;
  const Index sources = readings + static_cast<Index>(references.size()), commands = measured.b.cols();
  s.a.resize(0, 0);
  s.b.resize(0, sources);
  s.c.resize(commands, 0);
  s.d = MatrixXd::Zero(commands, sources);
  for (Index k = 0; k < readings; ++k) s.inputs.push_back(measured.outputs[static_cast<std::size_t>(k)]);
  s.inputs.insert(s.inputs.end(), references.begin(), references.end());
  s.outputs = measured.inputs;
  return s;
}

StateSpace close_loops(const StateSpace& p, const StateSpace& k, Index readings) {
  const Index np = p.a.rows(), nk = k.a.rows(), outputs = p.c.rows() - readings;
  const Index references = k.b.cols() - readings, commands = p.b.cols();
  const MatrixXd read = p.c.topRows(readings), by_reading = k.b.leftCols(readings),
                 through = k.d.leftCols(readings);
  StateSpace s;
  s.step = p.step;
  s.a.resize(np + nk, np + nk);
  s.a << p.a + p.b * through * read, p.b * k.c, by_reading * read, k.a;
  s.b = MatrixXd::Zero(np + nk, commands + references);
  s.b.topLeftCorner(np, commands) = p.b;
  s.b.topRightCorner(np, references) = p.b * k.d.rightCols(references);
  s.b.bottomRightCorner(nk, references) = k.b.rightCols(references);
  s.c = MatrixXd::Zero(outputs + commands, np + nk);
  s.c.topLeftCorner(outputs, np) = p.c.bottomRows(outputs);
  s.c.bottomLeftCorner(commands, np) = through * read;
  s.c.bottomRightCorner(commands, nk) = k.c;
  s.d = MatrixXd::Zero(outputs + commands, commands + references);
  s.d.bottomLeftCorner(commands, commands).setIdentity();
  s.d.bottomRightCorner(commands, references) = k.d.rightCols(references);
  s.state_scale.resize(np + nk);
  s.state_scale.head(np) = p.state_scale;
  if (nk > 0) s.state_scale.tail(nk) = k.state_scale;
  s.states = p.states;
  s.states.insert(s.states.end(), k.states.begin(), k.states.end());
  for (const Channel& command : p.inputs) s.inputs.push_back({"disturbance." + command.name, command.unit});
  s.inputs.insert(s.inputs.end(), k.inputs.begin() + readings, k.inputs.end());
  s.outputs.assign(p.outputs.begin() + readings, p.outputs.end());
  for (const Channel& command : p.inputs) s.outputs.push_back({"command." + command.name, command.unit});
  return s;
}

/// The plant's side of a frequency, worked out once.
class PlantResponse {
 public:
  PlantResponse(const StateSpace& measured, Index readings) : readings_(readings), transfer_(measured) {}
  const MatrixXcd& at(double omega) const {
    const auto found = known_.find(omega);
    if (found != known_.end()) return found->second;
    return known_.emplace(omega, transfer_.at(omega).topRows(readings_)).first->second;
  }

  Index readings() const { return readings_; }

 private:
  Index readings_;
  Transfer transfer_;
  mutable std::map<double, MatrixXcd> known_;
};

/// From commands to commands, all loops open: M = K P, worked out once for each frequency.
class Return {
 public:
  Return(const PlantResponse& plant, const StateSpace& controller) : plant_(plant), transfer_(controller) {}
  const MatrixXcd& at(double omega) const {
    const auto found = known_.find(omega);
    if (found != known_.end()) return found->second;
    return known_.emplace(omega, control(omega) * plant_.at(omega)).first->second;
  }
  /// From readings to readings: P K.
  MatrixXcd around_readings(double omega) const { return plant_.at(omega) * control(omega); }

 private:
  MatrixXcd control(double omega) const { return transfer_.at(omega).leftCols(plant_.readings()); }

  const PlantResponse& plant_;
  Transfer transfer_;
  mutable std::map<double, MatrixXcd> known_;
};

/// L at one command, or one reading, with the others closed; M is positive feedback, L negative.
std::complex<double> broken_at(const MatrixXcd& m, Index at) {
  const Index n = m.rows();
  std::vector<Index> others;
  for (Index k = 0; k < n; ++k)
    if (k != at) others.push_back(k);
  const MatrixXcd closed = MatrixXcd::Identity(n - 1, n - 1) - MatrixXcd(m(others, others));
  const Eigen::VectorXcd answer = closed.partialPivLu().solve(Eigen::VectorXcd(m(others, at)));
  return -(m(at, at) + (m(at, others) * answer).value());
}

bool acts(const StateSpace& k, Index command, Index readings) {
  return k.d.row(command).leftCols(readings).cwiseAbs().maxCoeff() > 0.0 ||
         (k.a.rows() > 0 && k.c.row(command).cwiseAbs().maxCoeff() > 0.0);
}
bool is_used(const StateSpace& k, Index reading) {
  return !k.d.col(reading).isZero(0.0) || !k.b.col(reading).isZero(0.0);
}

}  // namespace

struct LinearLoop::Parts {
  const OperatingPoint& point;
  ctl_params params;
  Index readings;  ///< of the controller whose loops are looked at
  std::size_t module_ticks =
      std::numeric_limits<std::size_t>::max();  ///< the fewest of a module, between headers
  StateSpace plant, sampled, measured;
  PlantResponse response;
  ControllerModel modelled;
  const StateSpace& controller;
  StateSpace closed;
  std::vector<std::complex<double>> closed_poles;
  Return loops;
  struct Held {
    NamedOverride which;
    StateSpace controller;
    std::size_t ticks;
    Return loops;
  };
  std::vector<std::unique_ptr<Held>> held;

  Parts(const OperatingPoint& at, const ctl_params& with)
      : point(at),
        params(with),
        readings(at.shared ? Index{CTL_PLANT_INSTRUMENTS} : static_cast<Index>(scenarios::kReadingChannels)),
        plant(plant_model(at)),
        sampled(discretised(plant, at.period)),
        measured(at.shared ? seen_by_plant_controller(sampled, at, module_ticks)
                           : with_instruments(sampled, instruments_of(at), command_spans(at))),
        response(measured, readings),
        modelled(model(Override::as_it_is)),
        controller(modelled.system),
        closed(close_loops(measured, controller, readings)),
        closed_poles(poles(closed)),
        loops(response, controller) {
    modelled.ticks = std::min(modelled.ticks, module_ticks);
    if (at.shared) return;
    if (at.control.mode != CTL_PRODUCTION) return;
    for (const NamedOverride& which : kOverrides) {
      if (at.control.limiter == which.limiter) continue;  // the loop of the current shows it
      auto k = controller_model(at, params, which.active_limiter);
      if (!k) continue;
      held.push_back(std::make_unique<Held>(Held{which, k->system, k->ticks, Return(response, k->system)}));
    }
  }

  ControllerModel model(Override active_limiter) const {
    auto k = point.shared ? plant_controller_model(*point.shared, point.shared->params)
                          : controller_model(point, params, active_limiter);
    if (k) return std::move(*k);
    return {nothing(measured, readings, point.shared ? plant_reference_channels() : reference_channels()), 0};
  }

  double highest() const { return std::numbers::pi / point.period; }

  LoopMargins judge(const std::string& name, Index command, const StateSpace& k, const Return& m) const {
    const FrequencyResponse broken = [&m, command](double omega) { return broken_at(m.at(omega), command); };
    return judge(name, command, k, acts(k, command, readings), broken);
  }
  LoopMargins judge(const std::string& name, Index command, const StateSpace& k, bool feedback,
                    const FrequencyResponse& broken) const {
    LoopMargins loop;
    loop.name = name;
    loop.command = measured.inputs[static_cast<std::size_t>(command)].name;
    loop.feedback = feedback;
    loop.ticks = modelled.ticks;
    const auto all = &k == &controller ? closed_poles : poles(close_loops(measured, k, readings));
    loop.slowest = std::abs(all.front());
    loop.stable = loop.slowest <= kUnitCircle;
    if (loop.feedback) loop.margins = margins_of(broken, kLowest, highest(), kPointsADecade);
    return loop;
  }

  FrequencyResponse broken(const HeaderLoop& loop) const {
    const Return* m = &loops;
    if (loop.at_reading)
      return [m, at = loop.reading](double omega) { return broken_at(m->around_readings(omega), at); };
    return [m, at = loop.command](double omega) { return broken_at(m->at(omega), at); };
  }
  LoopMargins judge(const HeaderLoop& loop) const {
    const bool feedback =
        acts(controller, loop.command, readings) && (!loop.at_reading || is_used(controller, loop.reading));
    LoopMargins m = judge(loop.name, loop.command, controller, feedback, broken(loop));
    m.in_charge = true;
    m.tuning = tuning_of(loop, point.shared->params);
    return m;
  }
};

LinearLoop::LinearLoop(const OperatingPoint& point, const ctl_params& params)
    : parts_(std::make_unique<Parts>(point, params)) {}
LinearLoop::LinearLoop(const OperatingPoint& point) : LinearLoop(point, point.params) {}
LinearLoop::~LinearLoop() = default;

const StateSpace& LinearLoop::plant() const {
  return parts_->plant;
}
const StateSpace& LinearLoop::sampled_plant() const {
  return parts_->sampled;
}
const StateSpace& LinearLoop::measured_plant() const {
  return parts_->measured;
}
const StateSpace& LinearLoop::controller() const {
  return parts_->controller;
}
const StateSpace& LinearLoop::closed() const {
  return parts_->closed;
}

std::size_t LinearLoop::ticks() const {
  return parts_->modelled.ticks;
}

double LinearLoop::sensitivity_at(double omega) const {
  std::vector<Index> moved;
  for (Index k = 0; k < parts_->controller.c.rows(); ++k)
    if (acts(parts_->controller, k, parts_->readings)) moved.push_back(k);
  if (moved.empty()) return 1.0;
  const MatrixXcd m = parts_->loops.at(omega)(moved, moved);
  const Eigen::VectorXcd span = command_spans(parts_->point)(moved).cast<std::complex<double>>();
  const MatrixXcd scaled = span.cwiseInverse().asDiagonal() * m * span.asDiagonal();
  const MatrixXcd s = (MatrixXcd::Identity(m.rows(), m.rows()) - scaled).inverse();
  return s.jacobiSvd().singularValues()[0];
}

std::vector<LoopMargins> LinearLoop::margins() const {
  const Parts& p = *parts_;
  std::vector<LoopMargins> all;
  if (p.point.shared) {
    for (const HeaderLoop& loop : kHeaderLoops) all.push_back(p.judge(loop));
    return all;
  }
  for (const Named& loop : kLoops) {
    std::string name = loop.name;
    if (loop.command == kCurrent)
      for (const NamedOverride& which : kOverrides)
        if (p.point.control.limiter == which.limiter) name = which.name;
    all.push_back(p.judge(name, loop.command, p.controller, p.loops));
    all.back().in_charge = true;
    if (loop.command != kCurrent) continue;
    for (const auto& held : p.held) {
      all.push_back(p.judge(held->which.name, kCurrent, held->controller, held->loops));
      all.back().ticks = held->ticks;
    }
  }
  return all;
}

FrequencyResponse LinearLoop::response_of(const LoopMargins& loop) const {
  const Parts* p = parts_.get();
  if (p->point.shared)
    for (const HeaderLoop& header : kHeaderLoops)
      if (loop.name == header.name) return p->broken(header);
  if (!loop.in_charge)
    for (const auto& held : p->held)
      if (loop.name == held->which.name) {
        const Return* m = &held->loops;
        return [m](double omega) { return broken_at(m->at(omega), kCurrent); };
      }
  Index command = 0;
  while (command + 1 < p->measured.b.cols() &&
         p->measured.inputs[static_cast<std::size_t>(command)].name != loop.command)
    ++command;
  return [p, command](double omega) { return broken_at(p->loops.at(omega), command); };
}

const std::vector<std::complex<double>>& LinearLoop::closed_poles() const {
  return parts_->closed_poles;
}

Pairing LinearLoop::pairing() const {
  Pairing pairing;
  if (!parts_->point.shared) return pairing;
  for (const HeaderLoop& loop : kHeaderLoops) {
    if (!loop.paired) continue;
    pairing.commands.push_back(parts_->controller.outputs[static_cast<std::size_t>(loop.command)].name);
    pairing.readings.push_back(parts_->controller.inputs[static_cast<std::size_t>(loop.reading)].name);
  }
  return pairing;
}

MatrixXcd LinearLoop::relative_gains(double omega) const {
  std::vector<Index> commands, readings;
  for (const HeaderLoop& loop : kHeaderLoops) {
    if (!loop.paired) continue;
    commands.push_back(loop.command);
    readings.push_back(loop.reading);
  }
  const MatrixXcd gains = parts_->response.at(omega)(readings, commands);
  return gains.cwiseProduct(gains.inverse().transpose());
}

std::vector<LoopMargins> loop_margins(const OperatingPoint& point, const ctl_params& params) {
  return LinearLoop(point, params).margins();
}

std::vector<LoopMargins> loop_margins(const scenarios::Case& c, double at) {
  std::string problem;
  const auto point = operating_point(c, at, problem);
  if (!point) throw std::runtime_error(problem);
  return loop_margins(*point, point->params);
}

}  // namespace duskline::harness
