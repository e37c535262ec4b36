// Plant, instruments and controller put together; loops broken at one command after another.
#include "hil-harness/linearize/linearize.hpp"

#include <Eigen/LU>
#include <Eigen/SVD>
#include <map>
#include <numbers>
#include <stdexcept>

#include "hil-harness/linearize/controller_model.hpp"
#include "hil-harness/linearize/plant_side.hpp"
#include "plant-model/linear.hpp"
#include "scenarios/reader/instruments.hpp"

namespace duskline::harness {
namespace {

using Eigen::Index;
using Eigen::MatrixXcd;
using Eigen::MatrixXd;

constexpr Index kCommands = static_cast<Index>(scenarios::kCommandChannels);
constexpr Index kReadings = static_cast<Index>(scenarios::kReadingChannels);
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
struct NamedOverride {
  Override active_limiter;
  const char* name;
  std::uint32_t limiter;
};
constexpr NamedOverride kOverrides[] = {{Override::coke_margin, "current by coke margin", CTL_BY_COKE_MARGIN},
                                        {Override::voltage, "current by voltage", CTL_BY_VOLTAGE},
                                        {Override::power, "current by power", CTL_BY_POWER}};

/// A controller that does nothing, for a plant whose controller is without power.
StateSpace nothing(double step) {
  StateSpace s;
  s.step = step;
  const auto sources = kReadings + static_cast<Index>(reference_channels().size());
  s.a.resize(0, 0);
  s.b.resize(0, sources);
  s.c.resize(kCommands, 0);
  s.d = MatrixXd::Zero(kCommands, sources);
  return s;
}

StateSpace close_loops(const StateSpace& p, const StateSpace& k) {
  const Index np = p.a.rows(), nk = k.a.rows(), outputs = p.c.rows() - kReadings;
  const Index references = k.b.cols() - kReadings;
  const MatrixXd read = p.c.topRows(kReadings), by_reading = k.b.leftCols(kReadings),
                 through = k.d.leftCols(kReadings);
  StateSpace s;
  s.step = p.step;
  s.a.resize(np + nk, np + nk);
  s.a << p.a + p.b * through * read, p.b * k.c, by_reading * read, k.a;
  s.b = MatrixXd::Zero(np + nk, kCommands + references);
  s.b.topLeftCorner(np, kCommands) = p.b;
  s.b.topRightCorner(np, references) = p.b * k.d.rightCols(references);
  s.b.bottomRightCorner(nk, references) = k.b.rightCols(references);
  s.c = MatrixXd::Zero(outputs + kCommands, np + nk);
  s.c.topLeftCorner(outputs, np) = p.c.bottomRows(outputs);
  s.c.bottomLeftCorner(kCommands, np) = through * read;
  s.c.bottomRightCorner(kCommands, nk) = k.c;
  s.d = MatrixXd::Zero(outputs + kCommands, kCommands + references);
  s.d.bottomLeftCorner(kCommands, kCommands).setIdentity();
  s.d.bottomRightCorner(kCommands, references) = k.d.rightCols(references);
  s.state_scale.resize(np + nk);
  s.state_scale.head(np) = p.state_scale;
  if (nk > 0) s.state_scale.tail(nk) = k.state_scale;
  s.states = p.states;
  s.states.insert(s.states.end(), k.states.begin(), k.states.end());
  for (const Channel& command : p.inputs) s.inputs.push_back({"disturbance." + command.name, command.unit});
  for (const Channel& reference : reference_channels()) s.inputs.push_back(reference);
  s.outputs.assign(p.outputs.begin() + kReadings, p.outputs.end());
  for (const Channel& command : p.inputs) s.outputs.push_back({"command." + command.name, command.unit});
  return s;
}

/// The plant's side of a frequency, worked out once.
class PlantResponse {
 public:
  explicit PlantResponse(const StateSpace& measured) : transfer_(measured) {}
  const MatrixXcd& at(double omega) const {
    const auto found = known_.find(omega);
    if (found != known_.end()) return found->second;
    return known_.emplace(omega, transfer_.at(omega).topRows(kReadings)).first->second;
  }

 private:
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
    return known_.emplace(omega, transfer_.at(omega).leftCols(kReadings) * plant_.at(omega)).first->second;
  }

