// `duskline campaign`: the same rows whoever works, whatever interrupts; what is refused; what the page says.
// Source of the expected rows: the same campaign on one thread in one go.
#include <sqlite3.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>

#include "hil-harness/batch/statement.hpp"
#include "hil-harness/campaign/row.hpp"
#include "plant-model/variants.hpp"
#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/tiny_disk.hpp"
#include "tests/support/toolchain.hpp"

using namespace duskline;
using namespace duskline::tests;
namespace fs = std::filesystem;

namespace {

/// A minute of production; the demand and the hour are drawn too.
constexpr const char* kScenario =
    "format: duskline-scenario/1\ntitle: A minute\nplant: bench\nseed: 5\nduration: 1 min\nrecord: 10 s\n"
    "initial: {state: producing, stack_temperature: 800 degC, cathode_co: 65 %}\n"
    "commands:\n  - {at: 0 s, mode: production, demand: 8 g/h}\n"
    "requirements:\n  - {name: warm, must: \"always (stack_gradient < 100 K)\"}\n"
    "campaign:\n  vary:\n    - {set: start.local_time, from: 0 h, to: 24 h}\n"
    "    - {set: commands.1.demand, from: 4 g/h, to: 8 g/h}\n";

/// Who works, and how it may end early.
struct Sitting {
  int signal = 0;
  std::size_t rows = 0;  ///< sent once the file holds so many
  std::optional<rlim_t> largest_file{};
  std::size_t ranks = 0;   ///< 0: threads
  bool lose_rank = false;  ///< one rank is killed then, before the signal
};

struct Bench {
  Folder folder{"campaign"};
  std::string scenario = folder.file("minute.yaml");
  std::vector<std::string> kind{"--runs", "24", "--law", "cascade", "--law", "adaptive"};
  Bench() { std::ofstream{scenario} << kScenario; }

  std::vector<std::string> words(const std::string& out, const std::vector<std::string>& more) const {
    std::vector<std::string> all{"campaign", scenario, "--quiet", "--out", folder.file(out)};
    all.insert(all.end(), kind.begin(), kind.end());
    all.insert(all.end(), more.begin(), more.end());
    return all;
  }
  Child run(const std::string& out, const std::vector<std::string>& more = {},
            const Sitting& sitting = {}) const {
    ChildOptions options;
    options.largest_file = sitting.largest_file;
    options.signal = sitting.signal;
    options.when = [&] {
      if (rows(out) < sitting.rows) return false;
      if (sitting.lose_rank) kill_rank(out);
      return true;
    };
    if (sitting.ranks == 0) return run_duskline(words(out, more), options);
    options.environment = {{"OMPI_ALLOW_RUN_AS_ROOT", "1"}, {"OMPI_ALLOW_RUN_AS_ROOT_CONFIRM", "1"}};
    std::vector<std::string> all{"--oversubscribe", "-n", std::to_string(sitting.ranks), kProgram};
    for (const std::string& word : words(out, more)) all.push_back(word);
    return run_child("mpirun", all, options);
  }
  std::string csv(const std::string& out) const { return bytes_of(folder.file(out + "/runs.csv")); }
  /// Rows that the file holds; another process may be writing it.
  std::size_t rows(const std::string& out) const {
    sqlite3* db = nullptr;
    std::int64_t count = 0;
    if (sqlite3_open_v2(folder.file(out + "/campaign.db").c_str(), &db, SQLITE_OPEN_READONLY, nullptr) ==
        SQLITE_OK) {
      harness::Statement all(db, "SELECT count(*) FROM runs");
      if (all.row()) count = all.whole(0);
    }
    sqlite3_close(db);
    return static_cast<std::size_t>(count);
  }
  /// Ends one of the processes that work for a folder.
  void kill_rank(const std::string& out) const {
    pid_t last = 0;
    for (const auto& entry : fs::directory_iterator("/proc")) {
      const std::string name = entry.path().filename().string();
      if (name.find_first_not_of("0123456789") != std::string::npos) continue;
      const std::string line = bytes_of((entry.path() / "cmdline").string());
      if (line.starts_with(kProgram) && has(line, folder.file(out)))
        last = std::max(last, static_cast<pid_t>(std::stol(name)));
    }
    if (last > 0) kill(last, SIGKILL);
  }
  void change(const std::string& out, const char* sql) const {
    sqlite3* db = nullptr;
    REQUIRE(sqlite3_open(folder.file(out + "/campaign.db").c_str(), &db) == SQLITE_OK);
    CHECK(sqlite3_exec(db, sql, nullptr, nullptr, nullptr) == SQLITE_OK);
    sqlite3_close(db);
  }
};

bool has_mpirun() {
  return fs::exists(DUSKLINE_BINARY_DIR "/duskline_ranks.so") &&
         run_child("mpirun", {"--version"}).exit_code == 0;
}

}  // namespace

