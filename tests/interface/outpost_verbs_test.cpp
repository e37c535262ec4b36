// The verbs that search, tune and link, on a plant of several modules between headers.
#include <catch2/catch.hpp>
#include <filesystem>

#include <nlohmann/json.hpp>

#include "tests/support/child.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/toolchain.hpp"

using namespace duskline::tests;
using nlohmann::json;

namespace {

/// A minute at noon, in which the feed valve of one module moves.
const std::string kMinute =
    "format: duskline-scenario/1\ntitle: A minute at noon\nplant: outpost\nseed: 3\nduration: 60 s\nrecord: "
    "5 s\n"
    "start: {season: 180 deg, local_time: 12 h}\n"
    "initial: {state: producing, stack_temperature: 800 degC, cathode_co: 40 %}\n"
    "commands:\n  - {at: 0 s, mode: production, demand: 3 kg/h}\n"
    "faults:\n  - {at: 20 s, fault: feed-valve-moved, module: 4, size: 0.9}\n"
    "controller: {law: cascade}\n"
    "requirements:\n  - {name: no coke, must: \"always (least coke_margin > 10 mV)\"}\n";

const std::string kFalsify =
    "falsify:\n  requirement: no coke\n  runs: 6\n  vary:\n    - {set: faults.1.size, from: \"0.6\", to: "
    "\"1\"}\n";

const std::string kTuning =
    "tuning:\n  vary:\n    - {set: controller.parameters.flow_gain, from: \"0.1\", to: \"2\", scale: log}\n"
    "    - {set: plant_controller.parameters.pressure_gain, from: 0.004 rad/s/Pa, to: 0.04 rad/s/Pa, scale: "
    "log}\n"
    "  objectives:\n    - {name: oxygen, aim: \"least mean over time after 5 s of magnitude of "
    "(plant_oxygen_rate - plant_oxygen_demand) per 0.1 kg/h\"}\n"
    "  draws: 1\n  held_out: 2\n  budget: 3\n  population: 5\n";

std::string written(const Folder& folder, const std::string& more) {
  const std::string path = folder.file("minute.yaml");
  std::ofstream(path) << kMinute << more;
  return path;
}

double margin_in(const std::string& summary) {
  const json all = json::parse(bytes_of(summary));
  for (const auto& r : all["requirements"])
    if (r["name"] == "no coke") return r["margin"];
  return NAN;
}

}  // namespace

TEST_CASE("falsify searches a scenario of several modules, and its worst run replays to the same margin") {
  const Folder folder("outpost-falsify");
  const std::string scenario = written(folder, kFalsify), out = folder.file("found");
  const Child search = run_duskline({"falsify", scenario, "--out", out, "--quiet"});
  INFO(search.err);
  REQUIRE((search.exit_code == 0 || search.exit_code == 1));
  const json found = json::parse(bytes_of(out + "/falsify.json"));
  const std::string again = folder.file("again");
  const Child replay = run_duskline({"run", out + "/worst.yaml", "--out", again, "--quiet", "--no-record"});
  INFO(replay.err);
  CHECK(replay.exit_code == search.exit_code);
  CHECK(margin_in(again + "/summary.json") * 1e-3 ==  // mV
        Approx(found["closest"]["margin"].get<double>()).epsilon(1e-12));
}

TEST_CASE(
    "tune moves the gains of the modules and of the plant controller over dispersed plants of several") {
  const Folder folder("outpost-tune");
  const std::string scenario = written(folder, kTuning), out = folder.file("tuned");
  const Child tuned = run_duskline({"tune", scenario, "--out", out, "--quiet"});
  INFO(tuned.err);
  REQUIRE(tuned.exit_code == 0);
  const json result = json::parse(bytes_of(out + "/tune.json"));
  CHECK(result["candidates"] >= 3);  // the budget
  std::set<std::string> costs;
  std::istringstream journal(bytes_of(out + "/journal.jsonl"));
  for (std::string line; std::getline(journal, line);)
    if (const json one = json::parse(line); one.contains("cost")) costs.insert(one["cost"].dump());
  CHECK(costs.size() > 1);  // the gain reaches the controllers of the modules
  CHECK(has(bytes_of(out + "/report.html"), "Feed header"));
  const std::string page = bytes_of(out + "/controller.yaml");
  CHECK(has(page, "flow_gain"));
  CHECK(has(page, "plant_controller:"));
  CHECK(has(page, "pressure_gain"));
  // and a run takes it
  const Child with = run_duskline({"run", scenario, "--set", "controller.file=" + out + "/controller.yaml",
                                   "--set", "duration=5 s", "--out", folder.file("with"), "--quiet"});
  INFO(with.err);
  CHECK(has(bytes_of(folder.file("with") + "/scenario.resolved.yaml"), "\nplant_controller:"));
  const Child relay = run_duskline({"tune", scenario, "--relay", "--out", folder.file("relay")});
  CHECK(relay.exit_code == 2);
  CHECK(has(relay.err, "this plant has several"));
}

