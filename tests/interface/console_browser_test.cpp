// The training console in a browser: an instructor, an operator and an observer of one run, from the start to the
// debrief (tests/support/console_visit.mjs is what they do).
#include <atomic>
#include <catch2/catch.hpp>
#include <thread>

#include <nlohmann/json.hpp>

#include "tests/support/child.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/skip.hpp"

using namespace duskline::tests;

namespace {

const std::string kDriver =
    DUSKLINE_BINARY_DIR "/hil-harness/console-page/node_modules/playwright-core/index.mjs";

const std::string kVisit = DUSKLINE_SOURCE_DIR "/tests/support/console_visit.mjs";
const std::string kMeasures = DUSKLINE_SOURCE_DIR "/tests/support/page_measures.js";

/// `duskline train SCENARIO` while the object lives.
class Console {
 public:
  Console(const Folder& folder, const std::string& scenario) : said_(folder.file("said")) {
    ChildOptions options;
    options.signal = SIGINT;
    options.when = [this] { return ended_.load(); };
    server_ = std::thread([this, scenario, options] {
      run_child("/bin/sh", {"-c", "exec " + kProgram + " train " + scenario + " > " + said_}, options);
      ended_ = true;
    });
  }
  Console(const Console&) = delete;
  Console& operator=(const Console&) = delete;
  ~Console() {
    ended_ = true;
    server_.join();
  }

  /// The address without the slash at its end; empty when the server ended or said none within ten seconds.
  std::string address() const {
    for (int i = 0; i < 1000 && !ended_; ++i) {
      const std::string said = bytes_of(said_);
      const std::size_t begin = said.find("http://");
      if (begin != said.npos && said.find('\n', begin) != said.npos)
        return said.substr(begin, said.find('/', begin + 7) - begin);
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
    return {};
  }

 private:
  std::string said_;
  std::atomic<bool> ended_{false};
  std::thread server_;
};

}  // namespace

TEST_CASE("Instructor, operator and observer in browsers, from the start of a run to its debrief") {
  if (std::system("command -v chromium > /dev/null") != 0 || !std::filesystem::exists(kDriver)) {
    skip("chromium or the driver of browsers is not installed, so nobody has used the console");
    return;
  }
  const Folder folder("console-browser");
  const Console console(folder, kLibrary + "start-stop/hour-of-oxygen.yaml");
  const std::string address = console.address();
  REQUIRE(!address.empty());
  // A bus that sags to 23 V raises the alarm below 24 V (controller_alarms.h).
  const Child visit = run_child("node", {kVisit, kDriver, address, kMeasures, "Bus sag", "demand", "8"});
  INFO(visit.out << visit.err);
  REQUIRE(visit.exit_code == 0);
  const auto seen = nlohmann::json::parse(visit.out);
  CHECK(!seen.contains("error"));
  CHECK(seen["complaints"].empty());
  CHECK(seen["alarm"] == "Bus voltage low");
  CHECK(has(seen["spoken"], "Bus voltage low"));
  CHECK(seen["acknowledged"] == true);
  CHECK(has(seen["outside"], "Outside its limits"));
  CHECK(seen["focusAsked"] == "Confirm");
  CHECK(seen["focusMoved"] == "Cancel");
  CHECK(seen["focusBack"] == "set-demand-button");  // where single keys act
  CHECK(seen["acted"] == true);
  CHECK(seen["refused"] > 0);  // a hot stack cannot be warmed up
  CHECK(seen["note"] == true);
  CHECK(seen["kept"] == true);
  CHECK(has(seen["unknownUnit"], "when: "));
  REQUIRE(seen["beside"].size() > 10);  // time, mode, the margin of each of 8 cells, set-points, alarms
  CHECK(has(seen["beside"].back(), "Bus voltage low"));
  CHECK(seen["besideActs"] == 0);
  for (const auto& look : seen["besideLooks"]) {
    INFO(look.dump());
    CHECK(look["overflow"] <= 0);
    CHECK(look["overlaps"].empty());
    CHECK(look["contrast"]["ratio"] >= 4.5);
  }
  CHECK(has(seen["marks"], " of people marked"));
  CHECK_FALSE(has(seen["marks"], "0 alarms"));
  CHECK(seen["observerButtons"] == 0);
  CHECK(seen["observerPost"] == 403);
  CHECK(seen["operatorFaults"] == 0);
  CHECK(seen["keys"] > 12);
  CHECK(seen["focus"] == "trends-title");
  CHECK(seen["outline"] == "solid");
  CHECK(seen["unnamed"].empty());
  CHECK(seen["looks"].size() == 5);
  for (const auto& look : seen["looks"]) {
    INFO(look.dump());
    CHECK(look["overflow"] <= 0);
    CHECK(look["overlaps"].empty());
    CHECK(look["contrast"]["ratio"] >= 4.5);  // WCAG 2.2, 1.4.3
  }
  CHECK(seen["back"] > 0.9);  // min
  CHECK(!seen["debrief"].get<std::string>().empty());
}
