// Moves one float after another and looks at what a tick makes of it.
#include "hil-harness/linearize/controller_model.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstddef>
#include <deque>
#include <string_view>
#include <vector>

#include "scenarios/reader/instruments.hpp"

namespace duskline::harness {
namespace {

using Eigen::Index;

constexpr std::size_t kWords = sizeof(ctl_state::words) / sizeof(std::uint32_t);
constexpr std::size_t kReadings = scenarios::kReadingChannels;
constexpr std::size_t kReferences = 4;
constexpr std::size_t kSources = kReadings + kReferences;
constexpr std::size_t kOut = scenarios::kCommandChannels;
// Two moves, a wide one that rounding does not blur and a narrow one that stays within the noise, where no gate
// against outliers and no clamp is in the way; the wide one counts where both agree.
constexpr double kWide = 1.0 / 512.0;          // of a float's own size
constexpr double kWideReading = 1.0 / 8192.0;  // of an instrument's span
constexpr double kNarrow = 0.25;               // of what a float or a reading varies by from tick to tick
constexpr double kLeastMove = 1.0 / 262144.0;  // of a float's own size: 32 of its last digits
constexpr double kAgree = 0.002;               // share by which the two may differ
constexpr float kRoom = 0.05F;  // A below the output of every other limit, for an override in their place

/// What the controller says of a word of its memory: the number of the field, or that it is none.
struct WordInfo {
  const ctl_field* field = nullptr;
  std::uint32_t item = 0;
  bool number = false, moves = false;
};

/// The controller as it can be asked: a tick from any memory, and what each word of that is.
class Asked {
 public:
  explicit Asked(const Link& link) : link_(&link) {
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
  ctl_status step(ctl_state& state, const ctl_params& params, const ctl_inputs& in, ctl_outputs& out) const {
    return link_->step_from(state, params, in, out);
  }

 private:
  const Link* link_;
  std::vector<WordInfo> words_;
};

double value(std::uint32_t word) {
  return static_cast<double>(std::bit_cast<float>(word));
}

/// What one tick made of a memory.
struct Tick {
  std::array<std::uint32_t, kWords> after{};
  std::array<double, kOut> u{};
  std::uint32_t mode = 0, limiter = 0;
  bool well = false;
};

/// A memory, its inputs and its parameters: all that a tick depends on.
struct Case {
  Moment moment;
  ctl_params params;
};

Tick tick(const Asked& controller, const Case& c) {
  ctl_state state = c.moment.before;
  ctl_outputs out;
  Tick t;
  t.well = controller.step(state, c.params, c.moment.in, out) == CTL_OK;
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

/// The place of a source in a case: a reading, the demand, or a parameter.
float& source(Case& c, std::size_t k) {
  ctl_inputs& in = c.moment.in;
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
  if (k == n + 1) return c.params.utilisation_setpoint;
  return k == n + 2 ? c.params.inlet_co_setpoint : c.params.stack_setpoint;
}

/// By how much something is moved to either side.
struct Moves {
  double wide, narrow;
};

Moves source_moves(const Case& c, const plant::SensorBank& sensors, std::size_t k) {
  Case copy = c;
  const double size = std::abs(static_cast<double>(source(copy, k)));
  if (k >= kReadings) return {size * kWide, size * kWide};
  const plant::SensorSpec& spec = sensors.spec(k);
  return {(spec.upper - spec.lower) * kWideReading, std::max(kNarrow * spec.noise, kLeastMove * size)};
}

struct Column {
  std::vector<std::pair<std::size_t, double>> words;  ///< word, change per unit
  std::array<double, kOut> u{};
};

/// All columns that have been looked at, and which words they reach.
class Differences {
 public:
  Differences(const Asked& controller, std::vector<Case> cases, const plant::SensorBank& sensors)
      : controller_(&controller), cases_(std::move(cases)), sensors_(&sensors) {
    for (std::size_t w = 0; w < controller_->words(); ++w) {
      double last = 0.0, moved = 0.0;
      for (std::size_t n = 0; n < cases_.size(); ++n) {
        const std::uint32_t bits = cases_[n].moment.before.words[w];
        if (!controller_->number(w, bits)) continue;
        size_[w] = std::max(size_[w], std::abs(value(bits)));
        if (n > 0) moved += std::abs(value(bits) - last);
        last = value(bits);
      }
      varies_[w] = moved / static_cast<double>(cases_.size());
    }
  }

  void run() {
    for (std::size_t k = 0; k < kSources; ++k) {
      const Moves moves = source_moves(cases_.back(), *sensors_, k);
      sources_.push_back(best(moves, [&](Case& c, double by) {
        float& place = source(c, k);
        const float before = place;
        place += static_cast<float>(by);
        return static_cast<double>(place) - static_cast<double>(before);
      }));
      note(sources_.back(), moves.wide / kWideReading);
    }
    while (!waiting_.empty()) {
      const std::size_t w = waiting_.front();
      waiting_.pop_front();
      const Moves moves{size_[w] * kWide, std::max(kNarrow * varies_[w], kLeastMove * size_[w])};
      column_[w] = best(moves, [&](Case& c, double by) {
        std::uint32_t& word = c.moment.before.words[w];
        if (!controller_->number(w, word)) return 0.0;
        const float before = std::bit_cast<float>(word);
        word = std::bit_cast<std::uint32_t>(before + static_cast<float>(by));
        return value(word) - static_cast<double>(before);
      });
      note(column_[w], size_[w]);
    }
  }

  const std::vector<Column>& sources() const { return sources_; }
  const Column& column(std::size_t word) const { return column_[word]; }
  double size(std::size_t word) const { return size_[word]; }

  /// Words that sources reach and that reach a command, in order.
  std::vector<std::size_t> kept() const {
    std::array<bool, kWords> useful{};
    for (std::size_t w = 0; w < controller_->words(); ++w)
      useful[w] = reached_[w] &&
                  std::any_of(column_[w].u.begin(), column_[w].u.end(), [](double u) { return u != 0.0; });
    for (bool grown = true; grown;) {
      grown = false;
      for (std::size_t w = 0; w < controller_->words(); ++w) {
        if (!reached_[w] || useful[w]) continue;
        useful[w] = std::any_of(column_[w].words.begin(), column_[w].words.end(),
                                [&](const auto& entry) { return entry.first != w && useful[entry.first]; });
        grown = grown || useful[w];
      }
    }
    std::vector<std::size_t> words;
    for (std::size_t w = 0; w < controller_->words(); ++w)
      if (useful[w]) words.push_back(w);
    return words;
  }

 private:
  /// A column as dense numbers, words, then commands: the mean over the cases, and how well it is known.
  struct Dense {
    std::array<double, kWords + kOut> mean{}, error{};
  };

  /// Central differences by a move that says what it really moved. Where the two sides take different branches (a
  /// counter, a mask or a word differs: an outlier on one side, a limit on the other) the case is left out.
  template <class Move>
  Dense differ(double by, Move move) const {
    Dense d;
    double count = 0.0;
    const auto add = [&d](std::size_t k, double slope) {
      d.mean[k] += slope;
      d.error[k] += slope * slope;
    };
    for (const Case& c : cases_) {
      Case up = c, down = c;
      const double width = move(up, by) - move(down, -by);
      if (!(width > 0.0)) continue;
      const Tick a = tick(*controller_, up), b = tick(*controller_, down);
      if (!same_branch(a, b)) continue;
      count += 1.0;
      for (std::size_t w = 0; w < controller_->words(); ++w)
        if (a.after[w] != b.after[w] && controller_->word(w).moves && controller_->word(w).number)
          add(w, (value(a.after[w]) - value(b.after[w])) / width);
      for (std::size_t k = 0; k < kOut; ++k) add(kWords + k, (a.u[k] - b.u[k]) / width);
    }
    if (count == 0.0) return {};
    for (std::size_t k = 0; k < d.mean.size(); ++k) {
      d.mean[k] /= count;
      d.error[k] = std::sqrt(std::max(0.0, d.error[k] / count - d.mean[k] * d.mean[k]) / count);
    }
    return d;
  }

  bool same_branch(const Tick& a, const Tick& b) const {
    if (!a.well || !b.well || a.mode != b.mode || a.limiter != b.limiter) return false;
    for (std::size_t w = 0; w < controller_->words(); ++w)
      if (a.after[w] != b.after[w] &&
          !(controller_->number(w, a.after[w]) && controller_->number(w, b.after[w])))
        return false;
    return true;
  }

  template <class Move>
  Column best(const Moves& moves, Move move) const {
    const Dense wide = differ(moves.wide, move);
    const Dense narrow = moves.narrow < moves.wide ? differ(moves.narrow, move) : wide;
    const auto chosen = [&](std::size_t k) {
      const double apart = std::abs(wide.mean[k] - narrow.mean[k]);
      const bool agree = apart <= std::max(kAgree * std::abs(wide.mean[k]), 2.0 * narrow.error[k]);
      return agree && wide.mean[k] != 0.0 ? wide.mean[k] : narrow.mean[k];
    };
    Column column;
    for (std::size_t w = 0; w < controller_->words(); ++w)
      if (const double slope = chosen(w); slope != 0.0) column.words.emplace_back(w, slope);
    for (std::size_t k = 0; k < kOut; ++k) column.u[k] = chosen(kWords + k);
    return column;
  }

  /// Words that are reached for the first time wait for their turn; one that stands at zero is as large as what
  /// its source, of the size given, makes of it.
  void note(const Column& column, double size) {
    for (const auto& [w, slope] : column.words) {
      size_[w] = std::max(size_[w], 1e-3 * std::abs(slope) * size);
      if (reached_[w]) continue;
      reached_[w] = true;
      waiting_.push_back(w);
    }
  }

  const Asked* controller_;
  std::vector<Case> cases_;
  const plant::SensorBank* sensors_;
  std::array<double, kWords> size_{}, varies_{};
  std::array<bool, kWords> reached_{};
  std::deque<std::size_t> waiting_;
  std::vector<Column> sources_;
  std::array<Column, kWords> column_{};
};

/// Lets an override hold the current: it wishes for what is applied, and everything else allows a little more. False
/// where the controller names no such numbers.
bool hold_by(const Asked& controller, Case& c, Override active_limiter) {
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
  const Tick t = tick(controller, c);
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

/// "controller.law.flow.integral", with the item where the field has several.
Channel word_channel(const WordInfo& info) {
  std::string name = "controller." + std::string(info.field->name);
  if (info.field->count > 1) name += "[" + std::to_string(info.item + 1) + "]";
  return {name, info.field->unit};
}

/// Neither dead-bands nor limits of rate, each at its end of the allowed range: other gains than those of the run would
/// run into them with the noise of the moment.
ctl_params without_steps(const ctl_params& params) {
  ctl_params p = params;
  p.speed_step = p.current_step = p.recycle_step = 0.0F;
  p.speed_rate = 1000.0F;
  p.current_rate_up = p.current_rate_down = 10.0F;
  p.flow_rate = 1e-3F;
  return p;
}

ControllerModel assemble(const Asked& controller, const Differences& d, std::size_t ticks) {
  const std::vector<std::size_t> words = d.kept();
  std::array<Index, kWords> place;
  place.fill(-1);
  for (std::size_t k = 0; k < words.size(); ++k) place[words[k]] = static_cast<Index>(k);
  const auto n = static_cast<Index>(words.size());
  ControllerModel model;
  model.ticks = ticks;
  StateSpace& s = model.system;
  s.a = Eigen::MatrixXd::Zero(n, n);
  s.b = Eigen::MatrixXd::Zero(n, kSources);
  s.c = Eigen::MatrixXd::Zero(kOut, n);
  s.d = Eigen::MatrixXd::Zero(kOut, kSources);
  s.state_scale.resize(n);
  const auto put = [&](const Column& column, Eigen::MatrixXd& states, Eigen::MatrixXd& outputs, Index at) {
    for (const auto& [word, slope] : column.words)
      if (place[word] >= 0) states(place[word], at) = slope;
    for (std::size_t k = 0; k < kOut; ++k) outputs(static_cast<Index>(k), at) = column.u[k];
  };
  for (Index k = 0; k < n; ++k) {
    const std::size_t word = words[static_cast<std::size_t>(k)];
    put(d.column(word), s.a, s.c, k);
    s.state_scale[k] = d.size(word);
    s.states.push_back(word_channel(controller.word(word)));
  }
  for (std::size_t k = 0; k < kSources; ++k) put(d.sources()[k], s.b, s.d, static_cast<Index>(k));
  for (const auto& c : scenarios::reading_channels()) s.inputs.push_back({c.name, std::string(c.unit)});
  for (const Channel& reference : reference_channels()) s.inputs.push_back(reference);
  for (const auto& c : scenarios::command_channels()) s.outputs.push_back({c.name, std::string(c.unit)});
  return model;
}

}  // namespace

std::vector<Channel> reference_channels() {
  return {{"oxygen_demand", "kg s-1"},
          {"controller.utilisation_setpoint", "1"},
          {"controller.inlet_co_setpoint", "1"},
          {"controller.stack_setpoint", "K"}};
}

std::optional<ControllerModel> controller_model(const OperatingPoint& point, const ctl_params& params,
                                                Override active_limiter) {
  if (point.moments.empty()) return std::nullopt;
  const Asked controller(*point.controller);
  const ctl_params smooth = without_steps(params);
  std::vector<Case> cases;
  std::uint32_t mode = 0, limiter = 0;
  for (std::size_t k = point.moments.size(); k-- > 0;) {
    Case c{point.moments[k], smooth};
    if (!hold_by(controller, c, active_limiter)) break;
    const Tick t = tick(controller, c);
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
  Differences differences(controller, std::move(cases), point.sensors);
  differences.run();
  ControllerModel model = assemble(controller, differences, ticks);
  model.system.step = point.period;
  return model;
}

}  // namespace duskline::harness
