#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/loop/signals.hpp"
#include "plant-model/environment/site.hpp"
#include "plant-model/instruments/instrument_table.hpp"
#include "plant-model/integrate/run_end.hpp"
#include "scenarios/reader/describe.hpp"
#include "scenarios/reader/plant_file.hpp"

namespace duskline::harness {
namespace {

using Json = nlohmann::ordered_json;

/// A table of text with named columns: printed for people or as JSON.
struct Table {
  std::vector<std::string> heads;
  std::vector<std::vector<std::string>> rows;
};

void print(const Table& t, bool json) {
  if (json) {
    Json all = Json::array();
    for (const auto& row : t.rows) {
      Json one;
      for (std::size_t i = 0; i < t.heads.size(); ++i) one[t.heads[i]] = row[i];
      all.push_back(one);
    }
    fmt::print("{}\n", all.dump(2));
    return;
  }
  std::vector<std::size_t> width;
  for (const auto& h : t.heads) width.push_back(h.size());
  for (const auto& row : t.rows)
    for (std::size_t i = 0; i < row.size(); ++i)
      width[i] = std::min<std::size_t>(48, std::max(width[i], row[i].size()));
  const auto line = [&](const std::vector<std::string>& row) {
    std::string text;
    for (std::size_t i = 0; i < row.size(); ++i)
      text += i + 1 < row.size() ? fmt::format("{:<{}}  ", row[i], width[i]) : row[i];
    while (!text.empty() && text.back() == ' ') text.pop_back();
    fmt::print("{}\n", text);
  };
  line(t.heads);
  for (const auto& row : t.rows) line(row);
}

Table of_rows(const std::vector<scenarios::Row>& rows) {
  Table t{{"path", "unit", "value", "allowed", "meaning", "source"}, {}};
  for (const auto& r : rows)
    t.rows.push_back({r.path, r.unit, r.required && r.value.empty() ? "(required)" : r.value, r.allowed,
                      r.meaning, r.source});
  return t;
}

Table of_signals() {
  Table t{{"name", "unit", "axis", "group", "meaning"}, {}};
  for (const Signal& s : signal_table())
    t.rows.push_back({s.info.name, s.info.unit, s.info.axis, s.info.group, s.info.meaning});
  return t;
}

Table of_modes() {
  Table t{{"kind", "word", "meaning"}, {}};
#define MODE(identifier, value, word, meaning) t.rows.push_back({"mode", word, meaning});
#define LIMITER(identifier, value, word, meaning) t.rows.push_back({"limiter", word, meaning});
#define REASON(identifier, value, word, meaning) t.rows.push_back({"reason", word, meaning});
#define LAW(identifier, value, word, meaning) t.rows.push_back({"law", word, meaning});
  CTL_MODE_LIST(MODE)
  CTL_LAW_LIST(LAW)
  CTL_LIMITER_LIST(LIMITER)
  CTL_REASON_LIST(REASON)
#undef MODE
#undef LIMITER
#undef REASON
#undef LAW
  return t;
}

Table of_instruments() {
  Table t{{"name", "channels", "unit", "lag", "noise", "bias class", "span", "meaning", "source"}, {}};
  for (const auto& r : plant::kInstrumentTable)
    t.rows.push_back({std::string(r.spec.name), std::to_string(r.count), std::string(r.spec.unit),
                      fmt::format("{:.3g} s", r.spec.lag), fmt::format("{:.3g}", r.spec.noise),
                      fmt::format("{:.3g}", r.spec.bias_class),
                      fmt::format("[{:.4g}, {:.4g}]", r.spec.lower, r.spec.upper), std::string(r.meaning),
                      std::string(r.source)});
  return t;
}

Table of_sites() {
  constexpr double kDegrees = 57.29577951308232;
  Table t{{"name", "latitude", "altitude"}, {}};
  for (const auto& s : plant::kSites)
    t.rows.push_back({std::string(s.name), fmt::format("{:.1f} deg", s.latitude * kDegrees),
                      fmt::format("{:.0f} m", s.altitude)});
  return t;
}

Table of_ends() {
  Table t{{"end", "meaning"}, {}};
  for (const auto& e : plant::kRunEnds) t.rows.push_back({std::string(e.word), std::string(e.meaning)});
  return t;
}

}  // namespace

int describe_verb(const DescribeRequest& request) {
  const std::string& topic = request.topic;
  if (topic == "plant") {
    namespace fs = std::filesystem;
    fs::path path = request.plant;
    if (path.extension() != ".yaml")
      path = fs::path(home_folder()) / "plant-model" / "plants" / (request.plant + ".yaml");
    const auto plant = scenarios::read_plant(path);
    if (!plant) {
      fmt::print(stderr, "{}", scenarios::to_text(plant.problems));
      return kBadInput;
    }
    print(of_rows(scenarios::describe_plant_parameters(*plant.value)), request.json);
  } else if (topic == "controller") {
    print(of_rows(scenarios::describe_controller_parameters()), request.json);
  } else if (topic == "scenario") {
    print(of_rows(scenarios::describe_scenario_keys()), request.json);
  } else if (topic == "signals") {
    print(of_signals(), request.json);
  } else if (topic == "modes") {
    print(of_modes(), request.json);
  } else if (topic == "instruments") {
    print(of_instruments(), request.json);
  } else if (topic == "sites") {
    print(of_sites(), request.json);
  } else if (topic == "ends") {
    print(of_ends(), request.json);
  } else if (topic.empty()) {
    fmt::print("topics: plant, controller, signals, scenario, modes, instruments, sites, ends\n");
  } else {
    fmt::print(stderr,
               "--topic:1:1: {}: unknown topic; there are plant, controller, signals, scenario, modes, "
               "instruments, sites, ends\n",
               topic);
    return kBadInput;
  }
  return kWell;
}

}  // namespace duskline::harness
