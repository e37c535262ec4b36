// Plant files: the shipped plants are right, and everything that can be wrong with a parameter is located.
#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

#include "scenarios/reader/describe.hpp"
#include "scenarios/reader/plant_file.hpp"
#include "tests/support/folder.hpp"

using namespace duskline;
using namespace duskline::scenarios;
using duskline::tests::Folder;

namespace {

const std::filesystem::path kPlants = DUSKLINE_SOURCE_DIR "/plant-model/plants";

PlantFile bench() {
  auto outcome = read_plant(kPlants / "bench.yaml");
  INFO(to_text(outcome.problems));
  REQUIRE(outcome);
  return *outcome.value;
}

// Writes a file into a folder and gives its path.
std::string write(const Folder& folder, const std::string& name, const std::string& bytes) {
  std::ofstream{folder.file(name), std::ios::binary} << bytes;
  return folder.file(name);
}

// The bench plant as the reader writes it, with the line of one parameter replaced; gives the problems of
// reading it, with `L` for the number of that line and `f` for the name of the file.
std::string problems_with(const std::string& group, const std::string& name, const std::string& replacement) {
  PlantFile plant = bench();
  std::istringstream lines{write_plant(plant)};
  std::string text, line;
  bool inside = false;
  int number = 0, at = 0;
  while (std::getline(lines, line)) {
    ++number;
    if (line[0] != ' ') inside = line == group + ":";
    if (inside && line.starts_with("    ") == false && line.starts_with("  " + name + ": ")) {
      at = number;
      line = replacement;
    }
    text += line + "\n";
  }
  REQUIRE(at > 0);
  const Folder folder{"reader-plant"};
  const auto path = write(folder, "plant.yaml", text);
  const auto outcome = read_plant(path);
  std::string found = to_text(outcome.problems);
  const auto replace_all = [&](const std::string& what, const std::string& by) {
    for (std::size_t i = 0; (i = found.find(what, i)) != found.npos; i += by.size())
      found.replace(i, what.size(), by);
  };
  replace_all(path, "f");
  replace_all(":" + std::to_string(at) + ":", ":L:");
  replace_all("line " + std::to_string(at), "line L");
  return found;
}

}  // namespace

TEST_CASE("Every shipped plant reads without a problem and fills every parameter") {
  int plants = 0;
  for (const auto& entry : std::filesystem::directory_iterator{kPlants}) {
    if (entry.path().extension() != ".yaml") continue;
    ++plants;
    const auto outcome = read_plant(entry.path());
    INFO(to_text(outcome.problems));
    REQUIRE(outcome);
    PlantFile plant = *outcome.value;
    CHECK(plant.name == entry.path().stem().string());
    const auto table = plant::parameter_table();
    for (std::size_t i = 0; i < table.size(); ++i) {
      INFO(table[i].path);
      CHECK(plant.notes[i].source.empty() != table[i].fits(plant.parameters.form));
      if (!table[i].fits(plant.parameters.form)) continue;
      CHECK(plant.notes[i].lower >= table[i].lower);
      CHECK(plant.notes[i].upper <= table[i].upper);
      for (double value : table[i].get(plant.parameters)) {
        CHECK(value >= plant.notes[i].lower);
        CHECK(value <= plant.notes[i].upper);
      }
    }
  }
  CHECK(plants > 0);
}

