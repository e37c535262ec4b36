/// A table of text with named columns: for people, as JSON, or as Markdown.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace duskline::harness {

struct Table {
  struct Row {
    std::vector<std::string> cells;
    nlohmann::ordered_json more = nlohmann::ordered_json::object();  ///< for JSON only: numbers, lists
  };
  std::vector<std::string> heads;
  std::vector<Row> rows;
};

/// Columns side by side; long cells push the rest of their line aside.
std::string to_text(const Table& table);
std::string to_json(const Table& table);
/// Names in the first column are set as code; columns that are empty throughout are left out.
std::string to_markdown(const Table& table);

}  // namespace duskline::harness
