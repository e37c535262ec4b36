// The trace in the hands of others: ncdump and xarray read it, UDUNITS knows every unit, flags carry their
// words.
#include <udunits2.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "controller/include/controller.h"
#include "hil-harness/loop/recorder.hpp"
#include "hil-harness/trace/trace_reader.hpp"
#include "tests/support/child.hpp"
#include "tests/support/skip.hpp"

using namespace duskline::tests;
namespace harness = duskline::harness;

namespace {

/// One short run for all that is asked here.
struct Run {
  Run() : folder("run-trace"), trace(folder.file("a run/trace.nc")) {
    const Child child = run_duskline({"run", kSol, "--set", "duration=10 min", "--set",
                                      "start.local_time=12 h", "--out", folder.file("a run"), "--quiet"});
    INFO(child.err);
    REQUIRE(child.exit_code == 0);
  }
  Folder folder;
  std::string trace;
};

const Run& a_run() {
  static const Run run;
  return run;
}

bool can(const std::string& program, const std::vector<std::string>& words) {
  return run_child(program, words).exit_code == 0;
}

}  // namespace

TEST_CASE("Every unit of the dictionary of signals is a unit of UDUNITS") {
  ut_set_error_message_handler(ut_ignore);
  ut_system* const system = ut_read_xml(nullptr);
  REQUIRE(system != nullptr);
  ut_unit* const nonsense = ut_parse(system, "furlongs per fornight", UT_UTF8);
  CHECK(nonsense == nullptr);  // the check can fail
  for (const harness::Signal& signal : harness::signal_table()) {
    INFO(signal.info.name << " in " << signal.info.unit);
    ut_unit* const unit = ut_parse(system, signal.info.unit.c_str(), UT_UTF8);
    CHECK(unit != nullptr);
    ut_free(unit);
    CHECK_FALSE(signal.info.meaning.empty());
    CHECK_FALSE(signal.info.group.empty());
  }
  ut_free_system(system);
}

TEST_CASE("The trace holds every signal of the dictionary, and values where the plant runs") {
  std::string problem;
  const auto trace = harness::TraceReader::open(a_run().trace, problem);
  INFO(problem);
  REQUIRE(trace);
  const harness::IntervalExtremes extremes;  // the run records every tenth tick
  CHECK(trace->signals().size() == harness::signal_table().size() + extremes.signals().size());
  for (const harness::SignalInfo& signal : extremes.signals()) {
    INFO(signal.name);
    REQUIRE(trace->find(signal.name) != nullptr);
    CHECK(*trace->find(signal.name) == signal);
  }
  REQUIRE(trace->rows() == 60);  // ten minutes at 10 s
  for (const harness::Signal& signal : harness::signal_table()) {
    INFO(signal.info.name);
    const auto* found = trace->find(signal.info.name);
    REQUIRE(found != nullptr);
    CHECK(*found == signal.info);
    const auto column = trace->column(signal.info.name);
    CHECK(column.size() == 60 * signal.info.width);
    if (signal.info.name == "power_ceiling") continue;  // none was given: unknown throughout
    CHECK(std::isfinite(column.back()));
  }
  const auto mode = trace->column("mode");
  for (const double m : mode) CHECK((m >= 0.0 && m < int{CTL_MODES}));
  CHECK(mode.back() == int{CTL_PRODUCTION});
  CHECK(trace->attributes().at("Conventions") == "CF-1.10");
  CHECK(trace->attributes().at("seed") == "7");
}

TEST_CASE("ncdump reads the trace") {
  if (!can("ncdump", {"-k", a_run().trace})) {
    skip("ncdump is not installed");
    return;
  }
  const Child head = run_child("ncdump", {"-h", a_run().trace});
  CHECK(head.exit_code == 0);
  CHECK(has(head.out, "time = UNLIMITED ; // (60 currently)"));
  CHECK(has(head.out, "cell = 8 ;"));
  CHECK(has(head.out, "float cell_voltage(time, cell) ;"));
  CHECK(has(head.out, "cell_voltage:units = \"V\" ;"));
  CHECK(has(head.out, "mode:flag_meanings = \"off warm-up standby production cool-down safe\" ;"));
  CHECK(has(head.out, "tripped:flag_masks = 1, 2, 4, 8,"));
}

