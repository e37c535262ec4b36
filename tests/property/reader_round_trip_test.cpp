// read -> write -> read -> write gives the same bytes, for random scenarios; and no mangled text crashes.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstddef>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <limits>
#include <random>
#include <sstream>
#include <string>

#include "scenarios/reader/describe.hpp"
#include "scenarios/reader/fault_fit.hpp"
#include "scenarios/reader/plant_file.hpp"
#include "scenarios/reader/scenario_file.hpp"
#include "scenarios/reader/scenario_keys.hpp"
#include "tests/support/plant.hpp"

using namespace duskline;
using namespace duskline::scenarios;

namespace {

const std::filesystem::path kPlants = DUSKLINE_SOURCE_DIR "/plant-model/plants";

// Only the raw words of std::mt19937_64 are used: they are the same on every machine.
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : words_{seed} {}
  std::size_t below(std::size_t n) { return static_cast<std::size_t>(words_() % n); }
  double between(double lower, double upper) {
    const double u = static_cast<double>(words_() >> 11U) * 0x1p-53;
    return std::min(upper, lower + u * (upper - lower));
  }
  std::string text() {
    const std::string letters = "abc XYZ\"\\'#:{}[],&*!|>%@`-0.9\n\t~\xC2\xB5";
    std::string out;
    for (std::size_t i = below(30); i > 0; --i) {
      const std::size_t at = below(letters.size() - 1);
      out += letters[at];
      if (letters[at] == '\xC2') out += '\xB5';
    }
    return out;
  }
  /// Not empty, and without line feeds and tabs.
  std::string line() {
    std::string out = "t" + text();
    for (char& c : out)
      if (c == '\n' || c == '\t') c = '-';
    return out;
  }

 private:
  std::mt19937_64 words_;
};

// Gives every key a value inside its range, by the list of keys itself.
class Randomiser : public Keys {
 public:
  explicit Randomiser(Dice& dice) : dice_{dice} {}
  using Keys::list;
  void number(const Key& key, const Quantity& q, double& value) override {
    // Times of lists must rise: each walk over an item moves on.
    if (key.name == "at") {
      value = clock_ += dice_.between(1.0, 1000.0);
      return;
    }
    if (key.name == "record" || key.name == "period" || key.name == "duration") return;
    value = dice_.below(8) == 0 ? q.lower : dice_.between(q.lower, q.upper);
  }
  void number(const Key& key, const Quantity& q, float& value) override {
    double wide = static_cast<double>(value);
    number(key, q, wide);
    value = std::clamp(static_cast<float>(wide), static_cast<float>(q.lower), static_cast<float>(q.upper));
  }
  void number_or_none(const Key& key, const Quantity& q, double& value) override {
    number(key, q, value);
    if (dice_.below(2) == 0) value = std::numeric_limits<double>::quiet_NaN();
  }
  void whole(const Key& key, std::uint64_t& value) override {
    value = key.name == "item"   ? 1 + dice_.below(2)
            : key.name == "sols" ? dice_.below(21)  // the reader's most: 20
                                 : dice_.below(~std::size_t{0});
  }
  void text(const Key& key, std::string& value) override {
    if (key.name != "weather") value = key.lines ? dice_.text() : dice_.line();
  }
  void word(const Key&, std::span<const Word> words, int& value) override {
    value = words[dice_.below(words.size())].value;
  }
  void choice(const Key&, std::span<const std::string> choices, bool, std::string& value) override {
    do value = choices[dice_.below(choices.size())];
    while (not_of_bench(value));
  }
  void map(const Key&, const std::function<void()>& inside) override { inside(); }
  void list(const Key&, const ListAccess& access) override {
    clock_ = 0.0;
    const std::size_t size = 1 + dice_.below(5);
    access.resize(size);
    for (std::size_t i = 0; i < size; ++i) access.item(i);
  }
  void skip(const Key&) override {}

