// Modbus TCP: independent clients read and write the registers, get the exceptions of the standard, and control the
// plant; broken frames change nothing.
#include <arpa/inet.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>

#include <atomic>
#include <bit>
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <random>
#include <thread>

#include "hil-harness/links/modbus.hpp"
#include "hil-harness/links/register_map.hpp"
#include "scenarios/reader/scenario_keys.hpp"
#include "tests/support/any_plant.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/toolchain.hpp"

using namespace duskline;
using namespace duskline::harness;
using test::run_command;

namespace {

/// A server that waits for the commands of tick 7, in a thread.
class Waiting {
 public:
  Waiting() {
    REQUIRE(server.listen("127.0.0.1:0", 1.0f, 120.0).empty());  // a busy machine is slow
    in.tick = 7;
    in.cathode_pressure = 101325.0f;
    in.zone_temperature[4] = 1073.15f;
    in.requested_mode = CTL_PRODUCTION;
    thread_ = std::thread([this] { status = server.step(in, out); });
  }
  ~Waiting() {
    if (thread_.joinable()) thread_.join();
  }
  Waiting(const Waiting&) = delete;
  Waiting& operator=(const Waiting&) = delete;
  void finish() { thread_.join(); }

  ModbusServer server;
  ctl_inputs in{};
  ctl_outputs out{};
  ctl_status status = CTL_BAD_ARGUMENT;

 private:
  std::thread thread_;
};

template <class C = ModuleController>
int address_of(RegisterTable table, const std::string& name) {
  for (const RegisterRow& row : register_map<C>())
    if (row.table == table && row.name == name) return row.address;
  FAIL("no register " << name);
  return -1;
}

/// A client of our own that sends any bytes.
class RawClient {
 public:
  /// An answer may take `seconds`.
  explicit RawClient(int port, int seconds = 2) : socket_(socket(AF_INET, SOCK_STREAM, 0)) {
    sockaddr_in to{};
    to.sin_family = AF_INET;
    to.sin_port = htons(static_cast<std::uint16_t>(port));
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    const timeval limit{seconds, 0};
    setsockopt(socket_, SOL_SOCKET, SO_RCVTIMEO, &limit, sizeof limit);
    REQUIRE(connect(socket_, reinterpret_cast<const sockaddr*>(&to), sizeof to) == 0);
  }
  ~RawClient() { close(socket_); }
  RawClient(const RawClient&) = delete;
  RawClient& operator=(const RawClient&) = delete;

  void send_bytes(const std::vector<std::uint8_t>& bytes) const {
    send(socket_, bytes.data(), bytes.size(), MSG_NOSIGNAL);
  }
  /// Sends a protocol data unit in a frame; the answer's, empty when there is none.
  std::vector<std::uint8_t> ask(const std::vector<std::uint8_t>& pdu) const {
    std::vector<std::uint8_t> frame{0, 1, 0, 0, 0, static_cast<std::uint8_t>(pdu.size() + 1), 255};
    frame.insert(frame.end(), pdu.begin(), pdu.end());
    send_bytes(frame);
    std::uint8_t answer[300];
    const ssize_t got = recv(socket_, answer, sizeof answer, 0);
    return got > 7 ? std::vector<std::uint8_t>(answer + 7, answer + got) : std::vector<std::uint8_t>{};
  }