TEST_CASE("xarray opens the trace, and its flags decode to words") {
  const std::string python = "/usr/bin/python3";
  if (!can(python, {"-c", "import xarray, netCDF4"})) {
    skip("python3-xarray or python3-netcdf4 is not installed");
    return;
  }
  const std::string script = R"(
import json, sys, xarray
d = xarray.open_dataset(sys.argv[1])
mode = d.mode
words = dict(zip(mode.attrs["flag_values"].tolist(), mode.attrs["flag_meanings"].split()))
missing = dict(zip(d.unmet_permissives.attrs["flag_masks"].tolist(), d.unmet_permissives.attrs["flag_meanings"].split()))
last = int(d.unmet_permissives[-1])
print(json.dumps({
    "sizes": dict(d.sizes), "cells": d.cell.values.tolist(), "units": d.ambient_pressure.attrs["units"],
    "mode": words[int(mode[-1])], "types": sorted({str(v.dtype) for v in d.data_vars.values()}),
    "missing": [w for m, w in missing.items() if last & m],
    "time": [float(x) for x in (d.time[1] - d.time[0], d.time[-1])] if d.time.dtype.kind == "f" else str(d.time.dtype),
    "pressure": float(d.ambient_pressure.mean()), "ceiling": bool(d.power_ceiling.isnull().all()),
    "at": float(d.cell_voltage.sel(cell=6).isel(time=-1))}))
)";
  const Child child = run_child(python, {"-c", script, a_run().trace});
  INFO(child.err);
  REQUIRE(child.exit_code == 0);
  const auto seen = nlohmann::json::parse(child.out);
  CHECK(
      seen["sizes"] ==
      nlohmann::json{{"time", 60}, {"cell", 8}, {"zone", 5}, {"end", 2}, {"correction", 18}, {"alarm", 36}});
  CHECK(seen["cells"] == nlohmann::json{1, 2, 3, 4, 5, 6, 7, 8});
  CHECK(seen["types"] == nlohmann::json{"float32", "int32"});
  CHECK(seen["units"] == "Pa");
  CHECK(seen["mode"] == "production");
  CHECK(seen["missing"].empty());  // nothing stands in the way of production
  CHECK(seen["time"] == nlohmann::json{10.0, 590.0});
  CHECK(seen["ceiling"] == true);
  std::string problem;
  const auto trace = harness::TraceReader::open(a_run().trace, problem);
  REQUIRE(trace);
  double sum = 0.0;
  for (const double p : trace->column("ambient_pressure")) sum += p / 60.0;
  CHECK(seen["pressure"].get<double>() == Approx(sum).epsilon(1e-6));
  CHECK(seen["at"].get<double>() == trace->column("cell_voltage")[59 * 8 + 5]);
}

TEST_CASE("A run held to the clock has the trace of the run that is not, and its timing beside it") {
  const Folder here{"run-clock"};
  const auto run = [&](std::vector<std::string> words, const std::string& out) {
    for (const std::string& more : {std::string("--set"), std::string("duration=2 min"), std::string("--out"),
                                    here.file(out), std::string("--quiet")})
      words.push_back(more);
    const Child child = run_duskline(words);
    INFO(child.err);
    REQUIRE(child.exit_code == 0);
  };
  run({"run", kSol}, "free");
  run({"hil", kSol, "--link", "in-process", "--speed", "600"}, "clock");
  CHECK((bytes_of(here.file("free/trace.nc")) == bytes_of(here.file("clock/trace.nc"))));
  CHECK((bytes_of(here.file("free/summary.json")) == bytes_of(here.file("clock/summary.json"))));
  CHECK_FALSE(std::filesystem::exists(here.file("free/timing.json")));
  const auto timing = nlohmann::json::parse(bytes_of(here.file("clock/timing.json")));
  CHECK(timing["ticks"] == 120);  // of 1 s
  CHECK(timing["speed"] == 600);
  // the clock starts with the first answer: 119 ticks begin by it, with 118 periods between them
  for (const auto& spread : timing["spreads"]) CHECK(spread["count"].get<int>() >= 118);
  CHECK(has(bytes_of(here.file("clock/report.html")), "\"begin_late\""));
  CHECK_FALSE(has(bytes_of(here.file("free/report.html")), "\"begin_late\""));
}