TEST_CASE("controllers of one's own work between headers: of modules, and of the plant") {
  const Folder folder("outpost-links");
  const std::string scenario = written(folder, ""), ours = folder.file("ours.so"),
                    mine = folder.file("mine.so");
  std::string sources;
  for (const std::string& source : duskline::test::controller_sources()) sources += source + " ";
  const std::string shared = " -O2 -fPIC -shared -ffp-contract=off -I " DUSKLINE_SOURCE_DIR " ";
  const auto built = duskline::test::run_command(
      "g++ -std=c++20 -ffreestanding -fno-math-errno -fno-exceptions -fno-rtti" + shared + sources + "-o " +
      ours + " && gcc -std=c11" + shared + DUSKLINE_SOURCE_DIR "/docs/how-to/controllers/proportional.c -o " +
      mine + " -lm");
  INFO(built.text);
  REQUIRE(built.status == 0);
  const auto run = [&](const std::string& out, std::vector<std::string> links, const char* verb = "run") {
    std::vector<std::string> call{verb, scenario, "--out", folder.file(out), "--quiet"};
    for (std::string& link : links) call.insert(call.end(), {"--link", std::move(link)});
    if (std::string(verb) == "hil") call.insert(call.end(), {"--speed", "60"});
    const Child child = run_duskline(call);
    INFO(child.err);
    CHECK((child.exit_code == 0 || out == "other"));  // it knows nothing of the 10 mV
    return json::parse(bytes_of(folder.file(out) + "/summary.json"));
  };
  const auto bytes = [&](const std::string& out) { return bytes_of(folder.file(out) + "/trace.nc"); };
  CHECK_FALSE(run("inside", {}).contains("controller"));
  CHECK(run("all", {"plugin:" + ours})["controller"]["is"] == "plug-in ours.so");
  run("two", {"3=plugin:" + ours, "6=plugin:" + ours}, "hil");
  CHECK(bytes("inside").size() > 10000);
  CHECK((bytes("inside") == bytes("all")));
  CHECK((bytes("inside") == bytes("two")));
  CHECK(run("plant", {"plant=plugin:" + ours})["controller"]["is"] == "plant controller: plug-in ours.so");
  CHECK((bytes("inside") == bytes("plant")));
  const Child resumed = run_duskline({"run", scenario, "--link", "plant=plugin:" + ours, "--out",
                                      folder.file("plant"), "--resume", "--quiet"});
  CHECK(resumed.exit_code == 2);
  CHECK(has(resumed.err, "a run with a controller outside this program has no checkpoint"));
  run("each", {"plugin:" + ours, "plant=plugin:" + ours}, "hil");
  CHECK((bytes("inside") == bytes("each")));
  CHECK(json::parse(bytes_of(folder.file("two") + "/timing.json"))["ticks"] == 60);
  CHECK(run("other", {"2=plugin:" + mine})["controller"]["is"] == "module 2: plug-in mine.so");
  CHECK_FALSE((bytes("inside") == bytes("other")));
}