 private:
  int socket_;
};

/// Function 16 with 32-bit values from an address on.
std::vector<std::uint8_t> write_request(int address, const std::vector<std::uint32_t>& values) {
  const auto count = static_cast<std::uint8_t>(2 * values.size());
  std::vector<std::uint8_t> pdu{
      16,    static_cast<std::uint8_t>(address >> 8), static_cast<std::uint8_t>(address), 0,
      count, static_cast<std::uint8_t>(2 * count)};
  for (const std::uint32_t v : values)
    for (int shift = 24; shift >= 0; shift -= 8) pdu.push_back(static_cast<std::uint8_t>(v >> shift));
  return pdu;
}

std::uint32_t bits(float x) {
  return std::bit_cast<std::uint32_t>(x);
}

/// The whole block of holding registers: version, tick, arm, all commands 0 but the given current, mode.
std::vector<std::uint32_t> block(float current, std::uint32_t tick) {
  std::vector<std::uint32_t> all(static_cast<std::size_t>(register_count(RegisterTable::holding) / 2), 0u);
  all[0] = register_map_version();
  all[1] = tick;
  all[2] = registers::kArmed;
  all[static_cast<std::size_t>(address_of(RegisterTable::holding, "stack_current") / 2)] = bits(current);
  all.back() = CTL_PRODUCTION;
  return all;
}

/// Our plant controller as a client: reads all input registers, writes commands and orders, until the server goes.
void control_plant(const RawClient& client, const ctl_plant_params& params) {
  using C = PlantController;
  constexpr int kMost = 124;  // registers a request: the standard allows 125
  const int count = register_count<C>(RegisterTable::input);
  std::vector<std::uint16_t> input(static_cast<std::size_t>(count));
  std::vector<std::uint32_t> holding(static_cast<std::size_t>(register_count<C>(RegisterTable::holding) / 2));
  const auto number = [&](const std::string& name) {
    return take_number(input, address_of<C>(RegisterTable::input, name));
  };
  const auto word = [&](const std::string& name) {
    return take_whole(input, address_of<C>(RegisterTable::input, name));
  };
  const auto put = [&](const std::string& name, std::uint32_t value) {
    holding[static_cast<std::size_t>(address_of<C>(RegisterTable::holding, name) / 2)] = value;
  };
  ctl_plant_state state;
  ctl_plant_init(&state, &params);
  for (;;) {
    for (int at = 0; at < count; at += kMost) {
      const int some = std::min(kMost, count - at);
      const auto answer = client.ask({4, static_cast<std::uint8_t>(at >> 8), static_cast<std::uint8_t>(at), 0,
                                      static_cast<std::uint8_t>(some)});
      if (answer.size() != 2 + 2 * static_cast<std::size_t>(some)) return;
      for (int k = 0; k < some; ++k)
        input[static_cast<std::size_t>(at + k)] = static_cast<std::uint16_t>(
            answer[2 + 2 * static_cast<std::size_t>(k)] << 8 | answer[3 + 2 * static_cast<std::size_t>(k)]);
    }
    ctl_plant_inputs in{};
    in.tick = take_whole(input, registers::kTick);
#define READ(name, ...) in.name = number(#name);
    CTL_PLANT_INPUT_LIST(READ)
    READ(oxygen_demand)
    READ(power_ceiling)
    in.requested_mode = word("requested_mode");
    for (std::size_t k = 0; k < CTL_PLANT_MODULES; ++k) {
      const std::string module = "module " + std::to_string(k + 1) + " ";
      in.service[k] = word(module + "service");
#define NUMBER(name, ...) in.module[k].name = number(module + #name);
#define WORD(name, ...) in.module[k].name = word(module + #name);
      CTL_MODULE_REPORT_LIST(NUMBER, WORD)
    }
    ctl_plant_outputs out;
    ctl_plant_step(&state, &params, &in, &out);
    put("map_version", register_map_version<C>());
    put("answered_tick", in.tick);
    put("arm", registers::kArmed);
#define COMMAND(name, ...) put(#name, bits(out.name));
    CTL_PLANT_OUTPUT_LIST(COMMAND)
    put("mode", out.mode);
    put("tripped", out.tripped);
    put("isolated", out.isolated);
    put("released", out.released);
    for (std::size_t k = 0; k < CTL_PLANT_MODULES; ++k) {
      const std::string module = "module " + std::to_string(k + 1) + " ";
      put(module + "oxygen_demand", bits(out.order[k].oxygen_demand));
      put(module + "power_ceiling", bits(out.order[k].power_ceiling));
      put(module + "feed_opening_max", bits(out.order[k].feed_opening_max));
      put(module + "requested_mode", out.order[k].requested_mode);
    }
#undef READ
#undef NUMBER
#undef WORD
#undef COMMAND
    if (client.ask(write_request(0, holding)).empty()) return;
  }
}

}  // namespace

TEST_CASE("The published order of words: 123.456 is 42F6 E979, 101325 is 47C5 E680") {
  // IEEE 754 single precision, high word first; values computed by hand from the standard's format
  ctl_inputs in{};
  in.cathode_pressure = 101325.0f;
  std::vector<std::uint16_t> input(static_cast<std::size_t>(register_count(RegisterTable::input)));
  put_inputs(in, 1.0f, input);
  CHECK(input[registers::kWordOrder] == 0x42F6);
  CHECK(input[registers::kWordOrder + 1] == 0xE979);
  const auto at = static_cast<std::size_t>(address_of(RegisterTable::input, "cathode_pressure"));
  CHECK(input[at] == 0x47C5);
  CHECK(input[at + 1] == 0xE680);
}

