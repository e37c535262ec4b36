#include "hil-harness/links/register_map.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <utility>

#include "controller/crc32.hpp"

namespace duskline::harness {

using controller::ModuleController, controller::PlantController;

namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

constexpr double kUnbounded = std::numeric_limits<double>::quiet_NaN();  // of a command that may be no number

/// What the operator's side asks for, beside the measurements: X(field, type, unit, meaning).
#define REQUEST_LIST(X)                                                                      \
  X(oxygen_demand, number, "kg/s", "oxygen asked for")                                       \
  X(power_ceiling, number, "W", "power that the bus allows; not a number: no ceiling")       \
  X(local_time, number, "1", "share of the sol, 0 at local midnight; not a number: unknown") \
  X(command_age, number, "s", "time since the last word of the operator")                    \
  X(next_power_ceiling, number, "W", "power that the bus will allow after ceiling_in")       \
  X(ceiling_in, number, "s", "time until then; 0: nothing is announced")                     \
  X(requested_mode, whole, "1", "mode asked for, a number of the list of modes")
#define PLANT_REQUEST_LIST(X)                                                          \
  X(oxygen_demand, number, "kg/s", "oxygen asked for, of the whole plant")             \
  X(power_ceiling, number, "W", "power that the bus allows; not a number: no ceiling") \
  X(requested_mode, whole, "1", "mode asked for, a number of the list of modes of the plant")

/// An order to a module: X(field, type, unit, lower, upper, meaning).
#define ORDER_LIST(X)                                                                     \
  X(oxygen_demand, number, "kg/s", 0.0, 1.0, "its share of the demand")                   \
  X(power_ceiling, number, "W", kUnbounded, kUnbounded,                                   \
    "its share of the power; not a number, as at first: no ceiling")                      \
  X(feed_opening_max, number, "1", 0.0, 1.0, "0: its feed valve stays shut, 1: no limit") \
  X(requested_mode, whole, "1", 0.0, CTL_MODES - 1, "mode asked of it, a number of the list of modes")
/// What the plant controller says of itself beside its mode: X(field, meaning).
#define PLANT_WORD_LIST(X)                                                         \
  X(tripped, "bits of ctl_plant_condition of the last move to safe, 0 when reset") \
  X(isolated, "bit of each module whose valves are held shut")                     \
  X(released, "bit of each module that is cold, off and isolated: it may be worked on")
#define COUNT_ONE(...) +1
static_assert(CTL_MODULE_ORDER_LIST(COUNT_ONE, COUNT_ONE) == ORDER_LIST(COUNT_ONE), "an order has no row");

class MapWriter {
 public:
  MapWriter() { begin(); }
  void add(RegisterTable table, RegisterType type, std::string name, std::string unit, std::string meaning,
           double lower = -kInfinity, double upper = kInfinity) {
    int& next = table == RegisterTable::input ? input_ : holding_;
    rows_.push_back({table, next, type, std::move(name), std::move(unit), std::move(meaning), lower, upper});
    next += 2;
  }
  /// What stands first in both tables.
  void begin() {
    using enum RegisterTable;
    using enum RegisterType;
    add(input, whole, "map_version", "1", "version of this map");
    add(input, whole, "tick", "1", "tick of the measurements");
    add(input, number, "period", "s", "control period");
    add(input, number, "word_order", "1", "123.456, by which a client checks its order of words");
    add(holding, whole, "map_version", "1", "version of the map that the controller was made for");
    add(holding, whole, "answered_tick", "1", "tick that the commands answer");
    add(holding, whole, "arm", "1",
        fmt::format("{} lets the commands act, anything else does not", registers::kArmed));
  }
  /// Input registers first.
  std::vector<RegisterRow> sorted() && {
    std::stable_partition(rows_.begin(), rows_.end(),
                          [](const RegisterRow& r) { return r.table == RegisterTable::input; });
    return std::move(rows_);
  }

