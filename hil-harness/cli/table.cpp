#include "hil-harness/cli/table.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace duskline::harness {
namespace {

constexpr std::size_t kWidest = 48;

/// Markdown ends a cell at a bar or at the end of a line.
std::string cell(const std::string& text) {
  std::string out;
  for (const char c : text) out += c == '|' ? "\\|" : c == '\n' ? " " : std::string(1, c);
  return out;
}

}  // namespace

std::string to_text(const Table& table) {
  std::vector<std::size_t> width;
  for (const auto& head : table.heads) width.push_back(head.size());
  for (const auto& row : table.rows)
    for (std::size_t i = 0; i < row.cells.size(); ++i)
      width[i] = std::min(kWidest, std::max(width[i], row.cells[i].size()));
  std::string text;
  const auto line = [&](const std::vector<std::string>& cells) {
    for (std::size_t i = 0; i < cells.size(); ++i)
      text += i + 1 < cells.size() ? fmt::format("{:<{}}  ", cells[i], width[i]) : cells[i];
    while (text.ends_with(' ')) text.pop_back();
    text += '\n';
  };
  line(table.heads);
  for (const auto& row : table.rows) line(row.cells);
  return text;
}

std::string to_json(const Table& table) {
  auto all = nlohmann::ordered_json::array();
  for (const auto& row : table.rows) {
    nlohmann::ordered_json one;
    for (std::size_t i = 0; i < table.heads.size(); ++i) one[table.heads[i]] = row.cells[i];
    one.update(row.more);
    all.push_back(std::move(one));
  }
  return all.dump(2) + "\n";
}

std::string to_markdown(const Table& table) {
  std::vector<std::size_t> kept;
  for (std::size_t i = 0; i < table.heads.size(); ++i)
    if (std::any_of(table.rows.begin(), table.rows.end(),
                    [i](const auto& row) { return !row.cells[i].empty(); }))
      kept.push_back(i);
  std::string text = "|", rule = "|";
  for (const std::size_t i : kept) {
    text += " " + table.heads[i] + " |";
    rule += " --- |";
  }
  text += "\n" + rule + "\n";
  for (const auto& row : table.rows) {
    text += "|";
    for (const std::size_t i : kept)
      text += i == 0 ? fmt::format(" `{}` |", row.cells[i]) : fmt::format(" {} |", cell(row.cells[i]));
    text += "\n";
  }
  return text;
}

}  // namespace duskline::harness
