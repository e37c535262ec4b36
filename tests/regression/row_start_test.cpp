// Found in November 2026: a trace whose program was killed showed times of 1e-47 s. The place of the first
// row was taken from the size of a file of one row, and for some lengths of the header the library leaves
// room behind it.
#include <catch2/catch.hpp>
#include <filesystem>

#include "hil-harness/trace/trace_reader.hpp"
#include "hil-harness/trace/trace_writer.hpp"
#include "tests/support/folder.hpp"

using namespace duskline::harness;
using duskline::tests::Folder;

TEST_CASE("Rows on disk are read where they were written, whatever the length of the header") {
  const Folder folder{"row-start"};
  for (std::size_t length = 1; length < 40000; length = length * 5 / 4 + 97) {
    INFO("attribute of " << length << " bytes");
    std::vector<SignalInfo> signals;
    for (int i = 0; i < 100; ++i) signals.push_back({"s" + std::to_string(i), "K", "", "", 1, "", {}, false});
    const std::string path = folder.file("trace.nc");
    std::filesystem::remove(path);
    TraceWriter writer(path, signals, {{"title", std::string(length, 'x')}});
    for (int row = 0; row < 3; ++row) {
      std::vector<double> values;
      for (int i = 0; i < 100; ++i) values.push_back(1000.0 * row + i);  // exact in float32
      REQUIRE(writer.append(10.0 * row, values));
    }
    REQUIRE(writer.flush());  // as far as a killed program gets
    std::string problem;
    const auto trace = TraceReader::open(path, problem);
    REQUIRE(trace);
    CHECK(trace->times() == std::vector<double>{0.0, 10.0, 20.0});
    CHECK(trace->column("s0") == std::vector<double>{0.0, 1000.0, 2000.0});
    CHECK(trace->column("s99") == std::vector<double>{99.0, 1099.0, 2099.0});
  }
}
