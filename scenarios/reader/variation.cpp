#include "scenarios/reader/variation.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "scenarios/reader/decode.hpp"
#include "scenarios/reader/plant_file.hpp"
#include "scenarios/reader/scenario_keys.hpp"

namespace duskline::scenarios {
namespace {

constexpr Word kSpacings[] = {{static_cast<int>(Spacing::linear), "linear", "evenly"},
                              {static_cast<int>(Spacing::logarithmic), "log", "by equal factors"}};

// What says how a run is calculated, not what happens in it.
constexpr std::string_view kFixed[] = {"duration", "period", "record", "integrator.relative_tolerance"};

constexpr double kMostDraws = 1e9;

// Walks the keys of a scenario and keeps those that are numbers.
class Collector : public Keys {
 public:
  using Keys::list;
  void number(const Key& key, const Quantity& quantity, double& value) override {
    add(key, quantity);
    values_[paths_.back().path] = value;
  }
  void number(const Key& key, const Quantity& quantity, float& value) override {
    add(key, quantity);
    paths_.back().quantity.single = true;
    values_[paths_.back().path] = static_cast<double>(value);
  }
  void number_or_none(const Key& key, const Quantity& quantity, double& value) override {
    number(key, quantity, value);
  }
  void whole(const Key& key, std::uint64_t& value) override {
    if (prefix_.empty() && (key.name == "plant_draw" || key.name == "structure_draw")) {
      add(key, {"1", 1.0, kMostDraws, false});
      paths_.back().whole = true;
      values_[paths_.back().path] = static_cast<double>(value);
    }
  }
  void text(const Key&, std::string&) override {}
  void word(const Key&, std::span<const Word>, int&) override {}
  void choice(const Key&, std::span<const std::string>, bool, std::string&) override {}
  void map(const Key& key, const std::function<void()>& inside) override {
    enter(std::string{key.name} + ".", inside);
  }
  void list(const Key& key, const ListAccess& access) override {
    for (std::size_t i = 0; i < access.size; ++i)
      enter(fmt::format("{}.{}.", key.name, i + 1), [&] { access.item(i); });
  }
  void skip(const Key&) override {}

  std::vector<NumberPath> take() { return std::move(paths_); }
  // The value of each path, as it stands in the scenario.
  const std::map<std::string, double>& values() const { return values_; }

 private:
  void add(const Key& key, const Quantity& quantity) {
    paths_.push_back({prefix_ + std::string{key.name}, quantity});
  }
  void enter(const std::string& more, const std::function<void()>& inside) {
    const std::string before = prefix_;
    prefix_ += more;
    inside();
    prefix_ = before;
  }

  std::string prefix_;
  std::vector<NumberPath> paths_;
  std::map<std::string, double> values_;
};

void add_plant_parameters(std::vector<NumberPath>& paths) {
  plant::PlantParameters parameters{};
  for (const plant::ParameterInfo& info : plant::parameter_table()) {
    const Quantity quantity{info.unit, info.lower, info.upper, false};
    const std::string path = "plant." + std::string{info.path};
    const std::size_t size = info.get(parameters).size();
    if (size == 1)
      paths.push_back({path, quantity});
    else
      for (std::size_t i = 0; i < size; ++i) paths.push_back({fmt::format("{}.{}", path, i + 1), quantity});
  }
}

// The path with the items of its lists in brackets.
std::string bracketed(std::string_view path) {
  std::string out;
  for (std::size_t at = 0; at < path.size();) {
    const std::size_t end = std::min(path.find('.', at), path.size());
    const std::string_view step = path.substr(at, end - at);
    if (read_whole(step, 0, 1000000).error.empty())
      out += fmt::format("[{}]", step);
    else
      out += (out.empty() ? "" : ".") + std::string{step};
    at = end + 1;
  }
  return out;
}

class Checker {
 public:
  Checker(std::string path, const Decoder& decoder, Report& report)
      : path_{std::move(path)}, decoder_{decoder}, report_{report} {}

  void print_error(std::size_t i, std::string_view key, std::string message) {
    const std::string path = fmt::format("{}[{}].{}", path_, i + 1, key);
    if (!report_.mentions(path)) report_.add(decoder_.where(path), path, std::move(message));
  }

