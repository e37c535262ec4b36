// One row an instrument, one row a command: a row whose plant side is missing does not compile, and what a plant file says of
// an instrument reaches the simulated sensor and the controller alike.
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "hil-harness/loop/signals.hpp"
#include "tests/support/shipped_case.hpp"
#include "tests/support/toolchain.hpp"

using namespace duskline;

namespace {

const std::string kSource = DUSKLINE_SOURCE_DIR;
const std::string kDusk = "start-stop/hour-of-oxygen.yaml";

/// What the compiler says of the meeting place of plant and controller when a row is put before the first of a list.
test::Ran compile_with_row(const std::string& header, const std::string& head, const std::string& row) {
  const test::Scratch scratch;
  std::filesystem::create_directories(scratch.file("controller/include"));
  std::ifstream in(kSource + "/controller/include/" + header);
  std::string text{std::istreambuf_iterator<char>(in), {}};
  const std::size_t at = text.find(head);
  REQUIRE(at != std::string::npos);
  text.insert(text.find('\n', at) + 1, row.empty() ? "" : row + " \\\n");
  std::ofstream(scratch.file("controller/include/" + header)) << text;
  return test::run_command("LC_ALL=C g++ -std=c++20 -fsyntax-only -w -isystem /usr/include/eigen3 -I " +
                           scratch.file("") + " -I " + kSource + " " + kSource +
                           "/hil-harness/loop/instruments.cpp");
}

/// The last value of a signal in a run of the plant in standby for a minute.
double last_value(const std::string& signal, const std::vector<std::string>& settings) {
  std::size_t offset = 0;
  for (const auto& s : harness::signal_table()) {
    if (s.info.name == signal) break;
    offset += s.info.width;
  }
  std::vector<double> row(4096);
  harness::LoopOptions options;
  options.watch = [&](const harness::Snapshot& s) { harness::read_signals(s, row); };
  std::vector<std::string> all{"duration=1 min", "record=1 s", "commands=[{at: 0 s, mode: off}]",
                               "faults=[]"};
  all.insert(all.end(), settings.begin(), settings.end());
  tests::run_shipped(kDusk, all, options);
  return row.at(offset);
}

}  // namespace

TEST_CASE("An instrument or a command that the plant does not have is a compile error that names it") {
  const std::string inputs = "#define CTL_INPUT_LIST(S, A)", outputs = "#define CTL_OUTPUT_LIST(S, A)";
  const auto as_it_is = compile_with_row("controller_instruments.h", inputs, "");
  INFO(as_it_is.text);
  CHECK(as_it_is.status == 0);
  const auto sensor = compile_with_row(
      "controller_instruments.h", inputs,
      R"(S(spare_pressure, "Pa", 0.0, 1.0, 0.0, CTL_BRIDGE_SHEET, "spare", CTL_BRIDGE_SOURCE))");
  CHECK(sensor.status != 0);
  CHECK(sensor.text.find("has no member named 'spare_pressure'") != std::string::npos);
  const auto command = compile_with_row("controller_commands.h", outputs,
                                        R"(S(spare_valve, "1", 0.0, 1.0, 0.001, 1, "spare"))");
  CHECK(command.status != 0);
  CHECK(command.text.find("has no member named 'spare_valve'") != std::string::npos);
}

TEST_CASE("A span of the plant file holds for the simulated sensor and for the controller") {
  // the air stands at about 700 Pa: a sensor that ends at 500 Pa says 500 Pa
  const std::string narrow = "plant.instruments.ambient_pressure.upper=500 Pa";
  const auto c = tests::read_shipped(tests::library() / kDusk, {narrow});
  const auto row = scenarios::reading_channel("ambient_pressure");
  CHECK(scenarios::expand(c.plant.instruments)[row].upper == 500.0);
  CHECK(c.scenario.controller.input[CTL_INPUT_ambient_pressure].span.upper == 500.0f);
  CHECK(last_value("ambient_pressure", {narrow}) > 600.0);
  CHECK(last_value("ambient_pressure_reading", {narrow}) == 500.0);
  CHECK(last_value("ambient_pressure_reading", {}) > 600.0);
  // the first of the suspect readings is that of the ambient pressure, and a reading at the end of its span is none
  CHECK((static_cast<unsigned>(last_value("suspect", {narrow})) & 1u) == 1u);
  CHECK((static_cast<unsigned>(last_value("suspect", {})) & 1u) == 0u);
}

TEST_CASE("A rating of the plant file holds for the actuator and for the controller's guard") {
  const auto c = tests::read_shipped(tests::library() / kDusk, {"plant.power.current_max=7 A"});
  CHECK(c.scenario.controller.output_span[CTL_OUTPUT_stack_current].upper == 7.0f);
}

TEST_CASE("A wrong instrument of the plant file is a message with its place") {
  const auto problems = [](const std::string& setting) {
    const auto read = scenarios::read_case(
        tests::library() / kDusk, tests::library() / "../../plant-model/plants", std::vector{setting});
    return read ? std::string{} : scenarios::to_text(read.problems);
  };
  CHECK(problems("plant.instruments.feed_flo.upper=1 kg/s").find("did you mean 'feed_flow'?") !=
        std::string::npos);
  CHECK(problems("plant.instruments.feed_flow.upper=1 K").find("unit 'K' does not fit kg/s") !=
        std::string::npos);
  CHECK(problems("plant.instruments.feed_flow.upper=-1 kg/s").find("lower end") != std::string::npos);
}

TEST_CASE("A reading that is lost is recorded as none, and commands as they are sent") {
  const std::string open = "faults=[{at: 10 s, fault: zone-thermocouple-open, item: 1}]";
  CHECK(std::isnan(last_value("zone_temperature_reading", {open})));
  CHECK(last_value("zone_temperature_reading", {}) ==
        Approx(last_value("zone_temperature", {})).margin(10.0));
  CHECK(last_value("end_power_command", {}) == 0.0);
}
