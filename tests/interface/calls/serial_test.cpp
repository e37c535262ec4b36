// A controller over a serial line: a pseudo-terminal and a TCP connection, whole and with damage, against the same
// controller in this program.
#include <arpa/inet.h>
#include <poll.h>
#include <pty.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#include <atomic>
#include <catch2/catch.hpp>
#include <cstring>
#include <fstream>
#include <random>
#include <thread>

#include "controller/port/board.hpp"
#include "hil-harness/links/controllers.hpp"
#include "hil-harness/links/register_map.hpp"
#include "hil-harness/links/serial.hpp"
#include "hil-harness/loop/loop.hpp"
#include "tests/support/any_plant.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/free_port.hpp"
#include "tests/support/toolchain.hpp"

using namespace duskline;

namespace {

/// The board's side on a descriptor, in a thread. Damages one request in `damage_one_in` (0: none), and loses one
/// answer in the same number.
template <class C = harness::ModuleController>
class BoardOnWire {
 public:
  BoardOnWire(int descriptor, unsigned damage_one_in)
      : thread_([this, descriptor, damage_one_in] { serve(descriptor, damage_one_in); }) {}
  ~BoardOnWire() {
    leave_ = true;
    thread_.join();
  }
  BoardOnWire(const BoardOnWire&) = delete;
  BoardOnWire& operator=(const BoardOnWire&) = delete;

 private:
  void serve(int descriptor, unsigned damage_one_in) {
    auto board = std::make_unique<controller::BoardOf<C>>();
    auto decoder = std::make_unique<controller::FrameDecoder>();
    auto frame = std::make_unique<controller::Frame>();
    std::mt19937 random(5);
    const auto damaged = [&] { return damage_one_in != 0 && random() % damage_one_in == 0; };
    while (!leave_ && board->stopped == 0) {
      pollfd wait{descriptor, POLLIN, 0};
      if (poll(&wait, 1, 20) <= 0) continue;
      std::uint8_t bytes[1024];
      const ssize_t got = read(descriptor, bytes, sizeof bytes);
      if (got <= 0) return;
      for (ssize_t i = 0; i < got; ++i) {
        if (bytes[i] == 0 && damaged()) bytes[i] = 1;  // the end of a request is lost
        if (!take_byte(*decoder, bytes[i], *frame)) continue;
        const std::uint32_t count = answer_request(*board, *frame);
        if (count == 0 || damaged()) continue;
        for (std::uint32_t sent = 0; sent < count;) {
          const ssize_t n = write(descriptor, board->answer + sent, count - sent);
          if (n > 0) sent += static_cast<std::uint32_t>(n);
          if (n < 0 && errno != EAGAIN) return;
        }
      }
    }
  }

  std::atomic<bool> leave_ = false;
  std::thread thread_;
};

/// A pseudo-terminal: the board's end as a descriptor, ours by its name.
struct Line {
  int board = -1, ours = -1;
  std::string name;
  Line() {
    char device[128];
    REQUIRE(openpty(&board, &ours, device, nullptr, nullptr) == 0);
    termios raw{};
    tcgetattr(ours, &raw);
    cfmakeraw(&raw);
    tcsetattr(ours, TCSANOW, &raw);
    name = device;
  }
  ~Line() { close(board), close(ours); }
  Line(const Line&) = delete;
  Line& operator=(const Line&) = delete;
};

ctl_inputs inputs_at(std::uint32_t tick) {
  ctl_inputs in{};
  in.tick = tick;
  in.requested_mode = CTL_WARM_UP;
  in.ambient_pressure = 700.0f + static_cast<float>(tick % 5);
  in.bus_voltage = 28.0f;
  for (float& x : in.zone_temperature) x = 300.0f + 0.05f * static_cast<float>(tick);
  return in;
}

/// Ticks on which the link gives other outputs than the controller in this program.
int differences(harness::Link& link, const ctl_params& params, std::uint32_t ticks) {
  harness::InProcess ours(params);
  int differ = 0;
  for (std::uint32_t n = 0; n < ticks; ++n) {
    ctl_outputs a, b;
    std::memset(&a, 0, sizeof a);
    std::memset(&b, 0, sizeof b);
    const ctl_inputs in = inputs_at(n);
    REQUIRE(ours.step(in, a) == CTL_OK);
    const ctl_status status = link.step(in, b);
    INFO(link.error());
    REQUIRE(status == CTL_OK);
    differ += std::memcmp(&a, &b, sizeof a) == 0 ? 0 : 1;
  }
  return differ;
}

ctl_params default_params() {
  ctl_params params;
  ctl_default_params(&params);
  return params;
}

// Generous, as a busy machine may hold the other side up: one that nothing is lost to, one that asks again soon.
constexpr harness::AnswerLimit kPatient{60.0, 1}, kPersistent{0.2, 300};

}  // namespace

