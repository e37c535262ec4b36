// What a training session keeps and what its readers are sent: restarts, saved states, planned faults, light time.
#include <sqlite3.h>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <thread>

#include "hil-harness/train/console_server.hpp"
#include "tests/support/child.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/running_console.hpp"
#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::harness;
using nlohmann::json;
using tests::has;
using tests::RunningConsole;

namespace {

scenarios::Case calm() {
  return tests::read_shipped(tests::library() / "dawn-dusk/equinox-sol.yaml", {"duration=30 min"});
}

void instruct(RunningConsole& console, const std::string& body) {
  INFO(body);
  CHECK(console.status("instructor", "instructor", body) == 200);
}

void run_to(RunningConsole& console, std::int64_t tick) {
  instruct(console, R"({"act":"go"})");
  while (console.session().record().ticks < tick) std::this_thread::yield();
  instruct(console, R"({"act":"freeze"})");
}

/// All that a reader who comes now is sent at once.
std::string sent_to(TrainingSession& session, PersonRole role, std::string_view last_id = {}) {
  const auto watcher = session.join(role, last_id);
  std::string all;
  while (const auto text = watcher->next(0)) all += *text;
  session.leave(role, watcher);
  return all;
}

}  // namespace

TEST_CASE("what was decided while a session stood still is there after a restart and in a saved state") {
  const tests::Folder folder("train-frozen");
  {
    RunningConsole console(calm(), {}, folder.file("session"));
    instruct(console, R"({"act":"fault","name":"filter-blocked","size":0.1})");
    instruct(console, R"({"act":"save","name":"with the fault"})");
    CHECK(console.status("operator", "command", R"({"name":"demand","value":8})") == 200);
  }
  RunningConsole again(calm(), {}, folder.file("session"));
  SessionRecord record = again.session().record();
  CHECK(record.ticks == 1);
  CHECK(record.acts.faults.size() == 1);
  CHECK(record.acts.requests.size() == 1);
  instruct(again, R"({"act":"restore","name":"with the fault"})");
  record = again.session().record();
  CHECK(record.acts.faults.size() == 1);
  CHECK(record.acts.requests.empty());
  instruct(again, R"({"act":"back","t":0})");  // what was decided before that
  CHECK(again.session().record().acts.faults.empty());
}

TEST_CASE("a session file of an older version opens and its saved states go by time") {
  const tests::Folder folder("train-older");
  sqlite3* db = nullptr;
  REQUIRE(sqlite3_open(folder.file("session").c_str(), &db) == SQLITE_OK);
  CHECK(sqlite3_exec(
            db,
            "CREATE TABLE saved(name TEXT PRIMARY KEY, branch INTEGER NOT NULL, tick INTEGER NOT NULL);"
            "INSERT INTO saved VALUES('before', 1, 40)",
            nullptr, nullptr, nullptr) == SQLITE_OK);
  sqlite3_close(db);

  SessionFile file;
  REQUIRE(file.open(folder.file("session"), "a scenario").empty());
  scenarios::Acts act;
  for (const double due : {39.0, 40.0}) {
    act.notes = {{due, "observer", "calm"}};
    REQUIRE(file.add(act, due));
  }
  REQUIRE(file.save("after", 40));
  act.notes = {{40.0, "observer", "later"}};
  REQUIRE(file.add(act, 40.0));
  const auto saved = file.saved();  // by name
  REQUIRE(saved.size() == 2);
  CHECK(saved[0].act == 2);
  CHECK(saved[1].act == SessionFile::kByTime);
  REQUIRE(file.branch_off(saved[0].branch, saved[0].tick, 40.0, saved[0].act));
  CHECK(file.acts(file.branch()).notes.size() == 2);
  REQUIRE(file.branch_off(saved[1].branch, saved[1].tick, 40.0, saved[1].act));
  CHECK(file.acts(file.branch()).notes.size() == 1);
}

