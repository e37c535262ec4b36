// Mutation check, quick form: each seeded defect of the controller must break a requirement of the scenario that is named
// for it, and the same build without a defect must break none. The whole table is docs/reference/mutation-check.md.
#include <catch2/catch.hpp>
#include <set>

#include "tests/mutation/mutant.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

void is_caught(const Defect& d) {
  const Folder here{"mutant-" + std::string(d.name)};
  const auto all = judge_library({std::string(d.quick)}, 1, build_mutant(here, &d));
  REQUIRE(all.size() == 1);
  INFO(d.name << ": " << d.what << "; it should break a requirement of " << d.quick);
  CHECK_FALSE(all.front().passed());
}

}  // namespace

TEST_CASE("there are twenty defects and more, each with a name of its own, in a place that stands once") {
  std::set<std::string_view> names;
  for (const Defect& d : kDefects) {
    INFO(d.name);
    CHECK(names.insert(d.name).second);
    CHECK(d.find != d.replacement);
    const std::string text = bytes_of(std::string(DUSKLINE_SOURCE_DIR "/controller/") + std::string(d.file));
    CHECK(count_of(text, d.find) == 1);
  }
  CHECK(names.size() >= 20);
}

TEST_CASE("without a defect the same build breaks none of the scenarios named") {
  std::set<std::string> names;
  for (const Defect& d : kDefects) names.emplace(d.quick);
  const Folder here{"mutant-none"};
  for (const auto& one : judge_library({names.begin(), names.end()}, 1, build_mutant(here, nullptr))) {
    INFO(one.name << '\n' << harness::judged_text(one.judged));
    CHECK(one.completed());
    CHECK(one.passed());
  }
}

// every defect is in one of these, so that they run side by side
#define CATCHES(share)                                                                    \
  TEST_CASE("the library catches its defects, share " #share " of 12") {                  \
    for (std::size_t i = (share)-1; i < kDefects.size(); i += 12) is_caught(kDefects[i]); \
  }
CATCHES(1)
CATCHES(2)
CATCHES(3)
CATCHES(4)
CATCHES(5)
CATCHES(6)
CATCHES(7)
CATCHES(8)
CATCHES(9)
CATCHES(10)
CATCHES(11)
CATCHES(12)
#undef CATCHES
