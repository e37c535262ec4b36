/// Counts the instructions of recorded ticks, one at a time.
///
/// What it is   ticks of the fuzzer, recorded with all that goes in; run in a child that is stepped, or in an
///              emulator
/// Equation     instructions of a tick = steps between two marks, less those of an empty pair of marks
/// Symbols      none
/// Validity     Linux; the emulator logs one line an instruction
/// Source       ptrace(2), PTRACE_SINGLESTEP; QEMU documentation, -singlestep -d exec
/// Left out     cycles
#pragma once

#include <sys/ptrace.h>
#include <sys/wait.h>

#include <csignal>

#include "tests/support/controller_fuzzer.hpp"
#include "tests/support/footprint.hpp"

namespace duskline::test {

/// Everything that goes into a tick.
struct TickRecord {
  ctl_state state;
  ctl_params params;
  ctl_inputs in;
};

struct Counts {
  std::uint64_t most = 0, median = 0;
  std::size_t ticks = 0;
};

inline Counts counts_of(std::vector<std::uint64_t> each) {
  if (each.empty()) return {};
  std::sort(each.begin(), each.end());
  return {each.back(), each[each.size() / 2], each.size()};
}

/// Up to `each` ticks of every mode under every law, as the fuzzer meets them; law by law.
inline std::vector<std::vector<TickRecord>> record_ticks(std::size_t each, std::uint64_t seed = 1) {
  struct Recorder {
    std::vector<TickRecord> kept[CTL_LAWS][CTL_MODES];
    std::size_t each = 0;
    std::uint64_t seen = 0;
  };
  static Recorder recorder;
  recorder = {};
  recorder.each = each;
  const auto step = [](ctl_state* s, const ctl_params* p, const ctl_inputs* in, ctl_outputs* out) {
    const TickRecord before{*s, *p, *in};
    const ctl_status status = ctl_step(s, p, in, out);
    if (status != CTL_OK) return status;
    auto& kept = recorder.kept[p->law][out->mode];
    // one in a prime, so that episodes, styles and ages mix
    if (++recorder.seen % 97 == 0 && kept.size() < recorder.each) kept.push_back(before);
    return status;
  };
  ControllerFuzzer fuzzer(seed, step);
  fuzzer.run(97 * 40 * each * CTL_LAWS * CTL_MODES);
  std::vector<std::vector<TickRecord>> laws;
  for (const auto& law : recorder.kept) {
    auto& all = laws.emplace_back();
    for (const auto& mode : law) all.insert(all.end(), mode.begin(), mode.end());
  }
  return laws;
}

/// Single-steps the controller of this program through the ticks; empty when the system does not allow it.
inline std::vector<std::uint64_t> host_instructions(const std::vector<TickRecord>& ticks) {
  const pid_t child = fork();
  if (child < 0) return {};
  if (child == 0) {
    if (ptrace(PTRACE_TRACEME, 0, nullptr, nullptr) != 0) _exit(1);
    static ctl_outputs out;
    raise(SIGUSR1);
    raise(SIGUSR1);  // an empty pair
    for (const TickRecord& tick : ticks) {
      ctl_state state = tick.state;
      raise(SIGUSR1);
      ctl_step(&state, &tick.params, &tick.in, &out);
      raise(SIGUSR1);
    }
    _exit(0);
  }
  std::vector<std::uint64_t> counts;
  bool inside = false;
  std::uint64_t steps = 0;
  int status = 0;
  while (waitpid(child, &status, 0) == child && WIFSTOPPED(status)) {
    if (WSTOPSIG(status) == SIGUSR1) {
      if (inside) counts.push_back(steps);
      inside = !inside;
      steps = 0;
    } else if (WSTOPSIG(status) == SIGTRAP && inside) {
      ++steps;
    } else {
      kill(child, SIGKILL);
      waitpid(child, &status, 0);
      return {};
    }
    if (ptrace(inside ? PTRACE_SINGLESTEP : PTRACE_CONT, child, nullptr, nullptr) != 0) break;
  }
  if (!WIFEXITED(status) || WEXITSTATUS(status) != 0 || counts.size() != ticks.size() + 1) return {};
  const std::uint64_t marks = counts.front();
  counts.erase(counts.begin());
  for (std::uint64_t& count : counts) count -= std::min(count, marks);
  return counts;
}

/// Runs the ticks as code for the board in an emulator of its instructions; empty when that is not installed.
inline std::vector<std::uint64_t> board_instructions(const std::vector<TickRecord>& ticks) {
  if (!has_program("arm-none-eabi-g++") || !has_program("qemu-arm")) return {};
  const Scratch scratch;
  const Objects objects = board_objects(scratch, "-O2");
  std::ofstream(scratch.file("ticks.bin"), std::ios::binary)
      .write(reinterpret_cast<const char*>(ticks.data()),
             static_cast<std::streamsize>(ticks.size() * sizeof(TickRecord)));
  std::ofstream(scratch.file("ticks.s")) << ".section .data\n.balign 8\n.global ticks\nticks:\n.incbin \""
                                         << scratch.file("ticks.bin") << "\"\n";
  std::ofstream(scratch.file("start.c")) << R"(
#include "controller/include/controller.h"
typedef struct { ctl_state state; ctl_params params; ctl_inputs in; } record;
extern record ticks[];
static ctl_outputs out;
void mark(void);
__attribute__((noinline)) void mark(void) { __asm__ volatile("" ::: "memory"); }
void _start(void);
void _start(void) {
  for (int k = 0; k < COUNT; ++k) {
    mark();
    ctl_step(&ticks[k].state, &ticks[k].params, &ticks[k].in, &out);
  }
  mark();
  register int r0 __asm__("r0") = 0;
  register int r7 __asm__("r7") = 1; /* exit */
  __asm__ volatile("svc 0" ::"r"(r0), "r"(r7));
  for (;;) {
  }
}
)";
  const Ran built =
      run_command("arm-none-eabi-gcc -O2 -ffreestanding -fno-math-errno -nostartfiles " + kBoard +
                  " -I " DUSKLINE_SOURCE_DIR " -DCOUNT=" + std::to_string(ticks.size()) + " " +
                  scratch.file("start.c") + " " + scratch.file("ticks.s") + " " + objects.joined + " -o " +
                  scratch.file("ticks.elf") + " -lc -lgcc");
  if (built.status != 0 || !objects.error.empty()) return {};
  FILE* log = popen(
      ("qemu-arm -singlestep -d exec,nochain -D /dev/stdout " + scratch.file("ticks.elf") + " 2>&1").c_str(),
      "r");
  if (log == nullptr) return {};
  std::vector<std::uint64_t> counts;
  std::uint64_t lines = 0;
  bool begun = false;
  char line[512];
  bool in_mark = false;
  while (fgets(line, sizeof line, log) != nullptr) {
    ++lines;
    const char* name = std::strrchr(line, ']');
    const bool mark = name != nullptr && std::strcmp(name, "] mark\n") == 0;
    if (mark && !in_mark) {
      if (begun) counts.push_back(lines);
      begun = true;
      lines = 0;
    }
    in_mark = mark;
  }
  return pclose(log) == 0 && counts.size() == ticks.size() ? counts : std::vector<std::uint64_t>{};
}

}  // namespace duskline::test
