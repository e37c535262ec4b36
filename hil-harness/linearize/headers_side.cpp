// The whole plant with names, and the loops of its modules closed one after the other.
#include "hil-harness/linearize/headers_side.hpp"

#include <algorithm>
#include <array>
#include <limits>

#include "hil-harness/linearize/controller_model.hpp"
#include "hil-harness/linearize/plant_side.hpp"
#include "plant-model/linear.hpp"
#include "scenarios/reader/instruments.hpp"

namespace duskline::harness {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;

constexpr Index kShared = static_cast<Index>(plant::kSharedCommands);
constexpr Index kOwn = static_cast<Index>(plant::kModuleCommands);
constexpr std::size_t kSharedReadings = CTL_PLANT_INSTRUMENTS;
constexpr std::size_t kReadings = scenarios::kReadingChannels;

std::string of_module(std::size_t n) {
  return "module[" + std::to_string(n + 1) + "].";
}

/// The commands of a module behind headers in the plant's order: the place of each among those of its controller.
std::vector<Index> own_commands() {
  std::vector<Index> places(kOwn);
  const auto plant_place = plant::places<plant::ModuleCommandsOf>();
  const auto put = [&](std::size_t at, const char* name, std::size_t item = 0) {
    places[at] = static_cast<Index>(scenarios::command_channel(name) + item);
  };
  put(plant_place.stack_current, "stack_current");
  put(plant_place.preheater_power, "preheater_power");
  put(plant_place.feed_opening, "feed_opening");
  for (std::size_t k = 0; k < plant::kEnds; ++k) put(plant_place.end_power[k], "end_power", k);
  return places;
}

/// Outputs of the whole model: how many come before those of module n, and how many each module has.
std::size_t outputs_each() {
  return kReadings + plant::module_reported_table().size();
}
std::size_t first_of_module(std::size_t n) {
  return kSharedReadings + plant::shared_reported_table().size() + n * outputs_each();
}

/// For each reading of a module the reading of the plant controller that it is given in its place, or -1: what
/// ctl_plant_orders_to_module does with numbers that tell themselves apart.
std::vector<int> given_readings() {
  ctl_plant_inputs plant{};
  float number = 1.0F;
#define READING(name, ...) plant.name = number++;
  CTL_PLANT_INPUT_LIST(READING)
#undef READING
  ctl_plant_outputs orders{};
  ctl_inputs in{};
  ctl_plant_orders_to_module(&plant, &orders, 0, &in);
  std::vector<int> given;
#define READING(name, ...) given.push_back(static_cast<int>(in.name) - 1);
#define READINGS(name, ...) \
  for (const float one : in.name) given.push_back(static_cast<int>(one) - 1);
  CTL_INPUT_LIST(READING, READINGS)
#undef READING
#undef READINGS
  return given;
}

/// The controller of a module between the readings that it uses and the commands of its module.
struct ModuleController {
  StateSpace system;
  std::vector<Index> reads;  ///< channels of readings, one an input of the system
  std::size_t ticks{};       ///< ControllerModel::ticks
};

std::optional<ModuleController> module_controller(const ModulePoint& module) {
  auto k = controller_model(module, module.params, Override::as_it_is);
  if (!k) return std::nullopt;
  const StateSpace& all = k->system;
  ModuleController c;
  c.ticks = k->ticks;
  for (Index r = 0; r < static_cast<Index>(kReadings); ++r)
    if (!all.b.col(r).isZero(0.0) || !all.d.col(r).isZero(0.0)) c.reads.push_back(r);
  const std::vector<Index> rows = own_commands();
  c.system.a = all.a, c.system.b = all.b(Eigen::all, c.reads);
  c.system.c = all.c(rows, Eigen::all), c.system.d = all.d(rows, c.reads);
  c.system.states = all.states, c.system.state_scale = all.state_scale;
  return c;
}

/// A controller around some outputs and inputs of a model, closed; the outputs do not answer within the tick.
void close(StateSpace& p, const StateSpace& k, const std::vector<Index>& read, Index first_input,
           const std::string& prefix) {
  const Index np = p.a.rows(), nk = k.a.rows();
  const MatrixXd c = p.c(read, Eigen::all), b = p.b.middleCols(first_input, k.c.rows());
  MatrixXd a(np + nk, np + nk);
  a << p.a + b * k.d * c, b * k.c, k.b * c, k.a;
  p.a = a;
  const auto grow = [nk](MatrixXd& m, Index rows, Index columns) {
    m.conservativeResizeLike(MatrixXd::Zero(m.rows() + rows * nk, m.cols() + columns * nk));
  };
  grow(p.b, 1, 0);
  grow(p.c, 0, 1);
  Eigen::VectorXd scale(np + nk);
  scale << p.state_scale, k.state_scale;
  p.state_scale = scale;
  for (const Channel& state : k.states) p.states.push_back({prefix + state.name, state.unit});
}

}  // namespace

