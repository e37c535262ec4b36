// The files of `duskline verify`: what it keeps, what it refuses to write, and what an interrupted check leaves.
// Source: docs/how-to/state-requirements.md, docs/reference/exit-codes.md.
#include <sys/inotify.h>
#include <sys/stat.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "tests/support/skip.hpp"
#include "tests/support/verify_library.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

namespace {

/// Tells when a file has been opened for the first time since.
struct Opened {
  explicit Opened(const std::string& path) : watch(inotify_init1(IN_NONBLOCK)) {
    REQUIRE(inotify_add_watch(watch, path.c_str(), IN_OPEN) >= 0);
  }
  Opened(const Opened&) = delete;
  Opened& operator=(const Opened&) = delete;
  ~Opened() { close(watch); }
  bool now() const {
    char event[4096];
    return read(watch, event, sizeof event) > 0;
  }
  int watch;
};

/// Options of a child that runs as somebody without rights, also when this is root.
ChildOptions nobody() {
  ChildOptions options;
  if (geteuid() == 0) options.user = 65534;
  return options;
}
/// Whether another user can start the program here.
bool cannot_start(const Child& child) {
  if (child.exit_code != 126 && child.exit_code != 127) return false;
  skip("the program cannot be started as another user here");
  return true;
}

}  // namespace

TEST_CASE("runs that were kept are not overwritten unless it is forced, and then none is left over") {
  const Library library(true);
  CHECK(library.verify({}).exit_code == 1);
  const std::string report = library.folder.file("kept/below/bad/report.html"), bytes = bytes_of(report);
  const Child again = library.verify({});
  CHECK(again.exit_code == 2);
  CHECK(has(again.err, "holds runs that an earlier check kept (below/bad); --force replaces them"));
  CHECK(again.out.empty());
  CHECK(bytes_of(report) == bytes);
  library.put("all/below/bad.yaml", scenario(kGood));
  library.put("kept/mine.txt", "mine");
  CHECK(library.verify({"--force"}).exit_code == 0);
  CHECK_FALSE(fs::exists(library.folder.file("kept/below")));
  CHECK(bytes_of(library.folder.file("kept/mine.txt")) == "mine");
}

TEST_CASE("a run that no check kept stays, also where it is forced") {
  const Library library(true);
  fs::create_directories(library.folder.file("kept/mine"));
  library.put("kept/mine/trace.nc", "mine");
  library.put("kept/weather.csv", "mine");
  CHECK(library.verify({}).exit_code == 1);
  CHECK(fs::exists(library.folder.file("kept/below/bad/kept-by-verify")));
  CHECK(library.verify({"--force"}).exit_code == 1);
  CHECK(bytes_of(library.folder.file("kept/mine/trace.nc")) == "mine");
  CHECK(bytes_of(library.folder.file("kept/weather.csv")) == "mine");
  fs::remove(library.folder.file("kept/below/bad/kept-by-verify"));
  const Child child = library.verify({"--force"});
  CHECK(child.exit_code == 2);
  CHECK(has(child.err, "holds a run that no check kept (below/bad); another --out keeps it"));
  CHECK(child.out.empty());
}

TEST_CASE("a run that cannot be kept is not passed over") {
  const Library library(true);
  fs::create_directories(library.folder.file("kept"));
  library.put("kept/below", "a file where its folder belongs");
  CHECK(library.verify({}).exit_code == 3);
}

TEST_CASE("what is asked for is looked at before anything is run") {
  const Library library(true);
  fs::create_directories(library.folder.file("folder"));
  library.put("file", "mine");
  for (const char* path : {"folder", "none/junit.xml", "file/junit.xml"}) {
    const Child child = library.verify({"--junit", path, "--force"});
    CHECK(child.exit_code == 3);
    CHECK(has(child.err, std::string(path) + ": cannot be written: "));
    CHECK(child.out.empty());
  }
  CHECK_FALSE(fs::exists(library.folder.file("kept")));
  const Child out = library.verify_only({"all", "--out", "file"});
  CHECK(out.exit_code == 2);
  CHECK(out.err == "--out:1:1: file: is a file; --out names a folder\n");
}

