#include "scenarios/reader/scenario_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "scenarios/reader/controller_sizes.hpp"
#include "scenarios/reader/decode.hpp"
#include "scenarios/reader/plant_tree.hpp"
#include "scenarios/reader/scenario_check.hpp"
#include "scenarios/reader/scenario_keys.hpp"
#include "scenarios/reader/suggest.hpp"
#include "scenarios/reader/variation.hpp"

namespace duskline::scenarios {
namespace {

namespace fs = std::filesystem;

constexpr Key kPlantKey{"plant",
                        "a plant that ships, a file relative to the scenario, or a plant written out", true};
constexpr Key kOverridesKey{"plant_overrides", "plant parameters with other values, by path"};

// Takes a pair out of a map.
std::optional<Pair> take(Node& map, std::string_view key) {
  for (std::size_t i = 0; i < map.pairs.size(); ++i) {
    if (map.pairs[i].key != key) continue;
    Pair pair = std::move(map.pairs[i]);
    map.pairs.erase(map.pairs.begin() + static_cast<std::ptrdiff_t>(i));
    return pair;
  }
  return std::nullopt;
}

// Adds to `target` what `source` has and `target` has not, map by map.
void fill_in(Node& target, const Node& source) {
  for (const Pair& pair : source.pairs) {
    Pair* there = target.find(pair.key);
    if (there == nullptr)
      target.pairs.push_back(pair);
    else if (there->value.kind == Node::Kind::map && pair.value.kind == Node::Kind::map)
      fill_in(there->value, pair.value);
  }
}

class CaseReader {
 public:
  CaseReader(const fs::path& folder, const fs::path& plants, const SignalLists& signals)
      : folder_{folder}, plants_{plants}, signals_{signals} {}

  Result<Case> read(std::string_view text, int file, std::span<const Change> changes) {
    auto root = parse_tree(text, file, report_);
    if (!root || !take_format(*root, {file, 1, 1}, kScenarioFormat, report_)) return failed();
    for (const Change& change : changes)
      if (!is_for_plant(change)) apply(change, 0, *root, report_);
    const auto plant_pair = take(*root, kPlantKey.name);
    const auto overrides = take(*root, kOverridesKey.name);
    Case result;
    result.scenario = default_scenario();
    include_controller(*root);
    if (plant_pair) read_plant_of(*plant_pair, overrides ? &*overrides : nullptr, changes, result.plant);
    size_controller(result.plant.parameters, result.scenario.controller);
    decode_scenario(*root, {file, 1, 1}, result);
    tell_controller(result.plant.instruments, result.plant.parameters, result.scenario.controller);
    if (!plant_pair)
      report_.add({file, 1, 1}, std::string{kPlantKey.name},
                  fmt::format("is missing ({})", kPlantKey.meaning));
    find_weather(*root, result);
    if (!report_.clean()) return failed();
    return {std::move(result), {}};
  }

  Report& report() { return report_; }

  Result<Case> failed() const { return {std::nullopt, report_.problems()}; }

 private:
  static bool is_for_plant(const Change& change) {
    return change.steps.size() > 1 && change.steps[0].key == kPlantKey.name;
  }

  // Puts the keys of a controller file below those that the scenario gives itself.
  void include_controller(Node& root) {
    Pair* controller = root.find("controller");
    if (controller == nullptr || controller->value.kind != Node::Kind::map) return;
    const auto pair = take(controller->value, "file");
    if (!pair) return;
    const auto path = path_in(pair->value, "controller.file");
    if (!path) return;
    const int file = report_.open(path->string());
    auto tree = open_tree(*path, file, kControllerFormat, report_);
    if (!tree) return;
    take(*tree, "title");
    const auto shared = take(*tree, "plant_controller");
    fill_in(controller->value, *tree);
    if (!shared) return;
    if (Pair* own = root.find("plant_controller"); own == nullptr)
      root.pairs.push_back(*shared);
    else if (own->value.kind == Node::Kind::map && shared->value.kind == Node::Kind::map)
      fill_in(own->value, shared->value);
  }

  void decode_scenario(const Node& root, Place place, Case& result) {
    Decoder decoder{root, place, "", report_};
    scenario_keys(decoder, result.scenario);
    decoder.skip(kPlantKey);
    decoder.skip(kOverridesKey);
    decoder.finish();
    check_scenario(result.scenario, result.plant, decoder, report_,
                   signals_.of(result.plant.parameters.form));
  }

