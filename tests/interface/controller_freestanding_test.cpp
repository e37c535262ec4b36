// The controller needs nothing from a system: its objects ask for no symbol outside a short list, hold no
// data of their own and run no code before main. Checked with the tools of the host and, where installed, of
// the board.
#include <catch2/catch.hpp>
#include <set>
#include <sstream>

#include "tests/support/skip.hpp"
#include "tests/support/toolchain.hpp"

using namespace duskline::test;

namespace {

const char* const kFlags =
    " -std=c++20 -ffp-contract=off -ffreestanding -fno-math-errno -fno-exceptions -fno-rtti "
    "-fno-threadsafe-statics"
    " -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wdouble-promotion -Werror -I " DUSKLINE_SOURCE_DIR;

/// What a freestanding compiler may ask for on its own (GCC manual, "Standards": memcpy, memmove, memset,
/// memcmp).
const std::set<std::string> kAllowed = {"memcpy", "memmove", "memset", "memcmp"};

/// Compiles all sources, joins the objects so that they may use each other, and looks at what is left.
void check_objects(const std::string& prefix, const std::string& target_flags, const std::string& optimise) {
  INFO(prefix << "g++ " << target_flags << " " << optimise);
  const Scratch scratch;
  std::string objects;
  int count = 0;
  for (const std::string& source : controller_sources()) {
    const std::string object = scratch.file(std::to_string(count++) + ".o");
    const Ran compiled = run_command(prefix + "g++" + kFlags + " " + target_flags + " " + optimise + " -c " +
                                     source + " -o " + object);
    INFO(compiled.text);
    REQUIRE(compiled.status == 0);
    objects += " " + object;
  }
  REQUIRE(count >= 2);
  const std::string joined = scratch.file("joined.o");
  REQUIRE(run_command(prefix + "ld -r" + objects + " -o " + joined).status == 0);

  const Ran symbols = run_command(prefix + "nm " + joined);
  REQUIRE(symbols.status == 0);
  std::istringstream lines(symbols.text);
  std::set<std::string> entries;
  for (std::string line; std::getline(lines, line);) {
    std::istringstream words(line);
    std::vector<std::string> word;
    for (std::string w; words >> w;) word.push_back(w);
    if (word.size() < 2) continue;
    const std::string kind = word[word.size() - 2], name = word.back();
    INFO(line);
    if (kind == "U") CHECK(kAllowed.count(name) == 1);
    // d, b, c: writable data; a controller has none (R and r are constants, T and t are code)
    if (name != "$d") CHECK((kind != "d" && kind != "D" && kind != "b" && kind != "B" && kind != "C"));
    if (kind == "T") entries.insert(name);
  }
  for (const char* entry :
       {"ctl_abi_version", "ctl_default_params", "ctl_init", "ctl_step", "ctl_retain", "ctl_restart",
        "ctl_plant_abi_version", "ctl_plant_default_params", "ctl_plant_init", "ctl_plant_step",
        "ctl_plant_retain", "ctl_plant_restart", "ctl_plant_orders_to_module", "ctl_plant_report_of_module"})
    CHECK(entries.count(entry) == 1);

  const Ran sections = run_command(prefix + "objdump -h " + joined);
  CHECK(sections.text.find(".init_array") == std::string::npos);
  CHECK(sections.text.find(".ctors") == std::string::npos);
}

}  // namespace

TEST_CASE("host objects need nothing") {
  // at fixed addresses, as on the board: else constants that hold addresses stand among the data until they are linked
  for (const char* optimise : {"-O0", "-O2", "-O3"}) check_objects("", "-fno-pie", optimise);
}

TEST_CASE("board objects need nothing") {
  if (!has_program("arm-none-eabi-g++")) {
    duskline::tests::skip("arm-none-eabi-g++ is not installed, the Cortex-M4F objects were not checked");
    return;
  }
  // any double-precision arithmetic would show as a call of __aeabi_d...: the M4F has single precision only
  for (const char* optimise : {"-O2", "-Os"})
    check_objects("arm-none-eabi-", "-mcpu=cortex-m4 -mthumb -mfloat-abi=hard -mfpu=fpv4-sp-d16", optimise);
}