TEST_CASE("a device stays a device, and no link is followed on the way to a file") {
  const Library library(false);
  fs::create_symlink("/dev/null", library.folder.file("nowhere.xml"));
  fs::create_symlink("/dev/stdout", library.folder.file("out.tap"));
  const Child child = library.verify({"--junit", "nowhere.xml", "--tap", "out.tap", "--force"});
  CHECK(child.exit_code == 0);
  CHECK(fs::is_symlink(library.folder.file("nowhere.xml")));
  CHECK(fs::is_character_file(library.folder.file("nowhere.xml")));
  CHECK(has(child.out, "TAP version 14"));
  const Child piped =
      run_child("/bin/sh", {"-c", "\"$0\" verify \"$1\" --junit /dev/stdout --quiet --force | cat", kProgram,
                            library.folder.file("all")});
  CHECK(has(piped.out, "<testsuites"));  // a pipe has no path of its own
  library.put("victim", "mine");
  fs::create_symlink("victim", library.folder.file("x.xml.part"));
  CHECK(library.verify({"--junit", "x.xml"}).exit_code == 0);
  CHECK(bytes_of(library.folder.file("victim")) == "mine");
  CHECK(has(bytes_of(library.folder.file("x.xml")), "<testsuites"));
  // a pipe that nobody feeds is no file of accepted results
  fs::create_directories(library.folder.file("accepted"));
  REQUIRE(mkfifo(library.folder.file("accepted/accepted.json").c_str(), 0600) == 0);
  const Child pipe = library.verify({"--accepted", "accepted"});
  CHECK(pipe.exit_code == 2);
  CHECK(has(pipe.err, "accepted/accepted.json:1:1: cannot be read"));
}

TEST_CASE("names with odd bytes reach neither the terminal nor a file of results as they are") {
  const Library library(false);
  library.put("all/\x1b[2J\n\xff.yaml", scenario(kGood));
  const Child child = library.verify({"--junit", "odd.xml", "--tap", "odd.tap"});
  CHECK(child.exit_code == 0);
  for (const std::string& text : {child.out, child.err, bytes_of(library.folder.file("odd.xml")),
                                  bytes_of(library.folder.file("odd.tap"))}) {
    CHECK(text.find('\x1b') == text.npos);
    CHECK(text.find('\xff') == text.npos);
  }
  CHECK(has(child.out, "\\x1b[2J\\n\xEF\xBF\xBD.yaml"));
  CHECK(run_child("xmllint", {"--noout", library.folder.file("odd.xml")}).exit_code == 0);
  CHECK(library.verify({"--json"}).exit_code == 0);
}

TEST_CASE("what is kept stays below --out, each run in a folder of its own") {
  const Library library(false);
  fs::create_directories(library.folder.file("sub"));
  for (const char* name : {"bad.yaml", "sub/bad.yaml", "sub/bad.yml", "sub/...yaml"})
    library.put(name, scenario(kBad));
  ChildOptions below;
  below.folder = library.folder.file("sub");
  const std::string whole = library.folder.file("whole.yaml");
  library.put("whole.yaml", scenario(kBad));
  const Child child = library.verify_only(
      {"../bad.yaml", "./bad.yaml", "bad.yml", "...yaml", whole, "--out", "results"}, below);
  INFO(child.err);
  CHECK(child.exit_code == 1);
  for (const char* kept : {"bad", "bad-2", "bad-3", "."})
    CHECK(fs::exists(library.folder.file("sub/results/" + std::string(kept) + "/summary.json")));
  CHECK(fs::exists(library.folder.file("sub/results" + library.folder.file("whole") + "/summary.json")));
  CHECK(has(child.out, "kept             results/bad-3\n"));
  for (const char* outside : {"bad", "whole", "sub/bad", "summary.json", "sub/summary.json"})
    CHECK_FALSE(fs::exists(library.folder.file(outside)));
}

