/// Every key and parameter as rows, for `describe` and docs/reference: path, allowed, default, meaning,
/// source.
///
/// The rows come from the same lists that the reader decodes by, so they cannot differ from what it accepts.
/// Numbers in `lower` and `upper` are in `unit`; NaN where a row is no number.
/// Source: the lists. Left out: prose around the tables, except in `scenario_reference`.
#pragma once

#include <limits>
#include <string>
#include <vector>

#include "scenarios/reader/keys.hpp"

namespace duskline::scenarios {

struct PlantFile;

struct Row {
  std::string path;
  std::string unit;     ///< of a number; empty for words and texts
  std::string allowed;  ///< `[0, 1]`, `cold | producing`, `text`, `list`, ...
  double lower{std::numeric_limits<double>::quiet_NaN()};
  double upper{std::numeric_limits<double>::quiet_NaN()};
  std::string value;  ///< the default, or the value in force; empty when there is none
  bool required{};
  std::string meaning;
  std::string source;
};

/// Walks a list of keys over a struct that holds its defaults.
class Describer : public Keys {
 public:
  using Keys::list;
  void number(const Key& key, const Quantity& quantity, double& value) override;
  void number(const Key& key, const Quantity& quantity, float& value) override;
  void number_or_none(const Key& key, const Quantity& quantity, double& value) override;
  void whole(const Key& key, std::uint64_t& value) override;
  void text(const Key& key, std::string& value) override;
  void word(const Key& key, std::span<const Word> words, int& value) override;
  void choice(const Key& key, std::span<const std::string> choices, bool items, std::string& value) override;
  void map(const Key& key, const std::function<void()>& inside) override;
  void list(const Key& key, const ListAccess& access) override;
  void skip(const Key& key) override;

  std::vector<Row> take() { return std::move(rows_); }

 private:
  Row& add(const Key& key, std::string allowed, std::string value);
  Row& add_number(const Key& key, const Quantity& quantity, std::string value);

  std::vector<Row> rows_;
  std::string path_;
};

std::vector<Row> describe_scenario_keys();
std::vector<Row> describe_controller_parameters();
std::vector<Row> describe_plant_controller_parameters();
/// Without values: the dictionary. With a plant: its values, ranges and sources.
std::vector<Row> describe_plant_parameters();
std::vector<Row> describe_plant_parameters(const PlantFile& plant);

/// Rows as a Markdown table.
std::string to_markdown(const std::vector<Row>& rows);

/// The example of the reference, which reads without a problem.
std::string scenario_example();

/// docs/reference/scenario-format.md.
std::string scenario_reference();

}  // namespace duskline::scenarios
