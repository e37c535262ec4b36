// The file of a console: what ships is whole, and what is wrong with one is located.
#include <catch2/catch.hpp>

#include <fstream>

#include "hil-harness/verify/judge.hpp"
#include "scenarios/reader/console_file.hpp"
#include "scenarios/reader/plant_file.hpp"
#include "tests/support/folder.hpp"

using namespace duskline;

TEST_CASE("every plant that runs has a console whose picture and procedures are whole") {
  namespace fs = std::filesystem;
  int shown = 0;
  for (const auto& entry : fs::directory_iterator(fs::path(DUSKLINE_SOURCE_DIR) / "plant-model" / "plants")) {
    INFO(entry.path().filename().string());
    const auto file = scenarios::read_plant(entry.path());
    REQUIRE(file);
    const plant::PlantForm& form = file.value->parameters.form;
    const bool headers = plant::has_headers(form);
    if (!headers && form.modules > 1) continue;  // nothing drives it
    ++shown;
    const auto read = scenarios::read_console(
        scenarios::console_path(fs::path(DUSKLINE_SOURCE_DIR) / "scenarios" / "consoles", file.value->name,
                                form),
        harness::requirement_lists().of(form));
    if (!read) FAIL(scenarios::to_text(read.problems));
    const scenarios::ConsoleFile& c = *read.value;
    CHECK(c.margins.voltage.empty() == headers);
    CHECK(c.modules.margin.empty() == !headers);
    CHECK_FALSE(c.procedures.empty());
    REQUIRE_FALSE(c.parts.empty());
    for (const auto& p : c.parts) {
      INFO(p.name);
      CHECK(p.x + p.w <= c.width);
      CHECK(p.y + p.h <= c.height);
    }
    for (const auto& r : c.readings) {  // a reading takes about 11 by 4.5
      INFO(r.signal);
      for (const auto& p : c.parts)
        CHECK((std::abs(r.x - p.x - p.w / 2) >= (11.0 + p.w) / 2 ||
               std::abs(r.y - p.y - p.h / 2) >= (4.5 + p.h) / 2));
      for (const auto& other : c.readings)
        if (&other != &r) CHECK((std::abs(r.x - other.x) >= 11.0 || std::abs(r.y - other.y) >= 4.5));
    }
  }
  CHECK(shown > 0);
}

TEST_CASE("what is wrong with the file of a console is located") {
  const tests::Folder folder("console-file");
  std::ofstream(folder.file("c.yaml")) << "format: duskline-console/1\n"
                                          "groups:\n"
                                          "  - {name: intake, title: Intake}\n"
                                          "tags:\n"
                                          "  - {signal: ambient_presure_reading, group: intke}\n"
                                          "  - {signal: \"cell_voltage_reading[9]\"}\n"
                                          "picture:\n"
                                          "  pipes:\n"
                                          "    - {kind: gas, points: \"0 1 2\"}\n"
                                          "procedures:\n"
                                          "  - name: start\n"
                                          "    title: Start\n"
                                          "    steps:\n"
                                          "      - {text: wait, done_when: \"bus_voltage_reading > 26 K\"}\n";
  const auto read = scenarios::read_console(folder.file("c.yaml"), harness::requirement_signals());
  REQUIRE_FALSE(read);
  const std::string said = scenarios::to_text(read.problems);
  CHECK(said.find("c.yaml:5:14: tags[1].signal: there is no signal 'ambient_presure_reading'; did you mean "
                  "'ambient_pressure_reading'?") != said.npos);
  CHECK(said.find("c.yaml:5:46: tags[1].group: there is no group 'intke'; did you mean 'intake'?") !=
        said.npos);
  CHECK(said.find("c.yaml:6:14: tags[2].signal: there is no item [9]") != said.npos);
  CHECK(said.find("c.yaml:9:27: picture.pipes[1].points: is no list of two or more points") != said.npos);
  CHECK(said.find("c.yaml:14:33: procedures[1].steps[1].done_when: ") != said.npos);
  CHECK(read.problems.size() == 5);
}