TEST_CASE("an interrupted check gives what it has, and names what was not run") {
  const Library library(false);
  std::string text = scenario(kGood);
  library.put("all/long.yaml", text.replace(text.find("8 min"), 5, "200 sol"));
  library.put("all/more.yaml", scenario(kGood));
  fs::create_directories(library.folder.file("accepted"));
  library.put("accepted/accepted.json",
              "{\"format\": \"duskline-accepted/2\", \"root\": \"../all\", \"scenarios\": {}}");
  const std::string before = library.accepted();
  const auto interrupted = [&](std::vector<std::string> more) {
    const Opened opened(
        library.folder.file("all/long.yaml"));  // by then, on one thread, the one before is done
    ChildOptions options;
    options.signal = SIGINT;
    options.when = [&] { return opened.now(); };
    more.insert(more.begin(), {"all", "--jobs", "1"});
    return library.verify_only(more, options);
  };
  const Child child = interrupted(
      {"--junit", "junit.xml", "--tap", "results.tap", "--accepted", "accepted", "--update-accepted"});
  CHECK(child.exit_code == 3);
  CHECK(has(child.err, "not completed: interrupted, 2 scenarios not run\n"));
  CHECK(has(child.err,
            "nothing is accepted: 2 of 3 scenarios did not reach their end, first of them long.yaml"));
  CHECK(library.accepted() == before);
  CHECK(has(child.out, "satisfied      good.yaml  margin"));
  CHECK(has(child.out, "not run        long.yaml"));
  CHECK(has(child.out, "not run        more.yaml"));
  CHECK(has(child.out, "3 scenarios, 2 requirements: 1 satisfied, 1 not exercised; 2 scenarios not run\n"));
  const std::string junit = bytes_of(library.folder.file("junit.xml"));
  CHECK(has(junit, "<testcase classname=\"good.yaml\" name=\"margin\" time=\"0\"/>"));
  for (const char* name : {"long.yaml", "more.yaml"})
    CHECK(has(junit, "<testcase classname=\"" + std::string(name) +
                         "\" name=\"run\" time=\"0\"><skipped message=\"not run\"/></testcase>"));
  const Child lint =
      run_child("xmllint", {"--noout", "--schema", DUSKLINE_SOURCE_DIR "/tests/support/junit.xsd",
                            library.folder.file("junit.xml")});
  INFO(lint.err);
  CHECK(lint.exit_code == 0);
  const std::string tap = bytes_of(library.folder.file("results.tap"));
  CHECK(has(tap, "1..4\n"));
  CHECK(has(tap, "ok 3 - long.yaml: run # SKIP not run\nok 4 - more.yaml: run # SKIP not run\n"));
  const auto rows = nlohmann::json::parse(interrupted({"--json"}).out);
  REQUIRE(rows.size() == 4);
  CHECK(rows[0]["verdict"] == "satisfied");
  CHECK(rows[3]["verdict"] == "not run");
}

TEST_CASE("a folder that cannot be read to its end is a problem") {
  const Library library(true);
  const std::string below = library.folder.file("all/below");
  fs::permissions(below, fs::perms::none);
  const Child child = library.verify_only({"all"}, nobody());
  const Child alone = library.verify_only({below}, nobody());
  fs::permissions(below, fs::perms::owner_all);
  if (cannot_start(child)) return;
  CHECK(child.exit_code == 2);
  CHECK(child.err == "all:1:1: cannot be read beyond all/below: Permission denied\n");
  CHECK(child.out.empty());
  CHECK(alone.exit_code == 2);
  CHECK(has(alone.err, "Permission denied"));
}
