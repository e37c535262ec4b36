// Every scenario of the library on the emulated board beside the controller of this program: ticks, ticks on which any bit
// of an output differs, and the most instructions of a tick. Writes docs/reference/board-load.md (half an hour):
//
//   board_library IMAGE [WORD] [KEY=VALUE...]   IMAGE: controller-board.elf; only scenarios whose path holds WORD
//
// Exit code 1 when a bit differed or a run did not end as in the program. Needs qemu-system-arm.
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
  double step_max = 0.0, answer_max = 0.0;  // instructions of a step, and of a whole answer
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
         report->max_counts * harness::kInstructionsPerCount,
         report->max_answer_counts * harness::kInstructionsPerCount,
         report->max_tick};
  return true;
}

std::string line(const Row& row) {
  return fmt::format("| {} | {} | {} | {} | {:.0f} | {} | {:.0f} | {:.2f} ms |", row.scenario, row.law,
                     row.ticks, row.differ, row.step_max, row.tick, row.answer_max,
                     1e3 * row.answer_max / kClock);
}

/// The page; the longest ticks of each law first.
void print_page(std::vector<Row> rows) {
  long ticks = 0, differ = 0;
  for (const Row& row : rows) ticks += row.ticks, differ += row.differ;
  constexpr const char* kHeading =
      "| scenario | law | ticks | that differ | most instructions of a step | at tick | of a whole answer | "
      "at 25 MHz |\n"
      "| --- | --- | --- | --- | --- | --- | --- | --- |";
  fmt::print(
      "# The library on the emulated board\n\n"
      "Written by `docs/reference/board-load` (program `board_library`). Each scenario ran once with the "
      "controller of the\n"
      "program and the controller's image for its board side by side (`tests/support/both_links.hpp`): every "
      "tick gave both\n"
      "the same readings, and every byte of the outputs was compared.\n\n"
      "**{} scenarios, {} ticks, {} that differ in any bit.**\n\n"
      "Instructions are counted on the board by its own counter, in an emulator whose time is its "
      "instructions, so that they\n"
      "are the same on every machine: those of `ctl_step`, and those of a whole answer (readings taken from "
      "the frame, step,\n"
      "outputs put into a frame with its checksum). They are the most that was seen, not a proof. The last "
      "column is an\n"
      "estimate: one instruction a cycle at the 25 MHz of the board that is emulated, of a control period of "
      "1 s. A test\n"
      "(`tests/interface/board_test.cpp`) counts again over a sample.\n\n"
      "## Longest tick of each law\n{}\n",
      rows.size(), ticks, differ, kHeading);
  std::stable_sort(rows.begin(), rows.end(),
                   [](const Row& a, const Row& b) { return a.step_max > b.step_max; });
  for (const char* law : kLaws) {
    const auto first = std::find_if(rows.begin(), rows.end(), [&](const Row& r) { return r.law == law; });
    if (first != rows.end()) fmt::print("{}\n", line(*first));
  }
  std::sort(rows.begin(), rows.end(), [](const Row& a, const Row& b) { return a.scenario < b.scenario; });
  fmt::print("\n## All scenarios\n{}\n", kHeading);
  for (const Row& row : rows) fmt::print("{}\n", line(row));
}

}  // namespace

int main(int argc, char** argv) try {
  if (argc < 2) {
    std::fprintf(stderr, "usage: board_library IMAGE [WORD] [KEY=VALUE...]\n");
    return 2;
  }
  const std::vector<std::string> settings(argv + std::min(argc, 3), argv + argc);
  std::vector<Row> rows;
  int failed = 0, differ = 0;
  for (const std::string& path : paths_with(argc > 2 ? argv[2] : "")) {
    Row row;
    if (!run_on_both(argv[1], path, settings, row)) {
      ++failed;
      continue;
    }
    fmt::print(stderr, "{}\n", line(row));
    differ += row.differ;
    rows.push_back(row);
  }
  if (rows.empty() && failed == 0) {
    std::fprintf(stderr, "no scenario of the library has '%s' in its path\n", argc > 2 ? argv[2] : "");
    return 2;
  }
  print_page(std::move(rows));
  return differ == 0 && failed == 0 ? 0 : 1;
} catch (const std::exception& e) {
  std::fprintf(stderr, "%s\n", e.what());
  return 2;
}