TEST_CASE("a campaign gives the same rows whatever the number of workers and of sittings") {
  const Bench bench;
  const Child one = bench.run("one", {"--jobs", "1"});
  INFO(one.err);
  REQUIRE(one.exit_code == 0);
  const std::string csv = bench.csv("one");
  CHECK(std::count(csv.begin(), csv.end(), '\n') == 1 + 24 * 2);

  REQUIRE(bench.run("three", {"--jobs", "3"}).exit_code == 0);
  CHECK(bench.csv("three") == csv);

  // fewer runs at first, then one law after the other
  Bench few;
  few.kind = {"--law", "adaptive", "--runs", "5"};
  REQUIRE(few.run("grown").exit_code == 0);
  few.kind = bench.kind;
  REQUIRE(few.run("grown").exit_code == 0);
  CHECK(few.csv("grown") == csv);

  const Child again = bench.run("one", {"--json"});
  CHECK(again.exit_code == 0);
  const auto j = nlohmann::json::parse(again.out);
  CHECK(j["complete"] == true);
  CHECK(j["laws"]["adaptive"]["runs"] == 24);
  // Clopper and Pearson: with this share, so few of 24 passed have a chance of 5 %
  const auto& passed = j["laws"]["adaptive"]["coke_limit_passed"];
  const auto p = passed["share_at_most"].get<double>();
  double chance = 0.0, ways = 1.0;
  for (int k = 0; k <= passed["runs"].get<int>(); ++k) {
    chance += ways * std::pow(p, k) * std::pow(1.0 - p, 24 - k);
    ways *= (24.0 - k) / (k + 1.0);
  }
  CHECK(chance == Approx(0.05));
  CHECK(bench.csv("one") == csv);
}

TEST_CASE("processes of mpirun give the same rows, and a lost one loses no row that was finished") {
  if (!has_mpirun()) {
    skip("Open MPI is not installed, so nobody has tried a campaign under mpirun");
    return;
  }
  const Bench bench;
  REQUIRE(bench.run("one", {"--jobs", "1"}).exit_code == 0);
  const std::string csv = bench.csv("one");
  const Child two = bench.run("two", {}, {.ranks = 2});
  INFO(two.err);
  CHECK(two.exit_code == 0);
  CHECK(bench.csv("two") == csv);
  // what rank 0 refuses ends the others too
  CHECK(bench.run("two", {"--seed", "2"}, {.ranks = 2}).exit_code == 2);
  CHECK(bench.run("jobs", {"--jobs", "2"}, {.ranks = 2}).exit_code == 2);

  // a rank is killed: mpirun ends the job, and the same call goes on
  const Child lost = bench.run("lost", {}, {.signal = SIGCONT, .rows = 5, .ranks = 3, .lose_rank = true});
  CHECK((lost.exit_code != 0 || bench.rows("lost") == 48));  // it may be over before
  CHECK(bench.rows("lost") >= 5);
  CHECK(bench.run("lost", {}, {.ranks = 2}).exit_code == 0);
  CHECK(bench.csv("lost") == csv);

  // mpirun and with it the job is killed; then the same call goes on
  const Child killed = bench.run("killed", {}, {.signal = SIGKILL, .rows = 7, .ranks = 2});
  CHECK((killed.signal == SIGKILL || killed.exit_code == 0));
  CHECK(bench.rows("killed") >= 7);
  Child after;
  for (int k = 0; k < 500;
       ++k) {  // ranks that have lost mpirun end by themselves, and then give up the folder
    after = bench.run("killed");
    if (!has(after.err, "another duskline")) break;
    std::this_thread::sleep_for(std::chrono::milliseconds(100));
  }
  INFO(after.err);
  CHECK(after.exit_code == 0);
  CHECK(bench.csv("killed") == csv);
}

