// Moves one float after another and looks at what a tick makes of it.
#include "hil-harness/linearize/controller_model.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstddef>
#include <string_view>
#include <vector>

#include "hil-harness/linearize/differences.hpp"
#include "scenarios/reader/instruments.hpp"

namespace duskline::harness {
namespace {

using Eigen::Index;

constexpr std::size_t kReadings = scenarios::kReadingChannels;
constexpr std::size_t kReferences = 4;
constexpr std::size_t kSources = kReadings + kReferences;
constexpr float kRoom = 0.05F;  // A below the output of every other limit, for an override in their place

/// What the controller says of a word of its memory: the number of the field, or that it is none.
struct WordInfo {
  const ctl_field* field = nullptr;
  std::uint32_t item = 0;
  bool number = false, moves = false;
};

/// The place of a source among inputs and parameters: a reading, the demand, or a parameter.
float& source_of(ctl_inputs& in, ctl_params& params, std::size_t k) {
  std::size_t n = 0;
#define SCALAR(name, ...) \
  if (k == n++) return in.name;
#define ARRAY(name, ...)     \
  for (float& one : in.name) \
    if (k == n++) return one;
  CTL_INPUT_LIST(SCALAR, ARRAY)
#undef SCALAR
#undef ARRAY
  if (k == n) return in.oxygen_demand;
  if (k == n + 1) return params.utilisation_setpoint;
  return k == n + 2 ? params.inlet_co_setpoint : params.stack_setpoint;
}

/// The controller as it can be asked: a tick from any memory, and what each word of that is.
class Asked {
 public:
  static constexpr std::size_t kWords = sizeof(ctl_state::words) / sizeof(std::uint32_t);
  static constexpr std::size_t kOut = scenarios::kCommandChannels;
  using Tick = TickOf<kWords, kOut>;
  /// A memory, its inputs and its parameters: all that a tick depends on.
  struct Case {
    Moment moment;
    ctl_params params;
  };

  Asked(const Link& link, const plant::SensorBank& sensors) : link_(&link), sensors_(&sensors) {
    for (const ctl_field& f : link.layout()) {
      const std::size_t items = f.kind == CTL_FIELD_BYTE ? (f.count + 3) / 4 : f.count;
      words_.resize(std::max(words_.size(), std::min(kWords, f.offset / sizeof(std::uint32_t) + items)));
      for (std::size_t k = 0; k < items; ++k) {
        const std::size_t word = f.offset / sizeof(std::uint32_t) + k;
        if (word < words_.size())
          words_[word] = {&f, static_cast<std::uint32_t>(k), f.kind == CTL_FIELD_NUMBER, f.moves != 0};
      }
    }
  }
  std::size_t words() const { return words_.size(); }
  const WordInfo& word(std::size_t w) const { return words_[w]; }
  /// Whether a word is a number that can be moved, as it stands.
  bool number(std::size_t w, std::uint32_t bits) const {
    return words_[w].number && std::isfinite(std::bit_cast<float>(bits));
  }
  /// The word of a number by its name.
  std::optional<std::size_t> place(std::string_view name) const {
    for (std::size_t w = 0; w < words_.size(); ++w)
      if (words_[w].number && words_[w].field->name == name) return w;
    return std::nullopt;
  }
  bool moves(std::size_t w) const { return words_[w].moves && words_[w].number; }
  /// "controller.law.flow.integral", with the item where the field has several.
  Channel channel(std::size_t w) const {
    const WordInfo& info = words_[w];
    std::string name = "controller." + std::string(info.field->name);
    if (info.field->count > 1) name += "[" + std::to_string(info.item + 1) + "]";
    return {name, info.field->unit};
  }

  static std::size_t sources() { return kSources; }
  static float& source(Case& c, std::size_t k) { return source_of(c.moment.in, c.params, k); }
  Moves source_moves(const Case& c, std::size_t k) const {
    Case copy = c;
    const double size = std::abs(static_cast<double>(source(copy, k)));
    if (k >= kReadings) return {size * kWide, size * kWide};
    return reading_moves(sensors_->spec(k), size);
  }

  Tick tick(const Case& c) const {
    ctl_state state = c.moment.before;
    ctl_outputs out;
    Tick t;
    t.well = link_->step_from(state, c.params, c.moment.in, out) == CTL_OK;
    std::copy_n(std::begin(state.words), kWords, t.after.begin());
    std::size_t n = 0;
#define COMMAND(name, ...) t.u[n++] = static_cast<double>(out.name);
#define COMMANDS(name, ...) \
  for (const float one : out.name) t.u[n++] = static_cast<double>(one);
    CTL_OUTPUT_LIST(COMMAND, COMMANDS)
#undef COMMAND
#undef COMMANDS
    t.mode = out.mode;
    t.limiter = out.limiter;
    return t;
  }

