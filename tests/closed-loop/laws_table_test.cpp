// The table of the laws in docs/models/controller.md says what the laws do today: the worst run of each, run again.
// Source of the expected numbers: the table, which docs/models/write-laws-table wrote from a campaign.
#include <fmt/format.h>
#include <catch2/catch.hpp>

#include <regex>

#include "tests/support/folder.hpp"
#include "tests/support/shipped_case.hpp"
#include "tests/support/source_tree.hpp"

using namespace duskline;
using namespace duskline::tests;

TEST_CASE("the worst run of each law has the least margin that the table of the laws states") {
  const std::string page = bytes_of(DUSKLINE_SOURCE_DIR "/docs/models/controller.md");
  const std::size_t begin = page.find("<!-- laws:"), end = page.find("<!-- end of laws -->");
  REQUIRE(begin < end);
  REQUIRE(end != std::string::npos);
  const std::string table = page.substr(begin, end - begin);
  const std::regex named("Scenario `([^`]+)`"),
      row(R"(\| ([a-z]+) \| (\d+) \|[^|]*\|[^|]*\| (-?[\d.]+),[^|]*\| (\d+) \|)");
  std::smatch name;
  REQUIRE(std::regex_search(table, name, named));
  std::size_t laws = 0;
  for (std::sregex_iterator it(table.begin(), table.end(), row), none; it != none; ++it, ++laws) {
    const std::string law = (*it)[1], run = (*it)[4];
    INFO(law << ", run " << run << "; docs/models/write-laws-table writes the table anew");
    CHECK(std::stoul(run) <= std::stoul((*it)[2]));
    const auto record =
        run_shipped(name[1].str() + ".yaml", {"plant_draw=" + run, "seed=" + run, "controller.law=" + law});
    // the table rounds to a tenth of a millivolt
    CHECK(1e3 * record.figures.coke_margin.value == Approx(std::stod((*it)[3])).margin(0.051));
  }
  CHECK(laws >= 2);
}