 private:
  std::string path_;
  const Decoder& decoder_;
  Report& report_;
};

// Times of these lists rise; what is varied may not change their order.
void check_order(std::span<const Variation> variations, const Scenario& scenario, Checker& checker) {
  Scenario copy = scenario;
  Collector collector;
  timed_keys(collector, copy);
  const auto& values = collector.values();
  const auto edge = [&](const std::string& path, bool upper) {
    for (const Variation& v : variations)
      if (dotted(v.set) == path) return upper ? v.to : v.from;
    return values.at(path);
  };
  const auto look = [&](const Variation& v, std::size_t i, const std::string& list, bool together) {
    const std::string path = dotted(v.set);
    if (!path.starts_with(list + ".") || !path.ends_with(".at")) return;
    const auto item = static_cast<int>(
        read_whole(path.substr(list.size() + 1, path.size() - list.size() - 4), 0, 1000000).value);
    for (const int other : {item - 1, item + 1}) {
      const std::string there = fmt::format("{}.{}.at", list, other);
      if (!values.contains(there)) continue;
      const double before = other < item ? edge(there, true) : v.to;
      const double after = other < item ? v.from : edge(there, false);
      if (before < after || (together && before == after)) continue;
      checker.print_error(
          i, other < item ? "from" : "to",
          fmt::format("{} is not {} {}, {}", write_quantity(other < item ? v.from : v.to, "s"),
                      other < item ? "after" : "before", write_quantity(other < item ? before : after, "s"),
                      bracketed(there)));
    }
  };
  for (std::size_t i = 0; i < variations.size(); ++i) {
    look(variations[i], i, "commands", false);
    look(variations[i], i, "operator", true);
    look(variations[i], i, "events", true);
    look(variations[i], i, "services", true);
    look(variations[i], i, "controller.table", false);
  }
}

// A value of the plant lies in the range that its file gives it.
void check_plant_range(const Variation& v, std::size_t i, const PlantFile& plant, Checker& checker) {
  const auto table = plant::parameter_table();
  if (!v.set.starts_with("plant.") || plant.notes.size() != table.size()) return;
  const std::string whole = dotted(v.set).substr(std::string_view{"plant."}.size());
  for (std::size_t k = 0; k < table.size(); ++k) {
    if (table[k].path != whole && table[k].path != split_item(whole).path) continue;
    const ParameterNote& note = plant.notes[k];
    const std::string range =
        fmt::format("outside {}, its range in the plant", write_range(note.lower, note.upper, v.unit));
    if (v.from < note.lower)
      checker.print_error(i, "from", fmt::format("{} is {}", write_quantity(v.from, v.unit), range));
    if (v.to > note.upper)
      checker.print_error(i, "to", fmt::format("{} is {}", write_quantity(v.to, v.unit), range));
  }
}

}  // namespace

std::vector<NumberPath> number_paths(const Scenario& scenario) {
  Scenario copy = scenario;
  Collector collector;
  timed_keys(collector, copy);
  std::vector<NumberPath> paths = collector.take();
  std::erase_if(paths, [](const NumberPath& number) {
    return std::find(std::begin(kFixed), std::end(kFixed), number.path) != std::end(kFixed);
  });
  add_plant_parameters(paths);
  return paths;
}

std::string dotted(std::string_view path) {
  std::string out;
  for (const char c : path)
    if (c == '[')
      out += '.';
    else if (c != ']')
      out += c;
  return out;
}

void variation_keys(Keys& keys, std::vector<Variation>& variations, std::span<const NumberPath> paths) {
  std::vector<std::string> names;
  for (const NumberPath& number : paths) names.push_back(number.path);
  for (const NumberPath& number : paths)
    if (std::string other = bracketed(number.path); other != number.path) names.push_back(std::move(other));
  keys.list(
      {"vary", "numbers that are varied, each with its range", true}, variations,
      [&](Variation& v, std::size_t) {
        keys.choice({"set", "which number, by its path as for --set", true}, names, false, v.set);
        const std::string path = dotted(v.set);
        const auto known = std::find_if(paths.begin(), paths.end(),
                                        [&](const NumberPath& number) { return number.path == path; });
        const Key from{"from", "lower end of its range", true}, to{"to", "upper end of its range", true};
        if (known == paths.end()) {
          keys.skip(from);
          keys.skip(to);
        } else {
          v.unit = known->quantity.unit;
          v.whole = known->whole;
          keys.number(from, known->quantity, v.from);
          keys.number(to, known->quantity, v.to);
        }
        int scale = static_cast<int>(v.scale);
        keys.word({"scale", "evenly, or by equal factors"}, kSpacings, scale);
        v.scale = static_cast<Spacing>(scale);
      });
}

void check_variations(std::span<const Variation> variations, const std::string& path,
                      const Scenario& scenario, const PlantFile& plant, const Decoder& decoder,
                      Report& report) {
  Checker checker{path, decoder, report};
  for (std::size_t i = 0; i < variations.size(); ++i) {
    const Variation& v = variations[i];
    if (v.set.empty()) continue;
    for (std::size_t k = 0; k < i; ++k)
      if (dotted(variations[k].set) == dotted(v.set))
        checker.print_error(i, "set", fmt::format("'{}' is varied already, by {}[{}]", v.set, path, k + 1));
    if (!(v.from < v.to))
      checker.print_error(i, "to",
                          fmt::format("{} is not above {}, the lower end", write_quantity(v.to, v.unit),
                                      write_quantity(v.from, v.unit)));
    if (v.scale == Spacing::logarithmic && !(v.from > 0.0))
      checker.print_error(i, "from", "a logarithmic scale needs a range above 0");
    if (v.whole && (v.from != std::floor(v.from) || v.to != std::floor(v.to) || v.scale != Spacing::linear))
      checker.print_error(i, "from", "whole numbers are wanted, evenly spread");
    check_plant_range(v, i, plant, checker);
  }
  if (report.clean()) check_order(variations, scenario, checker);
}

double value_at(const Variation& v, double x) {
  if (v.whole) return std::min(v.from + std::floor(x * (v.to - v.from + 1.0)), v.to);
  const double value =
      v.scale == Spacing::logarithmic ? v.from * std::pow(v.to / v.from, x) : v.from + x * (v.to - v.from);
  return std::clamp(value, v.from, v.to);
}

std::string setting_at(const Variation& v, double x) {
  return v.set + "=" + write_quantity(value_at(v, x), v.unit);
}

}  // namespace duskline::scenarios
