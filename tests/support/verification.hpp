// A check against an outside source, held against its row in docs/verification.md.
//
// A test says what it compares, with what, and how far the two may differ. `verify` then checks three things:
// that the largest deviation is within the tolerance, that docs/verification.md has a row with the same
// source and tolerance for this test file, and that the deviation stated there is the one found now (to 10 %,
// or to 1 % of the tolerance, whatever is larger). With DUSKLINE_SHOW_ROWS in the environment every row is
// printed as it should stand.
#pragma once

#include <catch2/catch.hpp>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <source_location>
#include <sstream>
#include <string>
#include <vector>

namespace duskline::tests {

/// Digits as the table shows them.
inline std::string shown(double value, const std::string& unit, const char* format = "%.3g") {
  char text[32];
  std::snprintf(text, sizeof text, format, value);
  return unit.empty() ? text : std::string(text) + " " + unit;
}

/// The rows of docs/verification.md that state a tolerance: | quantity | source | tolerance | largest
/// deviation | test |.
inline std::vector<std::vector<std::string>> verification_table() {
  std::ifstream file(DUSKLINE_SOURCE_DIR "/docs/verification.md");
  std::vector<std::vector<std::string>> rows;
  for (std::string line; std::getline(file, line);) {
    if (line.rfind("| ", 0) != 0) continue;
    std::vector<std::string> cells;
    std::istringstream text(line.substr(1));
    for (std::string cell; std::getline(text, cell, '|');) {
      const std::size_t first = cell.find_first_not_of(' '), last = cell.find_last_not_of(' ');
      cells.push_back(first == std::string::npos ? "" : cell.substr(first, last - first + 1));
    }
    rows.push_back(cells);
  }
  return rows;
}

/// Collects deviations and remembers where the largest was.
class Deviations {
 public:
  void absolute(double found, double expected, const std::string& where = "") {
    keep(std::abs(found - expected), found, expected, where);
  }
  void relative(double found, double expected, const std::string& where = "") {
    keep(std::abs(found / expected - 1), found, expected, where);
  }
  double largest() const { return largest_; }
  const std::string& worst() const { return worst_; }
  std::size_t count() const { return count_; }

 private:
  void keep(double deviation, double found, double expected, const std::string& where) {
    ++count_;
    if (deviation <= largest_) return;  // a deviation that is not a number is kept
    largest_ = deviation;
    std::ostringstream text;
    text.precision(10);
    text << "worst: found " << found << ", expected " << expected << " " << where;
    worst_ = text.str();
  }
  double largest_ = -1;
  std::size_t count_ = 0;
  std::string worst_;
};

struct Comparison {
  std::string quantity, source;
  double tolerance = 0;
  std::string unit;  // of tolerance and deviation; empty for relative ones
};

template <class Measure>
void verify(const Comparison& comparison, Measure&& measure,
            std::source_location place = std::source_location::current()) {
  Deviations found;
  measure(found);
  INFO(comparison.quantity << ": " << found.worst());
  CHECK(found.count() > 0);
  CHECK(found.largest() <= comparison.tolerance);

  const std::string path = place.file_name();
  const std::size_t folder = path.rfind("tests/");
  const std::string test = path.substr(folder == std::string::npos ? 0 : folder);
  const std::string tolerance = shown(comparison.tolerance, comparison.unit, "%g");
  const std::string row = "| " + comparison.quantity + " | " + comparison.source + " | " + tolerance + " | " +
                          shown(found.largest(), comparison.unit, "%.2g") + " | `" + test + "` |";
  if (std::getenv("DUSKLINE_SHOW_ROWS") != nullptr) std::puts(row.c_str());
  INFO("docs/verification.md should have the row\n" << row);
  std::size_t matches = 0;
  for (const auto& cells : verification_table()) {
    if (cells.size() < 5 || cells[0] != comparison.quantity) continue;
    ++matches;
    CHECK(cells[1] == comparison.source);
    CHECK(cells[2] == tolerance);
    CHECK(cells[4] == "`" + test + "`");
    const double stated = std::atof(cells[3].c_str());
    CHECK(std::abs(stated - found.largest()) <= 0.1 * found.largest() + 0.01 * comparison.tolerance);
  }
  CHECK(matches == 1);
}

}  // namespace duskline::tests