TEST_CASE("A controller on a serial line gives the same outputs") {
  const Line line;
  const BoardOnWire<> board(line.board, 0);
  const auto link = harness::open_serial(line.name + "@921600", default_params(), kPatient);
  INFO(scenarios::to_text(link.problems));
  REQUIRE(link);
  CHECK(differences(**link.value, default_params(), 500) == 0);
  CHECK((*link.value)->repeated() == 0);
}

TEST_CASE("Lost requests and lost answers are repeated, and the controller acts once") {
  const Line line;
  const BoardOnWire<> board(line.board, 60);
  const auto link = harness::open_serial(line.name, default_params(), kPersistent);
  INFO(scenarios::to_text(link.problems));
  REQUIRE(link);
  CHECK(differences(**link.value, default_params(), 150) == 0);
  CHECK((*link.value)->repeated() > 0);
}

TEST_CASE("A controller behind a TCP connection gives the same outputs") {
  const int listening = socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof address;
  REQUIRE(bind(listening, reinterpret_cast<const sockaddr*>(&address), size) == 0);
  REQUIRE(listen(listening, 1) == 0);
  REQUIRE(getsockname(listening, reinterpret_cast<sockaddr*>(&address), &size) == 0);
  int connection = -1;
  std::unique_ptr<BoardOnWire<>> board;
  std::thread accepting([&] {
    connection = accept(listening, nullptr, nullptr);
    board = std::make_unique<BoardOnWire<>>(connection, 0);
  });
  {
    const auto link = harness::open_serial("tcp:127.0.0.1:" + std::to_string(ntohs(address.sin_port)),
                                           default_params(), kPatient);
    accepting.join();
    INFO(scenarios::to_text(link.problems));
    REQUIRE(link);
    CHECK(differences(**link.value, default_params(), 500) == 0);
    board.reset();
    shutdown(connection, SHUT_RDWR);
    ctl_outputs out;
    CHECK((*link.value)->step(inputs_at(500), out) != CTL_OK);
    CHECK((*link.value)->error().find("has closed the stream") != std::string::npos);
  }
  close(connection);
  close(listening);
}

TEST_CASE("A serial line that cannot be used is refused with its reason") {
  const auto message = [](const std::string& address) {
    const auto link = harness::open_serial(address, default_params());
    REQUIRE_FALSE(link);
    return link.problems.at(0).message;
  };
  CHECK(message("/no/such/device") == "cannot be opened: No such file or directory");
  CHECK(message("/dev/null") == "cannot be opened: is not a serial device");
  CHECK(message("/dev/null@fast").find("has no whole number of baud") != std::string::npos);
  CHECK(message("/dev/null@1234").find("1234 baud is not a usual rate") != std::string::npos);
  CHECK(message("tcp:127.0.0.1").find("tcp:HOST:PORT") != std::string::npos);
  const Line silent;
  CHECK(message(silent.name) == silent.name + ": no answer within 1 s, asked 3 times");
}

TEST_CASE("A line whose other side does not read is silent, not closed") {
  const Line unread;
  // far more requests than there is room for: each one that finds none is lost, and asked again
  const auto link = harness::open_serial(unread.name, default_params(), {0.0, 5000});
  REQUIRE_FALSE(link);
  CHECK(link.problems.at(0).message == unread.name + ": no answer within 0 s, asked 5000 times");
}