TEST_CASE("A plant file says the form of its plant, which decides the parameters that it has") {
  const auto outpost = read_plant(std::filesystem::path{kPlants} / "outpost.yaml");
  REQUIRE(outpost);
  const plant::PlantForm form = outpost.value->parameters.form;
  CHECK(form.modules == 6);
  CHECK(form.intake == plant::kCentrifugal);
  CHECK(form.piping == plant::kHeaders);
  CHECK(outpost.value->parameters.module.resistance[5] == 1.0);
  const Folder folder{"reader-form"};
  const std::string text = write_plant(*outpost.value);
  const auto again = read_plant(write(folder, "outpost.yaml", text));
  REQUIRE(again);
  CHECK(write_plant(*again.value) == text);

  const auto said = [&](const char* setting) {
    const std::vector<std::string> settings{setting};
    const auto outcome = read_plant(std::filesystem::path{kPlants} / "outpost.yaml", settings);
    CHECK_FALSE(outcome);
    return to_text(outcome.problems);
  };
  CHECK(said("modules=13").find("modules: is 13; expected 1 to 12") != std::string::npos);
  CHECK(said("modules=5").find("module.production: expected a list of 5 values, found 6") !=
        std::string::npos);
  CHECK(said("intake=screw").find("intake: ") != std::string::npos);
  const std::string scroll = said("intake=scroll");
  CHECK(scroll.find(
            "train: belongs to plants of another form; this one is 'intake: scroll, piping: headers'") !=
        std::string::npos);
  CHECK(scroll.find("compressor: is missing, a group with displacement") != std::string::npos);
  CHECK(scroll.find("piping: headers need another intake than 'scroll' so far") != std::string::npos);
  const std::string apertures = said("piping=apertures");
  CHECK(apertures.find("every intake but a scroll needs 'piping: headers'") != std::string::npos);
  CHECK(apertures.find("valves: belongs to plants of another form") != std::string::npos);
  CHECK(apertures.find("flow.exhaust_aperture: is missing") != std::string::npos);
}

TEST_CASE(
    "A plant based on another has its parameters but for those that it gives, and says where each stands") {
  const auto base = read_plant(kPlants / "outpost.yaml");
  const auto lobe = read_plant(kPlants / "outpost-lobe.yaml");
  REQUIRE(base);
  REQUIRE(lobe);
  CHECK(lobe.value->title != base.value->title);
  const auto table = plant::parameter_table();
  std::size_t taken_over = 0;
  for (std::size_t i = 0; i < table.size(); ++i) {
    const ParameterNote &one = lobe.value->notes[i], &other = base.value->notes[i];
    INFO(table[i].path);
    CHECK(other.base.empty());
    if (one.base.empty()) continue;
    ++taken_over;
    CHECK(one.base == "outpost.yaml");
    CHECK(one.value == other.value);
    CHECK(one.source == other.source);
  }
  CHECK(taken_over > 100);
  const auto rows = describe_plant_parameters(*lobe.value);
  for (const auto& [path, here] : {std::pair{"cell.area", false}, std::pair{"lobe.stages", true}}) {
    INFO(path);
    const auto row = std::find_if(rows.begin(), rows.end(), [&](const Row& r) { return r.path == path; });
    REQUIRE(row != rows.end());
    CHECK(row->source.ends_with("(outpost.yaml)") != here);
  }
  // written out it stands alone
  const Folder folder{"reader-based"};
  const auto alone = read_plant(write(folder, "lobe.yaml", write_plant(*lobe.value)));
  REQUIRE(alone);
  CHECK(write_plant(*alone.value) == write_plant(*lobe.value));
}

