// How the repository is laid out: what stands at the top, how long files are, how parts begin, and what may
// not be written down in a file that others get. Each rule also sees a file that breaks it.
#include <catch2/catch.hpp>
#include <cctype>
#include <map>
#include <regex>
#include <set>

#include "tests/support/source_tree.hpp"

using namespace duskline::tests;

namespace {

const std::set<std::string> kTop{
    ".ci",         ".clang-format", ".clang-tidy",    ".cmake",     ".gitignore", "LICENSE",
    "README.md",   "DEVELOPERS.md", "CMakeLists.txt", "quickstart", "controller", "docs",
    "hil-harness", "plant-model",   "scenarios",      "tests"};

constexpr std::size_t kLongest = 500;

/// Files that may be longer, each with the reason.
const std::map<std::string, std::string> kMayBeLong{
    {"docs/reference/scenario-format.md", "written by docs/reference/generate"},
    {"docs/reference/mutation-check.md", "written by docs/reference/mutation"},
    {"hil-harness/report/page/package-lock.json", "written by npm"},
    {"hil-harness/train/page/package-lock.json", "written by npm"},
    {"tests/baseline/accepted.json", "written by verify --update-accepted"},
    {"tests/interface/verify_test.cpp", "the cases of one verb around one set of helpers"},
};

std::vector<std::string> top_rule(const SourceFile& file) {
  if (kTop.contains(first_part(file.path))) return {};
  return {"nothing new at the top; it belongs in one of the rooms, docs or tests"};
}

std::vector<std::string> length_rule(const SourceFile& file) {
  static const std::set<std::string> kText{".cpp", ".hpp",  ".h",  ".c",    ".S",     ".js", ".css",  ".ts",
                                           ".tsx", ".html", ".md", ".yaml", ".cmake", ".py", ".json", ""};
  const std::size_t lines = lines_of(file.text).size();
  if (!kText.contains(extension(file.path)) || lines < kLongest || kMayBeLong.contains(file.path)) return {};
  return {std::to_string(lines) + " lines; split it, or list it in this test with the reason"};
}

std::vector<std::string> opening_rule(const SourceFile& file) {
  if (first_part(file.path) != "plant-model" || extension(file.path) != ".hpp" || file.text.starts_with("//"))
    return {};
  return {
      "open with the comment that says what the part is, its equation, units, validity, source, omissions"};
}

bool is_name_of(std::string_view name, char joint) {
  return std::ranges::all_of(name, [joint](unsigned char c) {
    return std::islower(c) != 0 || std::isdigit(c) != 0 || c == joint || c == '.';
  });
}

std::vector<std::string> file_name_rule(const SourceFile& file) {
  const std::string name = std::filesystem::path(file.path).filename().string();
  if (is_cpp(file.path) && !is_name_of(name, '_')) return {"sources are named in snake_case"};
  if ((extension(file.path) == ".md" || extension(file.path) == ".yaml") &&
      file.path.find('/') != file.path.npos && name != "README.md" && !is_name_of(name, '-'))
    return {"documents and scenarios are named in small-letters-with-hyphens"};
  return {};
}

/// Paths of somebody's machine, and hosts of registries, which lock files like to collect.
std::vector<std::string> machine_rule(const SourceFile& file) {
  static const std::vector<std::string> kNever{std::string("/ho") + "me/", std::string("/ro") + "ot/",
                                               std::string("/wo") + "rk/", std::string("/Us") + "ers/",
                                               std::string("file:///") + "home"};
  std::vector<std::string> found;
  for (const std::string& never : kNever)
    if (file.text.find(never) != std::string::npos) found.push_back("holds a path of one machine: " + never);
  const bool lock = file.path.ends_with("-lock.json") || file.path.ends_with(".npmrc");
  if (lock && file.text.find("://") != std::string::npos)
    found.push_back(
        "names the registry it came from; set omit-lockfile-registry-resolved=true and write it again");
  return found;
}

std::vector<std::string> text_rule(const SourceFile& file) {
  if (!is_cpp(file.path) && extension(file.path) != ".md" && extension(file.path) != ".yaml") return {};
  std::vector<std::string> found;
  if (file.text.find('\r') != std::string::npos) found.push_back("lines end in CR LF");
  if (file.text.find('\t') != std::string::npos && !file.path.starts_with("tests/support/broken/"))
    found.push_back("holds a tab");
  return found;
}

/// The list of tests that CMake makes is split at ';': such a case would stand in it in pieces, and none of them would run.
std::vector<std::string> case_name_rule(const SourceFile& file) {
  static const std::regex kName(R"re(TEST_CASE\(\s*((?:"[^"\n]*"\s*)+))re");
  std::vector<std::string> found;
  if (!file.path.starts_with("tests/") || !is_cpp(file.path)) return found;
  for (std::sregex_iterator at(file.text.begin(), file.text.end(), kName), end; at != end; ++at)
    if ((*at)[1].str().find(';') != std::string::npos)
      found.push_back("no ';' in the name of a test: " + (*at)[1].str());
  return found;
}

