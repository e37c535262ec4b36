// The commands in docs/how-to work as they stand there, at the root of the repository.
#include <catch2/catch.hpp>
#include <filesystem>
#include <regex>
#include <sstream>

#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/source_tree.hpp"

using namespace duskline::tests;
namespace fs = std::filesystem;

namespace {

struct Block {
  std::string text;
  std::string file;  ///< the last `name.yaml` that the page names before it
};

/// The indented blocks of a page, without their indent.
std::vector<Block> blocks_of(const std::string& page) {
  std::vector<Block> blocks;
  std::string file, block;
  const std::regex name{"`([a-z0-9-]+\\.yaml)`"};
  const auto end = [&] {
    if (!block.empty()) blocks.push_back({block, file});
    block.clear();
  };
  for (const std::string& line : lines_of(page)) {
    if (line.starts_with("    ")) {
      block += line.substr(4) + "\n";
      continue;
    }
    end();
    for (std::sregex_iterator at{line.begin(), line.end(), name}, none; at != none; ++at) file = (*at)[1];
  }
  end();
  return blocks;
}

}  // namespace

TEST_CASE("Every command of the how-tos works as it stands there") {
#if defined(__SANITIZE_ADDRESS__)
  skip("whole sols take too long under a sanitizer");
#else
  std::size_t commands = 0;
  for (const auto& entry : fs::directory_iterator{DUSKLINE_SOURCE_DIR "/docs/how-to"}) {
    if (entry.path().extension() != ".md") continue;
    const Folder here{"cli-docs"};
    for (const char* room : {"scenarios", "plant-model", "controller", "docs"})
      fs::create_directory_symlink(fs::path{DUSKLINE_SOURCE_DIR} / room, here.file(room));
    fs::create_directories(here.file("build"));
    fs::create_directory_symlink(DUSKLINE_BINARY_DIR, here.file("build/release"));
    for (const Block& block : blocks_of(bytes_of(entry.path().string()))) {
      if (block.text.starts_with("format: duskline-") && !block.file.empty())
        std::ofstream{here.file(block.file)} << block.text;
      if (!block.text.starts_with("build/release/duskline ") && !block.text.starts_with("cc ")) continue;
      if (has(block.text, "/data/")) continue;  // a file of the reader's own
      ++commands;
      INFO(entry.path().filename().string() << ":\n" << block.text);
      const Child child =
          run_child("bash", {"-c", "set -e -o pipefail\n" + block.text}, {.folder = here.path()});
      INFO(child.err);
      CHECK(child.exit_code == 0);
    }
  }
  CHECK(commands >= 10);  // the pages were found
#endif
}

TEST_CASE("The console of the README shows what its command prints") {
#if defined(__SANITIZE_ADDRESS__)
  skip("a whole sol takes too long under a sanitizer");
#else
  const std::string prompt = "$ build/release/duskline ";
  std::string shown;
  for (const Block& block : blocks_of(bytes_of(DUSKLINE_SOURCE_DIR "/README.md")))
    if (block.text.starts_with(prompt)) shown = block.text;
  REQUIRE_FALSE(shown.empty());
  const Folder here{"readme"};
  fs::create_directory_symlink(fs::path{DUSKLINE_SOURCE_DIR} / "scenarios", here.file("scenarios"));
  const std::vector<std::string> lines = lines_of(shown);
  std::vector<std::string> words;
  std::istringstream command(lines.front().substr(prompt.size()));
  for (std::string word; command >> word;) words.push_back(word);
  const Child child = run_duskline(words, {.folder = here.path()});
  REQUIRE(child.exit_code == 0);
  std::size_t compared = 0;
  for (std::size_t i = 1; i < lines.size(); ++i) {
    // residuals are the rounding of this machine; what is left out stands in parentheses
    if (lines[i].starts_with("  balances") || lines[i].starts_with("  (and ")) continue;
    ++compared;
    INFO(lines[i] << "\n" << child.out);
    CHECK(has(child.out, lines[i] + "\n"));
  }
  CHECK(compared >= 10);
#endif
}

TEST_CASE("The session in Python runs as its page shows it") {
  if (run_child("/usr/bin/python3", {"-c", "import xarray, netCDF4"}).exit_code != 0) {
    skip("python3-xarray and python3-netcdf4 are not installed; the page is not tried");
    return;
  }
  const std::string page = bytes_of(DUSKLINE_SOURCE_DIR "/docs/how-to/read-a-run-in-python.md");
  const Folder here{"cli-python"};
  fs::create_directory_symlink(fs::path{DUSKLINE_SOURCE_DIR} / "scenarios", here.file("scenarios"));
  fs::create_directories(here.file("build"));
  fs::create_directory_symlink(DUSKLINE_BINARY_DIR, here.file("build/release"));
  std::string session;
  bool inside = false;
  for (const std::string& line : lines_of(page)) {
    if (line == "```python" || line == "```")
      inside = line == "```python";
    else if (inside)
      session += line + "\n";
  }
  CHECK(std::count(session.begin(), session.end(), '\n') > 15);  // the page was found
  REQUIRE(run_child("bash", {"-c", blocks_of(page).front().text}, {.folder = here.path()}).exit_code == 0);
  const Child python = run_child("/usr/bin/python3", {"-c", session}, {.folder = here.path()});
  INFO(python.err);
  CHECK(python.exit_code == 0);
  CHECK(has(python.out, "least coke margin"));
  CHECK(has(python.out, "production 1"));  // a word of the trace, and more than a hundred rows of it
}