 private:
  const Link* link_;
  const plant::SensorBank* sensors_;
  std::vector<WordInfo> words_;
};

/// Lets an override hold the current: it wishes for what is applied, and everything else allows a little more. False
/// where the controller names no such numbers.
bool hold_by(const Asked& controller, Asked::Case& c, Override active_limiter) {
  if (active_limiter == Override::as_it_is) return true;
  if (active_limiter == Override::power) {
    c.moment.in.power_ceiling = c.moment.in.bus_power + 2.0F * c.params.ceiling_headroom;
    c.moment.in.ceiling_in = 0.0F;
  }
  const std::string name = active_limiter == Override::coke_margin ? "law.margin"
                           : active_limiter == Override::voltage   ? "law.voltage"
                                                                   : "law.power";
  const auto applied = controller.place("applied_current"), integral = controller.place(name + ".integral"),
             output = controller.place(name + ".output");
  if (!applied || !integral || !output) return false;
  auto& words = c.moment.before.words;
  const auto number = [](std::uint32_t word) { return std::bit_cast<float>(word); };
  const float current = number(words[*applied]) - kRoom;
  words[*applied] = std::bit_cast<std::uint32_t>(current);
  const Asked::Tick t = controller.tick(c);
  const float moved = number(words[*integral]) + (current - number(t.after[*output]));
  words[*integral] = std::bit_cast<std::uint32_t>(moved);
  return true;
}

std::uint32_t limiter_of(Override active_limiter) {
  switch (active_limiter) {
    case Override::coke_margin:
      return CTL_BY_COKE_MARGIN;
    case Override::voltage:
      return CTL_BY_VOLTAGE;
    case Override::power:
      return CTL_BY_POWER;
    case Override::as_it_is:
      break;
  }
  return CTL_BY_NOTHING;
}

/// Neither dead-bands nor limits of rate, each at its end of the allowed range: other gains than those of the run would
/// run into them with the noise of the moment.
ctl_params without_steps(const ctl_params& params) {
  ctl_params p = params;
  p.speed_step = p.current_step = p.recycle_step = p.valve_step = 0.0F;
  p.speed_rate = 1000.0F;
  p.current_rate_up = p.current_rate_down = 10.0F;
  p.flow_rate = 1e-3F;
  p.valve_rate = 10.0F;
  return p;
}

}  // namespace

std::vector<Channel> reference_channels() {
  return {{"oxygen_demand", "kg s-1"},
          {"controller.utilisation_setpoint", "1"},
          {"controller.inlet_co_setpoint", "1"},
          {"controller.stack_setpoint", "K"}};
}

std::optional<ControllerModel> controller_model(const ModulePoint& point, const ctl_params& params,
                                                Override active_limiter) {
  if (point.moments.empty()) return std::nullopt;
  const Asked controller(*point.controller, point.sensors);
  const ctl_params smooth = without_steps(params);
  std::vector<Asked::Case> cases;
  std::uint32_t mode = 0, limiter = 0;
  for (std::size_t k = point.moments.size(); k-- > 0;) {
    Asked::Case c{point.moments[k], smooth};
    if (!hold_by(controller, c, active_limiter)) break;
    const Asked::Tick t = controller.tick(c);
    if (!t.well) break;
    if (cases.empty()) {
      mode = t.mode;
      limiter = t.limiter;
    }
    if (t.mode != mode || t.limiter != limiter) break;
    cases.insert(cases.begin(), c);
  }
  if (cases.empty() || (active_limiter != Override::as_it_is && limiter != limiter_of(active_limiter)))
    return std::nullopt;
  const std::size_t ticks = cases.size();
  Differences differences(controller, std::move(cases));
  differences.run();
  ControllerModel model{matrices_of(controller, differences), ticks};
  StateSpace& m = model.system;
  m.step = point.period;
  for (const auto& c : scenarios::reading_channels()) m.inputs.push_back({c.name, std::string(c.unit)});
  for (const Channel& reference : reference_channels()) m.inputs.push_back(reference);
  for (const auto& c : scenarios::command_channels()) m.outputs.push_back({c.name, std::string(c.unit)});
  return model;
}

}  // namespace duskline::harness
