#include "hil-harness/cli/library_topic.hpp"

#include <fmt/format.h>

#include <filesystem>

#include "hil-harness/cli/verbs.hpp"
#include "hil-harness/loop/signal_rows.hpp"
#include "hil-harness/verify/verify.hpp"

namespace duskline::harness {
namespace {

std::string lasts(double duration) {
  return duration < 3600.0 ? fmt::format("{:.3g} min", duration / 60.0)
                           : fmt::format("{:.3g} h", duration / 3600.0);
}

}  // namespace

Table library_table(const scenarios::PlantFile&) {
  namespace fs = std::filesystem;
  Table t{{"scenario", "title", "lasts", "requirements", "purpose"}, {}};
  const fs::path home = home_folder(), library = home / "scenarios" / "library";
  std::vector<scenarios::Problem> ignored;
  for (const ScenarioResult& one : find_scenarios({library.string()}, ignored)) {
    const auto read =
        scenarios::read_case(one.path, home / "plant-model" / "plants", {}, requirement_lists());
    if (!read) continue;  // `verify` says what is wrong with it
    const scenarios::Scenario& s = read.value->scenario;
    t.rows.push_back(
        {{one.name, s.title, lasts(s.duration), std::to_string(s.requirements.size()), s.purpose},
         {{"site", s.site}, {"faults", s.faults.size()}}});
  }
  return t;
}

}  // namespace duskline::harness