TEST_CASE("docs/reference/registers.csv and plant-registers.csv are the maps") {
  // DUSKLINE_WRITE_REGISTERS=1 writes them anew
  for (const auto& [name, map] : {std::pair("registers.csv", register_map_csv()),
                                  std::pair("plant-registers.csv", register_map_csv<PlantController>())}) {
    const std::string path = std::string(DUSKLINE_SOURCE_DIR "/docs/reference/") + name;
    if (std::getenv("DUSKLINE_WRITE_REGISTERS") != nullptr) std::ofstream(path, std::ios::binary) << map;
    std::ifstream file(path, std::ios::binary);
    CHECK(std::string(std::istreambuf_iterator<char>(file), {}) == map);
  }
}

TEST_CASE("Every register of the map is filled from the field of its name") {
  ctl_inputs in{};
  in.product_flow = 1.25f;
  in.requested_mode = CTL_STANDBY;
  in.cell_voltage[CTL_CELLS - 1] = 0.875f;
  in.tick = 70000;
  std::vector<std::uint16_t> input(static_cast<std::size_t>(register_count(RegisterTable::input)));
  put_inputs(in, 0.5f, input);
  CHECK(take_number(input, address_of(RegisterTable::input, "product_flow")) == 1.25f);
  CHECK(take_number(input, address_of(RegisterTable::input, "cell_voltage " + std::to_string(CTL_CELLS))) ==
        0.875f);
  CHECK(take_whole(input, address_of(RegisterTable::input, "requested_mode")) == CTL_STANDBY);
  CHECK(take_whole(input, registers::kTick) == 70000);
  CHECK(take_number(input, registers::kPeriod) == 0.5f);
  std::vector<std::uint16_t> holding(static_cast<std::size_t>(register_count(RegisterTable::holding)));
  const auto at = static_cast<std::size_t>(address_of(RegisterTable::holding, "end_power 2"));
  holding[at] = 0x4120;  // 10.0
  holding.back() = CTL_COOL_DOWN;
  ctl_outputs out{};
  take_outputs(holding, out);
  CHECK(out.end_power[1] == 10.0f);
  CHECK(out.end_power[0] == 0.0f);
  CHECK(out.mode == CTL_COOL_DOWN);
}

TEST_CASE("Commands act only when armed, for this map and this tick, wrong ones get their exception") {
  Waiting plant;
  const RawClient client(plant.server.port());
  using Bytes = std::vector<std::uint8_t>;
  const int count = register_count(RegisterTable::holding);
  // exceptions of the Modbus Application Protocol V1.1b3: 01 function, 02 address, 03 value
  CHECK(client.ask({0x2A, 0, 0}) == Bytes{0xAA, 1});
  CHECK(client.ask({1, 0, 0, 0, 1}) == Bytes{0x81, 1});             // coils: there are none
  CHECK(client.ask({4, 0x7F, 0xFF, 0, 2}) == Bytes{0x84, 2});       // beyond the map
  CHECK(client.ask({4, 0, 0, 0, 126}) == Bytes{0x84, 3});           // more than 125
  CHECK(client.ask({3, 0, 0, 0, 0}) == Bytes{0x83, 3});             // none
  CHECK(client.ask(write_request(count, {0u})) == Bytes{0x90, 2});  // beyond the map
  const int current = address_of(RegisterTable::holding, "stack_current");
  CHECK(client.ask(write_request(current, {bits(1e6f)})) == Bytes{0x90, 3});           // beyond its limit
  CHECK(client.ask(write_request(current, {bits(std::nanf(""))})) == Bytes{0x90, 3});  // no number
  CHECK(client.ask(write_request(count - 2, {99u})) == Bytes{0x90, 3});                // no such mode
  CHECK(client.ask(write_request(current, {bits(2.5f)})).at(0) == 16);
  CHECK(client.ask({4, 0, 2, 0, 2}) == Bytes{4, 4, 0, 0, 0, 7});  // the tick
  auto unarmed = block(3.0f, 7);
  unarmed[2] = 1;
  CHECK(client.ask(write_request(0, unarmed)).at(0) == 16);
  auto other_map = block(3.0f, 7);
  other_map[0] += 1;
  CHECK(client.ask(write_request(0, other_map)).at(0) == 16);
  CHECK(client.ask(write_request(0, block(3.0f, 6))).at(0) == 16);  // an answer to another tick
  CHECK(plant.status == CTL_BAD_ARGUMENT);                          // none of these let the tick go on
  CHECK(client.ask(write_request(0, block(3.5f, 7))).at(0) == 16);
  plant.finish();
  CHECK(plant.status == CTL_OK);
  CHECK(plant.out.stack_current == 3.5f);
  CHECK(plant.out.mode == CTL_PRODUCTION);
  CHECK(std::isnan(plant.out.coke_margin));  // what a client does not say is not made up
}

