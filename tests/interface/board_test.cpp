// The same controller on its own processor: the image for the board runs in an emulator and gives the same outputs,
// bit for bit, as the controller in this program.
#include <catch2/catch.hpp>

#include "hil-harness/links/emulator.hpp"
#include "hil-harness/links/serial.hpp"
#include "scenarios/reader/scenario_keys.hpp"
#include "tests/support/any_plant.hpp"
#include "tests/support/both_links.hpp"
#include "tests/support/footprint.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/toolchain.hpp"

using namespace duskline;
using tests::BothLinks;
using tests::library;
using tests::read_shipped;

namespace {

/// Builds the images once; empty when this machine has no cross compiler or no emulator.
std::string board_image(const std::string& name = "controller-board") {
  static const test::Scratch scratch;
  static const std::string folder = [] {
    if (!test::has_program("arm-none-eabi-g++") || !test::has_program("qemu-system-arm"))
      return std::string();
    const std::string source = DUSKLINE_SOURCE_DIR, build = scratch.file("board");
    const auto built =
        test::run_command("cmake -S " + source + "/controller/port/cortex-m -B " + build +
                          " -G Ninja --toolchain " + source + "/.cmake/cortex-m.cmake && ninja -C " + build);
    INFO(built.text);
    REQUIRE(built.status == 0);
    return build;
  }();
  return folder.empty() ? folder : folder + "/" + name + ".elf";
}

/// A board in the emulator whose serial port is a terminal of this machine. Its clock counts its own instructions, so
/// that a busy machine does not let its watchdog expire.
class SerialBoard {
 public:
  /// `slowness`: an instruction takes 2^slowness ns of the board's time.
  explicit SerialBoard(const std::string& image, int slowness = 2) {
    const auto started = test::run_command(
        "qemu-system-arm -machine mps2-an386 -icount shift=" + std::to_string(slowness) +
        ",sleep=off -display none "
        "-monitor none -serial pty -daemonize -pidfile " +
        scratch_.file("pid") + " -gdb unix:" + debugger() + ",server=on,wait=off -kernel " + image);
    INFO(started.text);
    REQUIRE(started.status == 0);
    const std::size_t at = started.text.find("/dev/pts/");
    REQUIRE(at != std::string::npos);
    terminal = started.text.substr(at, started.text.find(' ', at) - at);
  }
  ~SerialBoard() {
    test::run_command("p=$(cat " + scratch_.file("pid") +
                      ") && kill $p; for i in $(seq 600); do kill -0 $p || break; sleep 0.1; done");
  }
  SerialBoard(const SerialBoard&) = delete;
  SerialBoard& operator=(const SerialBoard&) = delete;

  std::string debugger() const { return scratch_.file("debugger"); }
  std::string terminal;

 private:
  test::Scratch scratch_;
};

void run_on_both(const std::string& scenario, const std::vector<std::string>& settings) {
  const std::string image = board_image();
  if (image.empty()) {
    tests::skip("arm-none-eabi-g++ or qemu-system-arm is not installed, the board's image was not run");
    return;
  }
  const scenarios::Case c = read_shipped(library() / scenario, settings);
  auto board = harness::open_emulator(image, c.scenario.controller);
  INFO(scenario << "\n" << scenarios::to_text(board.problems));
  REQUIRE(board);
  BothLinks<> both(c.scenario.controller, *board.value);
  const auto run = harness::run_loop(c, both);
  CHECK(run.end.reason == plant::RunEnd::reached_end);
  CHECK(both.error() == "board: ");
  CHECK(both.ticks == run.ticks);
  CHECK(both.differ == 0);
}

// A busy machine may hold the emulator up for long; asked again, the board answers as before.
constexpr harness::AnswerLimit kPersistent{2.0, 100};
const std::vector<std::string> kOneHour{"duration=1 h"};

/// Ten faults that begin within the hour: of cells, flows, instruments, supply, link and the controller itself.
constexpr const char* kFaults[]{
    "recycle-valve-blocked", "cell-cracks-at-noon",    "compressor-trip-at-noon",        "converter-dropout",
    "feed-meter-gain-loss",  "seal-leak-into-product", "controller-reset-in-production", "current-runaway",
    "weak-cell-at-noon",     "end-heater-stuck-on"};

}  // namespace

