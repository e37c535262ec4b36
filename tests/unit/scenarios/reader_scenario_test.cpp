// From text to structs: values in SI, defaults, what holds until the next command, settings, included files.
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "plant-model/integrate/advance.hpp"
#include "scenarios/reader/describe.hpp"
#include "scenarios/reader/scenario_file.hpp"
#include "scenarios/reader/scenario_keys.hpp"
#include "tests/support/folder.hpp"

using namespace duskline;
using namespace duskline::scenarios;
using duskline::tests::Folder;

namespace {

const std::filesystem::path kPlants = DUSKLINE_SOURCE_DIR "/plant-model/plants";
const std::string kLeast = "format: duskline-scenario/1\ntitle: t\nduration: 1 h\nplant: bench\n";

Result<Case> parse(const std::string& text, std::vector<std::string> settings = {},
                   const std::filesystem::path& folder = ".") {
  return parse_case(text, "s.yaml", folder, kPlants, settings);
}

Case read(const std::string& text, std::vector<std::string> settings = {}) {
  auto outcome = parse(text, std::move(settings));
  INFO(to_text(outcome.problems));
  REQUIRE(outcome);
  return *outcome.value;
}

std::string problems(const std::string& text, std::vector<std::string> settings = {}) {
  const auto outcome = parse(text, std::move(settings));
  CHECK_FALSE(outcome);
  return to_text(outcome.problems);
}

double plenum_volume(const PlantFile& plant) {
  return plant.parameters.flow.plenum_volume;
}

// Writes a file into a folder and gives its path.
std::string write(const Folder& folder, const std::string& name, const std::string& bytes) {
  std::ofstream{folder.file(name), std::ios::binary} << bytes;
  return folder.file(name);
}

}  // namespace

TEST_CASE("The example of the reference reads, and every value arrives in SI") {
  const Case c = read(scenario_example());
  const Scenario& s = c.scenario;
  CHECK(s.title == "A sol at equinox");
  CHECK(s.seed == 7);
  CHECK(s.duration == 88775.244);  // s, 1 sol
  CHECK(s.period == 1.0);
  CHECK(s.record == 10.0);
  CHECK(s.site == "ember-hollow");
  CHECK(s.start.season == Approx(std::numbers::pi).epsilon(1e-14));  // 180 deg
  CHECK(s.start.local_time_h == 5.0);
  REQUIRE(s.storms.size() == 1);
  CHECK(s.storms[0].start == 7200.0);
  CHECK(s.storms[0].rise == 10800.0);
  CHECK(s.storms[0].decay == 10.0 * 88775.244);
  CHECK(s.controller.law == CTL_LAW_CASCADE);
  CHECK(s.controller.margin_setpoint == 0.050F);
  REQUIRE(s.commands.size() == 2);
  CHECK(s.commands[0].mode == CTL_WARM_UP);
  CHECK(s.commands[1].oxygen_demand == 10.0 / 3.6e6);  // 10 g/h
  REQUIRE(s.events.size() == 1);
  CHECK(s.events[0].parameter == "stack.resistance_factor.4");
  CHECK(s.events[0].to == 1.5);
  CHECK(c.plant.name == "bench");
  CHECK(periods(s) == 88775);
}

TEST_CASE("The methods of integration are those of the plant, in the same order") {
  STATIC_REQUIRE(static_cast<int>(Integration::linearly_implicit) ==
                 static_cast<int>(plant::Method::linearly_implicit));
  STATIC_REQUIRE(static_cast<int>(Integration::rosenbrock4) == static_cast<int>(plant::Method::rosenbrock4));
  STATIC_REQUIRE(static_cast<int>(Integration::dormand_prince) ==
                 static_cast<int>(plant::Method::dormand_prince));
}

TEST_CASE("Texts that are empty or hold several lines are refused where one line is meant") {
  const std::string start = "format: duskline-scenario/1\nduration: 1 h\nplant: bench\n";
  CHECK(problems(kLeast + "requirements:\n  - {name: a, must: \"\"}\n") ==
        "s.yaml:6:21: requirements[1].must: is empty (the requirement, in words and units)\n");
  CHECK(problems(start + "title: \" \"\n") == "s.yaml:4:8: title: is empty (what happens, in a line)\n");
  CHECK(problems(start + "title: \"a\\nb\"\n") == "s.yaml:4:8: title: is a text of one line\n");
  CHECK(problems(kLeast, {"title=a\nb"}) == "--set:1:7: title: is a text of one line\n");
  CHECK(read(kLeast + "purpose: |\n  One line.\n  Another.\n").scenario.purpose == "One line.\nAnother.\n");
}

