// Which controller each module of a plant has, and what is said of a text that gives none.
#include <catch2/catch.hpp>

#include "hil-harness/links/controllers.hpp"
#include "hil-harness/loop/signal_rows.hpp"

using namespace duskline;

namespace {

using Names = std::vector<std::string>;

/// Six modules stand between headers, one alone does not.
scenarios::Result<harness::Controllers> opened(const Names& names, std::size_t modules) {
  static const auto read_of = [](const char* plant) {
    const auto read = scenarios::parse_case(
        std::string("format: duskline-scenario/1\ntitle: t\nplant: ") + plant +
            "\nduration: 1 s\ncommands:\n  - {at: 0 s, mode: standby}\n",
        "t.yaml", ".", DUSKLINE_SOURCE_DIR "/plant-model/plants", {}, harness::requirement_lists());
    INFO(scenarios::to_text(read.problems));
    REQUIRE(read);
    return *read.value;
  };
  static const scenarios::Case bench = read_of("bench"), outpost = read_of("outpost");
  return harness::open_controllers(names, modules == 1 ? bench : outpost);
}

/// The modules, counted from 1, that have a link.
std::string linked(const Names& names, std::size_t modules) {
  const auto controllers = opened(names, modules);
  INFO(scenarios::to_text(controllers.problems));
  REQUIRE(controllers);
  std::string text;
  for (std::size_t n = 0; n < modules + 2; ++n)
    if (controllers.value->of(n)) text += std::to_string(n + 1);
  return text;
}

std::string refusal(const Names& names, std::size_t modules) {
  const auto controllers = opened(names, modules);
  REQUIRE_FALSE(controllers);
  std::string text;
  for (const scenarios::Problem& p : controllers.problems) text += p.path + " " + p.message + "\n";
  return text;
}

}  // namespace

TEST_CASE("A link alone is every module's, one with a number that of the module") {
  CHECK(linked({}, 6).empty());
  CHECK(linked({"in-process"}, 1) == "1");
  CHECK(linked({"in-process"}, 6) == "123456");
  CHECK(linked({"3=in-process"}, 6) == "3");
  CHECK(linked({"6=in-process", "2=in-process"}, 6) == "26");
  CHECK(linked({"1=in-process"}, 1) == "1");
  const auto six = opened({"in-process"}, 6);
  CHECK(six.value->of(0) != six.value->of(5));  // each its own
}

TEST_CASE("A controller for a module that is not there, or has one, is refused, all of them at once") {
  CHECK(refusal({"7=in-process"}, 6) == "7=in-process there is no module 7; expected 1 to 6\n");
  CHECK(refusal({"0=in-process"}, 6) == "0=in-process there is no module 0; expected 1 to 6\n");
  CHECK(refusal({"99999999999999999999999=in-process"}, 6).find("there is no module 999") !=
        std::string::npos);
  CHECK(refusal({"2=in-process"}, 1) == "2=in-process the plant has one module: the link alone, or 1=LINK\n");
  CHECK(refusal({"2=in-process", "in-process"}, 6) ==
        "in-process the controller of module 2 is given by '2=in-process' already\n");
  CHECK(refusal({"9=in-process", "3=wire:x", "4=plugin:./none.so"}, 6).find("there is no such file") !=
        std::string::npos);
  CHECK(refusal({"=in-process"}, 6).find("is no kind of link") != std::string::npos);
  CHECK(refusal({"3="}, 6).find("is no kind of link") != std::string::npos);
}

TEST_CASE("The plant controller has a link of its own, where there is a plant controller") {
  const auto both = opened({"plant=in-process", "in-process"}, 6);
  INFO(scenarios::to_text(both.problems));
  REQUIRE(both);
  CHECK(both.value->of_plant());
  CHECK(both.value->of(5));
  const auto alone = opened({"plant=in-process"}, 6);
  REQUIRE(alone);
  CHECK(alone.value->of_plant());
  CHECK_FALSE(alone.value->of(0));
  CHECK_FALSE(opened({"in-process"}, 6).value->of_plant());
  CHECK(refusal({"plant=in-process"}, 1) ==
        "plant=in-process this plant has no plant controller; give the link alone\n");
  CHECK(refusal({"plant=in-process", "plant=plugin:./x.so"}, 6) ==
        "plant=plugin:./x.so the controller of the plant is given by 'plant=in-process' already\n");
  CHECK(refusal({"plants=in-process"}, 6).find("is no kind of link") != std::string::npos);
  CHECK(harness::one_at_a_time(Names{"plant=modbus:127.0.0.1:1502"}));
}

TEST_CASE("A run can be kept when all controllers are inside") {
  CHECK(harness::all_inside(Names{}));
  CHECK(harness::all_inside(Names{"in-process", "plant=in-process"}));
  CHECK_FALSE(harness::all_inside(Names{"in-process", "plant=plugin:./mine.so"}));
  CHECK_FALSE(harness::all_inside(Names{"3=emulator:board.elf"}));
}

TEST_CASE("A line or a port has one controller") {
  for (const std::string name : {"modbus:127.0.0.1:0", "serial:/dev/null"}) {
    CHECK(refusal({name}, 6).find("such as 3=" + name) != std::string::npos);
    CHECK(harness::one_at_a_time(Names{"in-process", "3=" + name}));
  }
  CHECK_FALSE(harness::one_at_a_time(Names{"3=plugin:./modbus.so"}));
  CHECK(linked({"2=modbus:127.0.0.1:0", "4=modbus:127.0.0.1:0"}, 6) == "24");  // any free port, twice
}

TEST_CASE("A run says by whose controllers it was controlled, module by module") {
  CHECK(harness::foreign_controllers(Names{}).empty());
  CHECK(harness::foreign_controllers(Names{"plugin:./a/mine.so"}) == "plug-in mine.so");
  CHECK(harness::foreign_controllers(
            Names{"3=plugin:./a/mine.so", "2=in-process", "5=modbus:127.0.0.1:1502"}) ==
        "module 3: plug-in mine.so, module 5: Modbus client");
  CHECK(harness::foreign_controllers(Names{"plant=plugin:./a/mine.so"}) ==
        "plant controller: plug-in mine.so");
}