std::vector<Index> places_of_whole_outputs(std::size_t modules) {
  std::vector<Index> rows;
  const auto place = plant::places<plant::SharedValuesOf>();
#define PLACE(name, ...) rows.push_back(static_cast<Index>(place.name));
  CTL_PLANT_INPUT_LIST(PLACE)
#undef PLACE
  std::size_t row = plant::kSharedTruths;
  for (std::size_t k = 0; k < plant::shared_reported_table().size(); ++k)
    rows.push_back(static_cast<Index>(row++));
  for (std::size_t n = 0; n < modules; ++n) {
    for (const Index reading : places_of_readings()) rows.push_back(static_cast<Index>(row) + reading);
    row += plant::kTruths;
    for (std::size_t k = 0; k < plant::module_reported_table().size(); ++k)
      rows.push_back(static_cast<Index>(row++));
  }
  return rows;
}

StateSpace whole_model(const OperatingPoint& point) {
  const plant::LinearPlant exact = plant::linearise_whole(point.plant, point.state);
  const std::size_t modules = point.plant.modules();
  StateSpace s;
  s.a = exact.a;
  name_states(point.plant, s);
  std::vector<Index> columns;
  const auto place = plant::places<plant::SharedCommandsOf>();
#define COMMAND(name, unit, ...)                     \
  columns.push_back(static_cast<Index>(place.name)); \
  s.inputs.push_back({#name, unit});
  CTL_PLANT_OUTPUT_LIST(COMMAND)
#undef COMMAND
  for (std::size_t n = 0; n < modules; ++n)
    for (const Index command : own_commands()) {
      const auto& c = scenarios::command_channels()[static_cast<std::size_t>(command)];
      columns.push_back(static_cast<Index>(columns.size()));
      s.inputs.push_back({of_module(n) + c.name, std::string(c.unit)});
    }
#define READING(name, unit, ...) s.outputs.push_back({#name, unit});
  CTL_PLANT_INPUT_LIST(READING)
#undef READING
  for (const auto& output : plant::shared_reported_table()) s.outputs.push_back({output.name, output.unit});
  for (std::size_t n = 0; n < modules; ++n) {
    for (const auto& c : scenarios::reading_channels())
      s.outputs.push_back({of_module(n) + c.name, std::string(c.unit)});
    for (const auto& output : plant::module_reported_table())
      s.outputs.push_back({of_module(n) + output.name, output.unit});
  }
  const std::vector<Index> rows = places_of_whole_outputs(modules);
  s.b = exact.b(Eigen::all, columns);
  s.c = exact.c(rows, Eigen::all), s.d = exact.d(rows, columns);
  return s;
}

StateSpace seen_by_plant_controller(const StateSpace& sampled, const OperatingPoint& point,
                                    std::size_t& fewest_ticks) {
  const std::vector<int> given = given_readings();
  std::vector<Instrument> instruments;
  for (std::size_t k = 0; k < kSharedReadings; ++k)
    instruments.push_back(
        {static_cast<Index>(k), &point.shared->sensors, k, sampled.outputs[k].name, sampled.outputs[k].unit});
  struct Around {
    StateSpace system;
    std::vector<Index> read;
    std::size_t module;
  };
  std::vector<Around> controllers;
  for (std::size_t n = 0; n < point.modules.size(); ++n) {
    auto found = module_controller(point.modules[n]);
    if (!found) continue;
    fewest_ticks = std::min(fewest_ticks, found->ticks);
    Around around{std::move(found->system), {}, n};
    for (const Index channel : found->reads) {
      const auto k = static_cast<std::size_t>(channel);
      if (given[k] >= 0) {
        around.read.push_back(given[k]);
        continue;
      }
      const std::size_t output = first_of_module(n) + k;
      around.read.push_back(static_cast<Index>(instruments.size()));
      instruments.push_back({static_cast<Index>(output), &point.modules[n].sensors, k,
                             sampled.outputs[output].name, sampled.outputs[output].unit});
    }
    controllers.push_back(std::move(around));
  }
  StateSpace s = with_instruments(sampled, instruments, command_spans(point));
  for (const Around& k : controllers)
    close(s, k.system, k.read, kShared + static_cast<Index>(k.module) * kOwn, of_module(k.module));

  std::vector<Index> rows;
  const auto first = static_cast<Index>(instruments.size());
  const auto add = [&rows](Index from, std::size_t count) {
    for (std::size_t k = 0; k < count; ++k) rows.push_back(from + static_cast<Index>(k));
  };
  add(0, kSharedReadings);
  add(first, kSharedReadings + plant::shared_reported_table().size());
  for (std::size_t n = 0; n < point.modules.size(); ++n)
    add(first + static_cast<Index>(first_of_module(n) + kReadings), plant::module_reported_table().size());
  s.b = MatrixXd(s.b.leftCols(kShared));
  s.inputs.resize(static_cast<std::size_t>(kShared));
  s.c = MatrixXd(s.c(rows, Eigen::all));
  s.d = MatrixXd(s.d(rows, Eigen::seqN(0, kShared)));
  std::vector<Channel> outputs;
  for (const Index row : rows) outputs.push_back(s.outputs[static_cast<std::size_t>(row)]);
  s.outputs = std::move(outputs);
  return s;
}

}  // namespace duskline::harness
