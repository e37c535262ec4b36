#include "hil-harness/links/register_map.hpp"

#include <fmt/format.h>

#include <bit>
#include <limits>
#include <utility>

#include "controller/crc32.hpp"

namespace duskline::harness {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

/// What the operator's side asks for, beside the measurements: X(field, type, unit, meaning).
#define REQUEST_LIST(X)                                                                      \
  X(oxygen_demand, number, "kg/s", "oxygen asked for")                                       \
  X(power_ceiling, number, "W", "power that the bus allows; not a number: no ceiling")       \
  X(local_time, number, "1", "share of the sol, 0 at local midnight; not a number: unknown") \
  X(command_age, number, "s", "time since the last word of the operator")                    \
  X(next_power_ceiling, number, "W", "power that the bus will allow after ceiling_in")       \
  X(ceiling_in, number, "s", "time until then; 0: nothing is announced")                     \
  X(requested_mode, whole, "1", "mode asked for, a number of the list of modes")

class MapWriter {
 public:
  void add(RegisterTable table, RegisterType type, std::string name, std::string unit, std::string meaning,
           double lower = -kInfinity, double upper = kInfinity) {
    int& next = table == RegisterTable::input ? input_ : holding_;
    rows.push_back({table, next, type, std::move(name), std::move(unit), std::move(meaning), lower, upper});
    next += 2;
  }
  std::vector<RegisterRow> rows;

 private:
  int input_ = 0, holding_ = 0;
};

std::vector<RegisterRow> made_map() {
  using enum RegisterTable;
  using enum RegisterType;
  MapWriter map;
  map.add(input, whole, "map_version", "1", "version of this map");
  map.add(input, whole, "tick", "1", "tick of the measurements");
  map.add(input, number, "period", "s", "control period");
  map.add(input, number, "word_order", "1", "123.456, by which a client checks its order of words");
#define ONE(name, unit, lower, upper, first, sheet, meaning, source) \
  map.add(input, number, #name, unit, meaning);
#define EACH(name, count, unit, lower, upper, first, sheet, meaning, source) \
  for (int i = 1; i <= (count); ++i) map.add(input, number, fmt::format(#name " {}", i), unit, meaning);
  CTL_INPUT_LIST(ONE, EACH)
#undef ONE
#undef EACH
#define REQUEST(name, type, unit, meaning) map.add(input, type, #name, unit, meaning);
  REQUEST_LIST(REQUEST)
#undef REQUEST
  map.add(holding, whole, "map_version", "1", "version of the map that the controller was made for");
  map.add(holding, whole, "answered_tick", "1", "tick that the commands answer");
  map.add(holding, whole, "arm", "1",
          fmt::format("{} lets the commands act, anything else does not", registers::kArmed));
#define ONE(name, unit, lower, upper, step, stays, meaning) \
  map.add(holding, number, #name, unit, meaning, lower, upper);
#define EACH(name, count, unit, lower, upper, step, stays, meaning) \
  for (int i = 1; i <= (count); ++i)                                \
    map.add(holding, number, fmt::format(#name " {}", i), unit, meaning, lower, upper);
  CTL_OUTPUT_LIST(ONE, EACH)
#undef ONE
#undef EACH
  map.add(holding, whole, "mode", "1", "mode in force, a number of the list of modes", 0, CTL_MODES - 1);
  return std::move(map.rows);
}

void put_whole(std::span<std::uint16_t> to, int& at, std::uint32_t value) {
  to[static_cast<std::size_t>(at++)] = static_cast<std::uint16_t>(value >> 16);
  to[static_cast<std::size_t>(at++)] = static_cast<std::uint16_t>(value & 0xffffu);
}
void put_number(std::span<std::uint16_t> to, int& at, float value) {
  put_whole(to, at, std::bit_cast<std::uint32_t>(value));
}

std::string bound(double value) {
  return value == -kInfinity || value == kInfinity ? "" : fmt::format("{:g}", value);
}

}  // namespace

const std::vector<RegisterRow>& register_map() {
  static const std::vector<RegisterRow> map = made_map();
  return map;
}

std::string register_map_csv() {
  std::string text = "table,address,registers,type,name,unit,lower,upper,meaning\r\n";
  for (const RegisterRow& r : register_map())
    text += fmt::format("{},{},2,{},{},{},{},{},\"{}\"\r\n",
                        r.table == RegisterTable::input ? "input" : "holding", r.address,
                        r.type == RegisterType::number ? "float32" : "uint32", r.name, r.unit, bound(r.lower),
                        bound(r.upper), r.meaning);
  return text;
}

std::uint32_t register_map_version() {
  static const std::uint32_t version = [] {
    const std::string text = register_map_csv();
    return controller::crc32(reinterpret_cast<const unsigned char*>(text.data()),
                             static_cast<std::uint32_t>(text.size()));
  }();
  return version;
}

int register_count(RegisterTable table) {
  int count = 0;
  for (const RegisterRow& r : register_map()) count += r.table == table ? 2 : 0;
  return count;
}

void put_inputs(const ctl_inputs& in, float period, std::span<std::uint16_t> to) {
  int at = 0;
  put_whole(to, at, register_map_version());
  put_whole(to, at, in.tick);
  put_number(to, at, period);
  put_number(to, at, 123.456f);
#define ONE(name, ...) put_number(to, at, in.name);
#define EACH(name, ...) \
  for (const float x : in.name) put_number(to, at, x);
  CTL_INPUT_LIST(ONE, EACH)
#undef ONE
#undef EACH
#define REQUEST(name, type, unit, meaning) put_##type(to, at, in.name);
  REQUEST_LIST(REQUEST)
#undef REQUEST
}

std::uint32_t take_whole(std::span<const std::uint16_t> from, int address) {
  const auto at = static_cast<std::size_t>(address);
  return static_cast<std::uint32_t>(from[at]) << 16 | from[at + 1];
}

float take_number(std::span<const std::uint16_t> from, int address) {
  return std::bit_cast<float>(take_whole(from, address));
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

}  // namespace duskline::harness