 private:
  /// A fault or a parameter that the plant of the scenarios cannot have, and a parameter of which not all values do.
  static bool not_of_bench(const std::string& name) {
    if (name == "plant.stack.zone" || name == "plant.stack.repeats") return true;
    if (name.starts_with("plant."))
      if (const auto* parameter = find_parameter(name.substr(6))) return !parameter->fits(plant::PlantForm{});
    const plant::FaultRow* row = plant::find_fault(name);
    return row != nullptr && !why_not_here(*row, tests::bench()).empty();
  }

  Dice& dice_;
  double clock_{};
};

Scenario random_scenario(Dice& dice) {
  Scenario scenario = default_scenario();
  scenario.period = dice.between(0.01, 10.0);
  scenario.record = scenario.period * static_cast<double>(1 + dice.below(20));
  scenario.duration = scenario.period * dice.between(1.0, 1e5);
  Randomiser randomiser{dice};
  scenario_keys(randomiser, scenario);
  for (auto& fault : scenario.faults)  // a pulse has an end
    if (fault.shape == plant::FaultShape::pulse && std::isnan(fault.length)) fault.length = 100.0;
  // an action is meant for one alarm, but for acknowledge-all; those of the plant need headers
  for (auto& action : scenario.operator_actions)
    if (action.alarm >= CTL_ALARMS) action.alarm = 0;
  for (std::size_t i = 0; i < scenario.requirements.size(); ++i)  // names are used once
    scenario.requirements[i].name += std::to_string(i);
  const auto numbers = number_paths(scenario);
  for (std::size_t i = dice.below(4); i > 0; --i) {
    const NumberPath& number = numbers[dice.below(numbers.size())];
    if (number.path.ends_with(".at") || number.path.starts_with("plant.") || number.whole) continue;
    const double lower = number.quantity.lower, width = number.quantity.upper - lower;
    Variation v{number.path, lower + width * dice.between(0.01, 0.4), lower + width * dice.between(0.5, 1.0),
                i % 2 == 0 && lower >= 0.0 ? Spacing::logarithmic : Spacing::linear, number.quantity.unit};
    const auto same = [&](const Variation& other) { return other.set == v.set; };
    auto& vary = scenario.falsify.vary;
    if (std::none_of(vary.begin(), vary.end(), same)) vary.push_back(v);
  }
  scenario.falsify.requirement = dice.below(2) == 0 ? "" : scenario.requirements.back().name;
  return scenario;
}

PlantFile random_plant(Dice& dice) {
  PlantFile plant;
  plant.name = dice.line();
  plant.title = dice.line();
  plant.notes.resize(plant::parameter_table().size());
  for (std::size_t i = 0; i < plant.notes.size(); ++i) {
    const plant::ParameterInfo& info = plant::parameter_table()[i];
    if (!info.fits(plant.parameters.form)) continue;
    ParameterNote& note = plant.notes[i];
    note.lower = dice.between(info.lower, info.upper);
    note.upper = dice.between(note.lower, info.upper);
    note.source = "s" + dice.text();
    for (double& value : info.get(plant.parameters)) value = dice.between(note.lower, note.upper);
    if (info.path == "stack.zone") {  // whole, and none without a cell, as plant::check wants
      note.lower = 0.0;
      note.upper = 4.0;
      for (std::size_t c = 0; c < plant::kCells; ++c)
        plant.parameters.stack.zone[c] = static_cast<double>(c % 5);
    } else if (info.path == "stack.repeats") {
      plant.parameters.stack.repeats = note.lower = std::floor(note.lower);
    }
  }
  return plant;
}

bool same_bits(plant::PlantParameters a, plant::PlantParameters b) {
  for (const plant::ParameterInfo& info : plant::parameter_table()) {
    const auto x = info.get(a), y = info.get(b);
    for (std::size_t i = 0; i < x.size(); ++i)
      if (std::memcmp(&x[i], &y[i], sizeof(double)) != 0) return false;
  }
  return true;
}

}  // namespace

