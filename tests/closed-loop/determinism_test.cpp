// Same inputs, same bits: stated by the project; nothing to look up.
#include <catch2/catch.hpp>

#include "tests/support/shipped_case.hpp"

using namespace duskline;
using namespace duskline::tests;

TEST_CASE("two runs end in the same state, bit for bit, recorded or not") {
  const std::string name = "storms/storm-dusk.yaml";
  const auto first = run_shipped(name), second = run_shipped(name);
  CHECK(first.final_state == second.final_state);
  CHECK(first.figures.energy == second.figures.energy);

  double seen = 0.0;
  harness::LoopOptions options;
  options.record = [&seen](const harness::Snapshot& s) { return (seen += s.plant.bus_power) >= 0.0; };
  options.progress = [](double) {};
  const auto recorded = run_shipped(name, {"record=1 s"}, options);
  CHECK(seen > 0.0);
  CHECK(recorded.final_state == first.final_state);
}

TEST_CASE("another seed is another run") {
  const std::string name = "storms/storm-dusk.yaml";
  CHECK(run_shipped(name, {"duration=10 min"}).final_state !=
        run_shipped(name, {"duration=10 min", "seed=14"}).final_state);
}
