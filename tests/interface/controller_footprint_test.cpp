// Memory, code, stack and instructions stay below the limits that docs/reference/footprint.md states. Compilers differ,
// so limits are held, not numbers.
#include <catch2/catch.hpp>

#include "tests/support/folder.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/tick_counter.hpp"

using namespace duskline::test;

namespace {

/// A measurement without its tool says so, and checks nothing.
bool has_board_tools() {
  if (has_program("arm-none-eabi-g++")) return true;
  duskline::tests::skip("arm-none-eabi-g++ is not installed, the Cortex-M4F objects were not measured");
  return false;
}

std::string grouped(std::uint64_t value) {
  std::string text = std::to_string(value);
  for (std::size_t at = text.size(); at > 3;) text.insert(at -= 3, " ");
  return text;
}

const FootprintLimits kLimits;

}  // namespace

TEST_CASE("freestanding footprint: memory, code and stack of the board stay below their limits") {
  CHECK(sizeof(duskline::controller::Memory) <= kLimits.memory);
  if (!has_board_tools()) return;
  for (const char* optimise : {"-O2", "-Os"}) {
    INFO(optimise);
    const Scratch scratch;
    const Objects objects = board_objects(scratch, optimise);
    REQUIRE(objects.error == "");
    const std::size_t code = code_size(objects);
    CHECK(code > 8000);  // it has been measured
    CHECK(code <= kLimits.code);
    CallGraph graph(objects.call_graphs);
    for (const char* entry : {"ctl_step", "ctl_init", "ctl_restart", "ctl_retain", "ctl_default_params"}) {
      INFO(entry);
      const Stack stack = graph.deepest(entry);
      CHECK(stack.error == "");  // no recursion, no frame of open size, no indirect call
      CHECK(stack.bytes <= kLimits.stack);
      if (std::string(entry) == "ctl_step") CHECK(stack.bytes > 500);
    }
  }
}

TEST_CASE("freestanding footprint: recursion, open frames and indirect calls are seen") {
  if (!has_board_tools()) return;
  const Scratch scratch;
  std::ofstream(scratch.file("bad.c"))
      << "extern void use(volatile char*, unsigned);\n"
         "unsigned again(unsigned n);\n"
         "unsigned again(unsigned n) { volatile char a[64]; a[0] = (char)n; use(a, n); "
         "return n == 0 ? a[0] : 3 * again(n - 1) + a[0]; }\n"
         "void open(unsigned n) { volatile char a[n]; use(a, n); }\n"
         "void anywhere(void (*f)(void)) { f(); use(0, 1); }\n"
         "void fine(unsigned n) { volatile char a[40]; use(a, n); }\n";
  const Ran ran = run_command("arm-none-eabi-gcc " + kBoard + " -O2 -w -fcallgraph-info=su -c " +
                              scratch.file("bad.c") + " -o " + scratch.file("bad.o"));
  INFO(ran.text);
  REQUIRE(ran.status == 0);
  const std::string error = CallGraph({scratch.file("bad.ci")}).deepest("again").error;
  CHECK(error.find("recursion through again") != std::string::npos);
  CHECK(error.find("open size in open") != std::string::npos);
  CHECK(error.find("indirect call in anywhere") != std::string::npos);
  const std::size_t frame = CallGraph({scratch.file("bad.ci")}).deepest("fine").bytes;
  CHECK(frame >= 40);
  CHECK(frame <= 64);
}

TEST_CASE("freestanding footprint: the instructions of recorded ticks stay below their limit", "[check]") {
  const auto laws = record_ticks(1);
  REQUIRE(laws.size() == CTL_LAWS);
  bool has_host = false;
  for (const auto& ticks : laws) {
    CHECK(ticks.size() >= CTL_MODES - 1);
    const Counts host = counts_of(host_instructions(ticks));
    if (host.ticks > 0) {
      has_host = true;
      CHECK(host.median > 1000);  // it has been counted
      CHECK(host.most <= kLimits.instructions);
    }
    const Counts board = counts_of(board_instructions(ticks));
    if (board.ticks > 0) {
      CHECK(board.median > 1000);
      CHECK(board.most <= kLimits.instructions);
    }
  }
  if (!has_host) duskline::tests::skip("the system does not let a process be stepped");
  if (!has_program("qemu-arm"))
    duskline::tests::skip("qemu-arm is not installed, no instructions of the board were counted");
}

TEST_CASE("freestanding footprint: the page states the limits that are held") {
  const std::string page = duskline::tests::bytes_of(DUSKLINE_SOURCE_DIR "/docs/reference/footprint.md");
  for (const std::string& limit :
       {grouped(kLimits.memory) + " B", grouped(kLimits.code) + " B", grouped(kLimits.stack) + " B",
        "the limit of " + grouped(kLimits.instructions)}) {
    INFO(limit);
    CHECK(page.find(limit) != std::string::npos);
  }
}
