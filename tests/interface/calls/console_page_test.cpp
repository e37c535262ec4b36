// The page of the training console: its types, its size, that it fetches nothing from elsewhere, and that it knows no
// plant. What it does with a plant in a browser is in console_browser_test.cpp.
#include <catch2/catch.hpp>
#include <cstdlib>
#include <nlohmann/json.hpp>

#include "controller/include/controller.h"
#include "hil-harness/loop/words.hpp"
#include "hil-harness/train/page_files.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/skip.hpp"

using namespace duskline::harness;
using namespace duskline::tests;

namespace {

const std::string kInstalled = DUSKLINE_BINARY_DIR "/hil-harness/console-page/node_modules";

std::string file_of(std::string_view path) {
  for (const PageFile& file : page_files())
    if (file.path == path) return std::string(file.bytes);
  return "";
}

}  // namespace

TEST_CASE("The types of the console page are sound") {
  if (!std::filesystem::exists(kInstalled + "/.bin/tsc")) {
    skip("the type checker was not installed with the page's libraries");
    return;
  }
  // The checker looks for libraries above the sources, which the build keeps elsewhere.
  const Folder folder("console-types");
  const std::string page = "hil-harness/train/page";
  for (const char* part : {"/hil-harness/train/page", "/hil-harness/report/page"}) {
    std::filesystem::create_directories(folder.path() + part);
    std::filesystem::copy(DUSKLINE_SOURCE_DIR + std::string(part) + "/src", folder.path() + part + "/src",
                          std::filesystem::copy_options::recursive);
  }
  std::filesystem::copy(DUSKLINE_SOURCE_DIR "/hil-harness/train/page/tsconfig.json", folder.file(page));
  for (const char* part : {"/hil-harness/train/page", "/hil-harness/report/page"})
    std::filesystem::create_directory_symlink(kInstalled, folder.path() + part + "/node_modules");
  const auto check = [&] {
    const std::string command =
        kInstalled + "/.bin/tsc --noEmit -p " + folder.file(page) + " > " + folder.file("answer") + " 2>&1";
    return std::system(command.c_str());
  };
  const int first = check();
  INFO(bytes_of(folder.file("answer")));
  CHECK(first == 0);
  std::ofstream(folder.file(page + "/src/words.ts"), std::ios::app) << "export const n: number = \"text\";\n";
  CHECK(check() != 0);
}

