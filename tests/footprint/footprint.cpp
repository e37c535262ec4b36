// footprint: measures what the controller needs of a machine and prints docs/reference/footprint.md.
#include <cstdio>

#include "tests/support/tick_counter.hpp"

using namespace duskline::test;

namespace {

std::string first_line(const std::string& command) {
  const std::string text = run_command(command).text;
  return text.substr(0, text.find('\n'));
}

/// 12345 as "12 345".
std::string grouped(std::uint64_t value) {
  std::string text = std::to_string(value);
  for (std::size_t at = text.size(); at > 3;) text.insert(at -= 3, " ");
  return text;
}

constexpr const char* kLaws[] = {
#define WORD(identifier, value, word, meaning) word,
    CTL_LAW_LIST(WORD)
#undef WORD
};

}  // namespace

int main() {
  if (!has_program("arm-none-eabi-g++") || !has_program("qemu-arm")) {
    std::fprintf(stderr, "footprint: needs arm-none-eabi-g++ and qemu-arm\n");
    return 3;
  }
  const FootprintLimits limits;
  const Scratch scratch;
  const Objects quick = board_objects(scratch, "-O2"), small = board_objects(scratch, "-Os");
  if (!quick.error.empty() || !small.error.empty()) {
    std::fprintf(stderr, "%s%s", quick.error.c_str(), small.error.c_str());
    return 3;
  }
  CallGraph quick_graph(quick.call_graphs), small_graph(small.call_graphs);
  const Stack stack = quick_graph.deepest("ctl_step"), small_stack = small_graph.deepest("ctl_step");

  std::printf("# What the controller needs of a machine\n\n");
  std::printf(
      "Written by `docs/reference/generate` (program `footprint`), from the sources as they are. Another "
      "compiler gives\n"
      "other numbers: a test (`tests/interface/controller_footprint_test.cpp`) measures again and holds the "
      "limits, not\n"
      "the numbers. Board: Cortex-M4F, `%s`, %s.\nHost: %s.\n\n",
      kBoard.c_str(), first_line("arm-none-eabi-g++ --version").c_str(), first_line("g++ --version").c_str());
  std::printf("| what | measured | limit |\n| --- | --- | --- |\n");
  std::printf("| memory between ticks, used of `ctl_state` | %s B | %s B |\n",
              grouped(sizeof(duskline::controller::Memory)).c_str(), grouped(limits.memory).c_str());
  std::printf("| parameters, inputs, outputs | %s B, %s B, %s B | |\n", grouped(sizeof(ctl_params)).c_str(),
              grouped(sizeof(ctl_inputs)).c_str(), grouped(sizeof(ctl_outputs)).c_str());
  std::printf("| retained copy (`ctl_retained`) | %s B | |\n", grouped(sizeof(ctl_retained)).c_str());
  std::printf("| code and constants, board, -O2 | %s B | %s B |\n", grouped(code_size(quick)).c_str(),
              grouped(limits.code).c_str());
  std::printf("| code and constants, board, -Os | %s B | %s B |\n", grouped(code_size(small)).c_str(),
              grouped(limits.code).c_str());
  std::printf("| stack below `ctl_step`, board, -O2 | %s B | %s B |\n", grouped(stack.bytes).c_str(),
              grouped(limits.stack).c_str());
  std::printf("| stack below `ctl_step`, board, -Os | %s B | %s B |\n", grouped(small_stack.bytes).c_str(),
              grouped(limits.stack).c_str());
  std::printf("| heap, writable globals, code before `main` | none | none |\n");
  std::string symbols;
  for (const std::string& name : needed_symbols(quick))
    symbols += (symbols.empty() ? "`" : ", `") + name + "`";
  std::printf("| functions that it needs from elsewhere | %s | memcpy, memmove, memset, memcmp |\n\n",
              symbols.c_str());

  std::printf(
      "## Stack\nDeepest chain of calls with the frame of each, -O2. %s of %zu functions is recursive or has "
      "a frame of\n"
      "open size, and no call is indirect, so the sum is the worst case; memcpy and memset, which are the "
      "board's own,\n"
      "come on top.\n\n| function | frame |\n| --- | --- |\n",
      stack.error.empty() ? "None" : stack.error.c_str(), quick_graph.functions());
  for (const auto& [name, frame] : stack.chain) std::printf("| `%s` | %zu B |\n", name.c_str(), frame);

  std::printf(
      "\n## Instructions a tick\nCounted one by one over ticks that the fuzzer recorded: up to three of "
      "every mode under\n"
      "each law, with corrupted, stale, swapped and missing inputs and with parameters from anywhere in "
      "their "
      "ranges. The\n"
      "board's are counted in an emulator of its instructions, the host's by stepping a process. They are "
      "the most that\n"
      "was seen, not a proof; the limit of %s has room. Every loop has a fixed bound.\n\n"
      "| law | ticks | board, median | board, most | host, median | host, most |\n| --- | --- | --- | --- | "
      "--- | --- |\n",
      grouped(limits.instructions).c_str());
  const auto laws = record_ticks(3);
  for (std::size_t law = 0; law < laws.size(); ++law) {
    const Counts board = counts_of(board_instructions(laws[law])),
                 host = counts_of(host_instructions(laws[law]));
    std::printf("| %s | %zu | %s | %s | %s | %s |\n", kLaws[law], laws[law].size(),
                grouped(board.median).c_str(), grouped(board.most).c_str(), grouped(host.median).c_str(),
                grouped(host.most).c_str());
  }
  std::printf(
      "\nAt one instruction a cycle, which a Cortex-M4F with fast memory comes near, %s instructions are "
      "%.1f ms at\n"
      "100 MHz, of a control period of 1 s. Divisions and square roots take up to 14 cycles (*from memory*, "
      "technical\n"
      "reference manual of the core).\n",
      grouped(limits.instructions).c_str(), static_cast<double>(limits.instructions) / 1e5);
  return stack.error.empty() && small_stack.error.empty() ? 0 : 1;
}