TEST_CASE(
    "Boards on serial lines control the outpost and two of its modules as the controllers in this program "
    "would") {
  const scenarios::Case c = tests::read_any_plant(tests::library() / "outpost/noon.yaml",
                                                  {"duration=2 min", "plant.module.production.2=10000 h"});
  const auto commands_of = [&](const harness::Controllers& controllers) {
    std::vector<float> commands;
    harness::LoopOptions options;
    options.watch = [&](const harness::Snapshot& s) {
      const ctl_plant_outputs& shared = s.shared->control;
      commands.insert(commands.end(), {shared.compressor_speed, shared.exhaust_opening,
                                       shared.recycle_opening, shared.order[3].oxygen_demand});
      for (const harness::Snapshot* module : s.modules)
        commands.insert(commands.end(), {module->control.stack_current, module->control.feed_opening,
                                         module->control.preheater_power, module->control.coke_margin});
    };
    CHECK(harness::run_loop(c, controllers, options).end.reason == plant::RunEnd::reached_end);
    return commands;
  };
  const Line one, two, above;
  const BoardOnWire<> first(one.board, 0), second(two.board, 0);
  const BoardOnWire<harness::PlantController> plant(above.board, 0);
  const auto boards = harness::open_controllers(
      std::vector<std::string>{"2=serial:" + one.name + "@921600", "5=serial:" + two.name + "@921600",
                               "plant=serial:" + above.name + "@921600"},
      c);
  INFO(scenarios::to_text(boards.problems));
  REQUIRE(boards);
  const std::vector<float> inside = commands_of({}), outside = commands_of(*boards.value);
  CHECK(inside.size() == 120 * 7 * 4);
  CHECK((inside == outside));
}

TEST_CASE("A board with the controller of a module is none for the plant") {
  const Line line;
  const BoardOnWire<> board(line.board, 0);
  ctl_plant_params params;
  ctl_plant_default_params(&params);
  const auto link = harness::open_serial<harness::PlantController>(line.name, params, kPatient);
  REQUIRE_FALSE(link);
  CHECK(link.problems.at(0).message ==
        line.name + ": is a module controller, and a plant controller is wanted here");
}

TEST_CASE("A controller in another language makes oxygen over a serial line") {
  const tests::Folder here{"serial-example"};
  std::ofstream(here.file("registers.csv"), std::ios::binary) << harness::register_map_csv();
  const scenarios::Case c = tests::read_shipped(
      tests::library() / "start-stop/hour-of-oxygen.yaml",
      {"duration=10 min", "initial={state: producing, stack_temperature: 800 degC, cathode_co: 65 %}",
       "commands=[{at: 0 s, mode: production, demand: 8 g/h}]"});
  const std::string port = std::to_string(tests::free_port());
  const std::string command = "exec timeout 500 /usr/bin/python3 -B " DUSKLINE_SOURCE_DIR
                              "/docs/how-to/controllers/serial_controller.py tcp:" +
                              port + " " + here.file("registers.csv");
  test::Ran example{};
  std::thread controller([&] { example = test::run_command(command); });
  auto link = harness::open_serial("tcp:127.0.0.1:" + port, c.scenario.controller, kPatient);
  for (int tries = 0; !link && tries < 1000; ++tries) {  // until it listens
    usleep(100000);
    link = harness::open_serial("tcp:127.0.0.1:" + port, c.scenario.controller, kPatient);
  }
  INFO(scenarios::to_text(link.problems));
  if (!link) controller.join();
  INFO(example.text);
  REQUIRE(link);
  const harness::RunRecord run = harness::run_loop(c, **link.value);
  link.value.reset();  // the end of the run
  controller.join();
  CHECK(example.status == 0);
  CHECK(run.end.reason == plant::RunEnd::reached_end);
  CHECK(run.figures.coke_margin.value > 0.0);
  CHECK(run.figures.oxygen_made > 0.9 * 8e-3 / 6.0);  // of 8 g/h over ten minutes, from a hot start
}