TEST_CASE("A path of many keys is refused, whatever it would make") {
  std::string path = "flow";
  for (int i = 0; i < 400; ++i) path += ".a";
  CHECK(problems(kLeast + "plant_overrides: {" + path + ": 1}\n").find("a path has at most 24 keys") !=
        std::string::npos);
}

TEST_CASE("Messages show control characters and broken bytes by their codes") {
  // Unicode 15: U+001B, U+009B (bytes C2 9B); U+FFFD in place of a byte that is no UTF-8
  CHECK(to_text(Problem{"a\x1b[2J\n", 1, 2, "b\xC2\x9B", "c\xFF\t"}) ==
        "a\\x1b[2J\\n:1:2: b\\x9b: c\xEF\xBF\xBD\\t");
}

TEST_CASE("What is left out has its default") {
  const Scenario s = read(kLeast).scenario;
  CHECK(s.seed == 1);
  CHECK(s.period == 1.0);
  CHECK(s.record == s.period);
  CHECK(s.turbulence == 1.0);
  CHECK(s.weather.empty());
  CHECK(s.initial.state == InitialState::cold);
  CHECK(s.initial.stack_temperature == 230.0);
  CHECK(s.initial.cathode_co == 0.0);
  CHECK(s.integrator.method == Integration::linearly_implicit);
  CHECK(s.integrator.relative_tolerance == 5e-4);
  for (const ControllerParameter& parameter : controller_parameters())
    CHECK(s.controller.*parameter.member == parameter.value);
}

TEST_CASE("Defaults that follow from other keys") {
  CHECK(read(kLeast + "period: 0.1 s\n").scenario.record == 0.1);
  CHECK(read(kLeast + "period: 0.1 s\n").scenario.controller.period == 0.1F);
  const Initial hot = read(kLeast + "initial: {state: producing}\n").scenario.initial;
  CHECK(hot.stack_temperature == 800.0 + 273.15);
  CHECK(hot.cathode_co == 0.5);
  const Initial cooler =
      read(kLeast + "initial: {state: hot-standby, stack_temperature: 750 degC}\n").scenario.initial;
  CHECK(cooler.stack_temperature == 750.0 + 273.15);
  CHECK(cooler.cathode_co == 0.3);
}

TEST_CASE("A command holds what it leaves out") {
  const auto commands = read(kLeast +
                             "commands:\n"
                             "  - {at: 0 s, mode: production, demand: 8 g/h}\n"
                             "  - {at: 10 min, power_ceiling: 250 W}\n"
                             "  - {at: 20 min, demand: 9 g/h, power_ceiling: none}\n"
                             "  - {at: 30 min, mode: off}\n")
                            .scenario.commands;
  REQUIRE(commands.size() == 4);
  CHECK(std::isnan(commands[0].power_ceiling));
  CHECK(commands[1].mode == CTL_PRODUCTION);
  CHECK(commands[1].oxygen_demand == 8.0 / 3.6e6);
  CHECK(commands[1].power_ceiling == 250.0);
  CHECK(std::isnan(commands[2].power_ceiling));
  CHECK(commands[3].mode == CTL_OFF);
  CHECK(commands[3].oxygen_demand == 9.0 / 3.6e6);
}

TEST_CASE("The operator answers alarms in the order of time") {
  const auto actions = read(kLeast +
                            "operator:\n"
                            "  - {at: 2 h, action: acknowledge-all}\n"
                            "  - {at: 2 h, action: shelve, alarm: filter-loaded, for: 30 min}\n"
                            "  - {at: 3 h, action: reset, alarm: trip-over-voltage}\n")
                           .scenario.operator_actions;
  REQUIRE(actions.size() == 3);
  CHECK(actions[0].action == CTL_ALARM_ACKNOWLEDGE_ALL);
  CHECK(actions[0].alarm == CTL_ALARMS);
  CHECK(actions[1].action == CTL_ALARM_SHELVE);
  CHECK(actions[1].alarm == CTL_ALARM_FILTER);
  CHECK(actions[1].duration == 1800.0);
  CHECK(actions[2].alarm == CTL_ALARM_TRIP_VOLTAGE);
}

