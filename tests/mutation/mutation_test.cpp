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

TEST_CASE("without a defect the same build breaks none of the scenarios named", "[check]") {
  std::set<std::string> names;
  for (const Defect& d : kDefects) names.emplace(d.quick);
  const Folder here{"mutant-none"};
  for (const auto& one : judge_library({names.begin(), names.end()}, 1, build_mutant(here, nullptr))) {
    INFO(one.name << '\n' << harness::judged_text(one.judged));
    CHECK(one.completed());
    CHECK(one.passed());
  }
}

namespace {

/// A case for each defect, so that the list above is the only one.
class IsCaught final : public Catch::ITestInvoker {
 public:
  explicit IsCaught(const Defect& defect) : defect_(defect) {}
  void invoke() const override { is_caught(defect_); }

 private:
  const Defect& defect_;
};

const bool kRegistered = [] {
  for (const Defect& d : kDefects) {
    const std::string name = test_name(d);
    Catch::AutoReg{new IsCaught(d), CATCH_INTERNAL_LINEINFO, {}, {name, "[check]"}};
  }
  return true;
}();

}  // namespace