TEST_CASE("a planned fault that is ended never begins and one that is planned after that does") {
  const tests::Folder folder("train-planned");
  std::string acts;
  {
    RunningConsole console(calm(), {}, folder.file("session"));
    instruct(console, R"({"act":"fault","name":"filter-blocked","size":0.1,"at":100})");
    instruct(console, R"({"act":"clear_fault","name":"filter-blocked"})");
    CHECK(console.first("instructor", "session")["faults"].empty());
    instruct(console, R"({"act":"fault","name":"filter-blocked","size":0.2,"at":120})");
    CHECK(console.first("instructor", "session")["faults"].size() == 1);
    run_to(console, 130);
    const SessionRecord record = console.session().record();
    REQUIRE(record.acts.faults.size() == 1);
    CHECK(record.acts.faults[0].at == 120.0);
    REQUIRE(record.acts.cleared.size() == 1);
    CHECK(record.acts.cleared[0].withdrawn == 1);
    const std::string log = sent_to(console.session(), PersonRole::instruct);
    CHECK(has(log, "filter-blocked, withdrawn before it began"));
    CHECK(has(log, "filter-blocked, size 0.2"));
    CHECK_FALSE(has(log, "filter-blocked, size 0.1"));
    CHECK_FALSE(has(sent_to(console.session(), PersonRole::operate), "filter-blocked"));
    acts = console.session().acts_text();
  }
  RunningConsole again(calm(), {}, folder.file("session"));
  CHECK(again.session().acts_text() == acts);
}

TEST_CASE("the list of faults holds what acts when another item was ended or the same one came again") {
  RunningConsole console(calm());
  instruct(console, R"({"act":"fault","name":"zone-thermocouple-open","item":1})");
  instruct(console, R"({"act":"fault","name":"zone-thermocouple-open","item":2})");
  run_to(console, 10);
  instruct(console, R"({"act":"clear_fault","name":"zone-thermocouple-open","item":1})");
  json faults = console.first("instructor", "session")["faults"];
  REQUIRE(faults.size() == 1);
  CHECK(faults[0]["item"] == 2);
  instruct(console, R"({"act":"fault","name":"zone-thermocouple-open","item":1})");
  CHECK(console.first("instructor", "session")["faults"].size() == 2);
}

TEST_CASE("entries of the log are numbered as they arrive and none is left out") {
  StreamAudience far("now");
  const auto watcher = far.join();
  far.publish(StreamKind::log, 120.0, R"({"text":"late"})");
  far.publish(StreamKind::log, -1.0, R"({"text":"at once"})");
  far.deliver(0.0);
  CHECK(*watcher->next(0) == "id: now-1\nevent: log\ndata: {\"n\":1,\"text\":\"at once\"}\n\n");
  far.deliver(120.0);
  CHECK(*watcher->next(0) == "id: now-2\nevent: log\ndata: {\"n\":2,\"text\":\"late\"}\n\n");
  const std::string rest = *far.join("now-1")->next(0);
  CHECK_FALSE(has(rest, "now-1\n"));
  CHECK(has(rest, "now-2\n"));
  CHECK(has(*far.join("before-2")->next(0), "now-1\n"));  // of an earlier start
}

TEST_CASE("a log that is full says so") {
  scenarios::Case c = calm();
  scenarios::Command asked = c.scenario.commands.front();
  asked.at = 1.0;
  c.scenario.commands.assign(kLogEventsMax + 1, asked);
  RunningConsole console(c);
  run_to(console, 5);
  const std::string all = sent_to(console.session(), PersonRole::observe);
  CHECK(has(all, "1000 events are listed; what comes after them is not"));
}

TEST_CASE("when light takes less time nothing older arrives after what is newer") {
  StreamAudience far("now");
  const auto watcher = far.join();
  far.publish(StreamKind::alarms, 120.0, "[1]");
  far.bring_forward(70.0);
  far.publish(StreamKind::alarms, 70.0, "[2]");
  far.deliver(70.0);
  CHECK(has(*watcher->next(0), "[1]"));
  CHECK(has(*watcher->next(0), "[2]"));
  CHECK(watcher->next(0) == nullptr);
}

TEST_CASE("what was under way when a session went back is sent again") {
  TrainingSession session(calm(), {}, "calm", 1.0);
  REQUIRE(session.open("").empty());
  const auto ask = [&](const char* body) {
    CHECK(session.request(PersonRole::instruct, "instructor", body).status == 200);
  };
  ask(R"({"act":"delay","value":100})");
  CHECK_FALSE(has(sent_to(session, PersonRole::operate), "event: alarms"));
  ask(R"({"act":"back","t":0})");
  ask(R"({"act":"delay","value":0})");
  const std::string sent = sent_to(session, PersonRole::operate);
  CHECK(has(sent, "event: alarms"));
  CHECK(has(sent, "event: checks"));
}