 private:
  std::vector<RegisterRow> rows_;
  int input_ = 0, holding_ = 0;
};

#define REQUEST(name, type, unit, meaning) map.add(input, type, #name, unit, meaning);

template <class C>
std::vector<RegisterRow> made_map();

template <>
std::vector<RegisterRow> made_map<ModuleController>() {
  using enum RegisterTable;
  using enum RegisterType;
  MapWriter map;
#define ONE(name, unit, lower, upper, first, sheet, meaning, source) \
  map.add(input, number, #name, unit, meaning);
#define EACH(name, count, unit, lower, upper, first, sheet, meaning, source) \
  for (int i = 1; i <= (count); ++i) map.add(input, number, fmt::format(#name " {}", i), unit, meaning);
  CTL_INPUT_LIST(ONE, EACH)
#undef ONE
#undef EACH
  REQUEST_LIST(REQUEST)
#define ONE(name, unit, lower, upper, step, stays, meaning) \
  map.add(holding, number, #name, unit, meaning, lower, upper);
#define EACH(name, count, unit, lower, upper, step, stays, meaning) \
  for (int i = 1; i <= (count); ++i)                                \
    map.add(holding, number, fmt::format(#name " {}", i), unit, meaning, lower, upper);
  CTL_OUTPUT_LIST(ONE, EACH)
#undef ONE
#undef EACH
  map.add(holding, whole, "mode", "1", "mode in force, a number of the list of modes", 0, CTL_MODES - 1);
  return std::move(map).sorted();
}

template <>
std::vector<RegisterRow> made_map<PlantController>() {
  using enum RegisterTable;
  using enum RegisterType;
  MapWriter map;
#define READ(name, unit, lower, upper, first, sheet, meaning, source) \
  map.add(input, number, #name, unit, meaning);
  CTL_PLANT_INPUT_LIST(READ)
#undef READ
  PLANT_REQUEST_LIST(REQUEST)
#define NUMBER(name, unit, lower, upper, meaning) map.add(input, number, of(#name), unit, meaning);
#define WORD(name, meaning) map.add(input, whole, of(#name), "1", meaning);
#define ORDER(name, type, unit, lower, upper, meaning) \
  map.add(holding, type, of(#name), unit, meaning, lower, upper);
#define COMMAND(name, unit, lower, upper, step, without_power, meaning) \
  map.add(holding, number, #name, unit, meaning, lower, upper);
  CTL_PLANT_OUTPUT_LIST(COMMAND)
  map.add(holding, whole, "mode", "1", "mode in force, a number of the list of modes of the plant", 0,
          CTL_PLANT_MODES - 1);
#define SAID(name, meaning) map.add(holding, whole, #name, "1", meaning, 0, 0xffffffffU);
  PLANT_WORD_LIST(SAID)
#undef SAID
  for (int k = 1; k <= CTL_PLANT_MODULES; ++k) {
    const auto of = [k](const char* name) { return fmt::format("module {} {}", k, name); };
    map.add(input, whole, of("service"), "1", "in service, spare or out: a number of ctl_service");
    CTL_MODULE_REPORT_LIST(NUMBER, WORD)
    ORDER_LIST(ORDER)
  }
#undef NUMBER
#undef WORD
#undef ORDER
#undef COMMAND
  return std::move(map).sorted();
}
#undef REQUEST

void put_whole(std::span<std::uint16_t> to, int& at, std::uint32_t value) {
  to[static_cast<std::size_t>(at++)] = static_cast<std::uint16_t>(value >> 16);
  to[static_cast<std::size_t>(at++)] = static_cast<std::uint16_t>(value & 0xffffu);
}
void put_number(std::span<std::uint16_t> to, int& at, float value) {
  put_whole(to, at, std::bit_cast<std::uint32_t>(value));
}

std::string bound(double value) {
  return std::isfinite(value) ? fmt::format("{:g}", value) : "";
}

template <class C>
void put_header(std::span<std::uint16_t> to, int& at, std::uint32_t tick, float period) {
  put_whole(to, at, register_map_version<C>());
  put_whole(to, at, tick);
  put_number(to, at, period);
  put_number(to, at, 123.456f);
}

}  // namespace

template <class C>
const std::vector<RegisterRow>& register_map() {
  static const std::vector<RegisterRow> map = made_map<C>();
  return map;
}

template <class C>
std::string register_map_csv() {
  std::string text = "table,address,registers,type,name,unit,lower,upper,meaning\r\n";
  for (const RegisterRow& r : register_map<C>())
    text += fmt::format("{},{},2,{},{},{},{},{},\"{}\"\r\n",
                        r.table == RegisterTable::input ? "input" : "holding", r.address,
                        r.type == RegisterType::number ? "float32" : "uint32", r.name, r.unit, bound(r.lower),
                        bound(r.upper), r.meaning);
  return text;
}

template <class C>
std::uint32_t register_map_version() {
  static const std::uint32_t version = [] {
    const std::string text = register_map_csv<C>();
    return controller::crc32(reinterpret_cast<const unsigned char*>(text.data()),
                             static_cast<std::uint32_t>(text.size()));
  }();
  return version;
}

template <class C>
int register_count(RegisterTable table) {
  int count = 0;
  for (const RegisterRow& r : register_map<C>()) count += r.table == table ? 2 : 0;
  return count;
}

#define REQUEST(name, type, unit, meaning) put_##type(to, at, in.name);

void put_inputs(const ctl_inputs& in, float period, std::span<std::uint16_t> to) {
  int at = 0;
  put_header<ModuleController>(to, at, in.tick, period);
#define ONE(name, ...) put_number(to, at, in.name);
#define EACH(name, ...) \
  for (const float x : in.name) put_number(to, at, x);
  CTL_INPUT_LIST(ONE, EACH)
#undef ONE
#undef EACH
  REQUEST_LIST(REQUEST)
}

void put_inputs(const ctl_plant_inputs& in, float period, std::span<std::uint16_t> to) {
  int at = 0;
  put_header<PlantController>(to, at, in.tick, period);
#define READ(name, ...) put_number(to, at, in.name);
#define NUMBER(name, ...) put_number(to, at, in.module[k].name);
#define WORD(name, ...) put_whole(to, at, in.module[k].name);
  CTL_PLANT_INPUT_LIST(READ)
  PLANT_REQUEST_LIST(REQUEST)
  for (std::size_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    put_whole(to, at, in.service[k]);
    CTL_MODULE_REPORT_LIST(NUMBER, WORD)
  }
#undef READ
#undef NUMBER
#undef WORD
}
#undef REQUEST

std::uint32_t take_whole(std::span<const std::uint16_t> from, int address) {
  const auto at = static_cast<std::size_t>(address);
  return static_cast<std::uint32_t>(from[at]) << 16 | from[at + 1];
}

float take_number(std::span<const std::uint16_t> from, int address) {
  return std::bit_cast<float>(take_whole(from, address));
}

void set_number(std::span<std::uint16_t> to, int address, float value) {
  int at = address;
  put_whole(to, at, std::bit_cast<std::uint32_t>(value));
}

void take_outputs(std::span<const std::uint16_t> from, ctl_outputs& out) {
  int at = registers::kArm + 2;
  const auto next = [&] { return take_number(from, std::exchange(at, at + 2)); };
#define ONE(name, ...) out.name = next();
#define EACH(name, ...) \
  for (float& x : out.name) x = next();
  CTL_OUTPUT_LIST(ONE, EACH)
#undef ONE
#undef EACH
  out.mode = take_whole(from, at);
}

void take_outputs(std::span<const std::uint16_t> from, ctl_plant_outputs& out) {
  int at = registers::kArm + 2;
  const auto number = [&] { return take_number(from, std::exchange(at, at + 2)); };
  const auto whole = [&] { return take_whole(from, std::exchange(at, at + 2)); };
#define COMMAND(name, ...) out.name = number();
#define ORDER(name, type, ...) out.order[k].name = type();
  CTL_PLANT_OUTPUT_LIST(COMMAND)
  out.mode = whole();
#define SAID(name, meaning) out.name = whole();
  PLANT_WORD_LIST(SAID)
#undef SAID
  for (std::size_t k = 0; k < CTL_PLANT_MODULES; ++k) {
    ORDER_LIST(ORDER)
  }
#undef COMMAND
#undef ORDER
}

#define FOR_EACH_CONTROLLER(C)                                \
  template const std::vector<RegisterRow>& register_map<C>(); \
  template std::string register_map_csv<C>();                 \
  template std::uint32_t register_map_version<C>();           \
  template int register_count<C>(RegisterTable);
FOR_EACH_CONTROLLER(ModuleController)
FOR_EACH_CONTROLLER(PlantController)
#undef FOR_EACH_CONTROLLER

}  // namespace duskline::harness