TEST_CASE("Ten thousand broken frames: the server lives on and no command changes") {
  Waiting plant;
  std::mt19937 random(3);
  const int current = address_of(RegisterTable::holding, "stack_current");
  {
    const RawClient client(plant.server.port());
    CHECK(client.ask(write_request(current, {bits(2.0f)})).at(0) == 16);
  }
  for (int k = 0; k < 100; ++k) {
    const RawClient client(plant.server.port());
    for (int i = 0; i < 100; ++i) {
      std::vector<std::uint8_t> bytes(1 + random() % 40);
      for (auto& b : bytes) b = static_cast<std::uint8_t>(random());
      if (i % 3 == 0 && bytes.size() > 8) {  // a header that is nearly right, and a write that is too short
        bytes[2] = bytes[3] = bytes[4] = 0;
        bytes[5] = static_cast<std::uint8_t>(random() % 20);
        bytes[7] = 16;
      }
      client.send_bytes(bytes);
    }
  }
  const RawClient client(plant.server.port());
  const auto read = client.ask({3, 0, static_cast<std::uint8_t>(current), 0, 2});
  CHECK(read == std::vector<std::uint8_t>{3, 4, 0x40, 0, 0, 0});  // still 2.0
  CHECK(client.ask(write_request(0, block(1.0f, 7))).at(0) == 16);
  plant.finish();
  CHECK(plant.status == CTL_OK);
}

TEST_CASE("Somebody else's program reads and writes the registers") {
  if (!test::has_program("mbpoll")) return tests::skip("mbpoll is not installed");
  Waiting plant;
  const std::string ask = "timeout 100 mbpoll -1 -q -m tcp -B -0 -p " + std::to_string(plant.server.port());
  const auto at = [](RegisterTable table, const std::string& name) {
    return std::to_string(address_of(table, name));
  };
  const auto order =
      run_command(ask + " -t 3:float -r " + std::to_string(registers::kWordOrder) + " 127.0.0.1");
  INFO(order.text);
  CHECK(order.text.find("123.456") != std::string::npos);
  const auto zone =
      run_command(ask + " -t 3:float -r " + at(RegisterTable::input, "zone_temperature 5") + " 127.0.0.1");
  CHECK(zone.text.find("1073.15") != std::string::npos);
  const auto write =
      run_command(ask + " -t 4:float -r " + at(RegisterTable::holding, "stack_current") + " 127.0.0.1 4.25");
  INFO(write.text);
  CHECK(write.status == 0);
  const auto beyond = run_command(ask + " -t 4:float -r 5000 127.0.0.1");
  CHECK(beyond.text.find("Illegal data address") != std::string::npos);
  const RawClient client(plant.server.port());
  const auto read = client.ask(
      {3, 0, static_cast<std::uint8_t>(address_of(RegisterTable::holding, "stack_current")), 0, 2});
  CHECK(read == std::vector<std::uint8_t>{3, 4, 0x40, 0x88, 0, 0});  // 4.25
  CHECK(client.ask(write_request(0, block(1.0f, 7))).at(0) == 16);
  plant.finish();
}

TEST_CASE("A controller in another language makes oxygen over Modbus") {
  if (run_command("/usr/bin/python3 -c 'import pymodbus'").status != 0)
    return tests::skip("python3-pymodbus is not installed");
  const tests::Folder here{"modbus-example"};
  std::ofstream(here.file("registers.csv"), std::ios::binary) << register_map_csv();
  const scenarios::Case c = tests::read_shipped(
      tests::library() / "start-stop/hour-of-oxygen.yaml",
      {"duration=10 min", "initial={state: producing, stack_temperature: 800 degC, cathode_co: 65 %}",
       "commands=[{at: 0 s, mode: production, demand: 8 g/h}]"});
  auto server = open_modbus("127.0.0.1:0", static_cast<float>(c.scenario.period));
  REQUIRE(server);
  const std::string command = "exec timeout 500 /usr/bin/python3 -B " DUSKLINE_SOURCE_DIR
                              "/docs/how-to/controllers/modbus_controller.py 127.0.0.1 " +
                              std::to_string((*server.value)->port()) + " " + here.file("registers.csv");
  test::Ran example{};
  std::thread client([&] { example = run_command(command); });
  const RunRecord run = run_loop(c, **server.value);
  server.value.reset();  // the end of the run
  client.join();
  INFO(example.text);
  CHECK(run.end.reason == plant::RunEnd::reached_end);
  CHECK(run.figures.coke_margin.value > 0.0);
  CHECK(run.figures.oxygen_made >
        0.9 * 8e-3 / 6.0);  // nine tenths of 8 g/h over ten minutes, from a hot start
}

