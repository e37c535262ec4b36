// The server of the training console: who may do what, what is refused, what a session keeps.
#include <arpa/inet.h>
#include <httplib.h>
#include <netinet/in.h>
#include <sys/socket.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <thread>

#include "hil-harness/loop/signals.hpp"
#include "hil-harness/train/console_server.hpp"
#include "tests/support/child.hpp"
#include "tests/support/free_port.hpp"
#include "tests/support/running_console.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::harness;
using nlohmann::json;
using tests::RunningConsole;

namespace {

scenarios::Case calm() {
  return tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml", {"duration=30 min"});
}

}  // namespace

TEST_CASE("what a request may not do is refused") {
  RunningConsole console(calm());
  httplib::Client client("127.0.0.1", console.port());
  const std::string note = R"({"text":"calm"})";
  const auto post = [&](const httplib::Headers& headers, const char* type) {
    const auto reply = client.Post("/api/note", headers, note, type);
    return reply ? reply->status : 0;
  };
  auto headers = console.as("operator");
  CHECK(post(headers, "application/json") == 200);
  CHECK(post(headers, "text/plain") == 415);
  auto foreign = headers;
  foreign.emplace("Origin", "http://elsewhere.example");
  CHECK(post(foreign, "application/json") == 403);
  auto own = headers;  // behind a proxy that encrypts
  own.emplace("Origin", "https://127.0.0.1:" + std::to_string(console.port()));
  CHECK(post(own, "application/json") == 200);
  CHECK(post({{"Cookie", "duskline=operator"}}, "application/json") ==
        403);  // a form of another site sends no such header
  auto other_host = headers;
  other_host.emplace("Host", "elsewhere.example:80");
  CHECK(post(other_host, "application/json") == 403);

  CHECK(client.Put("/api/note", headers, note, "application/json")->status == 405);
  for (const char* path :
       {"/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/console.js/../../x", "/api/nothing"})
    CHECK(client.Get(path, headers)->status == 404);
  CHECK(console.status("operator", "note", std::string(70000, ' ')) == 413);

  CHECK(console.status("observer", "command", R"({"name":"demand","value":8})") == 403);
  CHECK(console.status("operator", "instructor", R"({"act":"go"})") == 403);
  CHECK(console.status("operator", "alarm", R"({"name":"link-lost","act":"remove"})") == 403);
  CHECK(console.get("operator", "/api/acts").find("not finished") != std::string::npos);
  CHECK(json::parse(console.get("operator", "/api/plant"))["faults"].empty());
  CHECK_FALSE(json::parse(console.get("instructor", "/api/plant"))["faults"].empty());
}

TEST_CASE("a malformed request names each of its problems") {
  RunningConsole console(calm());
  for (const char* body :
       {"", "[]", "{", "null", "{\"name\":", "\xff\xfe", "{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":1}}}}}"})
    CHECK(console.status("operator", "command", body) == 422);
  const auto said = [&](const std::string& what, const std::string& body) {
    const auto [status, answer] = console.post("instructor", what, body);
    CHECK(status == 422);
    std::string all;
    for (const auto& p : answer["problems"])
      all += p["path"].get<std::string>() + " " + p["message"].get<std::string>() + "; ";
    return all;
  };
  CHECK(said("command", R"({"name":"demand","value":800})") == "value is outside its limits, 0 to 14.3; ");
  CHECK(said("command", R"({"name":"demand","value":"8"})") == "value is no number; ");
  CHECK(said("command", R"({"name":"demand"})") == "value is missing; ");
  CHECK(said("command", R"({"name":"demand","value":8,"valeu":8})") == "valeu is not known; ");
  CHECK(said("command", R"({"name":"start"})") == "name there is no command 'start'; ");
  CHECK(said("alarm", R"({"name":"link-lst","act":"acknowledge"})") == "name 'link-lst' is not known; ");
  CHECK(said("note", R"({"text":"a\u0007b"})") == "text is a text of one line without control characters; ");
  CHECK(said("instructor", R"({"act":"speed","value":1e9})") == "value is outside its limits, 0.1 to 600; ");
  CHECK(said("instructor", R"({"act":"restore","name":"nothing"})") ==
        "name nothing is saved as 'nothing'; ");
  CHECK(said("instructor", R"({"act":"fault","name":"filter-blcked"})") ==
        "name there is no fault 'filter-blcked'; ");
  httplib::Client client("127.0.0.1", console.port());  // no text of UTF-8
  CHECK(client.Get("/api/history?signals=%ff", console.as("instructor"))->status == 422);
}

