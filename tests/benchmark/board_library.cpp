// Every scenario of the library on the emulated board beside the controller of this program: ticks, ticks on which any bit
// of an output differs, and the most instructions of a tick.
//
//   board_library IMAGE [WORD] [KEY=VALUE...]   IMAGE: controller-board.elf; only scenarios whose path holds WORD
//
// One row a scenario as it ends; then the rows of docs/reference/board-load.md. Exit code 1 when a bit differed or a run
// did not end as in the program. Needs qemu-system-arm.
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>

#include "hil-harness/links/emulator.hpp"
#include "tests/support/both_links.hpp"
#include "tests/support/shipped_case.hpp"

namespace {

using namespace duskline;

constexpr const char* kLaws[] = {
#define WORD(identifier, value, word, meaning) word,
    CTL_LAW_LIST(WORD)
#undef WORD
};
constexpr double kClock = 25e6;  // Hz, of the board that the image is for

struct Row {
  std::string scenario, law;
  int ticks = 0, differ = 0;
  double most = 0.0, most_answer = 0.0;  // instructions of a step, and of a whole answer
  unsigned tick = 0;
};

std::vector<std::string> paths_with(const std::string& word) {
  std::vector<std::string> paths;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(tests::library()))
    if (entry.path().extension() == ".yaml") {
      std::string path = std::filesystem::relative(entry.path(), tests::library()).string();
      if (path.find(word) != std::string::npos) paths.push_back(std::move(path));
    }
  std::sort(paths.begin(), paths.end());
  return paths;
}

/// Runs one scenario on both; false when it did not end by its own.
bool run_on_both(const std::string& image, const std::string& path, const std::vector<std::string>& settings,
                 Row& row) {
  const scenarios::Case c = tests::read_shipped(tests::library() / path, settings);
  auto opened = harness::open_emulator(image, c.scenario.controller);
  if (!opened) {
    std::fputs(scenarios::to_text(opened.problems).c_str(), stderr);
    return false;
  }
  tests::BothLinks both(c.scenario.controller, *opened.value);
  const harness::RunRecord run = harness::run_loop(c, both);
  const auto report = both.board().report();
  if (both.error() != "board: " || !report) {
    fmt::print(stderr, "{}: {}\n", path, both.error());
    return false;
  }
  row = {path,
         kLaws[c.scenario.controller.law],
         both.ticks,
         both.differ,
         report->most_counts * harness::kInstructionsPerCount,
         report->most_answer_counts * harness::kInstructionsPerCount,
         report->most_tick};
  return true;
}

std::string line(const Row& row) {
  return fmt::format("| {} | {} | {} | {} | {:.0f} | {} | {:.0f} | {:.3f} |", row.scenario, row.law,
                     row.ticks, row.differ, row.most, row.tick, row.most_answer,
                     100.0 * row.most_answer / kClock);
}

}  // namespace

int main(int argc, char** argv) try {
  if (argc < 2) {
    std::fprintf(stderr, "usage: board_library IMAGE [WORD] [KEY=VALUE...]\n");
    return 2;
  }
  const std::vector<std::string> settings(argv + std::min(argc, 3), argv + argc);
  std::vector<Row> rows;
  int failed = 0;
  long ticks = 0, differ = 0;
  for (const std::string& path : paths_with(argc > 2 ? argv[2] : "")) {
    Row row;
    if (run_on_both(argv[1], path, settings, row)) {
      fmt::print("{}\n", line(row));
      std::fflush(stdout);
      ticks += row.ticks;
      differ += row.differ;
      rows.push_back(row);
    } else {
      ++failed;
    }
  }
  std::stable_sort(rows.begin(), rows.end(), [](const Row& a, const Row& b) { return a.most > b.most; });
  fmt::print(
      "\n{} scenarios, {} ticks, {} that differ, {} not run\n\nOf each law the scenario with the longest "
      "tick:\n",
      rows.size(), ticks, differ, failed);
  for (const char* law : kLaws) {
    const auto first = std::find_if(rows.begin(), rows.end(), [&](const Row& r) { return r.law == law; });
    if (first != rows.end()) fmt::print("{}\n", line(*first));
  }
  return differ == 0 && failed == 0 ? 0 : 1;
} catch (const std::exception& e) {
  std::fprintf(stderr, "%s\n", e.what());
  return 2;
}
