#include "scenarios/reader/instruments.hpp"

#include <fmt/format.h>

#include <cmath>

#include "plant-model/instruments/actuator.hpp"
#include "scenarios/reader/plant_file.hpp"

namespace duskline::scenarios {
namespace {

std::string_view name_of(const InstrumentRow& row) {
  return row.spec.name;
}
std::string_view name_of(const CommandRow& row) {
  return row.name;
}

std::string_view unit_of(const InstrumentRow& row) {
  return row.spec.unit;
}
std::string_view unit_of(const CommandRow& row) {
  return row.unit;
}

/// "zone_temperature[2]"; `from` is what the first one is counted as.
std::string item_name(const auto& row, std::size_t k, std::size_t from) {
  return row.count == 1 ? std::string(name_of(row)) : fmt::format("{}[{}]", name_of(row), k + from);
}

std::vector<Channel> channels_of(const auto& table) {
  std::vector<Channel> channels;
  for (const auto& row : table)
    for (std::size_t k = 0; k < row.count; ++k)
      channels.push_back({item_name(row, k, 1), unit_of(row), row.meaning});
  return channels;
}

std::size_t first_channel(const auto& table, std::string_view name) {
  std::size_t channel = 0;
  for (const auto& row : table) {
    if (name_of(row) == name) break;
    channel += row.count;
  }
  return channel;
}

std::size_t count_of(const auto& table, std::string_view name) {
  for (const auto& row : table)
    if (name_of(row) == name) return row.count;
  return 0;
}

/// Newton's square root, as the table has always had it.
double walk_rate(double amount, double time) {
  double root = 1.0;
  for (int i = 0; i < 60; ++i) root = 0.5 * (root + time / root);
  return amount / root;
}

}  // namespace

const std::vector<Channel>& reading_channels() {
  static const auto channels = channels_of(kInstrumentTable);
  return channels;
}
const std::vector<Channel>& command_channels() {
  static const auto channels = channels_of(kCommandTable);
  return channels;
}

std::size_t reading_channel(std::string_view name) {
  return first_channel(kInstrumentTable, name);
}
std::size_t command_channel(std::string_view name) {
  return first_channel(kCommandTable, name);
}

std::size_t shared_reading(std::string_view name) {
  constexpr std::string_view kPlantPrefix = "plant.";
  std::size_t n = 0;
  while (n < kSharedInstruments.size() && kSharedInstruments[n].spec.name.substr(kPlantPrefix.size()) != name)
    ++n;
  return n;
}

std::array<plant::SensorSpec, kReadingChannels> expand(const InstrumentTable& table) {
  static const std::vector<std::string> keys = [] {
    std::vector<std::string> all;
    for (const InstrumentRow& row : kInstrumentTable)
      for (std::size_t k = 0; k < row.count; ++k) all.push_back(item_name(row, k, 0));
    return all;
  }();
  std::array<plant::SensorSpec, kReadingChannels> specs{};
  std::size_t channel = 0;
  for (const InstrumentRow& row : table)
    for (std::size_t k = 0; k < row.count; ++k, ++channel) {
      specs[channel] = row.spec;
      specs[channel].random_walk = walk_rate(row.walk, row.walk_time);
      specs[channel].name = keys[channel];
    }
  return specs;
}

void instrument_keys(Keys& keys, InstrumentTable& table) {
  constexpr double kMost = 1e9;
  for (InstrumentRow& row : table) {
    plant::SensorSpec& s = row.spec;
    keys.map({s.name, row.meaning, false, row.source}, [&] {
      const Quantity any{s.unit, -kMost, kMost}, size{s.unit, 0.0, kMost}, share{"1", 0.0, 1.0};
      keys.number({"lower", "lower end of the span"}, any, s.lower);
      keys.number({"upper", "upper end of the span"}, any, s.upper);
      keys.number({"lag", "time constant"}, {"s", 0.0, 3600.0}, s.lag);
      keys.number({"noise", "standard deviation of a sample"}, size, s.noise);
      keys.number({"zero", "limit of the zero error of its class"}, size, s.bias_class);
      keys.number({"gain", "limit of the gain error of its class"}, share, s.gain_class);
      keys.number({"bias", "zero error that is given, beside that of its class"}, any, s.bias);
      keys.number({"gain_error", "gain error that is given, beside that of its class"}, {"1", -1.0, 10.0},
                  s.gain_error);
      keys.number({"walk", "standard deviation of the drift of the zero after walk_time"}, size, row.walk);
      keys.number({"walk_time", "time of walk"}, {"s", 1.0, 3.2e9}, row.walk_time);
      keys.number({"step", "step of the converter"}, size, s.resolution);
      keys.number({"dropout", "probability that a sample is lost"}, share, s.dropout);
      keys.number({"expected_zero", "limit of the zero error in service, for the controller"}, size,
                  row.expected_zero);
      keys.number({"jump", "largest honest change in a second, for the controller; 0: not tested"}, size,
                  row.jump);
    });
  }
}

void tell_controller(const InstrumentTable& instruments, const plant::PlantParameters& plant,
                     ctl_params& params) {
  const auto single = [](double x) { return static_cast<float>(x); };
  for (std::size_t i = 0; i < instruments.size(); ++i) {
    const InstrumentRow& row = instruments[i];
    params.input[i] = {{single(row.spec.lower), single(row.spec.upper)},
                       single(row.spec.noise),
                       single(row.expected_zero),
                       single(row.spec.gain_class),
                       single(row.jump)};
  }
  const auto rated = plant::ratings(plant);
  const auto span = [&](ctl_command command, double upper) {
    const CommandRow& row = kCommandTable[command];
    params.output_span[command] = {single(row.lower),
                                   single(upper > 0.0 ? upper : row.upper)};  // 0: not fitted
  };
#define UPPER(name, ...) span(CTL_OUTPUT_##name, rated.name.upper);
#define UPPERS(name, ...) span(CTL_OUTPUT_##name, rated.name.front().upper);
  CTL_OUTPUT_LIST(UPPER, UPPERS)
#undef UPPER
#undef UPPERS
}

std::size_t fault_items(const plant::FaultRow& row) {
  if (row.item < 0) return 0;
  switch (row.effect) {
    case plant::FaultEffect::scale:
    case plant::FaultEffect::set:
    case plant::FaultEffect::add:
      if (const plant::ParameterInfo* info = find_parameter(row.target)) {
        plant::PlantParameters p;
        return info->get(p).size();
      }
      return 0;
    case plant::FaultEffect::sensor:
    case plant::FaultEffect::swap:
      return count_of(kInstrumentTable, row.target);
    case plant::FaultEffect::actuator:
      return count_of(kCommandTable, row.target);
    default:
      return 0;
  }
}

}  // namespace duskline::scenarios