TEST_CASE("The fixed law takes its table") {
  const ctl_params p = read(kLeast +
                            "controller:\n  law: fixed\n  table:\n"
                            "    - {at: 0 h, speed: 3000 rpm, current: 0 A}\n"
                            "    - {at: 4 h, speed: 350 rad/s, current: 4 A}\n")
                           .scenario.controller;
  CHECK(p.law == CTL_LAW_FIXED);
  REQUIRE(p.table_rows == 2);
  CHECK(p.table_time[1] == 14400.0F);
  CHECK(p.table_speed[0] == Approx(3000.0 * 2.0 * std::numbers::pi / 60.0).epsilon(1e-6));  // float
  CHECK(p.table_current[1] == 4.0F);
}

TEST_CASE("Settings come before the checks and reach every key") {
  const std::string text = kLeast + "commands: [{at: 0 s, demand: 1 g/h}]\n";
  const Case c =
      read(text, {"duration=2 h", "commands[1].demand=8 g/h", "controller.parameters.margin_setpoint=20 mV",
                  "plant.flow.plenum_volume=0.6 L", "start.season=90 deg", "title=a: b"});
  CHECK(c.scenario.duration == 7200.0);
  CHECK(c.scenario.commands[0].oxygen_demand == 8.0 / 3.6e6);
  CHECK(c.scenario.controller.margin_setpoint == 0.020F);
  CHECK(plenum_volume(c.plant) == 0.6e-3);
  CHECK(c.scenario.title == "a: b");
  CHECK(problems(text, {"duration=2 kg", "seed=x"}) ==
        "--set:1:10: duration: '2 kg': unit 'kg' does not fit s\n"
        "--set:2:6: seed: 'x' is not a whole number from 0 to 18446744073709551615\n");
  CHECK(problems(text, {"controller.parameters.margin_setpint=20 mV"}) ==
        "--set:1:23: controller.parameters.margin_setpint: unknown key; did you mean 'margin_setpoint'?\n");
  CHECK(problems(text, {"plant.flow.plenum_volum=1 L"}) ==
        "--set:1:12: plant.flow.plenum_volum: unknown key; did you mean 'plenum_volume'?\n");
  CHECK(problems(text, {"plant.plenum_volume=1 L"}) ==
        "--set:1:7: plant.plenum_volume: unknown key; did you mean 'flow.plenum_volume'?\n");
}

TEST_CASE("Overrides in the scenario change the plant and leave a note in its source") {
  const PlantFile plain = read(kLeast).plant;
  const PlantFile dotted = read(kLeast + "plant_overrides: {flow.plenum_volume: 0.6 L}\n").plant;
  const PlantFile nested = read(kLeast + "plant_overrides:\n  flow: {plenum_volume: 0.6 L}\n").plant;
  CHECK(plenum_volume(dotted) == 0.6e-3);
  CHECK(plenum_volume(nested) == 0.6e-3);
  CHECK(plenum_volume(plain) != 0.6e-3);
  const auto table = plant::parameter_table();
  for (std::size_t i = 0; i < table.size(); ++i) {
    if (table[i].path == "flow.plenum_volume")
      CHECK(dotted.notes[i].source.find("set to 0.6 L; before ") == 0);
    else
      CHECK(dotted.notes[i].source == plain.notes[i].source);
  }
  const Case both =
      read(kLeast + "plant_overrides: {flow.plenum_volume: 0.6 L}\n", {"plant.flow.plenum_volume=0.7 L"});
  CHECK(plenum_volume(both.plant) == 0.7e-3);  // the command line has the last word
  CHECK(problems(kLeast + "plant_overrides: {flow.plenum_volum: 0.6 L, stack.flow_share.20: 1}\n") ==
        "s.yaml:5:19: plant.flow.plenum_volum: unknown key; did you mean 'plenum_volume'?\n"
        "s.yaml:5:45: stack.flow_share.20: there is no item [20]; the list has 8, counted from 1\n");
}