  // A text that names an existing file, relative to the folder of the scenario.
  std::optional<fs::path> path_in(const Node& node, const std::string& key) {
    if (node.kind != Node::Kind::text || node.text.empty()) {
      report_.add(node.place, key, fmt::format("expected the name of a file, found {}", name_of(node.kind)));
      return std::nullopt;
    }
    fs::path path = folder_ / fs::path{node.text};
    std::error_code error;
    if (fs::is_regular_file(path, error)) return path;
    report_.add(node.place, key,
                fmt::format("there is no file '{}'{}", node.text,
                            fs::path{node.text}.is_absolute() ? "" : " in the folder of the scenario"));
    return std::nullopt;
  }

  std::vector<std::string> shipped() const {
    std::vector<std::string> names;
    std::error_code error;
    for (fs::directory_iterator it{plants_, error}, end; !error && it != end; it.increment(error))
      if (it->path().extension() == ".yaml") names.push_back(it->path().stem().string());
    std::sort(names.begin(), names.end());
    return names;
  }

  std::optional<fs::path> plant_path(const Node& node) {
    const std::string key{kPlantKey.name};
    if (node.kind != Node::Kind::text) {
      report_.add(node.place, key,
                  fmt::format("expected {}, found {}", kPlantKey.meaning, name_of(node.kind)));
      return std::nullopt;
    }
    if (node.text.find('/') != std::string::npos || node.text.ends_with(".yaml")) return path_in(node, key);
    const std::vector<std::string> names = shipped();
    if (std::find(names.begin(), names.end(), node.text) != names.end())
      return plants_ / (node.text + ".yaml");
    std::string hint = did_you_mean(node.text, names);
    if (hint.empty())
      hint = fmt::format("; expected {} or a file name that ends in .yaml", fmt::join(names, " | "));
    report_.add(node.place, key, fmt::format("there is no plant '{}'{}", node.text.substr(0, 80), hint));
    return std::nullopt;
  }

  void read_plant_of(const Pair& pair, const Pair* overrides, std::span<const Change> changes,
                     PlantFile& plant) {
    std::optional<PlantTree> tree;
    if (pair.value.kind == Node::Kind::map)
      tree = PlantTree{pair.value, pair.place, {}};
    else if (const auto path = plant_path(pair.value))
      tree = open_plant(*path, report_);
    if (!tree) return;
    if (overrides != nullptr) apply_overrides(*overrides, "", tree->root);
    for (const Change& change : changes)
      if (is_for_plant(change)) override_parameter(change, 1, tree->root, report_);
    plant = decode_plant(*tree, report_);
    const plant::PlantForm& form = plant.parameters.form;
    const bool driven = plant::has_headers(form) ? signals_.know_headers() : form.modules == 1;
    if (!driven)
      report_.add(pair.value.place, "plant",
                  plant::has_headers(form)
                      ? "has modules between headers, which this verb does not drive; "
                        "expected a plant of one module with apertures, as 'bench'"
                      : "has several modules with apertures, which nothing drives yet; expected "
                        "'piping: headers' or one module");
  }

  // Overrides are written with dotted paths, nested maps, or both; each value is given once.
  void apply_overrides(const Pair& from, const std::string& path, Node& plant) {
    const Node& node = from.value;
    const std::string shown = path.empty() ? std::string{kOverridesKey.name} : path;
    if (node.kind != Node::Kind::map)
      return report_.add(node.place, shown,
                         fmt::format("expected paths with values (a map), found {}", name_of(node.kind)));
    if (node.pairs.empty() && !path.empty()) return report_.add(from.place, shown, "holds no value");
    for (const Pair& pair : node.pairs) {
      const std::string full = path.empty() ? pair.key : path + "." + pair.key;
      if (pair.value.kind == Node::Kind::map)
        apply_overrides(pair, full, plant);
      else
        apply_override(pair, full, plant);
    }
  }

  void apply_override(const Pair& pair, const std::string& path, Node& plant) {
    auto steps = parse_path(path, pair.place, report_);
    if (!steps) return;
    std::string target = dotted(path);
    if (target.ends_with(".value")) target.erase(target.rfind('.'));
    if (const Place* first = overridden(target))
      return report_.add(pair.place, path,
                         fmt::format("is given twice (first at {})", report_.also_at(pair.place, *first)));
    overridden_.emplace(std::move(target), pair.place);
    for (Step& step : *steps) step.place = pair.place;
    override_parameter({std::move(*steps), path, pair.place, pair.value}, 0, plant, report_);
  }

  // Where this value was given before: itself, the list that it is an item of, or an item of it.
  const Place* overridden(const std::string& path) const {
    auto found = overridden_.find(path);
    if (found == overridden_.end()) found = overridden_.find(split_item(path).path);
    if (found == overridden_.end()) {
      found = overridden_.lower_bound(path + ".");
      if (found == overridden_.end() || split_item(found->first).path != path) return nullptr;
    }
    return &found->second;
  }

