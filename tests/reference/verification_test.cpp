// docs/verification.md names only checks that exist. Rows of the first table are held, number by number, by
// the tests themselves (tests/support/verification.hpp); here every row is traced to a text in its test file.
#include <catch2/catch.hpp>
#include <fstream>
#include <iterator>
#include <set>
#include <string>

#include "tests/support/verification.hpp"

using duskline::tests::verification_table;

namespace {

/// The file with adjoining string literals joined, as the compiler joins them.
std::string joined_source(const std::string& path) {
  std::ifstream file(path);
  const std::string text((std::istreambuf_iterator<char>(file)), std::istreambuf_iterator<char>());
  std::string joined;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '"' && (i == 0 || text[i - 1] != '\\')) {
      std::size_t next = i + 1;
      while (next < text.size() && (text[next] == ' ' || text[next] == '\n')) ++next;
      if (next > i + 1 && next < text.size() && text[next] == '"' && text.find('\n', i) < next) {
        i = next;  // "abc"\n  "def": drop both quotes
        continue;
      }
    }
    joined += text[i];
  }
  return joined;
}

}  // namespace

TEST_CASE("every row of the verification page leads to a check that exists") {
  std::set<std::string> quantities;
  std::size_t rows = 0;
  for (const auto& cells : verification_table()) {
    if (cells[0] == "quantity" || cells[0].rfind("--", 0) == 0) continue;
    INFO("row " << cells[0]);
    REQUIRE(cells.size() == 5);
    ++rows;
    CHECK(quantities.insert(cells[0]).second);
    const std::string& name = cells[4];
    REQUIRE(name.size() > 2);
    const std::string source = joined_source(DUSKLINE_SOURCE_DIR "/" + name.substr(1, name.size() - 2));
    REQUIRE_FALSE(source.empty());
    // either the quantity is a comparison of the file, or the fourth cell is the name of one of its test
    // cases
    const bool measured = source.find("{\"" + cells[0] + "\"") != std::string::npos;
    const bool named = source.find("TEST_CASE(\"" + cells[3] + "\"") != std::string::npos;
    CHECK((measured || named));
  }
  CHECK(rows > 30);
}