TEST_CASE("Each value is overridden once and with something") {
  const auto said = [](const std::string& inside) {
    return problems(kLeast + "plant_overrides: {" + inside + "}\n");
  };
  CHECK(said("compressor.displacement: 900 kg, compressor: {displacement: 18 cm3}")
            .find("s.yaml:5:65: compressor.displacement: is given twice (first at line 5)\n") !=
        std::string::npos);
  for (const char* inside :
       {"stack.resistance_factor.3: 1, 'stack.resistance_factor[3]': 1.1",
        "stack.resistance_factor.3: 1, stack.resistance_factor: [1, 1, 1, 1, 1, 1, 1, 1]",
        "stack.resistance_factor: [1, 1, 1, 1, 1, 1, 1, 1], stack.resistance_factor.3: 1"})
    CHECK(said(inside).find(": is given twice") != std::string::npos);
  CHECK(said("nosuch: {}") == "s.yaml:5:19: nosuch: holds no value\n");
  CHECK(said("compressor: {displacement: {}}") == "s.yaml:5:32: compressor.displacement: holds no value\n");
}

TEST_CASE("A scenario may include a controller file, and its own keys prevail") {
  const Folder folder{"reader-scenario"};
  write(folder, "tuned.yaml",
        "format: duskline-controller/1\ntitle: tuned\nlaw: cascade\n"
        "parameters: {margin_setpoint: 30 mV, margin_trip: 12 mV}\n");
  const std::string text = kLeast + "controller: {file: tuned.yaml, parameters: {margin_trip: 15 mV}}\n";
  const auto outcome = parse(text, {}, folder.path());
  INFO(to_text(outcome.problems));
  REQUIRE(outcome);
  CHECK(outcome.value->scenario.controller.margin_setpoint == 0.030F);
  CHECK(outcome.value->scenario.controller.margin_trip == 0.015F);

  write(folder, "tuned.yaml", "format: duskline-controller/1\nparameters: {margin_setpoit: 30 mV}\n");
  const auto wrong = parse(text, {}, folder.path());
  CHECK(to_text(wrong.problems) ==
        folder.file("tuned.yaml") +
            ":2:14: controller.parameters.margin_setpoit: unknown key; did you mean "
            "'margin_setpoint'?\n");
  CHECK(problems(kLeast + "controller: {file: none.yaml}\n") ==
        "s.yaml:5:20: controller.file: there is no file 'none.yaml' in the folder of the scenario\n");
}

TEST_CASE("Parameters of the plant controller belong to a plant with headers") {
  const std::string key = "plant_controller: {parameters: ";
  CHECK(problems(kLeast + key + "{header_pressure: 60 kPa}}\n")
            .find("plant_controller: this plant has one module and no headers") != std::string::npos);
  CHECK(problems(kLeast + key + "{pressure_gian: 0.01 rad/s/Pa}}\n")
            .find("plant_controller.parameters.pressure_gian: unknown key; did you mean 'pressure_gain'?") !=
        std::string::npos);
}

TEST_CASE("A controller file written is the controller read") {
  const Folder folder{"reader-controller"};
  const Scenario usual = default_scenario();
  ControllerFile both{usual.controller, usual.plant_controller};
  ctl_params& params = both.controller;
  params.margin_setpoint = 0.0333F;
  both.plant_controller.pressure_gain = 0.0123F;
  params.law = CTL_LAW_FIXED;
  params.table_rows = 1;
  params.table_speed[0] = 1.0F / 3.0F;
  write(folder, "c.yaml", write_controller(both, "mine \"quoted\""));
  const auto read_back = read_controller(folder.file("c.yaml"));
  INFO(to_text(read_back.problems));
  REQUIRE(read_back);
  CHECK(write_controller(*read_back.value, "") == write_controller(both, ""));
  CHECK(read_back.value->controller.table_speed[0] == params.table_speed[0]);
  // only what differs from the defaults stands in it
  const std::string text = write_controller(both, "");
  CHECK(text.find("margin_setpoint: ") != std::string::npos);
  CHECK(text.find("flow_gain: ") == std::string::npos);
  CHECK(read_back.value->plant_controller.pressure_gain == 0.0123F);
  CHECK(std::isnan(read_back.value->plant_controller.pressure_time));
  CHECK(text.find("pressure_time: ") == std::string::npos);
  CHECK(write_controller({usual.controller, usual.plant_controller}, "").find("parameters:") ==
        std::string::npos);
}

