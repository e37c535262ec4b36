// Mutation check, quick form: each seeded defect of the controller must break a requirement of the scenario that is named
// for it, and the same build without a defect must break none. The whole table is docs/reference/mutation-check.md.
#include <catch2/catch.hpp>
#include <set>

#include "tests/mutation/mutant.hpp"

using namespace duskline;
using namespace duskline::tests;

namespace {

const Defect& defect(std::string_view name) {
  for (const Defect& d : kDefects)
    if (d.name == name) return d;
  throw std::runtime_error("there is no such defect");
}

void is_caught(std::string_view name) {
  const Defect& d = defect(name);
  const Folder here{"mutant-" + std::string(name)};
  const auto all = judge_library({std::string(d.quick)}, 1, build_mutant(here, &d));
  REQUIRE(all.size() == 1);
  INFO(d.what << "; it should break a requirement of " << d.quick);
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

TEST_CASE("the library catches: feed forward reversed") {
  is_caught("feed-forward-reversed");
}
TEST_CASE("the library catches: loops do not track") {
  is_caught("loops-do-not-track");
}
TEST_CASE("the library catches: greatest selected") {
  is_caught("greatest-selected");
}
TEST_CASE("the library catches: margin too hopeful") {
  is_caught("margin-too-hopeful");
}
TEST_CASE("the library catches: interlocks late") {
  is_caught("interlocks-late");
}
TEST_CASE("the library catches: interlocks dead") {
  is_caught("interlocks-dead");
}
TEST_CASE("the library catches: no protective current") {
  is_caught("no-protective-current");
}
TEST_CASE("the library catches: heater gain fourfold") {
  is_caught("heater-gain-fourfold");
}
TEST_CASE("the library catches: heaters too weak") {
  is_caught("heaters-too-weak");
}
TEST_CASE("the library catches: ramp in wrong unit") {
  is_caught("ramp-in-wrong-unit");
}
TEST_CASE("the library catches: atoms for molecules") {
  is_caught("atoms-for-molecules");
}
TEST_CASE("the library catches: alarms never begin") {
  is_caught("alarms-never-begin");
}
TEST_CASE("the library catches: shelved for good") {
  is_caught("shelved-for-good");
}
TEST_CASE("the library catches: memory ignored") {
  is_caught("memory-ignored");
}
TEST_CASE("the library catches: stale flow") {
  is_caught("stale-flow");
}
TEST_CASE("the library catches: no derating") {
  is_caught("no-derating");
}
TEST_CASE("the library catches: permissives ignored") {
  is_caught("permissives-ignored");
}
TEST_CASE("the library catches: endless purge") {
  is_caught("endless-purge");
}
TEST_CASE("the library catches: current in one step") {
  is_caught("current-in-one-step");
}
TEST_CASE("the library catches: ceiling ignored") {
  is_caught("ceiling-ignored");
}
TEST_CASE("the library catches: nothing detected") {
  is_caught("nothing-detected");
}
TEST_CASE("the library catches: recycle reversed") {
  is_caught("recycle-reversed");
}
TEST_CASE("the library catches: link never lost") {
  is_caught("link-never-lost");
}
TEST_CASE("the library catches: density of the year") {
  is_caught("density-of-the-year");
}
