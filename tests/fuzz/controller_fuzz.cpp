// controller_fuzz [TICKS] [SEED] [EPISODE]: the controller under any inputs for as long as one likes. Prints what it
// covered; the first finding ends it with exit code 1 and the numbers that repeat it. Built with sanitizers, it also
// finds undefined behaviour:
//   cmake -S . -B build/fuzz -G Ninja -C .cmake/sanitize.cmake -DCMAKE_CXX_FLAGS_RELWITHDEBINFO="-O2 -g1"
//   ninja -C build/fuzz controller_fuzz && build/fuzz/tests/controller_fuzz 1e8 1
#include <chrono>
#include <cstdio>
#include <cstdlib>

#include "tests/support/controller_fuzzer.hpp"

extern "C" __attribute__((weak)) void __sanitizer_set_death_callback(void (*)());

namespace {

duskline::test::ControllerFuzzer* running = nullptr;
std::uint64_t seed_in_use = 0;

void tell_where() {
  if (running != nullptr)
    std::fprintf(stderr, "at seed %llu, episode %llu, tick %u\n",
                 static_cast<unsigned long long>(seed_in_use),
                 static_cast<unsigned long long>(running->number()), running->tick());
}

}  // namespace

int main(int argc, char** argv) {
  const double wanted = argc > 1 ? std::atof(argv[1]) : 1e6;
  if (!(wanted >= 1.0 && wanted <= 1e15)) {
    std::fprintf(stderr, "usage: controller_fuzz [TICKS] [SEED] [EPISODE]\n");
    return 2;
  }
  const auto ticks = static_cast<std::uint64_t>(wanted);
  seed_in_use = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 1;
  duskline::test::ControllerFuzzer fuzzer(seed_in_use);
  running = &fuzzer;
  if (__sanitizer_set_death_callback != nullptr) __sanitizer_set_death_callback(tell_where);

  const auto start = std::chrono::steady_clock::now();
  const auto seconds = [&start] {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  };
  std::string found;
  if (argc > 3) {
    found = fuzzer.episode(std::strtoull(argv[3], nullptr, 10));
  } else {
    constexpr std::uint64_t kPart = 5000000;
    for (std::uint64_t goal = std::min(kPart, ticks); found.empty(); goal = std::min(goal + kPart, ticks)) {
      found = fuzzer.run(goal);
      std::printf("%llu ticks, %.0f a second\n", static_cast<unsigned long long>(fuzzer.ticks()),
                  static_cast<double>(fuzzer.ticks()) / seconds());
      std::fflush(stdout);
      if (goal == ticks) break;
    }
  }
  constexpr const char* kWords[] = {
#define WORD(identifier, value, word, meaning) word,
      CTL_MODE_LIST(WORD)
#undef WORD
  };
  for (std::uint32_t mode = 0; mode < CTL_MODES; ++mode)
    std::printf("%-11s %llu\n", kWords[mode], static_cast<unsigned long long>(fuzzer.ticks_in(mode)));
  std::printf("states with corrupted memory: %llu, refused: %llu\n",
              static_cast<unsigned long long>(fuzzer.corrupted_states()),
              static_cast<unsigned long long>(fuzzer.refused_states()));
  if (found.empty()) {
    std::printf("nothing found\n");
    return 0;
  }
  std::printf("found: %s\n", found.c_str());
  return 1;
}