TEST_CASE("Weather is looked for beside the scenario") {
  const Folder folder{"reader-weather"};
  write(folder, "w.csv", "time [s], pressure [Pa]\n0, 700\n");
  const auto outcome = parse(kLeast + "weather: w.csv\n", {}, folder.path());
  REQUIRE(outcome);
  CHECK(outcome.value->weather_file == folder.file("w.csv"));
  CHECK(outcome.value->scenario.weather == "w.csv");
  CHECK(problems(kLeast + "weather: w.csv\n") ==
        "s.yaml:5:10: weather: there is no file 'w.csv' in the folder of the scenario\n");
}

TEST_CASE("Events change one item, all items, or one number") {
  plant::PlantParameters parameters = read(kLeast).plant.parameters;
  const double before = parameters.stack.flow_share[0];
  apply(Event{0.0, "stack.flow_share.3", 0.7}, parameters);
  CHECK(parameters.stack.flow_share[2] == 0.7);
  CHECK(parameters.stack.flow_share[0] == before);
  apply(Event{0.0, "stack.flow_share", 0.8}, parameters);
  for (double share : parameters.stack.flow_share) CHECK(share == 0.8);
  apply(Event{0.0, "flow.plenum_volume", 1e-3}, parameters);
  CHECK(parameters.flow.plenum_volume == 1e-3);
  CHECK(problems(kLeast + "events: [{at: 1 h, set: plant.flow.plenum_volume.1, to: 1 L}]\n") ==
        "s.yaml:5:25: events[1].set: 'plant.flow.plenum_volume' is one number and has no item [1]\n");
  CHECK(problems(kLeast + "events: [{at: 1 h, set: plant.flow.plenum_volume, to: 1 s}]\n") ==
        "s.yaml:5:55: events[1].to: '1 s': unit 's' does not fit m3\n");
}

TEST_CASE("Events change what the plant has and leave a plant that can be run") {
  const auto said = [](const std::string& change) {
    return problems(kLeast + "events: [{at: 1 s, set: plant." + change + "}]\n");
  };
  CHECK(
      said("stack.zone, to: 4") ==
      "s.yaml:5:47: events[1].to: then plant.stack.zone leaves zone 0 without a cell; each of the zones 0 to "
      "4 needs one\n");
  CHECK(said("stack.zone.3, to: 2.5") ==
        "s.yaml:5:49: events[1].to: then plant.stack.zone[3] is no zone; expected a whole number from 0 to "
        "4\n");
  CHECK(said("stack.repeats, to: 2.5").find("is a number of cells; expected a whole number") !=
        std::string::npos);
  CHECK(said("valves.lag, to: 1 s") ==
        "s.yaml:5:25: events[1].set: 'plant.valves.lag' belongs to plants of another form\n");
  // what one instant leaves counts, not what each of its events does
  read(kLeast +
       "events:\n  - {at: 1 s, set: plant.stack.zone, to: 0}\n  - {at: 1 s, set: plant.stack.zone.5, to: 1}\n"
       "  - {at: 1 s, set: plant.stack.zone.6, to: 2}\n  - {at: 1 s, set: plant.stack.zone.7, to: 3}\n"
       "  - {at: 1 s, set: plant.stack.zone.8, to: 4}\n");
}

TEST_CASE("The conditions of a lesson are read with the scenario") {
  const std::vector<TraceSignal> signals{{"bus_power", "W", 1, {}, false}};
  const auto outcome = parse_case(kLeast +
                                      "exercise:\n  objective: o\n  lesson:\n"
                                      "    - {title: a, text: b, done_when: \"bus_pwer > 1 W\"}\n",
                                  "s.yaml", ".", kPlants, {}, signals);
  CHECK_FALSE(outcome);
  CHECK(to_text(outcome.problems) ==
        "s.yaml:8:38: exercise.lesson[1].done_when: there is no signal 'bus_pwer'; did you mean 'bus_power'? "
        "(column 1 of the sentence)\n");
}