TEST_CASE("An hour of the equinox sol is the same on the board, bit for bit") {
  run_on_both("dawn-dusk/equinox-sol.yaml", kOneHour);
}

TEST_CASE("An hour of the equinox sol under the adaptive law is the same on the board") {
  run_on_both("dawn-dusk/equinox-sol.yaml", {"duration=1 h", "controller.law=adaptive"});
}

TEST_CASE("An hour of a cold start is the same on the board") {
  run_on_both("start-stop/cold-start-northern-winter-night.yaml", kOneHour);
}

TEST_CASE("An hour of each of ten faults is the same on the board") {
  for (const char* fault : kFaults) run_on_both("faults/" + std::string(fault) + ".yaml", kOneHour);
}

TEST_CASE("Two minutes of the plant controller of the outpost are the same on the board, bit for bit") {
  const std::string image = board_image("plant-controller-board");
  if (image.empty()) {
    tests::skip("arm-none-eabi-g++ or qemu-system-arm is not installed, the board's image was not run");
    return;
  }
  // from 3 to 0.9 kg/h in one step: the anti-surge valve opens
  const scenarios::Case c = tests::read_any_plant(library() / "outpost/turned-down-to-30.yaml",
                                                  {"duration=2 min",
                                                   "commands=[{at: 0 s, mode: production, demand: 3 kg/h}, "
                                                   "{at: 10 s, mode: production, demand: 0.9 kg/h}]"});
  const ctl_plant_params params = scenarios::plant_controller_of(c.plant.parameters, c.scenario);
  const auto board = harness::open_emulator<harness::PlantController>(image, params);
  INFO(scenarios::to_text(board.problems));
  REQUIRE(board);
  const auto both = std::make_shared<BothLinks<harness::PlantController>>(params, *board.value);
  harness::Controllers controllers;
  controllers.set_plant(both);
  const auto run = harness::run_loop(c, controllers);
  CHECK(run.end.reason == plant::RunEnd::reached_end);
  CHECK(both->ticks == 120);
  CHECK(both->differ == 0);

  const auto wrong = harness::open_emulator(image, c.scenario.controller);
  REQUIRE_FALSE(wrong);
  CHECK(wrong.problems.at(0).message ==
        "emulator: is a plant controller, and a module controller is wanted here");
}

TEST_CASE("The instructions of a tick on the board are the same each time, and within their limit") {
  const std::string image = board_image();
  if (image.empty()) {
    tests::skip("arm-none-eabi-g++ or qemu-system-arm is not installed, no instruction was counted");
    return;
  }
  const scenarios::Case c = read_shipped(library() / "dawn-dusk/equinox-sol.yaml", {"duration=5 min"});
  std::vector<std::uint32_t> seen;
  for (int k = 0; k < 2; ++k) {
    auto board = harness::open_emulator(image, c.scenario.controller);
    REQUIRE(board);
    BothLinks<> both(c.scenario.controller, *board.value);
    harness::run_loop(c, both);
    const auto report = both.board().report();
    REQUIRE(report);
    CHECK(report->steps == 300);
    CHECK(report->max_answer_counts > report->max_counts);
    seen.insert(seen.end(), {report->max_counts, report->max_tick, report->max_answer_counts});
  }
  const double most = seen[0] * harness::kInstructionsPerCount;
  CHECK(most >
        20000.0);  // counted one by one, the shortest ticks of a law are above (docs/reference/footprint.md)
  CHECK(most < static_cast<double>(test::FootprintLimits{}.instructions));
  for (std::size_t k = 0; k < 3; ++k) CHECK(seen[k] == seen[k + 3]);
}

TEST_CASE("What cannot be started on the board is refused with its reason") {
  ctl_params params;
  ctl_default_params(&params);
  const auto none = harness::open_emulator("/no/such/image.elf", params);
  REQUIRE_FALSE(none);
  CHECK(none.problems.at(0).message.find("there is no such image") == 0);
  if (board_image().empty()) {
    tests::skip("arm-none-eabi-g++ or qemu-system-arm is not installed, the board's image was not run");
    return;
  }
  params.period = -1.0f;
  const auto refused = harness::open_emulator(board_image(), params);
  REQUIRE_FALSE(refused);
  CHECK(refused.problems.at(0).message.find("refuses the parameters") != std::string::npos);
  const auto not_ours = harness::open_emulator(DUSKLINE_SOURCE_DIR "/README.md", params);
  REQUIRE_FALSE(not_ours);  // whatever the emulator makes of it, no controller answers
}