/// Links of a document to other files, as they stand: `](path)` without what follows a '#'.
std::vector<std::string> link_rule(const SourceFile& file) {
  namespace fs = std::filesystem;
  std::vector<std::string> broken;
  if (extension(file.path) != ".md") return broken;
  for (std::size_t at = file.text.find("]("); at != std::string::npos; at = file.text.find("](", at + 2)) {
    std::string target = file.text.substr(at + 2, file.text.find(')', at) - at - 2);
    target = target.substr(0, target.find('#'));
    if (target.empty() || target.find("://") != std::string::npos) continue;
    if (!fs::exists(fs::path(DUSKLINE_SOURCE_DIR) / fs::path(file.path).parent_path() / target))
      broken.push_back("links to nothing: " + target);
  }
  return broken;
}

}  // namespace

TEST_CASE("The repository keeps its layout") {
  const std::vector<SourceFile> files = source_files();
  REQUIRE(files.size() > 100);
  CHECK(findings(files, top_rule) == "");
  CHECK(findings(files, length_rule) == "");
  CHECK(findings(files, opening_rule) == "");
  CHECK(findings(files, file_name_rule) == "");
  CHECK(findings(files, machine_rule) == "");
  CHECK(findings(files, text_rule) == "");
  CHECK(findings(files, link_rule) == "");
  CHECK(findings(files, case_name_rule) == "");
}

TEST_CASE("Files that may be long exist") {
  for (const auto& [path, reason] : kMayBeLong) {
    INFO(path << ": " << reason);
    CHECK(std::filesystem::exists(std::filesystem::path(DUSKLINE_SOURCE_DIR) / path));
  }
}

TEST_CASE("The layout rules see files that break them") {
  const std::string long_text(kLongest, '\n');
  CHECK(top_rule({"tools/a.py", ""}).size() == 1);
  CHECK(length_rule({"plant-model/a.cpp", long_text}).size() == 1);
  CHECK(length_rule({"plant-model/a.cpp", long_text.substr(1)}).empty());
  CHECK(opening_rule({"plant-model/gas/a.hpp", "#pragma once\n"}).size() == 1);
  CHECK(file_name_rule({"plant-model/MyPart.hpp", ""}).size() == 1);
  CHECK(file_name_rule({"scenarios/library/two_words.yaml", ""}).size() == 1);
  CHECK(machine_rule({"docs/a.md",
                      "see /ho"
                      "me/someone/x"})
            .size() == 1);
  CHECK(machine_rule({"a/package-lock.json", "\"resolved\": \"https://example.org/a.tgz\""}).size() == 1);
  CHECK(text_rule({"docs/a.md", "a\r\n"}).size() == 1);
  CHECK(case_name_rule({"tests/a_test.cpp", "TEST_CASE(\"one\"\n          \"; two\") {"}).size() == 1);
  CHECK(case_name_rule({"tests/a_test.cpp", "TEST_CASE(\"one, two\", \"[check]\") { f(\"a;b\"); }"}).empty());
  CHECK(link_rule({"docs/a.md", "[a](no-such-page.md) [b](README.md#top) [c](https://example.org)"}).size() ==
        1);
}