TEST_CASE("The plant controller as a Modbus client moves the outpost as the one in this program") {
  const scenarios::Case c = tests::read_any_plant(tests::library() / "outpost/noon.yaml", {"duration=1 min"});
  // all that the client writes, bit for bit
  const auto commands_of = [&](const Controllers& controllers) {
    std::vector<std::uint32_t> commands;
    LoopOptions options;
    options.watch = [&](const Snapshot& s) {
      const ctl_plant_outputs& out = s.shared->control;
#define COMMAND(name, ...) commands.push_back(bits(out.name));
      CTL_PLANT_OUTPUT_LIST(COMMAND)
#undef COMMAND
      commands.insert(commands.end(), {out.mode, out.tripped, out.isolated, out.released});
      for (const ctl_module_order& o : out.order)
        commands.insert(commands.end(), {bits(o.oxygen_demand), bits(o.power_ceiling),
                                         bits(o.feed_opening_max), o.requested_mode});
    };
    CHECK(run_loop(c, controllers, options).end.reason == plant::RunEnd::reached_end);
    return commands;
  };
  auto server = std::make_shared<ModbusServerOf<PlantController>>();
  REQUIRE(server->listen("127.0.0.1:0", static_cast<float>(c.scenario.period), 120.0).empty());
  const RawClient client(server->port(), 100);
  const ctl_plant_params params = scenarios::plant_controller_of(c.plant.parameters, c.scenario);
  std::thread controller([&] { control_plant(client, params); });
  Controllers controllers;
  controllers.set_plant(std::move(server));
  const auto outside = commands_of(controllers);
  controllers = {};  // the end of the run
  controller.join();
  CHECK(outside.size() == 60 * (6 + 4 + 4 * CTL_PLANT_MODULES));
  CHECK((outside == commands_of({})));
}

TEST_CASE(
    "What the plant controller may not write is refused, no power ceiling is not a number, and that is "
    "allowed") {
  CHECK(register_count<PlantController>(RegisterTable::holding) <= 123);  // of one request, by the standard
  ModbusServerOf<PlantController> server;
  REQUIRE(server.listen("127.0.0.1:0", 1.0F, 120.0).empty());
  const RawClient client(server.port(), 100);
  ctl_plant_outputs out{};
  std::thread tick([&] {
    ctl_plant_inputs in{};
    in.tick = 7;
    server.step(in, out);
  });
  using Bytes = std::vector<std::uint8_t>;
  const auto at = [](const char* name) { return address_of<PlantController>(RegisterTable::holding, name); };
  CHECK(client.ask(write_request(at("exhaust_opening"), {bits(1.5F)})) == Bytes{0x90, 3});
  CHECK(client.ask(write_request(at("module 12 requested_mode"), {CTL_MODES})) == Bytes{0x90, 3});
  CHECK(client.ask(write_request(at("module 2 oxygen_demand"), {bits(std::nanf(""))})) == Bytes{0x90, 3});
  CHECK(client.ask(write_request(at("module 2 power_ceiling"), {bits(HUGE_VALF)})) == Bytes{0x90, 3});
  CHECK(client.ask(write_request(at("module 3 power_ceiling"), {bits(700.0F)})).at(0) == 16);
  CHECK(client.ask(write_request(at("module 2 feed_opening_max"), {bits(0.25F)})).at(0) == 16);
  CHECK(client.ask(write_request(at("mode"), {CTL_PLANT_STANDBY})).at(0) == 16);
  CHECK(
      client.ask(write_request(0, {register_map_version<PlantController>(), 7U, registers::kArmed})).at(0) ==
      16);
  tick.join();
  CHECK(std::isnan(out.order[1].power_ceiling));  // nobody has written one
  CHECK(out.order[2].power_ceiling == 700.0F);
  CHECK(out.order[1].feed_opening_max == 0.25F);
  CHECK(out.order[2].feed_opening_max == 0.0F);
  CHECK(out.mode == CTL_PLANT_STANDBY);
}

TEST_CASE("An address that cannot be listened on is refused with its reason") {
  CHECK(open_modbus("127.0.0.1", 1.0f).problems.at(0).message ==
        "is no address; HOST:PORT is one, such as 127.0.0.1:1502");
  CHECK(open_modbus("127.0.0.1:70000", 1.0f).problems.at(0).message ==
        "has no port from 0 to 65535 behind its ':'");
  ModbusServer first;
  REQUIRE(first.listen("127.0.0.1:0", 1.0f).empty());
  const auto second = open_modbus("127.0.0.1:" + std::to_string(first.port()), 1.0f);
  REQUIRE_FALSE(second);
  CHECK(second.problems.at(0).message == "cannot be listened on: Address already in use");
}
