// Every broken file in tests/support/broken is refused with exactly the message that stands beside it.
//
// NAME.yaml is a scenario, NAME.set the settings that go with it (one a line), NAME.txt what must be said.
// File names in the messages are relative to the folder. What cannot be kept as a file is made here.
#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>
#include <string>
#include <vector>

#include "scenarios/reader/scenario_file.hpp"
#include "tests/support/folder.hpp"

using namespace duskline::scenarios;
using duskline::tests::Folder;
namespace fs = std::filesystem;

namespace {

const fs::path kBroken = DUSKLINE_SOURCE_DIR "/tests/support/broken";
const fs::path kPlants = DUSKLINE_SOURCE_DIR "/plant-model/plants";

std::string bytes_of(const fs::path& path) {
  std::ifstream stream{path, std::ios::binary};
  return {std::istreambuf_iterator<char>{stream}, {}};
}

std::vector<std::string> lines_of(const fs::path& path) {
  std::vector<std::string> lines;
  std::istringstream stream{bytes_of(path)};
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

// `text` with a folder of this machine taken out of every file name.
std::string without(std::string text, const std::string& folder) {
  for (std::size_t at = 0; (at = text.find(folder, at)) != text.npos;) text.erase(at, folder.size());
  return text;
}

std::string problems_of(const fs::path& path, const std::vector<std::string>& settings = {}) {
  const auto outcome = read_case(path, kPlants, settings);
  CHECK_FALSE(outcome);
  return without(without(to_text(outcome.problems), kBroken.string() + "/"), kPlants.string() + "/");
}

// Writes a file into a folder and gives its path.
std::string write(const Folder& folder, const std::string& name, const std::string& bytes) {
  std::ofstream{folder.file(name), std::ios::binary} << bytes;
  return folder.file(name);
}

// The problems of a file that is made for one check and called `made`.
std::string problems_of_bytes(const std::string& bytes) {
  const Folder folder{"broken-made"};
  return without(problems_of(write(folder, "made", bytes)), folder.path() + "/");
}

}  // namespace

TEST_CASE("Every broken file is refused with its exact message") {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator{kBroken})
    if (entry.path().extension() == ".yaml") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  CHECK(files.size() >= 50);  // none was lost
  for (const fs::path& file : files) {
    const fs::path expected = fs::path{file}.replace_extension(".txt");
    INFO(file.filename().string());
    REQUIRE(fs::exists(expected));
    CHECK(problems_of(file, lines_of(fs::path{file}.replace_extension(".set"))) == bytes_of(expected));
  }
}

TEST_CASE("Files that are missing, folders, too large or no text") {
  CHECK(problems_of(kBroken / "not-there.yaml") == "not-there.yaml:1:1: no such file\n");
  CHECK(to_text(read_case(kBroken, kPlants).problems).find(":1:1: is not a regular file\n") !=
        std::string::npos);
  const std::string start = "format: duskline-scenario/1\n";
  CHECK(problems_of_bytes(start + std::string((4U << 20U) + 1, '#')) == "made:1:1: is larger than 4 MiB\n");
  CHECK(problems_of_bytes(start + std::string{"title: a\0b\n", 11}) ==
        "made:2:9: holds the control character 0x00; this is not a text file\n");
  CHECK(problems_of_bytes("\x7F_ELF") ==
        "made:1:1: holds the control character 0x7f; this is not a text file\n");
  CHECK(problems_of_bytes(start + "title: caf\xE9\n") == "made:2:11: is not UTF-8 text\n");
  CHECK(problems_of_bytes(std::string{"\xFF\xFEt\0i\0", 6}) == "made:1:1: is not UTF-8 text\n");  // UTF-16
  CHECK(problems_of_bytes(start + "a: " + std::string(200000, '[')) ==
        "made:2:16: is nested deeper than 24 levels\n");
}

TEST_CASE("A scenario whose plant or controller file is broken points into that file") {
  const Folder folder{"broken-folder"};
  const std::string scenario = write(
      folder, "s.yaml",
      "format: duskline-scenario/1\ntitle: t\nduration: 1 h\nplant: p.yaml\ncontroller: {file: c.yaml}\n");
  write(folder, "p.yaml", "format: duskline-plant/1\nname: p\nname: q\n---\n");
  write(folder, "c.yaml", "format: duskline-plant/1\n");
  CHECK(without(to_text(read_case(scenario, kPlants).problems), folder.path() + "/") ==
        "c.yaml:1:9: format: 'duskline-plant/1' is not read here; expected 'duskline-controller/1'\n"
        "p.yaml:3:1: name: is given twice (first at line 2)\n"
        "p.yaml:4:1: a second document begins here; a file holds one\n");
}
