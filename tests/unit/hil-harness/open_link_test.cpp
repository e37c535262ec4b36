// How a link is named, and what is said of a name that is none.
#include <catch2/catch.hpp>

#include "hil-harness/links/open_link.hpp"

using namespace duskline;

namespace {

std::string refusal(const std::string& name) {
  ctl_params params;
  ctl_default_params(&params);
  const auto opened = harness::open_link(name, params);
  REQUIRE_FALSE(opened);
  return opened.problems.at(0).message;
}

}  // namespace

TEST_CASE("A link is named by its kind and its address") {
  ctl_params params;
  ctl_default_params(&params);
  const auto ours = harness::open_link("in-process", params);
  REQUIRE(ours);
  ctl_inputs in{};
  ctl_outputs out{};
  CHECK((*ours.value)->step(in, out) == CTL_OK);
}

TEST_CASE("A name that is no link is refused with what may stand there") {
  CHECK(refusal("in-process:x") == "'in-process' takes no address");
  CHECK(refusal("plugin") == "'plugin' needs an address: plugin:FILE");
  CHECK(refusal("emulator:") == "'emulator' needs an address: emulator:IMAGE");
  CHECK(refusal("wire:x") == "'wire' is no kind of link; expected " + harness::link_forms());
  CHECK(refusal("emulater:x").find("; did you mean 'emulator'?") != std::string::npos);
  for (const harness::LinkKind& kind : harness::link_kinds())
    CHECK(harness::link_forms().find(kind.word) != std::string::npos);
}