TEST_CASE("a module controller that gives up is named with its module, and what was recorded is kept") {
  const Folder folder("outpost-link-lost");
  const std::string scenario = written(folder, ""), source = folder.file("leaves.c"),
                    out = folder.file("out");
  std::ofstream(source)
      << "#include <stdlib.h>\n#include \"controller/include/controller.h\"\n"
         "uint32_t ctl_abi_version(void) { return CTL_ABI_VERSION; }\n"
         "ctl_status ctl_init(ctl_state* s, const ctl_params* p) { (void)s, (void)p; return CTL_OK; }\n"
         "ctl_status ctl_step(ctl_state* s, const ctl_params* p, const ctl_inputs* in, ctl_outputs* out) "
         "{ (void)s, (void)p, (void)out; if (in->tick >= 20) exit(4); return CTL_OK; }\n";
  const auto built = duskline::test::run_command("gcc -std=c11 -shared -fPIC -I " DUSKLINE_SOURCE_DIR " " +
                                                 source + " -o " + folder.file("leaves.so"));
  INFO(built.text);
  REQUIRE(built.status == 0);
  const Child child = run_duskline(
      {"run", scenario, "--link", "5=plugin:" + folder.file("leaves.so"), "--out", out, "--quiet"});
  CHECK(child.exit_code == 3);
  CHECK(has(child.err, "module 5: leaves.so: ended its process with exit code 4"));
  CHECK(has(child.err, "controller failed at 20.000 s"));
  CHECK(bytes_of(out + "/trace.nc").size() > 1000);
}

TEST_CASE("a plant controller of one's own is refused or named by what it does wrong") {
  const Folder folder("outpost-plant-link");
  const std::string scenario = written(folder, "");
  const auto made = [&](const std::string& name, const std::string& code) {
    const std::string source = folder.file(name + ".c"), out = folder.file(name + ".so");
    std::ofstream(source)
        << "#include <math.h>\n#include <stdlib.h>\n#include \"controller/include/plant_controller.h\"\n"
        << code;
    const auto built = duskline::test::run_command("gcc -std=c11 -shared -fPIC -I " DUSKLINE_SOURCE_DIR " " +
                                                   source + " -o " + out);
    INFO(built.text);
    REQUIRE(built.status == 0);
    return "plant=plugin:" + out;
  };
  const auto stepped = [&](const std::string& name, const std::string& step,
                           const std::string& version = "CTL_PLANT_ABI_VERSION") {
    return made(name, "uint32_t ctl_plant_abi_version(void) { return " + version +
                          "; }\n"
                          "ctl_status ctl_plant_init(ctl_plant_state* s, const ctl_plant_params* p) "
                          "{ (void)s, (void)p; return CTL_OK; }\n"
                          "ctl_status ctl_plant_step(ctl_plant_state* s, const ctl_plant_params* p, "
                          "const ctl_plant_inputs* in, ctl_plant_outputs* out) "
                          "{ (void)s, (void)p, (void)in, (void)out; " +
                          step + " return CTL_OK; }\n");
  };
  const auto run = [&](const std::string& out, const std::string& link) {
    return run_duskline({"run", scenario, "--link", link, "--out", folder.file(out), "--quiet"});
  };
  const Child empty = run("empty", made("empty", "int nothing;\n"));
  CHECK(empty.exit_code == 2);
  CHECK(has(empty.err,
            "has no ctl_plant_abi_version, ctl_plant_init, ctl_plant_step; build it against "
            "controller/include/plant_controller.h"));
  const Child older = run("older", stepped("older", "", "1"));
  CHECK(older.exit_code == 2);
  CHECK(has(older.err, "was built for version 1 of the interface"));
  const std::vector<std::tuple<std::string, std::string, std::string>> all{
      {"leaves", "if (in->tick >= 20) exit(4);",
       "plant controller: leaves.so: ended its process with exit code 4"},
      {"nan", "if (in->tick == 20) out->exhaust_opening = NAN;",
       "plant controller: nan.so: exhaust_opening is not a number"},
      {"endless", "if (in->tick == 20) out->order[1].power_ceiling = INFINITY;",
       "plant controller: endless.so: power_ceiling of an order is infinite"},
      {"lost", "if (in->tick == 20) out->order[5].requested_mode = 99;",
       "plant controller: lost.so: requested_mode of an order 99 is not in the list"}};
  for (const auto& [name, step, who] : all) {
    const Child child = run(name, stepped(name, step));
    INFO(child.err);
    CHECK(child.exit_code == 3);
    CHECK(has(child.err, who));
    CHECK(has(child.err, " at 20.000 s"));
    CHECK(bytes_of(folder.file(name) + "/trace.nc").size() > 1000);
  }
}

