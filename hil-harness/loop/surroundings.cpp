#include "hil-harness/loop/faults.hpp"
#include "hil-harness/loop/loop.hpp"
#include "plant-model/environment/weather_file.hpp"

namespace duskline::harness {

Surroundings surroundings(const scenarios::Case& c) {
  Surroundings s;
  auto& e = s.settings;
  if (const plant::Site* site = plant::find_site(c.scenario.site)) e.site = *site;
  e.start_ls = c.scenario.start.season;
  e.start_local_time = c.scenario.start.local_time_h / 24.0;
  e.seed = c.scenario.seed;
  e.turbulence = e.synoptic = c.scenario.turbulence;
  e.storms = c.scenario.storms;
  e.vortices = c.scenario.vortices;
  e.gusts = c.scenario.gusts;
  add_weather(c.scenario.faults, e);
  if (!c.weather_file.empty()) {
    plant::WeatherFile file = plant::read_weather_file(c.weather_file.string());
    for (const auto& problem : file.problems) s.problems.push_back(problem.text());
    s.notes = file.notes;
    if (file.series) e.weather = std::make_shared<const plant::WeatherSeries>(std::move(*file.series));
  }
  return s;
}

}  // namespace duskline::harness