TEST_CASE("Times, ranges, marks and the order of alarms on the console page") {
  const Folder folder("console-words");
  std::ofstream(folder.file("asked.ts")) << R"(
    import * as words from "SOURCE/words";
    import { isOpen, urgent, type Store } from "SOURCE/store";
    import { marksBetween } from "SOURCE/marks";
    import type { Plant, AlarmState } from "SOURCE/protocol";
    const sol = (start: number) => ({ scenario: { start_local_time: start, sol_seconds: 88775.244 } }) as Plant;
    const none = { scenario: {} } as Plant;
    const alarm = (name: string, state: string, since: number, first_out = false) => ({ name, state, since, first_out }) as AlarmState;
    const alarms = [alarm("low", "unacknowledged", 1), alarm("old", "returned unacknowledged", 2), alarm("new", "latched unacknowledged", 9),
      alarm("first", "unacknowledged", 9, true), alarm("seen", "acknowledged", 0), alarm("away", "shelved", 0)];
    const rows = new Map(alarms.map((a) => [a.name, { priority: a.name === "low" ? "low" : "high" }]));
    const log = [["act", 60], ["alarm", 3600], ["note", 3600], ["act", 7200], ["session", 4000], ["act", 4100]]
      .map(([kind, t], n) => ({ n, kind, t, who: "", text: "" }));
    console.log(JSON.stringify({
      marks: marksBetween({ log } as unknown as Store, 0.5, 3).map((entry) => entry.t),
      typed: ["90", "1:30", "1:02:30", "1:-2", "a", "", "1:2:3:4"].map(words.seconds),
      written: words.hms(3750),
      noon: words.instant(sol(0.5), 0), midnight: words.instant(sol(0.5), 44387.622), seconds: words.instant(sol(0.5), 3698.9685 + 62, true),
      unknown: words.instant(none, 3725),
      ranges: [words.range(0, 14, "g/h"), words.range(null, 3, "1"), words.range(-5, null, ""), words.range(null, null, "W")],
      urgent: urgent({ alarms, alarmsByName: rows } as unknown as Store).map((a) => a.name),
      open: alarms.filter(isOpen).map((a) => a.name),
    }));)";
  const std::string source = DUSKLINE_SOURCE_DIR "/hil-harness/train/page/src";
  const std::string command = "cd " + folder.path() + " && sed -i 's|SOURCE|" + source +
                              "|' asked.ts && NODE_PATH=" + kInstalled + " " + kInstalled +
                              "/.bin/esbuild asked.ts --bundle --platform=node --log-level=warning "
                              "--jsx=automatic --jsx-import-source=preact --outfile=asked.cjs && "
                              "node asked.cjs > answer";
  REQUIRE(std::system(command.c_str()) == 0);
  const auto said = nlohmann::json::parse(bytes_of(folder.file("answer")));
  // by hand: 1 min 30 s; 1 h 2 min 30 s; the rest is no time
  CHECK(said["typed"] == nlohmann::json{90, 90, 3750, nullptr, nullptr, nullptr, nullptr});
  CHECK(said["written"] == "1:02:30");
  // the session went back to 4000 s, which takes the act at 7200 s away; 60 s is before the half hour
  CHECK(said["marks"] == nlohmann::json{3600, 4100});
  // a sol of 88775.244 s has 24 local hours: half of it after noon is midnight, a 24th and a local minute 13:01
  CHECK(said["noon"] == "12:00");
  CHECK(said["midnight"] == "sol 2, 00:00");
  CHECK(said["seconds"] == "13:01:00");
  CHECK(said["unknown"] == "1 h 02 min");
  CHECK(said["ranges"] == nlohmann::json{"0 to 14\u00a0g/h", "at most 3", "at least \u22125", ""});
  // priority, then first-out, then age (ISA-18.2: the most urgent first); what was seen or put aside does not wait
  CHECK(said["urgent"] == nlohmann::json{"first", "old", "new", "low"});
  CHECK(said["open"] == nlohmann::json{"low", "old", "new", "first", "seen"});
}

TEST_CASE("The console page is at most 150 KB compressed") {
  const Folder folder("console-size");
  std::size_t bytes = 0;
  for (const char* path : {"/", "/console.js", "/console.css"}) {
    std::ofstream(folder.file("part"), std::ios::binary) << file_of(path);
    REQUIRE(std::system(("gzip -9nc " + folder.file("part") + " > " + folder.file("part.gz")).c_str()) == 0);
    bytes += std::filesystem::file_size(folder.file("part.gz"));
  }
  CHECK(bytes > 10'000);
  CHECK(bytes <= 150'000);  // issue 10
}

TEST_CASE("The console page asks no other machine, and holds no script or style in its text") {
  const std::string html = file_of("/");
  CHECK(html.find("<script type=\"module\" src=\"/console.js\"></script>") != html.npos);
  for (const char* forbidden : {"<style", " style=", " onload=", "javascript:", "http:", "https:", "//"})
    CHECK(html.find(forbidden) == html.npos);
  CHECK(file_of("/console.css").find("url(") == std::string::npos);
  CHECK(file_of("/console.css").find("@import") == std::string::npos);
  const std::string js = file_of("/console.js");
  for (std::size_t at = js.find("://"); at != js.npos; at = js.find("://", at + 1))
    CHECK(js.substr(at + 3, 11) == "www.w3.org/");  // names of SVG and MathML
  CHECK(file_of("/licences.txt").find("preact") != std::string::npos);
}

TEST_CASE("The console page names no instrument, command or alarm of a plant") {
  const std::string js = file_of("/console.js");
#define DUSKLINE_NAME(name, ...) #name,
  for (const std::string name :
       {CTL_INPUT_LIST(DUSKLINE_NAME, DUSKLINE_NAME) CTL_OUTPUT_LIST(DUSKLINE_NAME, DUSKLINE_NAME)})
    CHECK(js.find(name) == js.npos);
#undef DUSKLINE_NAME
  for (const ListWord& alarm : alarm_words()) CHECK(js.find(alarm.word) == js.npos);
}