TEST_CASE("What is wrong with a plant based on another is found in the file where it stands") {
  const Folder folder{"reader-based-wrong"};
  const auto said = [&](const std::string& bytes, std::vector<std::string> settings = {}) {
    const auto outcome = read_plant(write(folder, "own.yaml", bytes), settings);
    CHECK_FALSE(outcome);
    std::string found = to_text(outcome.problems);
    for (std::size_t i = 0; (i = found.find(folder.file(""), i)) != found.npos;)
      found.erase(i, folder.file("").size());
    return found;
  };
  std::ifstream bench_file{kPlants / "bench.yaml"};
  std::string bench_text{std::istreambuf_iterator<char>(bench_file), {}};
  write(folder, "bench.yaml", bench_text);
  const std::string head = "format: duskline-plant/1\nbased_on: bench.yaml\nname: own\ntitle: Own\n";
  CHECK(read_plant(write(folder, "own.yaml", head)));
  CHECK(said("format: duskline-plant/1\nbased_on: bench.yaml\ntitle: Own\n") ==
        "own.yaml:1:1: name: is missing (one word for the plant)\n");
  CHECK(said(head + "cell: {area: {value: 3 s}}\n").starts_with("own.yaml:5:8: cell.area: has no range\n"));
  CHECK(said(head + "cells: {}\n") == "own.yaml:5:1: cells: unknown key; did you mean 'cell'?\n");
  CHECK(said(head + "instruments: hello\n") ==
        "own.yaml:5:14: instruments: expected a map with keys, found a text\n");
  CHECK(said(head + "instruments: []\n").find("expected a map with keys, found a list") != std::string::npos);
  CHECK(said(head + "variants:\n\n\npurpose: p\n") ==
        "own.yaml:5:1: variants: expected a map with keys, found nothing\n");
  CHECK(said("format: duskline-plant/1\nbased_on: bench.yaml\nname: ''\ntitle: ' '\n") ==
        "own.yaml:3:7: name: is empty (one word for the plant)\n"
        "own.yaml:4:8: title: is empty (what plant this is, in a line)\n");
  CHECK(said(head, {"plant.cell.area=1 cm2"}).starts_with("--set:1:1: "));
  // a section of another form, given here or on the command line
  const std::string other = "lobe: {stages: {value: 6, range: [6, 6], source: x}}\n";
  CHECK(said(head + other).starts_with("own.yaml:5:1: lobe: belongs to plants of another form"));
  write(folder, "apart.yaml", head + "piping: headers\nintake: lobe\n");
  const std::string apart = said("format: duskline-plant/1\nbased_on: apart.yaml\nname: own\ntitle: Own\n",
                                 {"compressor.filling=0.5"});
  CHECK(apart.starts_with("--set:1:"));
  CHECK(apart.find(": plant.compressor: belongs to plants of another form") != std::string::npos);
  // chains
  CHECK(said("format: duskline-plant/1\nbased_on: own.yaml\n") ==
        "own.yaml:2:11: based_on: leads back to 'own.yaml', which is based on this file\n");
  write(folder, "far.yaml", "format: duskline-plant/1\nbased_on: own.yaml\n");
  CHECK(said("format: duskline-plant/1\nbased_on: far.yaml\n") ==
        "far.yaml:2:11: based_on: leads back to 'own.yaml', which is based on this file\n");
  CHECK(said("format: duskline-plant/1\nbased_on: none.yaml\n") ==
        "own.yaml:2:11: based_on: there is no file 'none.yaml' in the folder of this one\n");
  CHECK(said("format: duskline-plant/1\nbased_on: [a]\n").find("expected the name of a plant file") !=
        std::string::npos);
  // in the base
  const std::size_t at = bench_text.find("  conductivity: {value: ");
  REQUIRE(at != std::string::npos);
  const auto line = 1 + std::count(bench_text.begin(), bench_text.begin() + static_cast<long>(at), '\n');
  write(folder, "bench.yaml", bench_text.insert(at + 24, "-"));
  CHECK(said(head).starts_with("bench.yaml:" + std::to_string(line) + ":25: cell.conductivity: "));
}

TEST_CASE("The units of the dictionary are units") {
  for (const Row& row : describe_plant_parameters()) {
    INFO(row.path << " in " << row.unit);
    const Reading reading =
        read_quantity(write_quantity(row.lower, row.unit), {row.unit, row.lower, row.upper});
    CHECK(reading.error.empty());
    CHECK(reading.value == row.lower);
  }
}

TEST_CASE("A plant that is written reads back to the same bytes") {
  const PlantFile plant = bench();
  const std::string text = write_plant(plant);
  const Folder folder{"reader-written"};
  const auto again = read_plant(write(folder, "plant.yaml", text));
  INFO(to_text(again.problems));
  REQUIRE(again);
  CHECK(write_plant(*again.value) == text);
}

