// The plant controller as it can be asked, and the numbers of its memory that count.
#include "hil-harness/linearize/plant_controller_model.hpp"

#include <cstddef>
#include <string>

#include "controller/plant/memory.hpp"
#include "hil-harness/linearize/differences.hpp"
#include "scenarios/reader/instruments.hpp"

namespace duskline::harness {
namespace {

using controller::PlantMemory;

/// What passes signals from tick to tick.
struct Number {
  std::size_t at;  ///< byte of the memory
  const char* name;
  const char* unit;
};
#define NUMBER(member, unit) \
  { offsetof(PlantMemory, member), #member, unit }
constexpr Number kNumbers[] = {
    NUMBER(headers.speed.integral, "rad/s"), NUMBER(headers.recycle.integral, "1"),
    NUMBER(headers.exhaust.integral, "1"),   NUMBER(headers.product.integral, "1"),
    NUMBER(headers.applied_speed, "rad/s"),  NUMBER(headers.expected, "rad/s"),
    NUMBER(headers.trim, "rad/s"),           NUMBER(headers.setpoint, "Pa"),
    NUMBER(surge.guard.pi.integral, "1"),    NUMBER(surge.guard.opening, "1"),
    NUMBER(surge.guard.before, "1"),         NUMBER(surge.guard.rate, "1/s"),
    NUMBER(surge.slow_pressure, "Pa"),       NUMBER(surge_margin, "1"),
};
#undef NUMBER

/// Set-points, in the order of plant_reference_channels.
struct Reference {
  const char* name;
  const char* unit;
  float ctl_plant_params::*value;
};
constexpr Reference kReferences[] = {
    {"controller.header_pressure", "Pa", &ctl_plant_params::header_pressure},
    {"controller.exhaust_pressure", "Pa", &ctl_plant_params::exhaust_pressure},
    {"controller.product_offset", "Pa", &ctl_plant_params::product_offset},
    {"controller.protection_factor", "1", &ctl_plant_params::protection_factor},
};

class AskedPlant {
 public:
  static constexpr std::size_t kWords = sizeof(PlantMemory) / sizeof(std::uint32_t);
  static constexpr std::size_t kOut = CTL_PLANT_COMMANDS;
  using Tick = TickOf<kWords, kOut>;
  struct Case {
    PlantMoment moment;
    ctl_plant_params params;
  };

  explicit AskedPlant(const plant::SensorBank& sensors) : sensors_(&sensors) {}

  static std::size_t words() { return kWords; }
  /// The memory does not say what its words are: zero, and what reads as a float of any usual size, is a number; counts,
  /// bits and words of lists read as floats below 1e-30.
  static bool number(std::size_t, std::uint32_t bits) {
    constexpr double kLeast = 1e-25, kMost = 1e25;
    const double size = std::abs(value(bits));
    return size == 0.0 || (size > kLeast && size < kMost);
  }
  static const Number* find(std::size_t w) {
    for (const Number& n : kNumbers)
      if (n.at == w * sizeof(std::uint32_t)) return &n;
    return nullptr;
  }
  static bool moves(std::size_t w) { return find(w) != nullptr; }
  static Channel channel(std::size_t w) {
    return {std::string("plant_controller.") + find(w)->name, find(w)->unit};
  }

  static std::size_t sources() { return std::size_t{CTL_PLANT_INSTRUMENTS} + std::size(kReferences); }
  static float& source(Case& c, std::size_t k) {
    std::size_t n = 0;
#define READING(name, ...) \
  if (k == n++) return c.moment.in.name;
    CTL_PLANT_INPUT_LIST(READING)
#undef READING
    return c.params.*kReferences[k - n].value;
  }
  Moves source_moves(const Case& c, std::size_t k) const {
    Case copy = c;
    const double size = std::abs(static_cast<double>(source(copy, k)));
    if (k >= CTL_PLANT_INSTRUMENTS) return {size * kWide, size * kWide};
    return reading_moves(sensors_->spec(k), size);
  }

  static Tick tick(const Case& c) {
    ctl_plant_state state = c.moment.before;
    ctl_plant_outputs out;
    Tick t;
    t.well = ctl_plant_step(&state, &c.params, &c.moment.in, &out) == CTL_OK;
    std::copy_n(std::begin(state.words), kWords, t.after.begin());
    std::size_t n = 0;
#define COMMAND(name, ...) t.u[n++] = static_cast<double>(out.name);
    CTL_PLANT_OUTPUT_LIST(COMMAND)
#undef COMMAND
    t.mode = out.mode;
    t.limiter = out.limiter;
    return t;
  }

 private:
  const plant::SensorBank* sensors_;
};

/// No limits of rate, each at its end of the allowed range.
ctl_plant_params without_rates(const ctl_plant_params& params) {
  ctl_plant_params p = params;
  p.speed_rate = 1e4F;
  p.pressure_rate = 1e5F;
  return p;
}

}  // namespace

std::vector<Channel> plant_reference_channels() {
  std::vector<Channel> channels;
  for (const Reference& r : kReferences) channels.push_back({r.name, r.unit});
  return channels;
}

std::optional<ControllerModel> plant_controller_model(const SharedPoint& point,
                                                      const ctl_plant_params& params) {
  std::vector<AskedPlant::Case> cases;
  const AskedPlant controller(point.sensors);
  std::uint32_t mode = 0, limiter = 0;
  for (std::size_t k = point.moments.size(); k-- > 0;) {
    const AskedPlant::Case c{point.moments[k], without_rates(params)};
    const AskedPlant::Tick t = AskedPlant::tick(c);
    if (!t.well) break;
    if (cases.empty()) mode = t.mode, limiter = t.limiter;
    if (t.mode != mode || t.limiter != limiter) break;
    cases.insert(cases.begin(), c);
  }
  if (cases.empty()) return std::nullopt;
  const std::size_t ticks = cases.size();
  Differences differences(controller, std::move(cases));
  differences.run();
  StateSpace s = matrices_of(controller, differences);
  s.step = static_cast<double>(params.period);
#define READING(name, unit, ...) s.inputs.push_back({#name, unit});
  CTL_PLANT_INPUT_LIST(READING)
#undef READING
  for (const Channel& reference : plant_reference_channels()) s.inputs.push_back(reference);
#define COMMAND(name, unit, ...) s.outputs.push_back({#name, unit});
  CTL_PLANT_OUTPUT_LIST(COMMAND)
#undef COMMAND
  return ControllerModel{std::move(s), ticks};
}

}  // namespace duskline::harness