TEST_CASE("the small plant controller of the how-to holds a noon, and surges when it is turned down") {
  const Folder folder("even-shares");
  const std::string plugin = folder.file("even_shares.so");
  const auto built = duskline::test::run_command(
      "gcc -std=c11 -O2 -Wall -Wextra -Wpedantic -Wconversion -Werror -fPIC -shared -ffp-contract=off "
      "-I " DUSKLINE_SOURCE_DIR " " DUSKLINE_SOURCE_DIR "/docs/how-to/controllers/even_shares.c -o " +
      plugin + " -lm");
  INFO(built.text);
  REQUIRE(built.status == 0);
  const auto run = [&](const std::string& name) {
    const Child child = run_duskline({"run", "outpost/" + name, "--link", "plant=plugin:" + plugin, "--out",
                                      folder.file(name), "--quiet"});
    INFO(child.err);
    return child.exit_code;
  };
  CHECK(run("noon") == 0);
  const auto noon = json::parse(bytes_of(folder.file("noon") + "/summary.json"));
  CHECK(noon["controller"]["is"] == "plant controller: plug-in even_shares.so");
  CHECK(run("turned-down-to-30") == 1);
  CHECK(json::parse(
            bytes_of(folder.file("turned-down-to-30") + "/summary.json"))["between_headers"]["surges"] > 0);
}

TEST_CASE("a plant of several modules names what no link is for") {
  const Folder folder("outpost-no-link");
  const std::string scenario = written(folder, ""), out = folder.file("out");
  for (const char* verb : {"run", "hil", "campaign"}) {
    const Child refused = run_duskline(
        {verb, scenario, "--link", "modbus:127.0.0.1:1502", "--link", "9=in-process", "--out", out});
    CHECK(refused.exit_code == 2);
    CHECK(has(refused.err, "a line or a port has one controller, and the plant has 6 modules"));
    CHECK(has(refused.err, "there is no module 9; expected 1 to 6"));
  }
  const Child linear =
      run_duskline({"linearize", scenario, "--at", "30 s", "--link", "in-process", "--out", out});
  CHECK(linear.exit_code == 2);
  CHECK(has(linear.err, "those of the controllers of this program"));
  const Child held = run_duskline({"hil", scenario, "--link", "in-process", "--speed", "60", "--set",
                                   "duration=10 s", "--out", out, "--quiet"});
  INFO(held.err);
  CHECK(held.exit_code == 0);
  CHECK(json::parse(bytes_of(out + "/timing.json"))["ticks"] == 10);
}

TEST_CASE(
    "linearize gives the loops of the headers, and refuses a plant without an operating point by name") {
  const Folder folder("outpost-linear");
  const std::string scenario = written(folder, ""), out = folder.file("linear");
  const Child linear = run_duskline({"linearize", scenario, "--at", "30 s", "--out", out});
  INFO(linear.err);
  REQUIRE(linear.exit_code == 0);
  CHECK(has(linear.out, "feed header by speed"));
  const json all = json::parse(bytes_of(out + "/linear.json"));
  CHECK(all["plant"]["inputs"].size() == 6 + 6 * 5);  // shared commands, and five of each module
  CHECK(all["measured_plant"]["inputs"].size() == 6);
  CHECK(all["relative_gains"]["readings"].size() == 4);
  CHECK(has(all["loops"][0]["tuning"].get<std::string>(), "linear model of the outpost"));
  CHECK(has(bytes_of(out + "/linear.html"), "relativeGains"));

  const Child freezer = run_duskline({"linearize", scenario, "--at", "30 s", "--set", "plant=outpost-freezer",
                                      "--out", folder.file("none")});
  CHECK(freezer.exit_code == 2);
  CHECK(has(freezer.err, "it has no operating point"));
}

// Before, the report of lobe blowers showed a margin to surge of 1 from end to end.
TEST_CASE("the report shows the margin to surge of a machine that can surge only") {
  const Folder folder("outpost-surge-panel");
  const std::string scenario = written(folder, "");
  for (const char* plant : {"outpost", "outpost-lobe"}) {
    INFO(plant);
    const std::string out = folder.file(plant);
    const Child run = run_duskline({"run", scenario, "--set", std::string("plant=") + plant, "--set",
                                    "duration=10 s", "--out", out, "--quiet"});
    INFO(run.err);
    REQUIRE(std::filesystem::exists(out + "/report.html"));
    const std::string page = bytes_of(out + "/report.html");
    CHECK(has(page, "Pressures of the headers"));
    CHECK(has(page, "\"title\":\"Margin to surge\"") == (std::string(plant) == "outpost"));
  }
}
