// Which room may include which: docs/explain/rooms.md has the picture. The rules also look at synthetic files
// that break them, so that we know they can fail.
#include <catch2/catch.hpp>
#include <map>
#include <set>

#include "tests/support/source_tree.hpp"
#include "tests/support/toolchain.hpp"

using namespace duskline::tests;

namespace {

/// What each room may include, as beginnings of paths. Nobody but themselves includes hil-harness and tests.
const std::map<std::string, std::vector<std::string>> kMayInclude{
    {"plant-model", {"plant-model/"}},
    {"controller", {"controller/"}},
    {"scenarios", {"scenarios/", "plant-model/", "controller/include/"}},
    {"hil-harness", {"hil-harness/", "scenarios/", "plant-model/", "controller/"}},
    {"tests", {"tests/", "hil-harness/", "scenarios/", "plant-model/", "controller/"}},
};

/// Headers that C++20 demands of a freestanding compiler, plus the C ones that the C interface needs.
const std::set<std::string> kFreestanding{"bit",     "cfloat",   "climits", "compare",  "concepts",
                                          "cstddef", "cstdint",  "limits",  "stddef.h", "stdint.h",
                                          "float.h", "limits.h", "version", "stdbool.h"};

/// Clocks, chance and orders that differ from run to run; they must not reach an output.
const std::set<std::string> kNotRepeatable{"chrono", "ctime",         "time.h",        "sys/time.h", "random",
                                           "thread", "unordered_map", "unordered_set", "future"};

struct Include {
  std::string name;
  bool quoted;
  std::size_t line;
};

std::vector<Include> includes_of(std::string_view text) {
  std::vector<Include> found;
  std::size_t number = 0;
  for (const std::string& line : lines_of(text)) {
    ++number;
    std::size_t at = line.find_first_not_of(" \t");
    if (at == line.npos || line[at] != '#') continue;
    at = line.find_first_not_of(" \t", at + 1);
    if (at == line.npos || line.compare(at, 7, "include") != 0) continue;
    const std::size_t open = line.find_first_of("\"<", at + 7);
    if (open == line.npos) continue;
    const bool quoted = line[open] == '"';
    const std::size_t close = line.find(quoted ? '"' : '>', open + 1);
    found.push_back({line.substr(open + 1, close - open - 1), quoted, number});
  }
  return found;
}

std::vector<std::string> wrong_includes(const SourceFile& file) {
  std::vector<std::string> wrong;
  const std::string room = first_part(file.path);
  if (!is_cpp(file.path) || !kMayInclude.contains(room)) return wrong;
  const bool repeatable = room == "plant-model" || room == "controller" || room == "scenarios";
  for (const auto& [name, quoted, line] : includes_of(file.text)) {
    const std::string where = "line " + std::to_string(line) + ": ";
    const bool ours = quoted || kMayInclude.contains(first_part(name));
    const auto may = [&](const std::string& beginning) { return name.starts_with(beginning); };
    if (name.find("..") != name.npos)
      wrong.push_back(where + "write the include from the root of the repository: " + name);
    else if (ours && std::ranges::none_of(kMayInclude.at(room), may))
      wrong.push_back(where + room + " may not include " + name);
    else if (!ours && room == "controller" && !kFreestanding.contains(name))
      wrong.push_back(where + "the controller is freestanding, and <" + name + "> is not");
    else if (!ours && repeatable && kNotRepeatable.contains(name))
      wrong.push_back(where + "<" + name + "> differs from run to run");
  }
  return wrong;
}

}  // namespace

TEST_CASE("Every include follows the arrows between the rooms") {
  const std::vector<SourceFile> files = source_files();
  std::size_t read = 0;
  for (const SourceFile& file : files) read += is_cpp(file.path) ? includes_of(file.text).size() : 0;
  REQUIRE(read > 500);  // the walk found the sources; there were about 600 when this was written
  CHECK(findings(files, wrong_includes) == "");
}

TEST_CASE("The include rule sees a wrong arrow") {
  const auto count = [](const char* path, const char* text) { return wrong_includes({path, text}).size(); };
  CHECK(count("plant-model/a.cpp", "#include \"controller/include/controller.h\"\n") == 1);
  CHECK(count("plant-model/a.hpp", "#include <scenarios/reader/tree.hpp>\n") == 1);
  CHECK(count("controller/a.cpp", "  #  include \"plant-model/plant.hpp\"\n") == 1);
  CHECK(count("controller/a.cpp", "#include <vector>\n") == 1);
  CHECK(count("scenarios/a.cpp", "#include \"controller/memory.hpp\"\n#include \"hil-harness/b.hpp\"\n") ==
        2);
  CHECK(count("hil-harness/a.cpp", "#include \"tests/support/folder.hpp\"\n") == 1);
  CHECK(count("plant-model/a.cpp", "#include \"../controller/math.hpp\"\n#include \"b.hpp\"\n") == 2);
  CHECK(count("plant-model/a.cpp", "#include <random>\n") == 1);
}

TEST_CASE("The include rule lets right arrows pass") {
  const auto count = [](const char* path, const char* text) { return wrong_includes({path, text}).size(); };
  CHECK(count("plant-model/a.cpp", "#include <vector>\n#include \"plant-model/plant.hpp\"\n") == 0);
  CHECK(count("controller/a.cpp", "#include <stdint.h>\n// #include <vector>\n") == 0);
  CHECK(count("scenarios/a.cpp", "#include \"controller/include/controller.h\"\n") == 0);
  CHECK(count("hil-harness/a.cpp", "#include <chrono>\n#include \"controller/math.hpp\"\n") == 0);
  CHECK(count("docs/a.md", "#include \"controller/math.hpp\"\n") == 0);
}

TEST_CASE("An include that a folder may not make does not compile") {
  const auto compiles = [](const std::string& library, const std::string& header) {
    const auto ran =
        duskline::test::run_command("echo '#include <" + header + ">' | g++ -std=c++20 -E -x c++ -I " +
                                    DUSKLINE_BINARY_DIR "/include-of/" + library + " - -o /dev/null");
    if (ran.status != 0) CHECK(ran.text.find(header + ": No such file or directory") != std::string::npos);
    return ran.status == 0;
  };
  CHECK(compiles("plant", "plant-model/gas/species.hpp"));
  CHECK_FALSE(compiles("plant", "controller/include/controller.h"));
  CHECK_FALSE(compiles("environment", "plant-model/parameters.hpp"));
  CHECK_FALSE(compiles("integrate", "plant-model/gas/species.hpp"));
  CHECK(compiles("controller", "controller/math.hpp"));
  CHECK_FALSE(compiles("controller", "plant-model/gas/species.hpp"));
  CHECK(compiles("scenarios", "controller/include/controller.h"));
  CHECK_FALSE(compiles("scenarios", "controller/math.hpp"));
  CHECK(compiles("loop", "hil-harness/links/link.hpp"));
  CHECK_FALSE(compiles("loop", "controller/math.hpp"));
  CHECK_FALSE(compiles("trace", "hil-harness/loop/summary.hpp"));
}