TEST_CASE("Checks across keys") {
  CHECK(problems(kLeast + "period: 2 h\n").find("s.yaml:5:9: period: 2 h is outside [") == 0);
  CHECK(problems(kLeast + "record: 1.5 s\n") ==
        "s.yaml:5:9: record: 1.5 s is not a whole number of periods of 1 s\n");
  CHECK(problems(kLeast, {"duration=0.5 s"}) ==
        "--set:1:10: duration: 0.5 s is shorter than one period of 1 s\n");
  CHECK(problems(kLeast + "period: 10 ms\n", {"duration=602 sol"}).find("is more than 4294967295 periods") !=
        std::string::npos);
  CHECK(problems(kLeast + "controller: {law: fixed}\n") ==
        "s.yaml:5:19: controller.law: the fixed law needs rows in controller.table\n");
  CHECK(problems(kLeast + "commands: [{at: 2 h}, {at: 1 h}, {at: 1 h}]\n") ==
        "s.yaml:5:28: commands[2].at: 3600 s is not after 7200 s, the time before it\n"
        "s.yaml:5:39: commands[3].at: 3600 s is not after 3600 s, the time before it\n");
}

TEST_CASE("All problems of all files come at once, the command line first, then in the order of the text") {
  CHECK(problems("format: duskline-scenario/1\n"
                 "sede: 3\n"
                 "duration: 3 mim\n"
                 "plant: bnch\n"
                 "start: {season: 400 deg, seasn: 3}\n"
                 "commands:\n"
                 "  - {mode: prodution, at: x}\n",
                 {"site=nowhere"}) ==
        "--set:1:6: site: 'nowhere' is not known; expected ember-hollow | tallow-reach | kestrel-rise\n"
        "s.yaml:1:1: title: is missing (what happens, in a line)\n"
        "s.yaml:2:1: sede: unknown key; did you mean 'seed'?\n"
        "s.yaml:3:11: duration: '3 mim': unknown unit 'mim'; did you mean 'min'?\n"
        "s.yaml:4:8: plant: there is no plant 'bnch'; did you mean 'bench'?\n"
        "s.yaml:5:17: start.season: 400 deg is outside [0, 360] deg\n"
        "s.yaml:5:26: start.seasn: unknown key; did you mean 'season'?\n"
        "s.yaml:7:12: commands[1].mode: 'prodution' is not known; did you mean 'production'?\n"
        "s.yaml:7:27: commands[1].at: 'x' is not a number; expected a number with a unit that fits s\n");
}

TEST_CASE("Faults take what is left out from the fault table") {
  const Case c =
      read(kLeast +
           "faults:\n"
           "  - {at: 2 min, fault: seal-leak}\n"
           "  - {at: 1 min, fault: zone-thermocouple-drifting, size: -20 K, item: 5, rise: 10 min}\n"
           "  - {at: 3 min, fault: bus-loss, length: none}\n"
           "  - {at: 3 min, fault: cell-resistive, shape: pulse}\n"
           "  - {at: 4 min, fault: controller-reset}\n"
           "  - {at: 5 min, fault: gust, size: 90 km/h, length: 1 min}\n");
  const auto& f = c.scenario.faults;
  REQUIRE(f.size() == 6);
  CHECK(f[0].at == 120.0);
  CHECK(f[0].fault == "seal-leak");
  CHECK(f[0].size == plant::find_fault("seal-leak")->size);
  CHECK(f[0].shape == plant::FaultShape::step);
  CHECK(std::isnan(f[0].length));
  CHECK(f[1].size == -20.0);
  CHECK(f[1].item == 4);
  CHECK(f[1].shape == plant::FaultShape::ramp);
  CHECK(f[1].rise == 600.0);
  CHECK(std::isnan(f[2].length));    // the table has 600 s
  CHECK(f[3].length == 3600.0);      // of a pulse, see the key
  CHECK(f[5].size == Approx(25.0));  // m/s
  CHECK(f[5].length == 60.0);
}

