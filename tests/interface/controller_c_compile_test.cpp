// The public headers are plain C11 (that of the plant includes that of the module), and a C program can run the controller.
#include <catch2/catch.hpp>
#include <fstream>

#include "tests/support/toolchain.hpp"

using namespace duskline::test;

namespace {

const char* const kProgram = R"(
#include "controller/include/controller.h"
#include <stdio.h>

#define COUNT_S(name, unit, lower, upper, ...) +1
#define COUNT_A(name, count, unit, lower, upper, ...) +(count)
_Static_assert((0 CTL_INPUT_LIST(COUNT_S, COUNT_A)) == offsetof(ctl_inputs, oxygen_demand) / sizeof(float), "measurements");
_Static_assert(sizeof(ctl_state) == CTL_STATE_BYTES, "state");
_Static_assert(CTL_MODES == 6, "modes");

int main(void) {
  ctl_params params;
  ctl_state state;
  ctl_inputs in = {0};
  ctl_outputs out;
  ctl_default_params(&params);
  if (ctl_init(&state, &params) != CTL_OK) return 1;
  in.requested_mode = CTL_OFF;
  for (in.tick = 0; in.tick < 10; ++in.tick)
    if (ctl_step(&state, &params, &in, &out) != CTL_OK) return 2;
  printf("mode %u\n", (unsigned)out.mode);
  return out.mode == CTL_OFF ? 0 : 3;
}
)";

}  // namespace

TEST_CASE("the header compiles as pedantic C11 and as C++20") {
  const Scratch scratch;
  const std::string include = " -I " DUSKLINE_SOURCE_DIR " ";
  std::ofstream(scratch.file("header.c"))
      << "#include \"controller/include/plant_controller.h\"\ntypedef int something;\n";
  const Ran c = run_command("gcc -std=c11 -Wall -Wextra -pedantic -Werror -fsyntax-only" + include +
                            scratch.file("header.c"));
  INFO(c.text);
  CHECK(c.status == 0);
  const Ran cpp = run_command("g++ -x c++ -std=c++20 -Wall -Wextra -pedantic -Werror -fsyntax-only" +
                              include + scratch.file("header.c"));
  INFO(cpp.text);
  CHECK(cpp.status == 0);
}

TEST_CASE("a C program runs the controller") {
  const Scratch scratch;
  std::ofstream(scratch.file("main.c")) << kProgram;
  const std::string include = " -I " DUSKLINE_SOURCE_DIR " ";
  std::string objects;
  int count = 0;
  for (const std::string& source : controller_sources()) {
    const std::string object = scratch.file(std::to_string(count++) + ".o");
    REQUIRE(run_command("g++ -std=c++20 -O1 -ffp-contract=off -ffreestanding -fno-math-errno -fno-exceptions "
                        "-fno-rtti -c" +
                        include + source + " -o " + object)
                .status == 0);
    objects += " " + object;
  }
  // linked by the C compiler: no C++ runtime
  const Ran linked = run_command("gcc -std=c11 -Wall -Wextra -pedantic -Werror" + include +
                                 scratch.file("main.c") + objects + " -o " + scratch.file("program"));
  INFO(linked.text);
  REQUIRE(linked.status == 0);
  const Ran ran = run_command(scratch.file("program"));
  CHECK(ran.text == "mode 0\n");
  CHECK(ran.status == 0);
}
