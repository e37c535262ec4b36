// How a link is named, and what is said of a name that is none.
#include <catch2/catch.hpp>
#include <fstream>
#include <iterator>

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

TEST_CASE("A run says by whose controller it was controlled, without a path") {
  CHECK(harness::foreign_controller("plugin:./folder/mine.so") == "plug-in mine.so");
  CHECK(harness::foreign_controller("modbus:127.0.0.1:1502") == "Modbus client");
  CHECK(harness::foreign_controller("emulator:board.elf").empty());  // ours, on another processor
  CHECK(harness::foreign_controller("").empty());
}

TEST_CASE("A name that is no link is refused with what may stand there") {
  CHECK(refusal("in-process:x") == "'in-process' takes no address");
  CHECK(refusal("plugin") == "'plugin' needs an address: plugin:FILE");
  CHECK(refusal("emulator:") == "'emulator' needs an address: emulator:IMAGE");
  CHECK(refusal("wire:x") == "'wire' is no kind of link; expected " + harness::link_forms());
  CHECK(refusal("emulater:x").find("; did you mean 'emulator'?") != std::string::npos);
  std::ifstream page(DUSKLINE_SOURCE_DIR "/docs/explain/links.md");
  const std::string text{std::istreambuf_iterator<char>(page), {}};
  for (const harness::LinkKind& kind : harness::link_kinds()) {
    CHECK(harness::link_forms().find(kind.word) != std::string::npos);
    CHECK(text.find("| `" + std::string(kind.word)) != std::string::npos);  // the page has a row for each
  }
}