TEST_CASE(
    "a campaign that is killed ten times, or that finds no room, ends with the rows of one that was not") {
  const Bench bench;
  REQUIRE(bench.run("one").exit_code == 0);
  const std::string csv = bench.csv("one");
  std::size_t before = 0;
  for (std::size_t k = 1; k <= 10; ++k) {
    bench.run("out", {"--jobs", "2"}, {.signal = k % 3 == 0 ? SIGINT : SIGKILL, .rows = 4 * k});
    const std::size_t now = bench.rows("out");
    CHECK(now >= before);
    CHECK(now >= 4 * k);
    before = now;
  }
  REQUIRE(bench.run("out").exit_code == 0);
  CHECK(bench.csv("out") == csv);

  // a file may grow to so many bytes only, a little more each time
  std::size_t refused = 0;
  for (rlim_t room = 60'000; room < 600'000; room += 60'000) {
    const Child child = bench.run("full", {"--jobs", "2"}, {.largest_file = room});
    CHECK(child.signal == 0);
    refused += child.exit_code == 3;
  }
  CHECK(refused > 0);
  const Child whole = bench.run("full");
  INFO(whole.err);
  CHECK(whole.exit_code == 0);
  CHECK(bench.csv("full") == csv);
}

TEST_CASE(
    "a campaign on a disk that is really full keeps what was finished, and goes on when there is room") {
  const Bench bench;
  REQUIRE(bench.run("one").exit_code == 0);
  const TinyDisk disk{bench.folder.file("tiny"), "64k"};
  if (!disk.mounted) {
    skip("no file system can be mounted here; a full disk is not tested");
    return;
  }
  std::size_t before = 0, refused = 0;
  for (const char* room : {"64k", "112k", "160k", "224k", "320k", "480k"}) {
    REQUIRE(disk.resize(room));
    const Child child = bench.run("tiny/out", {"--jobs", "2"});
    INFO(room << ": " << child.err);
    CHECK(child.signal == 0);
    CHECK((child.exit_code == 0 || child.exit_code == 3));
    refused += child.exit_code == 3;
    const std::size_t now = bench.rows("tiny/out");
    CHECK(now >= before);
    before = now;
  }
  CHECK(refused >= 2);
  CHECK(before > 0);
  REQUIRE(disk.resize("16m"));
  const Child whole = bench.run("tiny/out");
  INFO(whole.err);
  CHECK(whole.exit_code == 0);
  CHECK(bench.csv("tiny/out") == bench.csv("one"));
}

TEST_CASE("a measurement that becomes suspect is counted, and belongs to what a run reported") {
  const Folder folder("campaign-suspect");
  const Child child =
      run_duskline({"campaign", "faults/cathode-pressure-sensor-faults", "--set", "duration=23 min",
                    "--grade", "surroundings", "--runs", "2", "--out", folder.file("out"), "--json"});
  INFO(child.err);
  const auto law = nlohmann::json::parse(child.out)["laws"]["cascade"];
  CHECK(law["with_suspect_measurement"] ==
        2);  // a step of 5 kPa at 20 min, suspect within 2 min by the scenario
  CHECK(law["with_any_of_these"] == 2);
  CHECK_FALSE(law.contains("surge_limit_passed"));
}

TEST_CASE("a campaign states the variants that were drawn, and the margins of each") {
  Bench bench;
  bench.kind = {"--runs", "6", "--grade", "structure"};
  const Child child = bench.run("out");
  INFO(child.err);
  REQUIRE(child.exit_code == 0);
  sqlite3* db = nullptr;
  REQUIRE(sqlite3_open(bench.folder.file("out/campaign.db").c_str(), &db) == SQLITE_OK);
  std::map<std::string, std::size_t> runs;
  {
    harness::Statement all(db, "SELECT json_extract(draws, '$.\"variants.transport\"') FROM runs");
    while (all.row()) ++runs[all.text(0)];
    harness::Statement kinds(db, "SELECT count(*) FROM inputs WHERE unit='word'");
    REQUIRE(kinds.row());
    CHECK(kinds.whole(0) == static_cast<std::int64_t>(std::size(plant::kVariantParts)));
  }
  sqlite3_close(db);
  CHECK(runs["ribs"] + runs["free"] == 6);
  const std::string csv = bench.csv("out"), page = bytes_of(bench.folder.file("out/campaign.html"));
  CHECK(has(csv.substr(0, csv.find('\n')), ",variants.transport,variants.drift,"));
  CHECK(has(csv, runs["ribs"] > 0 ? ",ribs," : ",free,"));
  CHECK(has(page, "By variant of a part"));
  // the summary of a replay names the same
  const std::string replay = bench.folder.file("replay");
  REQUIRE(run_duskline(
              {"run", bench.scenario, "--set", "structure_draw=4", "--no-record", "--quiet", "--out", replay})
              .exit_code == 0);
  const std::string word = nlohmann::json::parse(bytes_of(replay + "/summary.json"))
                               .at("structure_drawn")["variants"]["transport"];
  std::istringstream lines(csv);
  for (std::string line; std::getline(lines, line);)
    if (line.starts_with("4,")) CHECK(has(line, "," + word + ","));
}