TEST_CASE("with keys nobody comes in without one") {
  RunningConsole console(
      calm(), {{"aaaabbbbccccdddd", PersonRole::operate}, {"eeeeffffgggghhhh", PersonRole::instruct}});
  httplib::Client client("127.0.0.1", console.port());
  CHECK(client.Get("/")->status == 401);
  CHECK(client.Get("/api/plant", console.as("instructor"))->status == 401);
  CHECK(client.Get("/?key=aaaabbbbccccdddx")->status == 401);
  const auto admitted = client.Get("/?key=eeeeffffgggghhhh");
  CHECK(admitted->status == 303);
  const std::string cookie = admitted->get_header_value("Set-Cookie");
  CHECK(cookie.find("HttpOnly") != cookie.npos);
  CHECK(cookie.find("SameSite=Strict") != cookie.npos);
  CHECK(json::parse(console.get("eeeeffffgggghhhh", "/api/plant"))["role"] == "instructor");
  CHECK(console.status("aaaabbbbccccdddd", "instructor", R"({"act":"go"})") == 403);
  CHECK(console.status("eeeeffffgggghhhh", "instructor", R"({"act":"freeze"})") == 200);
}

TEST_CASE("a port is taken by one server, and the debrief has one policy for its content") {
  RunningConsole console(calm());
  ConsoleServer second(console.session(), {"127.0.0.1", console.port(), {}});
  CHECK(second.bind() == 0);
  httplib::Client client("127.0.0.1", console.port());
  const auto debrief = client.Get("/api/debrief", console.as("instructor"));
  REQUIRE(debrief);
  CHECK(debrief->status == 200);
  REQUIRE(debrief->get_header_value_count("Content-Security-Policy") == 1);  // of two, a browser obeys both
  CHECK(debrief->get_header_value("Content-Security-Policy").find("script-src 'unsafe-inline'") !=
        std::string::npos);
}

TEST_CASE("text of people stands in the debrief as text") {
  RunningConsole console(calm());
  CHECK(console.status("operator", "note",
                       R"({"text":"<script>alert(1)</script><img src=x onerror=alert(2)>"})") == 200);
  CHECK(console.status("instructor", "instructor", R"({"act":"go"})") == 200);
  while (console.session().record().ticks < 10)
    std::this_thread::yield();  // it takes effect with the next tick
  CHECK(console.status("instructor", "instructor", R"({"act":"finish"})") == 200);
  const std::string page = console.get("operator", "/api/debrief");
  CHECK(page.find("onerror=alert(2)") != page.npos);  // as text
  CHECK(page.find("<script>alert(1)") == page.npos);
  CHECK(page.find("<img src=x") == page.npos);
}

TEST_CASE(
    "the acts of a session replay to the state that it had, what came after a return stays in the older "
    "branch") {
  RunningConsole console(calm());
  const auto instruct = [&](const std::string& body) {
    return console.status("instructor", "instructor", body);
  };
  CHECK(console.status("operator", "command", R"({"name":"demand","value":8})") == 200);
  CHECK(instruct(R"({"act":"fault","name":"filter-blocked","size":0.1})") == 200);
  CHECK(instruct(R"({"act":"save","name":"before"})") == 200);
  CHECK(instruct(R"({"act":"go"})") == 200);
  while (console.session().record().ticks < 900) std::this_thread::yield();
  CHECK(instruct(R"({"act":"freeze"})") == 200);
  CHECK(console.status("operator", "command", R"({"name":"demand","value":9})") == 200);
  CHECK(instruct(R"({"act":"back","t":600})") == 200);
  SessionRecord record = console.session().record();
  CHECK(record.ticks == 600);  // the next tick is the one at 600 s
  CHECK(record.acts.requests.size() == 1);
  CHECK(console.status("operator", "command", R"({"name":"demand","value":7})") == 200);
  CHECK(instruct(R"({"act":"go"})") == 200);
  while (console.session().record().ticks < 700) std::this_thread::yield();
  CHECK(instruct(R"({"act":"finish"})") == 200);

  record = console.session().record();
  const auto acts = scenarios::parse_acts(console.get("operator", "/api/acts"), "acts.yaml");
  REQUIRE(acts);
  auto c = calm();
  c.scenario.duration = static_cast<double>(record.ticks);  // periods of 1 s
  LoopOptions options;
  options.acts = &*acts.value;
  CHECK(tests::run_case(c, options).final_state == record.state);

  CHECK(instruct(R"({"act":"restore","name":"before"})") == 200);
  CHECK(console.session().record().ticks == 1);
  CHECK(console.first("instructor", "session")["branches"] == 3);
}