TEST_CASE("Faults and requests name a module of a plant with several") {
  // without the signals of the outpost its plant is refused as well, in line 3
  const auto of_outpost = [](const std::string& text) {
    std::string all =
        problems("format: duskline-scenario/1\ntitle: t\nplant: outpost\nduration: 1 min\n" + text);
    return all.starts_with("s.yaml:3:8: plant:") ? all.substr(all.find('\n') + 1) : all;
  };
  CHECK(of_outpost("faults:\n  - {at: 1 s, fault: cell-starved, module: 7}\n") ==
        "s.yaml:6:44: faults[1].module: there is no module 7; this plant has 6, counted from 1\n");
  CHECK(of_outpost("faults:\n  - {at: 1 s, fault: cell-starved, module: 0}\n") ==
        "s.yaml:6:44: faults[1].module: there is no module 0; this plant has 6, counted from 1\n");
  CHECK(of_outpost("faults:\n  - {at: 1 s, fault: bus-sag, module: 1}\n") ==
        "s.yaml:6:39: faults[1].module: 'bus-sag' is of what the modules share; leave the module out\n");
  CHECK(
      of_outpost("faults:\n  - {at: 1 s, fault: exhaust-clogged}\n") ==
      "s.yaml:6:22: faults[1].fault: 'exhaust-clogged' acts on plant.flow.exhaust_aperture, which this plant "
      "does not have\n");
  CHECK(
      of_outpost("faults:\n  - {at: 1 s, fault: plenum-pressure-bias}\n") ==
      "s.yaml:6:22: faults[1].fault: 'plenum-pressure-bias' acts on the reading of plenum_pressure, which a "
      "module of this plant does not have itself\n");
  CHECK(
      of_outpost("faults:\n  - {at: 1 s, fault: compressor-trip}\n") ==
      "s.yaml:6:22: faults[1].fault: 'compressor-trip' acts on the command compressor_speed, which a module "
      "of this plant does not have\n");
  CHECK(problems(kLeast + "faults:\n  - {at: 1 s, fault: train-trip}\n") ==
        "s.yaml:6:22: faults[1].fault: 'train-trip' needs a plant with headers\n");
  CHECK(
      problems(kLeast + "faults:\n  - {at: 1 s, fault: feed-valve-stuck}\n") ==
      "s.yaml:6:22: faults[1].fault: 'feed-valve-stuck' acts on the command feed_opening, which a module of "
      "this plant does not have\n");
  CHECK(problems(kLeast + "faults:\n  - {at: 1 s, fault: cell-starved, module: 1}\n") ==
        "s.yaml:6:44: faults[1].module: this plant has one module, which is not named\n");
  CHECK(of_outpost("commands:\n  - {at: 1 s, module: 9, service: out}\n") ==
        "s.yaml:6:23: commands[1].module: there is no module 9; this plant has 6, counted from 1\n");
  CHECK(of_outpost("commands:\n  - {at: 1 s, module: 2}\n") ==
        "s.yaml:6:23: commands[1].module: needs a service: in, spare or out\n");
  CHECK(of_outpost("commands:\n  - {at: 1 s, service: out}\n") ==
        "s.yaml:6:24: commands[1].service: needs a module\n");
  CHECK(of_outpost("commands:\n  - {at: 1 s, module: 2, service: aut}\n").find("did you mean 'out'?") !=
        std::string::npos);
}

TEST_CASE("What is wrong with a fault is located, with a suggestion") {
  CHECK(problems(kLeast + "faults:\n  - {at: 1 min, fault: seal-leek}\n") ==
        "s.yaml:6:24: faults[1].fault: 'seal-leek' is not known; did you mean 'seal-leak'?\n");
  CHECK(problems(kLeast + "faults:\n  - {at: 1 min, fault: cell-cracked, item: 9}\n") ==
        "s.yaml:6:44: faults[1].item: there is no item 9; 'cell-cracked' has 8, counted from 1\n");
  CHECK(problems(kLeast + "faults:\n  - {at: 1 min, fault: cell-cracked, item: 0}\n") ==
        "s.yaml:6:44: faults[1].item: there is no item 0; 'cell-cracked' has 8, counted from 1\n");
  CHECK(problems(kLeast + "faults:\n  - {at: 1 min, fault: converter-off, size: 2}\n") ==
        "s.yaml:6:39: faults[1].size: unknown key\n");
  CHECK(problems(kLeast + "faults:\n  - {at: 1 min, fault: bus-sag, size: 2 Pa}\n").find("faults[1].size") !=
        std::string::npos);
  CHECK(problems(kLeast + "faults:\n  - {at: 1 min, fault: bus-sag, shape: pulse, length: none}\n") ==
        "s.yaml:6:55: faults[1].length: a pulse needs a length\n");
  CHECK(problems(kLeast + "faults:\n  - {fault: bus-sag}\n") ==
        "s.yaml:6:5: faults[1].at: is missing (when the fault sets in)\n");
}