TEST_CASE("a campaign that leaves a requirement undecided does not end well") {
  Bench bench;
  bench.kind = {"--runs", "2", "--set", "requirements.1.must=always for 10 min (stack_gradient < 100 K)"};
  const Child child = bench.run("out", {"--json"});
  INFO(child.err);
  CHECK(child.exit_code == 1);
  CHECK(has(bench.csv("out"), "undecided"));
  CHECK(nlohmann::json::parse(child.out)["laws"]["cascade"]["requirement_violated"]["runs"] == 2);
}

TEST_CASE("the margin to surge is a figure of a campaign where the machine can surge") {
  const Folder folder("campaign-surge");
  for (const std::string plant : {"outpost", "outpost-lobe"}) {
    INFO(plant);
    const Child child = run_duskline({"campaign", "outpost/noon", "--set", "plant=" + plant, "--set",
                                      "duration=5 s", "--runs", "2", "--out", folder.file(plant), "--json"});
    INFO(child.err);
    const auto law = nlohmann::json::parse(child.out)["laws"]["cascade"];
    CHECK(law.contains("surge_limit_passed") == (plant == "outpost"));
    if (plant == "outpost") CHECK(law["surge_limit_passed"]["runs"] == 0);
    CHECK(has(bytes_of(folder.file(plant + "/campaign.html")), "surge limit in 0") == (plant == "outpost"));
  }
}

TEST_CASE("an interrupted campaign says so and says what is kept") {
  const Bench bench;
  const Child child = bench.run("out", {"--runs", "2000"}, {});
  CHECK(child.exit_code == 2);  // --runs is given twice
  Bench longer;
  longer.kind = {"--runs", "5000"};
  const Child stopped = longer.run("out", {}, {.signal = SIGINT, .rows = 3});
  CHECK(stopped.exit_code == 3);
  CHECK(has(stopped.err, "not completed: interrupted; "));
  CHECK(has(stopped.err, " of 5000 runs are kept, the same call goes on"));
  CHECK(fs::exists(longer.folder.file("out/campaign.html")));
}

TEST_CASE("rows of another case, of other numbers or of a damaged file are refused") {
  Bench bench;
  bench.kind = {"--runs", "3"};
  REQUIRE(bench.run("out").exit_code == 0);
  const auto refused = [&](const std::vector<std::string>& more, const std::string& why) {
    const Child child = bench.run("out", more);
    INFO(child.err);
    CHECK(child.exit_code == 2);
    CHECK(has(child.err, why));
    CHECK(bench.rows("out") == 3);
  };
  refused({"--seed", "2"}, "is another campaign");
  refused({"--set", "duration=2 min"}, "is another campaign");
  refused({"--grade", "parameters"}, "is another campaign");
  refused({"--sampling", "sobol"}, "is another campaign");
  refused({"--law", "cascade", "--law", "cascade"}, "'cascade' is given twice");
  refused({"--law", "cascad"}, "did you mean 'cascade'");
  refused({"--seed", "0"}, "is not from 1");

  bench.change("out", "UPDATE runs SET oxygen = oxygen * 1.0000001 WHERE run = 1");
  refused({}, "comes to other numbers now");
  REQUIRE(bench.run("out", {"--force"}).exit_code == 0);

  std::ofstream(bench.folder.file("other.db")) << "no database";
  fs::create_directories(bench.folder.file("damaged"));
  fs::copy(bench.folder.file("other.db"), bench.folder.file("damaged/campaign.db"));
  const Child damaged = bench.run("damaged");
  CHECK(damaged.exit_code == 2);
  CHECK(has(damaged.err, "is no campaign that can be written"));

  fs::create_directories(bench.folder.file("mine"));
  std::ofstream(bench.folder.file("mine/runs.csv")) << "mine";
  CHECK(bench.run("mine").exit_code == 2);
  CHECK(bytes_of(bench.folder.file("mine/runs.csv")) == "mine");
}