TEST_CASE("What can be wrong with one parameter") {
  const auto volume = [](const std::string& leaf) {
    return problems_with("flow", "plenum_volume", "  plenum_volume: " + leaf);
  };
  const std::string rest = ", range: [0.2 L, 1 L], source: s}";
  CHECK(volume("{value: 0.5 L" + rest).empty());
  CHECK(volume("{value: 2 L" + rest) ==
        "f:L:26: flow.plenum_volume: 2 L is outside [0.2, 1] L, its range at line L\n");
  CHECK(volume("{value: 200 m3, range: [0.2 L, 1 L], source: s}") ==
        "f:L:26: flow.plenum_volume: 200 m3 is outside [1e-06, 100] m3\n");
  CHECK(volume("{value: 0.5 L, range: [0.2 L, 1000 m3], source: s}") ==
        "f:L:48: flow.plenum_volume.range[2]: 1000 m3 is outside [1e-06, 100] m3\n");
  CHECK(volume("{value: 0.5 kg" + rest) ==
        "f:L:26: flow.plenum_volume: '0.5 kg': unit 'kg' does not fit m3\n");
  CHECK(volume("{value: 0.5" + rest) ==
        "f:L:26: flow.plenum_volume: '0.5': a unit is missing; expected a number with a unit that fits m3\n");
  CHECK(volume("{value: .nan" + rest) == "f:L:26: flow.plenum_volume: '.nan' is not a finite number\n");
  CHECK(volume("{value: [0.5 L]" + rest) == "f:L:26: flow.plenum_volume: expected a number, found a list\n");
  CHECK(volume("{value: 0.5 L, range: [1 L, 0.2 L], source: s}") ==
        "f:L:40: flow.plenum_volume.range: the lower edge stands first\n");
  CHECK(volume("{value: 0.5 L, range: 1 L, source: s}") ==
        "f:L:40: flow.plenum_volume.range: expected a list of two values, the lower and the upper edge\n");
  CHECK(volume("{value: 0.5 L, range: [0.2 L, 1 L]}") == "f:L:3: flow.plenum_volume: has no source\n");
  CHECK(volume("{value: 0.5 L, source: s}") == "f:L:3: flow.plenum_volume: has no range\n");
  CHECK(volume("{range: [0.2 L, 1 L], source: s}") == "f:L:3: flow.plenum_volume: has no value\n");
  CHECK(volume("{value: 0.5 L, range: [0.2 L, 1 L], source: \"\"}") ==
        "f:L:62: flow.plenum_volume.source: expected a text that says where the value comes from\n");
  CHECK(volume("{value: 0.5 L, range: [0.2 L, 1 L], source: s, surce: t}") ==
        "f:L:65: flow.plenum_volume.surce: unknown key; did you mean 'source'?\n");
  CHECK(volume("0.5 L") ==
        "f:L:18: flow.plenum_volume: expected {value: ..., range: [..., ...], source: ...}, found a text\n");
}

TEST_CASE("Parameters that are missing, unknown or of the wrong length") {
  const std::string missing = problems_with("flow", "plenum_volume", "  # gone");
  CHECK(missing.find(
            ": flow.plenum_volume: is missing (volume between compressor and feed line, [1e-06, 100] m3)") !=
        std::string::npos);
  const std::string typo = problems_with("flow", "plenum_volume",
                                         "  plenum_volme: {value: 0.5 L, range: [0.2 L, 1 L], source: s}");
  CHECK(typo.find("f:L:3: flow.plenum_volme: unknown key; did you mean 'plenum_volume'?\n") !=
        std::string::npos);
  CHECK(problems_with("stack", "flow_share",
                      "  flow_share: {value: [1, 1, 1], range: [0.8, 1.2], source: s}") ==
        "f:L:23: stack.flow_share: expected a list of 8 values, found 3\n");
  CHECK(problems_with("stack", "flow_share",
                      "  flow_share: {value: [1, 1, 1, 1, 1, 1, 1.5, x], range: [0.8, 1.2], source: s}") ==
        "f:L:42: stack.flow_share[7]: 1.5 is outside [0.8, 1.2], its range at line L\n"
        "f:L:47: stack.flow_share[8]: 'x' is not a number; expected a plain number or %\n");
}

TEST_CASE("Settings of a plant use the paths of its dictionary") {
  const std::vector<std::string> fine{"flow.plenum_volume=0.7 L", "stack.flow_share.2=0.9"};
  const auto outcome = read_plant(kPlants / "bench.yaml", fine);
  REQUIRE(outcome);
  CHECK(outcome.value->parameters.flow.plenum_volume == 0.7e-3);
  CHECK(outcome.value->parameters.stack.flow_share[1] == 0.9);
  const std::vector<std::string> wrong{"flow.plenum_volume=7 L/s"};
  CHECK(to_text(read_plant(kPlants / "bench.yaml", wrong).problems) ==
        "--set:1:20: plant.flow.plenum_volume: '7 L/s': unit 'L/s' does not fit m3\n");
}

TEST_CASE("Files that are no plant") {
  CHECK(to_text(read_plant("no/such.yaml").problems) == "no/such.yaml:1:1: no such file\n");
  CHECK(to_text(read_plant(kPlants).problems).find("is not a regular file") != std::string::npos);
}