TEST_CASE("The board answers on its own serial port, and its watchdog ends a hang") {
  const std::string image = board_image("controller-serial");
  if (image.empty()) {
    tests::skip(
        "arm-none-eabi-g++ or qemu-system-arm is not installed, the board's serial port was not tried");
    return;
  }
  const scenarios::Case c = read_shipped(library() / "dawn-dusk/equinox-sol.yaml", {"duration=30 s"});
  const SerialBoard board(image);
  const auto run_it = [&] {
    const auto link = harness::open_serial(board.terminal, c.scenario.controller, kPersistent);
    INFO(scenarios::to_text(link.problems));
    REQUIRE(link);
    BothLinks<> both(c.scenario.controller, *link.value);
    const auto run = harness::run_loop(c, both);
    INFO(both.error());
    CHECK(run.end.reason == plant::RunEnd::reached_end);
    CHECK(both.ticks == 30);
    CHECK(both.differ == 0);
  };
  run_it();
  // in a loop that does nothing it would stay for ever: twice 500 ms of the board without feeding reset it
  const auto hung = test::run_command(
      "timeout 300 /usr/bin/python3 -B " DUSKLINE_SOURCE_DIR "/tests/support/board_hang.py " +
      board.debugger() + " $(arm-none-eabi-nm " + image + " | awk '/ fault_handler$/ {print $1}')");
  INFO(hung.text);
  REQUIRE(hung.status == 0);
  run_it();
}

TEST_CASE("The board itself switches its outputs off when no step comes, and waits to be armed again") {
  const std::string image = board_image("controller-serial");
  if (image.empty()) {
    tests::skip("arm-none-eabi-g++ or qemu-system-arm is not installed, the dead man's switch was not tried");
    return;
  }
  // a short period, so that five of them are soon over in the emulator
  const scenarios::Case c =
      read_shipped(library() / "start-stop/start-from-hot-standby.yaml", {"duration=3 s", "period=0.1 s"});
  const SerialBoard board(image, 4);
  auto opened = harness::open_serial(board.terminal, c.scenario.controller, kPersistent);
  INFO(scenarios::to_text(opened.problems));
  REQUIRE(opened);
  harness::FramedLink& link = **opened.value;
  REQUIRE(link.report());
  CHECK(link.report()->armed == 1);
  CHECK(link.report()->steps == 0);
  const auto heating = [](const ctl_outputs& out) {
    return out.end_power[0] + out.end_power[1] + out.preheater_power;
  };
  float commanded = 0.0f;  // in the last tick
  harness::LoopOptions options;
  options.watch = [&](const harness::Snapshot& now) { commanded = heating(now.control); };
  const auto run = harness::run_loop(c, link, options);
  CHECK(run.end.reason == plant::RunEnd::reached_end);
  CHECK(commanded > 0.0f);
  // ends when its condition holds; the bound is for a board that never does it
  auto now = link.report();
  REQUIRE(now);
  for (int asked = 0; now && now->armed != 0 && asked < 100000; ++asked) {
    CHECK(heating(now->driven) == commanded);  // held so far
    now = link.report();
  }
  REQUIRE(now);
  CHECK(now->armed == 0);
  CHECK(now->expired >= 1);  // more: this machine held the program up for as long before
  CHECK(heating(now->driven) == 0.0f);
  CHECK(now->driven.mode == CTL_SAFE);
  CHECK(now->steps <= 30);
  // the next step finds them off and arms them, the one after it acts
  ctl_outputs out;
  CHECK(link.step({}, out) == CTL_OK);
  CHECK(heating(out) == 0.0f);
  std::uint32_t steps = now->steps;
  for (int tries = 0; steps == now->steps && tries < 100; ++tries) {
    REQUIRE(link.step({}, out) == CTL_OK);
    const auto after = link.report();
    REQUIRE(after);
    steps = after->steps;
  }
  CHECK(steps == now->steps + 1);
}
