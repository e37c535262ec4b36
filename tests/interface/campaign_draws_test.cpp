// What `duskline campaign` draws is what it runs and what it writes down, however the scenario draws and varies.
// Source of the expected values: the settings of each run, its own row, and the run of its command.
#include <catch2/catch.hpp>
#include <fstream>
#include <set>
#include <sstream>

#include "hil-harness/campaign/sampling.hpp"
#include "tests/support/child.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

constexpr const char* kScenario =
    "format: duskline-scenario/1\ntitle: Half a minute\nplant: bench\nduration: 30 s\nrecord: 10 s\n"
    "initial: {state: producing, stack_temperature: 800 degC, cathode_co: 65 %}\n"
    "commands:\n  - {at: 0 s, mode: production, demand: 8 g/h}\n";

constexpr const char* kDisplacement = "plant.compressor.displacement";

/// One thing that `campaign.vary` moves.
std::string varied(const std::string& path, const std::string& from, const std::string& to) {
  return "campaign:\n  vary:\n    - {set: " + path + ", from: " + from + ", to: " + to + "}\n";
}

/// Columns of runs.csv by name; a comma inside quotes does not part two of them.
class Rows {
 public:
  explicit Rows(const std::string& csv) {
    std::istringstream lines(csv);
    for (std::string line; std::getline(lines, line);) {
      rows_.emplace_back(1);
      bool quoted = false;
      for (const char c : line) {
        if (c == '"') quoted = !quoted;
        if (c == ',' && !quoted)
          rows_.back().emplace_back();
        else
          rows_.back().back() += c;
      }
    }
  }
  std::vector<std::string> of(const std::string& name) const {
    std::vector<std::string> column;
    for (std::size_t i = 0; i < rows_.front().size(); ++i)
      if (rows_.front()[i] == name)
        for (std::size_t k = 1; k < rows_.size(); ++k) column.push_back(rows_[k][i]);
    return column;
  }
  std::size_t different(const std::string& name) const {
    const auto column = of(name);
    return std::set<std::string>(column.begin(), column.end()).size();
  }

 private:
  std::vector<std::vector<std::string>> rows_;
};

struct Drawn {
  Folder folder{"campaign-draws"};
  std::string scenario = folder.file("half.yaml");
  explicit Drawn(const std::string& more = {}) { std::ofstream{scenario} << kScenario << more; }
  Child run(const std::string& out, const std::vector<std::string>& more) const {
    std::vector<std::string> words{"campaign", scenario, "--runs", "3", "--quiet", "--out", folder.file(out)};
    words.insert(words.end(), more.begin(), more.end());
    return run_duskline(words);
  }
  Rows rows(const std::string& out) const { return Rows(bytes_of(folder.file(out + "/runs.csv"))); }
};

}  // namespace

TEST_CASE("each run of a campaign has a plant of its own where the scenario draws one already") {
  const Drawn drawn;
  for (const char* sampling : {"independent", "latin-hypercube", "sobol", "sensitivity"}) {
    const Child child =
        drawn.run(sampling, {"--set", "plant_draw=3", "--grade", "parameters", "--sampling", sampling});
    INFO(sampling << ": " << child.err);
    REQUIRE(child.exit_code == 0);
    CHECK(drawn.rows(sampling).different("oxygen") == 3);
    CHECK(drawn.rows(sampling).different("energy") == 3);
  }
  // a worst run stands in a file of its own, with the plant that was drawn
  const std::string worst = drawn.folder.file("sobol/worst/cascade-1.yaml");
  CHECK(has(bytes_of(worst), "\nplant_draw: 0\n"));
}

TEST_CASE("a plant parameter under vary is run as it is written down, for each way of sampling") {
  const Drawn drawn(varied(kDisplacement, "20 cm3", "21 cm3"));
  for (const char* sampling : {"independent", "latin-hypercube", "sobol", "sensitivity"}) {
    const Child child = drawn.run(sampling, {"--sampling", sampling});
    INFO(sampling << ": " << child.err);
    REQUIRE(child.exit_code == 0);
    const Rows rows = drawn.rows(sampling);
    CHECK(rows.of("compressor.displacement").empty());
    const auto values = rows.of(kDisplacement);
    REQUIRE(values.size() == 3);
    for (const std::string& value : values) CHECK(std::stod(value) == Approx(20.5e-6).epsilon(0.03));
  }
  const std::string worst = bytes_of(drawn.folder.file("latin-hypercube/worst/cascade-1.yaml"));
  const std::size_t at = worst.find(" displacement: {value: 2.0");
  REQUIRE(at != worst.npos);
  CHECK(has(worst.substr(at, 200), "set to 2.0"));
}

TEST_CASE("what the grade draws already is refused under vary with its place") {
  for (const auto& [path, grade] :
       {std::pair{"plant_draw", "parameters"}, std::pair{"structure_draw", "structure"}}) {
    const Drawn drawn(varied(path, "1", "9"));
    const Child child = drawn.run("out", {"--grade", "surroundings", "--grade", grade});
    INFO(child.err);
    CHECK(child.exit_code == 2);
    CHECK(has(child.err, std::string("half.yaml:11:13: campaign.vary[1].set: '") + path +
                             "' is drawn by --grade " + grade +
                             " already; leave it out here, or ask for --grade surroundings\n"));
    // alone it says which plant
    const Child alone = drawn.run("alone", {"--grade", "surroundings"});
    INFO(alone.err);
    REQUIRE(alone.exit_code == 0);
    CHECK(drawn.rows("alone").of(path).size() == 3);
  }
}
