// `duskline verify --accepted`: what has changed, what fails, and the pages that compare.
// Source: docs/how-to/verify-in-your-own-ci.md.
#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "tests/support/verify_library.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

TEST_CASE("a margin that falls by more than allowed fails, what moves less is listed, noise is not") {
  const Library library(false);
  const std::string accepted = "accepted";
  const Child none = library.verify({"--accepted", accepted});
  CHECK(none.exit_code == 1);
  CHECK(has(none.err, "there are no accepted results"));
  CHECK(library.verify({"--accepted", accepted, "--update-accepted"}).exit_code == 0);
  const Child same = library.verify({"--accepted", accepted});
  CHECK(same.exit_code == 0);
  CHECK(has(same.out, "changed          nothing"));
  const Child other = library.verify({"--accepted", accepted, "--set", "initial.cathode_co=50 %"});
  CHECK(other.exit_code == 0);  // more margin than before
  CHECK(has(other.out, "good.yaml: travel of speed: "));
  CHECK(has(other.out, "good.yaml: margin: "));

  // what was accepted is moved by hand: by noise, by less and by more than the 1 mV + 1 % that are allowed
  const std::string before = library.accepted();
  const auto accepted_margin = [&](double more) {
    auto j = nlohmann::ordered_json::parse(before);
    auto& margin = j["scenarios"]["good.yaml"]["requirements"]["margin"]["margin"];
    margin = margin.get<double>() + more;
    library.put("accepted/accepted.json", j.dump(2));
    return library.verify({"--accepted", accepted, "--junit", "junit.xml", "--force"});
  };
  CHECK(has(accepted_margin(1e-5).out, "changed          nothing"));
  const Child less = accepted_margin(0.9);
  CHECK(less.exit_code == 0);
  CHECK(has(less.out, "changed          good.yaml: margin: "));
  CHECK_FALSE(has(bytes_of(library.folder.file("junit.xml")), "<failure"));
  const Child more = accepted_margin(5.0);
  CHECK(more.exit_code == 1);
  CHECK(has(more.err, "worse than accepted: good.yaml: margin: "));
  CHECK(has(more.err, " mV (-5; "));
  CHECK(has(bytes_of(library.folder.file("junit.xml")), "type=\"accepted results\""));
  auto j = nlohmann::ordered_json::parse(before);
  j["tolerances"] = {"10 mV"};  // stated in the file
  auto& margin = j["scenarios"]["good.yaml"]["requirements"]["margin"]["margin"];
  margin = margin.get<double>() + 5.0;
  library.put("accepted/accepted.json", j.dump(2));
  CHECK(library.verify({"--accepted", accepted, "--force"}).exit_code == 0);
  j["scenarios"]["good.yaml"]["requirements"].erase("margin");
  j["scenarios"]["good.yaml"]["requirements"]["another"] = {
      {"verdict", "satisfied"}, {"margin", 1}, {"unit", ""}};
  library.put("accepted/accepted.json", j.dump(2));
  const Child names = library.verify({"--accepted", accepted, "--force"});
  CHECK(names.exit_code == 1);
  CHECK(has(names.err, "not accepted yet: good.yaml: margin\n"));
  CHECK(has(names.err, "accepted but gone: good.yaml: another\n"));
  library.put("accepted/accepted.json", before);

  library.put("all/new.yaml", scenario(kGood));
  const Child grown = library.verify({"--accepted", accepted, "--force"});
  CHECK(grown.exit_code == 1);
  CHECK(has(grown.err, "not accepted yet: new.yaml"));
  fs::remove(library.folder.file("all/new.yaml"));
  const Child quiet =
      library.verify({"--accepted", accepted, "--force", "--set", "initial.cathode_co=50 %", "--quiet"});
  CHECK(quiet.out.empty());
  const Child json =
      library.verify({"--accepted", accepted, "--force", "--set", "initial.cathode_co=50 %", "--json"});
  std::size_t changed = 0;
  for (const auto& row : nlohmann::json::parse(json.out)) {
    if (row["verdict"] != "changed") continue;
    ++changed;
    CHECK(row["scenario"] == "good.yaml");
    CHECK(row["was"] != row["now"]);
    if (row.contains("key_figure") && row["key_figure"] == "travel of speed") CHECK(row["unit"] == "rad/s");
  }
  CHECK(changed > 1);
}