TEST_CASE("however a session was paced, its acts make the same run, every value of every tick") {
  RunningConsole console(calm());
  const auto ask = [&](const std::string& role, const std::string& what, const std::string& body) {
    INFO(what << ' ' << body);
    CHECK(console.status(role, what, body) == 200);
  };
  const auto until = [&](std::int64_t tick) {
    while (console.session().record().ticks < tick) std::this_thread::yield();
  };
  ask("instructor", "instructor",
      R"j({"act":"fault","name":"filter-blocked","size":0.1,"when":"always for 2 min (oxygen_demand > 7 g/h)"})j");
  ask("instructor", "instructor", R"({"act":"go"})");
  until(200);
  ask("operator", "command", R"({"name":"demand","value":8})");
  ask("instructor", "instructor", R"({"act":"freeze"})");
  ask("operator", "command", R"({"name":"power_ceiling","value":260})");
  ask("instructor", "instructor", R"({"act":"speed","value":60})");
  ask("instructor", "instructor", R"({"act":"go"})");
  until(console.session().record().ticks + 20);
  ask("instructor", "instructor", R"({"act":"delay","value":60})");
  ask("operator", "alarm", R"({"act":"acknowledge-all"})");
  ask("operator", "note", R"({"text":"the flow falls"})");
  ask("instructor", "instructor", R"({"act":"speed","value":600})");
  until(1200);
  ask("instructor", "instructor", R"({"act":"finish"})");

  const SessionRecord record = console.session().record();
  const auto acts = scenarios::parse_acts(console.get("operator", "/api/acts"), "acts.yaml");
  REQUIRE(acts);
  auto c = calm();
  c.scenario.duration = static_cast<double>(record.ticks);  // periods of 1 s
  std::size_t width = 0;
  for (const Signal& signal : signal_table()) width += signal.info.width;
  std::vector<double> row(width);
  const auto digest_of = [&](const scenarios::Acts* of) {
    std::uint64_t digest = kNothingSeen;
    LoopOptions options;
    options.acts = of;
    options.watch = [&](const Snapshot& s) {
      read_signals(s, row);
      digest = digest_with(digest, row);
    };
    tests::run_case(c, options);
    return digest;
  };
  CHECK(digest_of(&*acts.value) == record.digest);
  CHECK(digest_of(nullptr) != record.digest);
}

TEST_CASE("a fault waits for its condition, which is refused where it says nothing") {
  RunningConsole console(calm());
  const auto fault = [&](const std::string& when) {
    return console.post("instructor", "instructor",
                        R"({"act":"fault","name":"filter-blocked","size":0.1,"when":")" + when + "\"}");
  };
  CHECK(fault("coke_margn < 40 mV")
            .second["problems"][0]["message"]
            .get<std::string>()
            .find("there is no signal 'coke_margn'; did you mean 'coke_margin'?") == 0);
  CHECK(fault("always (mode is production)").first == 422);  // no run settles it
  CHECK(fault("always for 5 min (mode is production)").first == 200);
  const json waits = console.first("instructor", "session")["faults"][0];
  CHECK(waits["waits"] == true);
  CHECK(waits["when"] == "always for 5 min (mode is production)");
  CHECK_FALSE(console.first("operator", "session").contains("faults"));
}