  void find_weather(const Node& root, Case& result) {
    const Pair* pair = root.find("weather");
    if (pair == nullptr || pair->value.kind != Node::Kind::text) return;
    if (const auto path = path_in(pair->value, "weather")) result.weather_file = *path;
  }

  fs::path folder_, plants_;
  SignalLists signals_;
  Report report_;
  std::map<std::string, Place> overridden_;  // dotted paths that have had their value
};

std::vector<Change> parse_settings(std::span<const std::string> settings, int line, Report& report) {
  std::vector<Change> changes;
  for (std::size_t i = 0; i < settings.size(); ++i)
    if (auto change = parse_setting(settings[i], line, static_cast<int>(i) + 1, report))
      changes.push_back(std::move(*change));
  return changes;
}

}  // namespace

ctl_params module_controller_of(const Case& c, const plant::PlantParameters& built, std::size_t module) {
  ctl_params params = c.scenario.controller;
  add_ageing_prior(c.plant, built.module.production[module] + c.scenario.initial.operating_hours, params);
  return params;
}

Result<Case> read_case(const fs::path& path, const fs::path& plants, std::span<const std::string> settings,
                       const SignalLists& signals) {
  CaseReader reader{path.parent_path(), plants, signals};
  const auto changes = parse_settings(settings, reader.report().open("--set"), reader.report());
  const int file = reader.report().open(path.string());
  const auto text = read_bytes(path, file, reader.report());
  return text ? reader.read(*text, file, changes) : reader.failed();
}

Result<Case> parse_case(std::string_view text, const std::string& name, const fs::path& folder,
                        const fs::path& plants, std::span<const std::string> settings,
                        const SignalLists& signals) {
  CaseReader reader{folder, plants, signals};
  const auto changes = parse_settings(settings, reader.report().open("--set"), reader.report());
  return reader.read(text, reader.report().open(name), changes);
}

Problem problem_at(std::string_view text, const std::string& name, std::span<const std::string> settings,
                   std::string path, std::string message) {
  Report report;
  const auto changes = parse_settings(settings, report.open("--set"), report);
  const Place start{report.open(name), 1, 1};
  auto root = parse_tree(text, start.file, report);
  if (!root) return {name, 1, 1, std::move(path), std::move(message)};
  for (const Change& change : changes) apply(change, 0, *root, report);
  Scenario scenario = default_scenario();
  Decoder decoder{*root, start, "", report};
  scenario_keys(decoder, scenario);
  const Place place = decoder.where(path);
  return {report.file(place.file), place.line, place.column, std::move(path), std::move(message)};
}

std::string write_resolved(const Scenario& scenario, const PlantFile& plant) {
  Writer writer;
  writer.raw("format", kScenarioFormat);
  Scenario copy = scenario;
  scenario_keys(writer, copy);
  writer.section(kPlantKey.name, [&] { write_plant_keys(plant, writer); });
  return writer.take();
}

Result<ControllerFile> read_controller(const fs::path& path) {
  Report report;
  const int file = report.open(path.string());
  const auto root = open_tree(path, file, kControllerFormat, report);
  if (!root) return {std::nullopt, report.problems()};
  const Scenario defaults = default_scenario();
  ControllerFile read{defaults.controller, defaults.plant_controller};
  Decoder decoder{*root, {file, 1, 1}, "", report};
  decoder.skip({"title", ""});
  controller_keys(decoder, read.controller);
  plant_controller_keys(decoder, read.plant_controller);
  decoder.finish();
  check_controller(read.controller, "", decoder, report);
  if (!report.clean()) return {std::nullopt, report.problems()};
  return {read, {}};
}

std::string write_controller(const ControllerFile& file, std::string_view title) {
  Writer writer;
  writer.raw("format", kControllerFormat);
  writer.raw("title", quote(title));
  ControllerFile copy = file;
  const ctl_params defaults = default_scenario().controller;
  controller_keys(writer, copy.controller, &defaults);
  plant_controller_keys(writer, copy.plant_controller);
  return writer.take();
}

std::uint64_t periods(const Scenario& scenario) {
  return static_cast<std::uint64_t>(std::floor(scenario.duration / scenario.period * (1.0 + 1e-12)));
}

void apply(const Event& event, plant::PlantParameters& parameters) {
  const ItemPath path = split_item(event.parameter);
  const plant::ParameterInfo* info = find_parameter(path.path);
  if (info == nullptr) return;  // the reader lets none through
  const std::span<double> values = info->get(parameters);
  if (path.item < 0)
    std::fill(values.begin(), values.end(), event.to);
  else if (path.item >= 1 && static_cast<std::size_t>(path.item) <= values.size())
    values[static_cast<std::size_t>(path.item) - 1] = event.to;
}

}  // namespace duskline::scenarios