TEST_CASE(
    "a page compares each scenario that changed with what was accepted, and a margin that fell is kept as a "
    "run") {
  const Library library(false);
  library.put("all/steady.yaml",
              scenario("  - {name: warm, must: \"always (least zone_temperature > 700 degC)\"}\n"));
  CHECK(library.verify({"--accepted", "accepted", "--update-accepted"}).exit_code == 0);
  auto j = nlohmann::ordered_json::parse(library.accepted());
  auto& good = j["scenarios"]["good.yaml"];
  good["requirements"]["margin"]["margin"] = good["requirements"]["margin"]["margin"].get<double>() + 0.9;
  good["key_figures"]["oxygen made"]["value"] = 1.0;
  library.put("accepted/accepted.json", j.dump(2));
  const Child moved = library.verify({"--accepted", "accepted"});
  CHECK(moved.exit_code == 0);  // 0.9 mV is less than the 1 mV + 1 % that are allowed
  CHECK(has(moved.out, "  compared         " + library.folder.file("kept/good/compare.html") + "\n"));
  const std::string page = bytes_of(library.folder.file("kept/good/compare.html"));
  CHECK(has(page, "\"finding\":{\"tone\":\"good\",\"text\":\"Changed, but no margin fell"));
  CHECK(has(page, "\"text\":\"oxygen made\",\"a\":1,"));
  CHECK(has(page, "events and signals cannot be compared"));
  CHECK_FALSE(fs::exists(library.folder.file("kept/good/report.html")));
  CHECK_FALSE(fs::exists(library.folder.file("kept/steady")));  // nothing changed there
  CHECK_FALSE(has(page, library.folder.path()));

  good["requirements"]["margin"]["margin"] = good["requirements"]["margin"]["margin"].get<double>() + 5.0;
  library.put("accepted/accepted.json", j.dump(2));
  CHECK(library.verify({"--accepted", "accepted"}).exit_code == 2);  // the page of before is kept
  CHECK(library.verify({"--accepted", "accepted", "--force"}).exit_code == 1);
  CHECK(has(bytes_of(library.folder.file("kept/good/compare.html")), "Worse than accepted: margin: "));
  CHECK(fs::exists(library.folder.file("kept/good/report.html")));
  CHECK(library.verify({"--accepted", "accepted", "--no-record"}).exit_code == 1);
}

TEST_CASE("accepted results that are damaged are bad input, located, and nothing is run") {
  const Library library(false);
  CHECK(library.verify({"--accepted", "accepted", "--update-accepted"}).exit_code == 0);
  const std::string file = "accepted/accepted.json", whole = library.accepted();
  const auto damaged = [&](const std::string& text) {
    library.put(file, text);
    const Child child = library.verify({"--accepted", "accepted"});
    INFO(text);
    CHECK(child.exit_code == 2);
    CHECK(child.out.empty());
    return child.err;
  };
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string text = whole;
    return text.replace(text.find(from), from.size(), to);
  };
  CHECK(damaged("{}") ==
        file +
            ":1:1: is no file of accepted results (duskline-accepted/2); --update-accepted --force "
            "writes one anew\n");
  CHECK(damaged("") == file + ":1:1: is no JSON from here on\n");
  CHECK(damaged(with("\"scenarios\"", "scenarios")) == file + ":17:3: is no JSON from here on\n");
  CHECK(damaged(with("\"duskline-accepted/2\"", "1")) ==
        file +
            ":1:1: is no file of accepted results (duskline-accepted/2); --update-accepted --force "
            "writes one anew\n");
  CHECK(damaged(with("requirements", "demands")) == file + ":1:1: good.yaml: has no requirements\n");
  CHECK(damaged(with("\"margin\": {", "\"margin\": 3, \"n\": {")) ==
        file + ":1:1: good.yaml: margin of 'margin' is no number\n");
  CHECK(damaged(with("\"satisfied\"", "7")) == file + ":1:1: good.yaml: margin of 'margin' is no number\n");
  CHECK(damaged(with("\"1 mV\"", "\"1 mVV\"")).starts_with(file + ":1:1: tolerances: '1 mVV': unknown unit"));
  CHECK(damaged(std::string(100000, '[')) == file + ":1:1: is nested deeper than 6 levels\n");
  library.put(file, "{");
  CHECK(library.verify({"--accepted", "accepted", "--update-accepted"}).exit_code == 2);
  CHECK(library.accepted() == "{");
  CHECK(library.verify({"--accepted", "accepted", "--update-accepted", "--force"}).exit_code == 0);
  CHECK(library.accepted() == whole);
}