TEST_CASE("an instructor sees what trainees see, as late as they see it") {
  RunningConsole console(calm());
  const auto frame = [&](const std::string& role, const std::string& view) {
    return console.first(role, "frame", view)["t"].get<double>();
  };
  CHECK(console.status("instructor", "instructor", R"({"act":"delay","value":120})") == 200);
  CHECK(console.status("instructor", "instructor", R"({"act":"go"})") == 200);
  while (console.session().record().ticks < 400) std::this_thread::yield();
  CHECK(console.status("instructor", "instructor", R"({"act":"freeze"})") == 200);
  const double now = frame("instructor", "");
  CHECK(now >= 399.0);
  CHECK(frame("instructor", "?view=trainee") <= now - 120.0);
  CHECK(frame("operator", "") <= now - 120.0);
  CHECK(console.get("instructor", "/api/plant?view=trainee") == console.get("operator", "/api/plant"));
  CHECK(console.get("observer", "/api/plant?view=instructor") == console.get("observer", "/api/plant"));
  const std::string trend = "/api/history?signals=oxygen_demand&points=2000";
  for (const char* to : {"", "&to=nan", "&to=inf", "&to=nan&points=nan"})
    CHECK(json::parse(console.get("instructor", trend + to + "&view=trainee"))["t"].back() <= now - 120.0);
  CHECK(json::parse(console.get("instructor", trend))["t"].back() == now);
}

TEST_CASE("light takes its time in both directions") {
  RunningConsole console(calm());
  CHECK(console.status("instructor", "instructor", R"({"act":"delay","value":120})") == 200);
  const auto [status, answer] = console.post("operator", "command", R"({"name":"demand","value":8})");
  CHECK(status == 200);
  CHECK(answer["at"] == 121);  // the next tick is at 1 s
  CHECK(console.post("instructor", "command", R"({"name":"demand","value":8})").second["at"] == 1);

  StreamAudience far("now");
  far.publish(StreamKind::alarms, 120.0, "[1]");
  const auto watcher = far.join();
  far.deliver(119.0);
  CHECK(watcher->next(0) == nullptr);
  far.deliver(120.0);
  CHECK(*watcher->next(0) == "event: alarms\ndata: [1]\n\n");
}

TEST_CASE("a reader that stands still is dropped, others miss nothing, who comes back gets what was missed") {
  StreamAudience audience("now");
  const auto stalled = audience.join(), reads = audience.join();
  std::size_t read = 0;
  for (std::uint64_t n = 1; n <= kWatcherQueue + 1; ++n) {
    audience.publish(StreamKind::log, 0.0, R"({"text":"calm"})");
    audience.deliver(0.0);
    if (reads->next(0) != nullptr) ++read;
  }
  CHECK(read == kWatcherQueue + 1);
  CHECK(stalled->next(0)->find("event: bye") == 0);
  CHECK(stalled->over());
  const auto again = audience.join("now-199");  // one less than its queue holds
  const std::string rest = *again->next(0);
  CHECK(rest.find("id: now-200\n") == 0);
  CHECK(rest.find("id: now-201\n") != rest.npos);
}

TEST_CASE("a session that was killed goes on where it was last kept") {
  const tests::Folder folder("train-killed");
  const std::string file = folder.file("session.db");
  const int port = tests::free_port();
  tests::ChildOptions options;
  options.signal = SIGKILL;
  bool asked = false;
  const httplib::Headers headers{{"Cookie", "duskline_" + std::to_string(port) + "=instructor"},
                                 {"X-Duskline", "1"}};
  options.when = [&] {
    httplib::Client client("127.0.0.1", port);
    if (!asked) {
      const auto reply =
          client.Post("/api/command", headers, R"({"name":"demand","value":8})", "application/json");
      if (!reply || reply->status != 200) return false;
      const auto goes = client.Post("/api/instructor", headers, R"({"act":"go"})", "application/json");
      asked = goes && goes->status == 200;  // none: the machine is busy, it is asked again
      return false;
    }
    const auto history = client.Get("/api/history?signals=oxygen_demand&points=2000", headers);
    return history && json::parse(history->body)["t"].back() > 300.0;
  };
  const auto killed =
      tests::run_duskline({"train", tests::kSol, "--set", "duration=30 min", "--port", std::to_string(port),
                           "--speed", "600", "--session", file, "--quiet"},
                          options);
  CHECK(killed.signal == SIGKILL);

  const std::string other = tests::run_duskline({"train", tests::kSol, "--session", file, "--quiet"}).err;
  CHECK(other.find("belongs to another scenario") != other.npos);

  RunningConsole again(calm(), {}, file);
  const SessionRecord record = again.session().record();
  CHECK(record.ticks >= 300);  // at least the latest whole minute before the kill
  REQUIRE(record.acts.requests.size() == 1);
  CHECK(record.acts.requests[0].oxygen_demand == Approx(8.0 * tests::kGramsPerHour));
}

