#include "hil-harness/campaign/plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>

#include "plant-model/random/noise.hpp"
#include "scenarios/reader/draw.hpp"

namespace duskline::harness {
namespace {

constexpr const char *kNoise = "instruments and weather", *kStructure = "structure of the plant";

std::string vary_stream(const scenarios::Variation& v) {
  return "campaign/vary/" + v.set;
}

/// The plant to draw from: what `vary` sets is held.
scenarios::PlantFile drawn_from(const CampaignPlan& plan) {
  scenarios::PlantFile plant = plan.base.plant;
  if (!plan.has(Differs::surroundings)) return plant;
  const auto table = plant::parameter_table();
  for (const scenarios::Variation& v : plan.base.scenario.campaign.vary)
    for (std::size_t i = 0; i < plant.notes.size(); ++i)
      if ((scenarios::dotted(v.set) + ".").starts_with(fmt::format("plant.{}.", table[i].path)))
        plant.notes[i].source = "set to another value in each run; before " + plant.notes[i].source;
  return plant;
}

/// A word of a command line for a shell.
std::string in_shell(const std::string& word) {
  const bool plain = std::all_of(word.begin(), word.end(), [](unsigned char c) {
    return std::isalnum(c) != 0 ||
           std::string_view("-_./=:,+%").find(static_cast<char>(c)) != std::string_view::npos;
  });
  if (plain) return word;
  std::string quoted = "'";
  for (const char c : word) quoted += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return quoted + "'";
}

}  // namespace

bool CampaignPlan::has(Differs what) const {
  return std::find(differs.begin(), differs.end(), what) != differs.end();
}

std::vector<DrawnTwice> drawn_twice(const CampaignPlan& plan) {
  std::vector<DrawnTwice> all;
  if (!plan.has(Differs::surroundings)) return all;
  const auto& vary = plan.base.scenario.campaign.vary;
  for (std::size_t i = 0; i < vary.size(); ++i) {
    const std::string path = scenarios::dotted(vary[i].set);
    const bool plant = path == "plant_draw" && plan.has(Differs::parameters);
    if (!plant && !(path == "structure_draw" && plan.has(Differs::structure))) continue;
    all.push_back(
        {fmt::format("campaign.vary[{}].set", i + 1),
         fmt::format(
             "'{}' is drawn by --grade {} already; leave it out here, or ask for --grade surroundings", path,
             plant ? "parameters" : "structure")});
  }
  return all;
}

Draws::Draws(const CampaignPlan& plan) : plan_(plan), plant_(drawn_from(plan)) {
  const auto add_factor = [&](const std::string& name) {
    if (std::find(factors_.begin(), factors_.end(), name) == factors_.end()) factors_.push_back(name);
  };
  if (plan.has(Differs::parameters)) {
    plant::PlantParameters any = scenarios::drawn_plant(plant_, [&](std::string_view name, std::int64_t i) {
      dimensions_.try_emplace({std::string(name), i}, dimensions_.size());
      add_factor(std::string(name));
      return 0.0;
    });
    const auto table = plant::parameter_table();
    for (std::size_t i = 0; i < table.size(); ++i) {
      if (!scenarios::is_drawn(plant_, i)) continue;
      const std::size_t size = table[i].get(any).size();
      for (std::size_t k = 0; k < size; ++k)
        inputs_.push_back(
            {size == 1 ? std::string(table[i].path) : fmt::format("{}.{}", table[i].path, k + 1),
             std::string(table[i].unit)});
    }
  }
  if (plan.has(Differs::structure)) factors_.emplace_back(kStructure);
  if (plan.has(Differs::surroundings)) {
    for (const scenarios::Variation& v : plan.base.scenario.campaign.vary) {
      inputs_.push_back({v.set, std::string(v.unit)});
      add_factor(vary_stream(v));
      ++varied_;
    }
    factors_.emplace_back(kNoise);
  }
  if (plan.has(Differs::structure))
    for (const plant::VariantPart& part : plant::kVariantParts)
      inputs_.push_back({fmt::format("variants.{}", part.name), std::string(kWord)});
  if (plan.sampling == Sampling::latin_hypercube)
    points_ = latin_hypercube(plan.runs, dimensions(), plan.seed);
  if (plan.sampling == Sampling::sobol) points_ = sobol_points(plan.runs, dimensions(), plan.seed);
}

double Draws::point(std::uint64_t run, std::size_t dimension) const {
  return points_[static_cast<std::size_t>(run - 1) * dimensions() + dimension];
}

void Draws::append(const std::vector<std::vector<double>>& normals) {
  constexpr double kEdge = 0x1p-53;
  for (const auto& point : normals)
    for (const double u : point)
      points_.push_back(std::clamp(0.5 * std::erfc(-u / std::numbers::sqrt2), kEdge, 1.0 - kEdge));
}

std::uint64_t Draws::number(std::uint64_t run, std::string_view factor) const {
  const std::uint64_t first = kRunsMax * (plan_.seed - 1);
  if (plan_.sampling != Sampling::sensitivity) return first + run;
  const std::uint64_t place = (run - 1) % block(), a = first + (run - 1) / block() * 2 + 1;
  if (place < 2) return a + place;
  return factors_[place - 2] == factor ? a + 1 : a;
}

double Draws::normal(std::uint64_t run, std::string_view name, std::int64_t item) const {
  if (points_.empty()) return scenarios::drawn_normal(number(run, name), name, item);
  return plant::inverse_normal(point(run, dimensions_.at({std::string(name), item})));
}

double Draws::share(std::uint64_t run, std::size_t variation) const {
  const std::string name = vary_stream(plan_.base.scenario.campaign.vary[variation]);
  if (points_.empty()) return plant::NoiseStream(number(run, name), name).uniform(0);
  return point(run, dimensions_.size() + variation);
}

plant::PlantParameters Draws::plant_of(std::uint64_t run, const scenarios::PlantFile& plant) const {
  return scenarios::drawn_plant(
      plant, [&](std::string_view name, std::int64_t item) { return normal(run, name, item); });
}

Draw Draws::draw(std::uint64_t run) const {
  Draw d;
  d.run = run;
  if (plan_.has(Differs::parameters)) {
    plant::PlantParameters drawn = plant_of(run, plant_);
    const auto table = plant::parameter_table();
    for (std::size_t i = 0; i < table.size(); ++i)
      if (scenarios::is_drawn(plant_, i))
        for (const double value : table[i].get(drawn)) d.values.push_back(value);
    d.own_plant = plan_.sampling != Sampling::independent;
    if (!d.own_plant) d.plant_draw = number(run, {});
  }
  if (plan_.has(Differs::structure)) {
    const std::uint64_t structure = number(run, kStructure);
    d.settings.push_back(fmt::format("structure_draw={}", structure));
    const plant::Variants drawn = scenarios::drawn_structure(plan_.base.plant.parameters.variants, structure);
    for (const plant::VariantPart& part : plant::kVariantParts)
      d.words.push_back(plant::chosen(drawn, part).word);
  }
  if (plan_.has(Differs::surroundings)) {
    const auto& vary = plan_.base.scenario.campaign.vary;
    for (std::size_t i = 0; i < vary.size(); ++i) {
      const double x = share(run, i);
      d.values.push_back(scenarios::value_at(vary[i], x));
      d.settings.push_back(scenarios::setting_at(vary[i], x));
      if (vary[i].set == "plant_draw") d.plant_draw = static_cast<std::uint64_t>(d.values.back());
    }
    d.seed = number(run, kNoise);
    d.settings.push_back(fmt::format("seed={}", d.seed));
  }
  if (plan_.has(Differs::parameters) && !d.own_plant)
    d.settings.push_back(fmt::format("plant_draw={}", d.plant_draw));
  return d;
}

scenarios::Case Draws::case_of(const Draw& draw, const std::string& law) const {
  std::vector<std::string> settings = draw.settings;
  settings.push_back("controller.law=" + law);
  auto read = plan_.source.read(settings);
  if (!read) throw std::runtime_error("a draw is refused:\n" + to_text(read.problems));
  if (draw.own_plant) {
    scenarios::PlantFile& plant = read.value->plant;
    plant.parameters = plant_of(draw.run, plant);
    read.value->scenario.plant_draw = 0;
  }
  return std::move(*read.value);
}

std::string links_in_shell(const CampaignPlan& plan) {
  std::string words;
  for (const std::string& link : plan.links) words += " --link " + in_shell(link);
  return words;
}

std::string replay_command(const CampaignPlan& plan, const Draw& draw, const std::string& law) {
  if (draw.own_plant) return {};
  std::string command = "duskline run " + in_shell(plan.source.name);
  for (const auto* settings : {&plan.source.settings, &draw.settings})
    for (const std::string& setting : *settings) command += " --set " + in_shell(setting);
  return command + " --set controller.law=" + law + links_in_shell(plan);
}

}  // namespace duskline::harness