TEST_CASE("accepted results that cannot be written are not completed, a violated requirement stays one") {
  const Library library(false);
  library.put("file", "mine");
  const Child child = library.verify({"--accepted", "file", "--update-accepted"});
  CHECK(child.exit_code == 3);
  CHECK(has(child.err, "file/accepted.json: cannot be written: Not a directory"));
  CHECK_FALSE(has(child.out, "accepted  "));
  const Library bad(true);
  CHECK(bad.verify({"--accepted", "accepted", "--update-accepted", "--no-record"}).exit_code == 1);
  CHECK(bad.verify({"--accepted", "accepted", "--no-record"}).exit_code == 1);
}

TEST_CASE("nothing is accepted when a scenario is refused") {
  const Library library(false);
  CHECK(library.verify({"--accepted", "accepted", "--update-accepted"}).exit_code == 0);
  const std::string before = library.accepted();
  library.put("all/wrong.yaml", "format: duskline-scenario/1\n");
  for (const char* force : {"--no-record", "--force"}) {
    const Child refused = library.verify({"--accepted", "accepted", "--update-accepted", force});
    CHECK(refused.exit_code == 2);
    CHECK(has(refused.err,
              "accepted/accepted.json: nothing is accepted: 1 of 2 scenarios did not reach their "
              "end, first of them wrong.yaml\n"));
    CHECK_FALSE(has(refused.out, "accepted  "));
    CHECK(library.accepted() == before);
  }
}

TEST_CASE("a part can be checked and accepted, however its files are named on the command line") {
  const Library library(false);
  for (const char* name : {"all/one.yaml", "all/below/two.yaml"}) library.put(name, scenario(kGood));
  const auto names = [&] {
    std::vector<std::string> all;
    const auto j = nlohmann::json::parse(library.accepted());
    for (const auto& entry : j["scenarios"].items()) all.push_back(entry.key());
    return all;
  };
  CHECK(library.verify({"--accepted", "accepted", "--update-accepted"}).exit_code == 0);
  const std::string before = library.accepted();
  CHECK(names() == std::vector<std::string>{"below/two.yaml", "good.yaml", "one.yaml"});
  ChildOptions inside;
  inside.folder = library.folder.file("all/below");
  for (const std::vector<std::string>& part : {std::vector<std::string>{"two.yaml"},
                                               {"../below", "./../one.yaml"},
                                               {library.folder.file("all/one.yaml")}}) {
    auto words = part;
    words.insert(words.end(), {"--accepted", "../../accepted"});
    CHECK(library.verify_only(words, inside).exit_code == 0);
    words.push_back("--update-accepted");
    CHECK(library.verify_only(words, inside).exit_code == 0);
    CHECK(library.accepted() == before);
  }
  // a file that goes is seen, and goes from the accepted results with the next update
  fs::remove(library.folder.file("all/one.yaml"));
  const Child gone = library.verify({"--accepted", "accepted"});
  CHECK(gone.exit_code == 1);
  CHECK(has(gone.err, "accepted but gone: one.yaml\n"));
  CHECK(library.verify_only({"two.yaml", "--accepted", "../../accepted"}, inside).exit_code == 0);
  const Child update = library.verify({"--accepted", "accepted", "--update-accepted"});
  CHECK(has(update.out, "dropped          one.yaml\n"));
  CHECK(names() == std::vector<std::string>{"below/two.yaml", "good.yaml"});
  // a scenario outside of the root moves the root up
  library.put("outside.yaml", scenario(kGood));
  CHECK(library.verify_only({"outside.yaml", "--accepted", "accepted", "--update-accepted"}).exit_code == 0);
  CHECK(names() == std::vector<std::string>{"all/below/two.yaml", "all/good.yaml", "outside.yaml"});
  CHECK(library.verify({"--accepted", "accepted"}).exit_code == 0);
}