TEST_CASE("trainees do not see what an exercise hides") {
  const auto c = tests::read_shipped(tests::library() / "../exercises/loaded-filter.yaml");
  const ConsoleView view(c, {}, "loaded-filter");
  for (const PersonRole role : {PersonRole::operate, PersonRole::observe}) {
    const json plant = json::parse(view.plant_text(role));
    CHECK(plant["scenario"]["title"] == "Exercise");
    CHECK(plant["scenario"]["text"] == "");
    CHECK(plant["exercise"]["title"] == "Exercise");
    CHECK(plant["exercise"]["briefing"] == c.scenario.exercise.briefing);
    CHECK(plant.dump().find("loaded-filter") == std::string::npos);
    for (const json& signal : plant["signals"]) CHECK(signal["kind"] != "true");
  }
  CHECK(json::parse(view.plant_text(PersonRole::instruct))["scenario"]["title"] == c.scenario.title);
}

TEST_CASE("a coke margin is shown while a cell is hot enough to coke, and not before") {
  const std::size_t at = [] {
    std::size_t place = 0;
    for (const Signal& signal : signal_table()) {
      if (signal.info.name == "estimated_coke_margin") break;
      place += signal.info.width;
    }
    return place;
  }();
  const auto c = calm();
  const ConsoleView view(c, {}, "calm");
  std::size_t width = 0;
  for (const Signal& signal : signal_table()) width += signal.info.width;
  Snapshot s;
  std::vector<double> row(width, 0.7);
  for (float& zone : s.measured.zone_temperature) zone = 870.0F;  // below 873.15 K, snapshot.hpp
  view.leave_out_cold(s, row);
  CHECK(std::isnan(row[at]));
  row[at] = 0.7;
  s.measured.zone_temperature[2] = 880.0F;
  view.leave_out_cold(s, row);
  CHECK(row[at] == 0.7);
  s.control.suspect[0] = s.control.suspect[1] =
      ~0U;  // no thermocouple is believed: nothing is known to be cold
  for (float& zone : s.measured.zone_temperature) zone = 300.0F;
  view.leave_out_cold(s, row);
  CHECK(row[at] == 0.7);
}

TEST_CASE("what is wrong with the call of train is said before anything is served") {
  const tests::Folder folder("train-call");
  std::ofstream(folder.file("no-session")) << "this is no session, whatever its name says\n";
  std::ofstream(folder.file("keys")) << "operator short\nboss aaaabbbbccccdddd\n";
  const auto said = [&](std::vector<std::string> words) {
    words.insert(words.begin(), "train");
    const auto child = tests::run_duskline(words, {.folder = folder.path()});
    CHECK(child.exit_code == 2);
    CHECK(child.out.empty());
    return child.err;
  };
  CHECK(said({"first-leson"}) ==
        "first-leson:1:1: no such file, scenario or exercise; did you mean 'first-lesson'?\n");
  CHECK(said({"first-lesson", "--speed", "601"}) == "--speed:1:1: 601: is no number from 0.1 to 600\n");
  CHECK(said({"first-lesson", "--port", "65536"}) == "--port:1:1: 65536: is no port\n");
  CHECK(said({"first-lesson", "--listen", "0.0.0.0"}).find("--listen: needs --keys") != std::string::npos);
  CHECK(said({"first-lesson", "--keys", "keys"}) ==
        "keys:1:10: a key has 16 letters and digits or more\n"
        "keys:2:1: expected operator | instructor | observer and a key\n");
  CHECK(said({"first-lesson", "--session", "no-session"}) ==
        "--session:1:1: no-session: is no session: file is not a database\n");

  RunningConsole taken(calm(), {}, folder.file("taken"));
  CHECK(said({tests::kSol, "--set", "duration=30 min", "--session", "taken"}) ==
        "--session:1:1: taken: is in use by another duskline\n");
  CHECK(said({"first-lesson", "--port", std::to_string(taken.port()), "--session", "none"}) ==
        "--port:1:1: 127.0.0.1:" + std::to_string(taken.port()) +
            ": cannot be listened on; another program may use it\n");
  for (const auto& entry : std::filesystem::directory_iterator(folder.path()))
    CHECK(entry.path().filename().string().find("none") == std::string::npos);
}
