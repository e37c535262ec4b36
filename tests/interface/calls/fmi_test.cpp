// The plant as a unit for co-simulation: its description is valid, it shows no more than its functions, and an importer
// that was written from the standard alone steps it to the same bits as a run. No importer of others was at hand.
#include <catch2/catch.hpp>
#include <cstring>
#include <regex>

#include "hil-harness/links/register_map.hpp"
#include "hil-harness/loop/loop.hpp"
#include "tests/support/child.hpp"
#include "tests/support/sanitizer.hpp"
#include "tests/support/shipped_case.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/source_tree.hpp"
#include "tests/support/toolchain.hpp"

using namespace duskline;
using namespace duskline::tests;
using duskline::test::run_command;

namespace {

const std::string kScenario = "dawn-dusk/equinox-sol";
const std::vector<std::string> kSettings{"duration=20 min", "start.local_time=6 h"};

/// Our controller, and what it read and commanded at each tick as rows of numbers.
class Recorder final : public harness::Link {
 public:
  explicit Recorder(const ctl_params& params) : inner_(params) {}
  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    const ctl_status status = inner_.step(in, out);
    std::vector<std::uint16_t> words(
        static_cast<std::size_t>(harness::register_count(harness::RegisterTable::input)));
    harness::put_inputs(in, 1.0F, words);
    for (const auto& row : harness::register_map())
      if (row.table == harness::RegisterTable::input && row.address > harness::registers::kWordOrder)
        put(readings, row.type == harness::RegisterType::number
                          ? static_cast<double>(harness::take_number(words, row.address))
                          : static_cast<double>(harness::take_whole(words, row.address)));
#define ONE(name, ...) put(commands, static_cast<double>(out.name));
#define EACH(name, ...) \
  for (const float x : out.name) put(commands, static_cast<double>(x));
    CTL_OUTPUT_LIST(ONE, EACH)
#undef ONE
#undef EACH
    put(commands, static_cast<double>(out.mode));
    ++ticks;
    return status;
  }
  std::string readings, commands;
  int ticks = 0;

 private:
  static void put(std::string& to, double value) {
    char bytes[sizeof value];
    std::memcpy(bytes, &value, sizeof value);
    to.append(bytes, sizeof value);
  }
  harness::InProcess inner_;
};

struct Standard {
  const char *version, *importer, *schema, *platform, *prefix;
  int functions;
};
// FMI 2.0: 25 common functions (2.1), 9 of co-simulation (4.2); 3.0: 61 common ones (2.3), 3 of co-simulation (4.2)
constexpr Standard kStandards[] = {
    {"2", "fmi_importer.py", "fmi2_description.xsd", "linux64", "fmi2", 34},
    {"3", "fmi3_importer.py", "fmi3_description.xsd", "x86_64-linux", "fmi3", 64},
};

std::string exported(const Folder& here, const std::string& name, const Standard& standard = kStandards[0]) {
  std::vector<std::string> words{"export-fmu",    kScenario, "--out",
                                 here.file(name), "--fmi",   standard.version};
  for (const std::string& setting : kSettings) words.insert(words.end(), {"--set", setting});
  const Child child = run_duskline(words);
  INFO(child.err);
  REQUIRE(child.exit_code == 0);
  return here.file(name);
}

}  // namespace