 private:
  const PlantResponse& plant_;
  Transfer transfer_;
  mutable std::map<double, MatrixXcd> known_;
};

/// L at one command with the others closed; M is positive feedback, L negative.
std::complex<double> broken_at(const MatrixXcd& m, Index command) {
  const Index n = m.rows();
  std::vector<Index> others;
  for (Index k = 0; k < n; ++k)
    if (k != command) others.push_back(k);
  const MatrixXcd closed = MatrixXcd::Identity(n - 1, n - 1) - MatrixXcd(m(others, others));
  const Eigen::VectorXcd answer = closed.partialPivLu().solve(Eigen::VectorXcd(m(others, command)));
  return -(m(command, command) + (m(command, others) * answer).value());
}

bool acts(const StateSpace& k, Index command) {
  return k.d.row(command).leftCols(kReadings).cwiseAbs().maxCoeff() > 0.0 ||
         (k.a.rows() > 0 && k.c.row(command).cwiseAbs().maxCoeff() > 0.0);
}

}  // namespace

struct LinearLoop::Parts {
  const OperatingPoint& point;
  ctl_params params;
  StateSpace plant, sampled, measured;
  PlantResponse response;
  StateSpace controller, closed;
  Return loops;
  struct Held {
    NamedOverride which;
    StateSpace controller;
    Return loops;
  };
  std::vector<std::unique_ptr<Held>> held;

  Parts(const OperatingPoint& at, const ctl_params& with)
      : point(at),
        params(with),
        plant(plant_model(at)),
        sampled(discretised(plant, at.period)),
        measured(with_instruments(sampled, at)),
        response(measured),
        controller(model(Override::as_it_is)),
        closed(close_loops(measured, controller)),
        loops(response, controller) {
    if (at.control.mode != CTL_PRODUCTION) return;
    for (const NamedOverride& which : kOverrides) {
      if (at.control.limiter == which.limiter) continue;  // the loop of the current shows it
      auto k = controller_model(at, params, which.active_limiter);
      if (!k) continue;
      held.push_back(std::make_unique<Held>(Held{which, k->system, Return(response, k->system)}));
    }
  }

  StateSpace model(Override active_limiter) const {
    auto k = controller_model(point, params, active_limiter);
    return k ? std::move(k->system) : nothing(point.period);
  }

  double highest() const { return std::numbers::pi / point.period; }

  LoopMargins judge(const std::string& name, Index command, const StateSpace& k, const Return& m) const {
    LoopMargins loop;
    loop.name = name;
    loop.command = measured.inputs[static_cast<std::size_t>(command)].name;
    loop.feedback = acts(k, command);
    const auto all = poles(&k == &controller ? closed : close_loops(measured, k));
    loop.slowest = std::abs(all.front());
    loop.stable = loop.slowest <= kUnitCircle;
    if (loop.feedback)
      loop.margins = margins_of([&](double omega) { return broken_at(m.at(omega), command); }, kLowest,
                                highest(), kPointsADecade);
    return loop;
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

double LinearLoop::sensitivity_at(double omega) const {
  const MatrixXcd m = parts_->loops.at(omega);
  const Eigen::VectorXcd span = command_spans(parts_->point).cast<std::complex<double>>();
  const MatrixXcd scaled = span.cwiseInverse().asDiagonal() * m * span.asDiagonal();
  const MatrixXcd s = (MatrixXcd::Identity(kCommands, kCommands) - scaled).inverse();
  return s.jacobiSvd().singularValues()[0];
}

std::vector<LoopMargins> LinearLoop::margins() const {
  const Parts& p = *parts_;
  std::vector<LoopMargins> all;
  for (const Named& loop : kLoops) {
    std::string name = loop.name;
    if (loop.command == kCurrent)
      for (const NamedOverride& which : kOverrides)
        if (p.point.control.limiter == which.limiter) name = which.name;
    all.push_back(p.judge(name, loop.command, p.controller, p.loops));
    all.back().in_charge = true;
    if (loop.command != kCurrent) continue;
    for (const auto& held : p.held)
      all.push_back(p.judge(held->which.name, kCurrent, held->controller, held->loops));
  }
  return all;
}

FrequencyResponse LinearLoop::response_of(const LoopMargins& loop) const {
  const Parts* p = parts_.get();
  if (!loop.in_charge)
    for (const auto& held : p->held)
      if (loop.name == held->which.name) {
        const Return* m = &held->loops;
        return [m](double omega) { return broken_at(m->at(omega), kCurrent); };
      }
  Index command = 0;
  while (command + 1 < kCommands &&
         p->measured.inputs[static_cast<std::size_t>(command)].name != loop.command)
    ++command;
  return [p, command](double omega) { return broken_at(p->loops.at(omega), command); };
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
