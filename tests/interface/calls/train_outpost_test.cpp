// The training console of a plant of several modules: what it shows, and requests, alarms and faults of one module.
#include <chrono>

#include "hil-harness/loop/signal_rows.hpp"
#include "tests/support/child.hpp"
#include "tests/support/running_console.hpp"

using namespace duskline;
using namespace duskline::harness;
using nlohmann::json;
using tests::RunningConsole;

namespace {

const std::filesystem::path kRoot = DUSKLINE_SOURCE_DIR;

scenarios::Case exercise() {
  auto read = scenarios::read_case(kRoot / "scenarios/exercises/module-stops.yaml",
                                   kRoot / "plant-model" / "plants", {}, requirement_lists());
  if (!read) throw std::runtime_error(scenarios::to_text(read.problems));
  return *read.value;
}

scenarios::ConsoleFile console_of(const scenarios::Case& c) {
  const plant::PlantForm& form = c.plant.parameters.form;
  auto read =
      scenarios::read_console(kRoot / "scenarios/consoles/outpost.yaml", requirement_lists().of(form));
  if (!read) throw std::runtime_error(scenarios::to_text(read.problems));
  return *read.value;
}

/// The alarm of that name in a list of them; null: it is not there.
json alarm_in(const json& alarms, const std::string& name) {
  for (const auto& alarm : alarms)
    if (alarm["name"] == name) return alarm;
  return nullptr;
}

/// Runs the session to a plant time, s, and freezes it.
void run_to(RunningConsole& console, double time) {
  REQUIRE(console.status("instructor", "instructor", R"({"act":"go"})") == 200);
  for (int i = 0; i < 1200 && console.first("instructor", "frame")["t"] < time; ++i)
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
  REQUIRE(console.status("instructor", "instructor", R"({"act":"freeze"})") == 200);
  REQUIRE(console.first("instructor", "frame")["t"] >= time);
}

}  // namespace

TEST_CASE("the console of several modules shows a card for each, and alarms with their module") {
  RunningConsole console(exercise(), {}, "", console_of(exercise()));
  const json plant = json::parse(console.get("operator", "/api/plant"));
  CHECK(plant["margins"].is_null());
  REQUIRE(plant["module_cards"]["cards"].size() == 6);  // outpost.yaml has six modules
  const auto has_signal = [&](const json& name) {
    for (const auto& s : plant["signals"])
      if (s["name"] == name) return true;
    return false;
  };
  for (const auto& card : plant["module_cards"]["cards"]) {
    CHECK(has_signal(card["mode"]));
    CHECK(has_signal(card["margin"]));
    CHECK(has_signal(card["service"]));
    for (const auto& name : card["values"]) CHECK(has_signal(name));
  }
  CHECK_FALSE(has_signal("coke_margin[1]"));  // what is true is the instructor's
  CHECK(alarm_in(plant["alarms"], "module-stopped")["title"] == "Module stopped");
  CHECK(alarm_in(plant["alarms"], "coke-margin-low of module 3")["title"] == "Module 3: Coke margin low");
  CHECK(alarm_in(plant["alarms"], "coke-margin-low").is_null());
  std::vector<std::string> modes;
  for (const auto& c : plant["commands"])
    if (c.contains("mode")) modes.push_back(c["mode"]);
  CHECK(modes == std::vector<std::string>{"off", "standby", "production"});
  for (const auto& c : plant["commands"])
    if (c["name"] == "demand") {
      CHECK(c["unit"] == "kg/h");
      CHECK(c["high"] >= 3.0);  // what the plant is made for
    }
}

TEST_CASE("requests and faults of a module are checked against the modules that there are") {
  RunningConsole console(exercise(), {}, "", console_of(exercise()));
  const auto command = [&](const std::string& body) { return console.status("operator", "command", body); };
  CHECK(command(R"({"name":"service","module":3,"service":"spare"})") == 200);
  CHECK(command(R"({"name":"service","module":7,"service":"out"})") == 422);
  CHECK(command(R"({"name":"service","service":"out"})") == 422);
  CHECK(command(R"({"name":"service","module":3,"service":"gone"})") == 422);
  CHECK(command(R"({"name":"demand","value":2.5})") == 200);
  const auto fault = [&](const std::string& body) {
    return console.status("instructor", "instructor", body);
  };
  CHECK(fault(R"({"act":"fault","name":"feed-valve-moved","module":2,"size":0.5})") == 200);
  CHECK(fault(R"({"act":"fault","name":"feed-valve-moved","module":9,"size":0.5})") == 422);
  CHECK(fault(R"({"act":"clear_fault","name":"feed-valve-moved","module":2})") == 200);
  const std::string acts = console.get("instructor", "/api/acts");
  CHECK(acts.find("module: 3, service: spare") != std::string::npos);
}

TEST_CASE("a module that trips raises alarms of the plant and of the module, each acknowledged by its name") {
  RunningConsole console(exercise(), {}, "", console_of(exercise()));
  run_to(console, 240.0);  // the fault is due at 180 s
  json alarms = console.first("operator", "alarms");
  REQUIRE(alarm_in(alarms, "module-stopped")["state"] == "unacknowledged");
  std::string of_module;
  for (const auto& a : alarms)
    if (a["name"].get<std::string>().ends_with(" of module 4")) of_module = a["name"];
  REQUIRE(!of_module.empty());
  const auto act = [&](const json& body) { return console.status("operator", "alarm", body.dump()); };
  CHECK(act({{"name", "module-stopped"}, {"act", "acknowledge"}}) == 200);
  CHECK(act({{"name", of_module}, {"act", "acknowledge"}}) == 200);
  CHECK(act({{"name", "module-stopped of module 4"}, {"act", "acknowledge"}}) == 422);  // a module has none
  CHECK(console.status("operator", "command", R"({"name":"service","module":4,"service":"out"})") == 200);
  run_to(console,
         console.first("operator", "frame")["t"].get<double>() + 20.0);  // it may have run on beyond 260 s
  alarms = console.first("operator", "alarms");
  CHECK(alarm_in(alarms, "module-stopped")["state"] != "unacknowledged");
  CHECK(alarm_in(alarms, of_module)["state"] != "unacknowledged");
  const json frame = console.first("operator", "frame");
  CHECK(frame["mode"] == "production");
  const json plant = json::parse(console.get("operator", "/api/plant"));
  for (std::size_t i = 0; i < plant["signals"].size(); ++i)
    if (plant["signals"][i]["name"] == "module_service[4]") CHECK(frame["values"][i] == CTL_SERVICE_OUT);
  REQUIRE(console.status("instructor", "instructor", R"({"act":"finish"})") == 200);
  const std::string debrief = console.get("instructor", "/api/debrief");
  INFO(debrief.substr(0, 600));
  CHECK(debrief.find("feed-valve-moved of module 4") != std::string::npos);
}