TEST_CASE("Written scenarios read back to the same structs and the same bytes") {
  Dice dice{20260101};
  for (int i = 0; i < 200; ++i) {
    const Scenario scenario = random_scenario(dice);
    const PlantFile plant = random_plant(dice);
    const std::string text = write_resolved(scenario, plant);
    const auto again = parse_case(text, "again.yaml", ".", "no-plants-needed");
    INFO(to_text(again.problems) << text);
    REQUIRE(again);
    CHECK(same_bits(again.value->plant.parameters, plant.parameters));
    CHECK(std::memcmp(&again.value->scenario.controller, &scenario.controller,
                      offsetof(ctl_params, table_time)) == 0);
    CHECK(again.value->scenario.title == scenario.title);
    CHECK(again.value->scenario.seed == scenario.seed);
    CHECK(again.value->scenario.duration == scenario.duration);
    CHECK(again.value->scenario.faults.size() == scenario.faults.size());
    CHECK(write_resolved(again.value->scenario, again.value->plant) == text);
  }
}

TEST_CASE("A shipped plant under a scenario with few keys round-trips too") {
  const auto first = parse_case(scenario_example(), "example.yaml", ".", kPlants);
  REQUIRE(first);
  const std::string text = write_resolved(first.value->scenario, first.value->plant);
  const auto second = parse_case(text, "resolved.yaml", ".", "no-plants-needed");
  INFO(to_text(second.problems));
  REQUIRE(second);
  CHECK(write_resolved(second.value->scenario, second.value->plant) == text);
}

TEST_CASE("Mangled scenarios are read or refused with places inside the text, and never crash") {
  Dice dice{7};
  const std::string original = scenario_example();
  const std::string inserts = "{}[],:-#&*!|>'\"%@`?~ \n\t\r0123456789abcxyz<";
  int refused = 0;
  for (int i = 0; i < 4000; ++i) {
    std::string text = original;
    for (std::size_t n = 1 + dice.below(6); n > 0; --n) {
      const std::size_t at = dice.below(text.size());
      switch (dice.below(4)) {
        case 0:
          text[at] = inserts[dice.below(inserts.size())];
          break;
        case 1:
          text.insert(at, 1, inserts[dice.below(inserts.size())]);
          break;
        case 2:
          text.erase(at, dice.below(12));
          break;
        default:
          text.insert(at, text.substr(dice.below(text.size()), dice.below(40)));
      }
      if (text.empty()) text = "x";
    }
    const auto outcome = parse_case(text, "m.yaml", ".", kPlants);
    CHECK(outcome.value.has_value() == outcome.problems.empty());
    refused += outcome ? 0 : 1;
    int lines = 1;
    for (char c : text) lines += c == '\n' ? 1 : 0;
    for (const Problem& problem : outcome.problems) {
      INFO(text << to_text(problem));
      CHECK_FALSE(problem.message.empty());
      CHECK(problem.line >= 1);
      CHECK(problem.column >= 1);
      CHECK(problem.line <= lines + 1);
    }
  }
  CHECK(refused > 2000);  // the mangling does mangle: counted here, most texts become wrong
}

TEST_CASE("Mangled settings never crash") {
  Dice dice{11};
  const std::vector<std::string> seeds{"duration=2 h", "commands[2].demand=8 g/h",
                                       "plant.stack.flow_share.4=1", "commands=[{at: 0 s, mode: off}]",
                                       "start={season: 3 rad}"};
  const std::string inserts = "{}[],:-#&*!|>'\"%@`?~ =.0123456789abc";
  for (int i = 0; i < 2000; ++i) {
    std::string setting = seeds[dice.below(seeds.size())];
    for (std::size_t n = 1 + dice.below(4); n > 0; --n)
      setting.insert(dice.below(setting.size()), 1, inserts[dice.below(inserts.size())]);
    const std::vector<std::string> settings{setting};
    const auto outcome = parse_case(scenario_example(), "m.yaml", ".", kPlants, settings);
    CHECK(outcome.value.has_value() == outcome.problems.empty());
  }
}
