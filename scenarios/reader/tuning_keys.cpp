/// The keys below `tuning`, and the checks that involve several of them.
#include <fmt/format.h>

#include <algorithm>

#include "scenarios/reader/scenario_check.hpp"
#include "scenarios/reader/scenario_keys.hpp"
#include "scenarios/requirements/objective.hpp"

namespace duskline::scenarios {
namespace {

constexpr std::string_view kPrefixes[] = {"controller.parameters.", "plant_controller.parameters."};

constexpr Word kSearches[] = {
    {static_cast<int>(Search::both), "both", "a population, then subplex from the best of it"},
    {static_cast<int>(Search::population), "population", "differential evolution"},
    {static_cast<int>(Search::subplex), "subplex", "NLopt, simplices in subspaces: bears noise"},
    {static_cast<int>(Search::quadratic), "quadratic", "NLopt, quadratic models (BOBYQA): smooth aims"},
    {static_cast<int>(Search::linear), "linear", "NLopt, linear models (COBYLA)"}};

template <class Enum>
void word(Keys& keys, const Key& key, std::span<const Word> words, Enum& value) {
  int number = static_cast<int>(value);
  keys.word(key, words, number);
  value = static_cast<Enum>(number);
}

// Only parameters of controllers may be tuned.
std::vector<NumberPath> gain_paths(const Scenario& s) {
  std::vector<NumberPath> paths = number_paths(s);
  std::erase_if(paths, [](const NumberPath& number) {
    return std::ranges::none_of(kPrefixes, [&](std::string_view p) { return number.path.starts_with(p); });
  });
  return paths;
}

void keys_below(Keys& keys, const Scenario& s, Tuning& t) {
  variation_keys(keys, t.vary, gain_paths(s));
  keys.list({"objectives", "what counts as better; their costs are added"}, t.objectives,
            [&](Aim& aim, std::size_t) {
              keys.text({"name", "short name, used once", true}, aim.name);
              keys.text({"aim", "the objective, in the words of requirements", true}, aim.aim);
            });
  keys.list({"scenarios", "further scenarios that every candidate runs and whose requirements count"},
            t.cases, [&](TuningCase& c, std::size_t) {
              keys.text({"file", "a scenario, relative to this one", true}, c.file);
            });
  keys.list({"operating_points", "where the margins of the loops are looked at"}, t.operating_points,
            [&](OperatingPoint& point, std::size_t) {
              keys.text({"name", "short name", true}, point.name);
              keys.number({"local_time", "true solar time at which the plant has settled", true},
                          {"h", 0.0, 24.0}, point.local_time_h);
            });
  keys.number({"sensitivity_max", "largest peak of sensitivity Ms of a loop at every operating point"},
              {"1", 1.0, 10.0}, t.sensitivity_max);
  keys.whole({"draws", "dispersed plants a scenario, the same for every candidate"}, t.draws);
  keys.whole({"held_out", "fresh draws on which start and result are compared"}, t.held_out);
  keys.number({"resistance", "half-width of the dispersion of the cells' resistance"}, {"1", 0.0, 0.5},
              t.resistance);
  keys.number({"flow", "half-width of the dispersion of flow shares and swept volume"}, {"1", 0.0, 0.5},
              t.flow);
  keys.whole({"budget", "candidates that the search may try"}, t.budget);
  keys.whole({"population", "candidates of a generation"}, t.population);
  keys.whole({"seed", "of the search and of the draws"}, t.seed);
  word(keys, {"search", "method"}, kSearches, t.search);
}

}  // namespace

void tuning_keys(Keys& keys, Scenario& s) {
  Tuning& t = s.tuning;
  const bool walks = keys.reads() || !t.vary.empty();  // an empty one is not written
  if (!walks) return;
  keys.map({"tuning", "what `duskline tune` moves, and what it aims at"}, [&] { keys_below(keys, s, t); });
}

void check_tuning(const Scenario& s, const PlantFile& plant, const Decoder& decoder, Report& report,
                  std::span<const TraceSignal> signals) {
  const Tuning& t = s.tuning;
  const auto refuse = [&](const std::string& path, std::string message) {
    if (!report.mentions(path)) report.add(decoder.where(path), path, std::move(message));
  };
  if (!decoder.given("tuning")) return;
  constexpr std::size_t kMostGains = 12;
  if (t.vary.empty()) refuse("tuning.vary", "is empty; name a parameter of the controller that may move");
  if (t.vary.size() > kMostGains)
    refuse("tuning.vary", fmt::format("{} gains are more than the {} that a search without derivatives finds",
                                      t.vary.size(), kMostGains));
  check_variations(t.vary, "tuning.vary", s, plant, decoder, report);
  if (!plant::has_headers(plant.parameters.form))
    for (std::size_t i = 0; i < t.vary.size(); ++i)
      if (t.vary[i].set.starts_with(kPrefixes[1]))
        refuse(fmt::format("tuning.vary[{}].set", i + 1),
               "this plant has one module and no plant controller");
  for (std::size_t i = 0; i < t.objectives.size(); ++i) {
    const std::string path = fmt::format("tuning.objectives[{}]", i + 1);
    for (std::size_t k = 0; k < i; ++k)
      if (t.objectives[k].name == t.objectives[i].name)
        refuse(path + ".name",
               fmt::format("'{}' is used already, by tuning.objectives[{}]", t.objectives[i].name, k + 1));
    if (signals.empty() || t.objectives[i].aim.empty()) continue;
    for (const auto& problem : parse_objective(t.objectives[i].aim, signals).problems)
      refuse(path + ".aim", message_of(problem, t.objectives[i].aim));
  }
  if (t.objectives.empty())
    refuse("tuning.objectives", "are missing: the search does not know what is better");
  const auto within = [&](const char* name, std::uint64_t value, std::uint64_t lower, std::uint64_t upper) {
    if (value < lower || value > upper)
      refuse(fmt::format("tuning.{}", name), fmt::format("{} is outside [{}, {}]", value, lower, upper));
  };
  within("draws", t.draws, 1, 10000);
  within("held_out", t.held_out, 2, 10000);
  within("budget", t.budget, 1, 1000000);
  within("population", t.population, 5, 1000);
}

}  // namespace duskline::scenarios
