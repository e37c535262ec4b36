#include "scenarios/reader/describe.hpp"

#include <fmt/format.h>

#include <cmath>

#include "scenarios/reader/plant_file.hpp"
#include "scenarios/reader/scenario_keys.hpp"

namespace duskline::scenarios {
namespace {

// Markdown ends a cell at a bar.
std::string cell(std::string_view text) {
  std::string out;
  for (char c : text) out += c == '|' ? std::string{"\\|"} : std::string{c};
  return out;
}

Row plant_row(const plant::ParameterInfo& info) {
  Row row;
  row.path = info.path;
  row.unit = info.unit;
  row.allowed = write_range(info.lower, info.upper, info.unit);
  row.lower = info.lower;
  row.upper = info.upper;
  row.required = true;
  row.meaning = info.meaning;
  return row;
}

}  // namespace

Row& Describer::add(const Key& key, std::string allowed, std::string value) {
  Row row;
  row.path = path_ + std::string{key.name};
  row.allowed = std::move(allowed);
  row.required = key.required;
  if (!key.required) row.value = std::move(value);
  row.meaning = key.meaning;
  row.source = key.source;
  rows_.push_back(std::move(row));
  return rows_.back();
}

Row& Describer::add_number(const Key& key, const Quantity& quantity, std::string value) {
  Row& row = add(key, write_range(quantity.lower, quantity.upper, quantity.unit), std::move(value));
  row.unit = quantity.unit;
  row.lower = quantity.lower;
  row.upper = quantity.upper;
  return row;
}

void Describer::number(const Key& key, const Quantity& quantity, double& value) {
  add_number(key, quantity, write_quantity(value, quantity.unit));
}

void Describer::number(const Key& key, const Quantity& quantity, float& value) {
  add_number(key, quantity, write_quantity(value, quantity.unit));
}

void Describer::number_or_none(const Key& key, const Quantity& quantity, double& value) {
  Row& row = add_number(key, quantity, std::isnan(value) ? "none" : write_quantity(value, quantity.unit));
  row.allowed += " | none";
}

void Describer::whole(const Key& key, std::uint64_t& value) {
  add(key, "whole number", std::to_string(value));
}

void Describer::text(const Key& key, std::string& value) {
  add(key, "text", value);
}

void Describer::word(const Key& key, std::span<const Word> words, int& value) {
  std::vector<std::string_view> allowed;
  std::string_view chosen;
  for (const Word& word : words) {
    allowed.push_back(word.word);
    if (word.value == value) chosen = word.word;
  }
  add(key, fmt::format("{}", fmt::join(allowed, " | ")), std::string{chosen});
}

void Describer::choice(const Key& key, std::span<const std::string> choices, bool items, std::string& value) {
  constexpr std::size_t kMostShown = 12;
  add(key,
      items                         ? "path of a plant parameter"
      : choices.size() > kMostShown ? fmt::format("one of {} words", choices.size())
                                    : fmt::format("{}", fmt::join(choices, " | ")),
      value);
}

void Describer::skip(const Key& key) {
  add(key, "as what stands above", "");
}

void Describer::map(const Key& key, const std::function<void()>& inside) {
  const std::string before = path_;
  add(key, "keys below", "");
  path_ += std::string{key.name} + ".";
  inside();
  path_ = before;
}

void Describer::list(const Key& key, const ListAccess& access) {
  const std::string before = path_;
  add(key, fmt::format("list of at most {}", access.most), "");
  path_ += std::string{key.name} + "[].";
  access.resize(1);
  access.item(0);
  path_ = before;
}

std::vector<Row> describe_scenario_keys() {
  Scenario scenario = default_scenario();
  scenario.events.resize(1);
  scenario.commands.resize(1);
  scenario.commands[0].module = 0;
  scenario.faults.resize(1);
  scenario.falsify.vary.resize(1);
  scenario.campaign.vary.resize(1);
  scenario.exercise.objective = "none";
  scenario.tuning.vary.resize(1);
  Describer describer;
  scenario_keys(describer, scenario);
  std::vector<Row> rows;
  Row format;
  format.path = "format";
  format.allowed = kScenarioFormat;
  format.required = true;
  format.meaning = "what this file is, with the version of the format";
  rows.push_back(format);
  for (Row& row : describer.take()) {
    const bool listed_apart = row.path.starts_with("controller.parameters.") ||
                              row.path.starts_with("plant_controller.parameters.");
    if (row.path == "seed") {
      Row plant;
      plant.path = "plant";
      plant.allowed = "name | file.yaml | a plant written out";
      plant.required = true;
      plant.meaning = "a plant that ships, a file relative to the scenario, or the keys of a plant file";
      rows.push_back(plant);
      plant.path = "plant_overrides";
      plant.allowed = "paths with values";
      plant.required = false;
      plant.meaning = "plant parameters that differ, such as compressor.displacement: 18 cm3";
      rows.push_back(plant);
    }
    if (row.path == "controller.law") {
      Row file;
      file.path = "controller.file";
      file.allowed = "file.yaml";
      file.meaning = "a controller file with law, parameters and table; keys of the scenario prevail";
      rows.push_back(file);
    }
    if (row.path.ends_with("vary[].set")) row.allowed = "path of a number";
    if (!listed_apart) rows.push_back(std::move(row));
  }
  return rows;
}

namespace {

template <class Params>
std::vector<Row> rows_of(std::span<const ParameterOf<Params>> parameters) {
  std::vector<Row> rows;
  for (const ParameterOf<Params>& parameter : parameters) {
    Row row;
    row.path = parameter.name;
    row.unit = parameter.unit;
    row.lower = static_cast<double>(parameter.lower);
    row.upper = static_cast<double>(parameter.upper);
    row.allowed = write_range(row.lower, row.upper, row.unit);
    row.value = write_quantity(parameter.value, parameter.unit);
    row.meaning = parameter.meaning;
    row.source = parameter.source;
    rows.push_back(std::move(row));
  }
  return rows;
}

}  // namespace

std::vector<Row> describe_controller_parameters() {
  return rows_of(controller_parameters());
}
std::vector<Row> describe_plant_controller_parameters() {
  return rows_of(plant_controller_parameters());
}

std::vector<Row> describe_plant_parameters() {
  std::vector<Row> rows;
  for (const plant::ParameterInfo& info : plant::parameter_table()) rows.push_back(plant_row(info));
  return rows;
}

std::vector<Row> describe_plant_parameters(const PlantFile& plant) {
  std::vector<Row> rows = describe_plant_parameters();
  for (std::size_t i = 0; i < rows.size() && i < plant.notes.size(); ++i) {
    const ParameterNote& note = plant.notes[i];
    rows[i].value = note.value;
    rows[i].lower = note.lower;
    rows[i].upper = note.upper;
    rows[i].allowed = write_range(note.lower, note.upper, rows[i].unit);
    rows[i].source = note.base.empty() ? note.source : fmt::format("{} ({})", note.source, note.base);
  }
  const auto table = plant::parameter_table();
  std::vector<Row> fitted;
  for (std::size_t i = 0; i < rows.size(); ++i)
    if (table[i].fits(plant.parameters.form)) fitted.push_back(std::move(rows[i]));
  return fitted;
}

std::string to_markdown(const std::vector<Row>& rows) {
  bool sources = false;
  for (const Row& row : rows) sources |= !row.source.empty();
  std::string text = fmt::format("| key | allowed | value | meaning |{}\n| --- | --- | --- | --- |{}\n",
                                 sources ? " source |" : "", sources ? " --- |" : "");
  for (const Row& row : rows) {
    const std::string value = row.required && row.value.empty() ? "required" : cell(row.value);
    text += fmt::format("| `{}` | {} | {} | {} |", row.path, cell(row.allowed), value, cell(row.meaning));
    text += sources ? fmt::format(" {} |\n", cell(row.source)) : "\n";
  }
  return text;
}

}  // namespace duskline::scenarios