TEST_CASE("the command of a worst run runs it again with the same figures, for each way of sampling") {
  for (const auto& sampling : harness::kSamplings) {
    if (sampling.sampling == harness::Sampling::subset) continue;  // takes more runs, see below
    Bench bench;
    bench.kind = {"--runs", "3", "--sampling", std::string(sampling.word)};
    const Child child = bench.run("out");
    INFO(sampling.word << ": " << child.err);
    REQUIRE(child.exit_code == 0);
    const std::string page = bytes_of(bench.folder.file("out/campaign.html"));
    const std::size_t begin = page.find("<pre class=\"command\">") + 21;
    std::string command = page.substr(begin, page.find("</pre>", begin) - begin);
    REQUIRE(command.starts_with("duskline run "));
    const bool by_file = sampling.sampling != harness::Sampling::independent;
    CHECK(has(command, "worst/") == by_file);
    const Child again = run_child(
        "bash",
        {"-c", kProgram + command.substr(8) + " --no-record --quiet --out " + bench.folder.file("again")},
        {.folder = bench.folder.file("out")});
    INFO(again.err);
    REQUIRE(again.exit_code == 0);
    const auto summary = nlohmann::json::parse(bytes_of(bench.folder.file("again/summary.json")));
    sqlite3* db = nullptr;
    REQUIRE(sqlite3_open(bench.folder.file("out/campaign.db").c_str(), &db) == SQLITE_OK);
    {
      harness::Statement worst(db, "SELECT oxygen, energy FROM runs ORDER BY coke_margin LIMIT 1");
      REQUIRE(worst.row());
      CHECK(summary["key_figures"]["oxygen_made"]["value"].get<double>() == worst.number(0));
    }
    sqlite3_close(db);
  }
}

TEST_CASE(
    "subset simulation in parts, on any number of threads, takes the same runs and states a probability") {
  Bench bench;
  bench.kind = {"--runs", "100", "--sampling", "subset", "--grade", "parameters"};
  const Child whole = bench.run("whole", {"--jobs", "1", "--json"});
  INFO(whole.err);
  REQUIRE(whole.exit_code == 0);
  const auto j = nlohmann::json::parse(whole.out);
  const auto rare = j["rare_event"];
  const std::string key = rare.contains("probability") ? "probability" : "probability_below";
  CHECK(rare[key] > 0.0);
  CHECK(rare[key] <= 1.0);
  // the first fifth is drawn independently: where the limit is passed often, the share of it that passed
  const auto rows = bench.rows("whole");
  if (rows == 20)
    CHECK(rare["probability"].get<double>() ==
          j["laws"]["cascade"]["coke_limit_passed"]["runs"].get<double>() / 20.0);
  bench.run("parts", {"--jobs", "2"}, {.signal = SIGKILL, .rows = 11});
  REQUIRE(bench.run("parts", {"--jobs", "2"}).exit_code == 0);
  CHECK(bench.csv("parts") == bench.csv("whole"));
  CHECK(bench.run("laws", {"--law", "cascade", "--law", "adaptive"}).exit_code == 2);
}

TEST_CASE("a campaign whose controller cannot be opened any more ends there and makes no run up") {
  Bench bench;
  const std::string source = bench.folder.file("tires.c"), plugin = bench.folder.file("tires.so"),
                    times = bench.folder.file("times");
  std::ofstream(source)
      << "#include <stdio.h>\n#include <stdlib.h>\n#include \"controller/include/controller.h\"\n"
         "__attribute__((constructor)) static void opened(void)\n"
         "{ FILE* f = fopen(\"" +
             times +
             "\", \"a\"); fputc('x', f); if (ftell(f) > 2) exit(4); fclose(f); }\n"
             "uint32_t ctl_abi_version(void) { return CTL_ABI_VERSION; }\n"
             "ctl_status ctl_init(ctl_state* s, const ctl_params* p) { (void)s, (void)p; return CTL_OK; }\n"
             "ctl_status ctl_step(ctl_state* s, const ctl_params* p, const ctl_inputs* in, ctl_outputs* "
             "out)\n"
             "{ (void)s, (void)p, (void)in, (void)out; return CTL_OK; }\n";
  const auto built =
      test::run_command("gcc -std=c11 -shared -fPIC -I " DUSKLINE_SOURCE_DIR " " + source + " -o " + plugin);
  INFO(built.text);
  REQUIRE(built.status == 0);
  bench.kind = {"--runs", "3", "--law", "cascade"};
  const std::vector<std::string> more{"--jobs", "1", "--link", "plugin:" + plugin};
  // opened once by the look at what was asked for, once by the first run
  const Child child = bench.run("out", more);
  CHECK(child.exit_code == 3);
  CHECK(has(child.err, "tires.so: ended its process with exit code 4"));
  CHECK(has(child.err, "1 of 3 runs are kept, the same call goes on"));
  CHECK(bench.rows("out") == 1);
}