TEST_CASE("what did not reach the operators while the link was lost is not in their trends") {
  RunningConsole console(calm());
  instruct(console, R"({"act":"fault","name":"link-lost","at":100})");
  run_to(console, 200);
  const std::string of = "/api/history?signals=plenum_pressure_reading&points=2000&from=150&to=200";
  const json seen = json::parse(console.get("operator", of)),
             all = json::parse(console.get("instructor", of));
  REQUIRE(seen["plenum_pressure_reading"].size() > 10);
  CHECK(seen["plenum_pressure_reading"].back().is_null());
  CHECK(seen["plenum_pressure_reading_max"].back().is_null());
  CHECK(all["plenum_pressure_reading"].back().is_number());
  CHECK(has(console.get("operator", "/api/trace.csv"), "\n150,,"));
}

TEST_CASE("what had left the plant before the minute to which a session went back still arrives") {
  RunningConsole console(calm());
  instruct(console, R"({"act":"delay","value":1000})");
  CHECK(console.status("operator", "note", R"({"text":"early"})") == 200);  // is seen after 1000 s
  run_to(console, 300);
  CHECK(console.status("operator", "note", R"({"text":"late"})") == 200);  // after 1300 s
  run_to(console, 500);
  instruct(console, R"({"act":"back","t":200})");
  CHECK_FALSE(has(sent_to(console.session(), PersonRole::observe), "early"));
  run_to(console, 1400);
  const std::string sent = sent_to(console.session(), PersonRole::observe);
  CHECK(has(sent, "early"));
  CHECK_FALSE(has(sent, "late"));
}

TEST_CASE("what comes again within a minute is an entry of its own") {
  scenarios::Case c = calm();
  scenarios::AlarmAction action;  // of an alarm that is normal
  action.action = CTL_ALARM_ACKNOWLEDGE;
  action.alarm = CTL_ALARM_TRIP_MARGIN;
  for (const double at : {10.0, 20.0}) {
    action.at = at;
    c.scenario.operator_actions.push_back(action);
  }
  RunningConsole console(c);
  run_to(console, 30);
  const std::string sent = sent_to(console.session(), PersonRole::observe);
  INFO(sent);
  CHECK(has(sent, "is ignored: the alarm is normal (2 times in 10 s)"));
}

TEST_CASE("a page that was made for another role is refused") {
  RunningConsole console(calm());
  httplib::Client client("127.0.0.1", console.port());
  httplib::Headers headers = console.as("operator");
  headers.emplace("X-Duskline-Role", "instructor");
  const auto posted = client.Post("/api/instructor", headers, R"({"act":"go"})", "application/json");
  REQUIRE(posted);
  CHECK(posted->status == 412);
  const auto got = client.Get("/api/plant?as=observer", console.as("operator"));
  REQUIRE(got);
  CHECK(got->status == 412);
  CHECK(client.Get("/api/plant?as=operator", console.as("operator"))->status == 200);
}

TEST_CASE("after a restart a page knows that the server is another one and the log is whole") {
  const tests::Folder folder("train-restart");
  std::string plant;
  {
    RunningConsole console(calm(), {}, folder.file("session"));
    CHECK(console.status("operator", "note", R"({"text":"the flow falls"})") == 200);
    run_to(console, 100);
    instruct(console, R"({"act":"back","t":60})");
    plant = console.get("operator", "/api/plant");
    CHECK(console.get("operator", "/api/plant") == plant);
  }
  RunningConsole again(calm(), {}, folder.file("session"));
  CHECK(again.get("operator", "/api/plant") != plant);
  const std::string log =
      sent_to(again.session(), PersonRole::operate, json::parse(plant)["start"].get<std::string>() + "-99");
  CHECK(has(log, "the flow falls"));
  CHECK(log.find("the session was resumed here") > log.find("the flow falls"));
}

TEST_CASE("instructors and trainees share the places for readers") {
  RunningConsole console(calm());
  TrainingSession& session = console.session();
  std::vector<std::shared_ptr<StreamWatcher>> readers;
  for (std::size_t n = 0; n < kWatchersMax; ++n)
    readers.push_back(session.join(n % 2 == 0 ? PersonRole::instruct : PersonRole::operate));
  CHECK(readers.back() != nullptr);
  CHECK(session.join(PersonRole::instruct) == nullptr);
  session.leave(PersonRole::operate, readers.back());
  CHECK(session.join(PersonRole::instruct) != nullptr);
}

TEST_CASE("an address of IPv6 stands in brackets before its port") {
  CHECK(in_url("::1") == "[::1]");
  CHECK(in_url("192.0.2.10") == "192.0.2.10");
}