TEST_CASE("A unit for co-simulation gives the readings of a run, bit for bit") {
  const Folder here{"fmi"};
  const scenarios::Case c = read_shipped(library() / (kScenario + ".yaml"), kSettings);
  Recorder ours(c.scenario.controller);
  REQUIRE(harness::run_loop(c, ours).end.reason == plant::RunEnd::reached_end);
  REQUIRE(ours.ticks == 1200);
  std::ofstream(here.file("commands"), std::ios::binary) << ours.commands;
  for (const Standard& standard : kStandards) {
    INFO("FMI " << standard.version);
    const std::string unit = exported(here, std::string(standard.prefix) + ".fmu", standard);
    const auto importer = run_command(
        with_sanitizer() + "timeout 500 /usr/bin/python3 -B " DUSKLINE_SOURCE_DIR "/tests/support/" +
        standard.importer + " " + unit + " " + here.file(standard.prefix) + " " + here.file("commands") +
        " " + here.file("readings"));
    INFO(importer.text);
    REQUIRE(importer.status == 0);
    const std::string theirs = bytes_of(here.file("readings"));
    // one row more: the readings at the end
    CHECK(theirs.size() == ours.readings.size() / 1200 * 1201);
    CHECK((theirs.substr(0, ours.readings.size()) == ours.readings));
    std::filesystem::remove(here.file("readings"));
  }
}

TEST_CASE("The description of a unit is valid, the same each time, and refers to what is there") {
  const Folder here{"fmi-description"};
  const bool has_xmllint = test::has_program("xmllint");
  for (const Standard& standard : kStandards) {
    INFO("FMI " << standard.version);
    const std::string folder = here.file(standard.prefix), unit = folder + ".fmu";
    exported(here, std::string(standard.prefix) + ".fmu", standard);
    CHECK(
        (bytes_of(unit) == bytes_of(exported(here, std::string(standard.prefix) + "-again.fmu", standard))));
    CHECK_FALSE(has(bytes_of(unit), here.path()));
    const auto taken = run_command("/usr/bin/python3 -m zipfile -e '" + unit + "' '" + folder + "'");
    INFO(taken.text);
    REQUIRE(taken.status == 0);
    const std::string text = bytes_of(folder + "/modelDescription.xml");
    for (const char* what :
         {"name=\"zone_temperature[5]\"", "name=\"stack_current\"", "name=\"command.stack_current\"",
          "stepSize=\"1\"", "stopTime=\"1200\"", "canGetAndSetFMU"})
      CHECK(has(text, what));
    if (has_xmllint) {
      const auto valid = run_command("xmllint --noout --schema " DUSKLINE_SOURCE_DIR "/tests/support/" +
                                     std::string(standard.schema) + " '" + folder + "/modelDescription.xml'");
      INFO(valid.text);
      CHECK(valid.status == 0);
    }
    // nothing but the functions of the interfaces can be seen from outside
    const auto symbols = run_command("nm -D --defined-only '" + folder + "/binaries/" + standard.platform +
                                     "/duskline_unit.so' | awk '{print $3}'");
    int functions = 0;
    for (const std::string& name : lines_of(symbols.text)) {
      INFO(name);
      CHECK((name.starts_with("fmi2") || name.starts_with("fmi3") || !has(name, "duskline")));
      functions += name.starts_with(standard.prefix) ? 1 : 0;
    }
    CHECK(functions == standard.functions);
  }
  if (!has_xmllint) skip("xmllint is not installed");
}

TEST_CASE("A unit is not written over a file, nor from a scenario that is wrong") {
  const Folder here{"fmi-wrong"};
  std::ofstream{here.file("there.fmu")} << "mine";
  const Child there = run_duskline({"export-fmu", kScenario, "--out", here.file("there.fmu")});
  CHECK(there.exit_code == 2);
  CHECK(has(there.err, "exists already; --force overwrites it"));
  CHECK(bytes_of(here.file("there.fmu")) == "mine");
  CHECK(run_duskline({"export-fmu", kScenario, "--set", "seeed=1", "--out", here.file("x.fmu")}).exit_code ==
        2);
  const Child unknown = run_duskline({"export-fmu", kScenario, "--fmi", "1", "--out", here.file("x.fmu")});
  CHECK(unknown.exit_code == 2);
  CHECK(has(unknown.err, "there is no version of FMI '1'; expected 2 | 3"));
  CHECK_FALSE(std::filesystem::exists(here.file("x.fmu")));
}
