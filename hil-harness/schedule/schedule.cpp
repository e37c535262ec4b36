#include "hil-harness/schedule/schedule.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <mutex>

#include "hil-harness/batch/threads.hpp"
#include "hil-harness/verify/judge.hpp"
#include "plant-model/environment/environment.hpp"
#include "plant-model/environment/sol_clock.hpp"
#include "plant-model/gas/transport.hpp"

namespace duskline::harness {
namespace {

constexpr double kAfternoon = 14.0 / 24.0;  // of a sol: warm, so thin, air
constexpr double kSameDemand = 1e-12;       // kg/s

double time_of(std::size_t sol) {
  return static_cast<double>(sol) * plant::kSolSeconds;
}

/// The instant of the afternoon of a sol that is counted from the start of the run.
double afternoon(const plant::Environment& air, const scenarios::Start& start, std::size_t sol) {
  const double first = start.local_time_h / 24.0 > kAfternoon ? 1.0 : 0.0;
  return air.time_at(static_cast<double>(sol) + first + kAfternoon);
}

/// Production since the latest service of a part before `t`, or since the beginning with what lay behind it.
double since_service(const scenarios::Scenario& s, scenarios::ServicedPart part, double behind, double t,
                     double& from) {
  double since = behind + t;
  from = 0.0;
  for (const scenarios::Service& service : s.services)
    if (service.part == part && service.at <= t) {
      since = t - service.at;
      from = service.at;
    }
  return since;
}

/// The time at the dust of `t` that would load the filter as the time since its service did.
double filter_time(const scenarios::Case& base, const plant::Environment& air, double behind, double t) {
  double from = 0.0;
  const double since = since_service(base.scenario, scenarios::ServicedPart::filter, behind, t, from);
  const double now = air.mean_at(t).dust_concentration;
  double sum = 0.0;
  int count = 0;
  for (double at = from; at <= t; at += plant::kSolSeconds, ++count)
    sum += air.mean_at(at).dust_concentration;
  return count > 0 && now > 0.0 ? since * sum / (count * now) : since;
}

TriedSol try_sol(const ScheduleTask& task, std::size_t sol, double demand, bool& stopped) {
  const scenarios::Case c = sol_of(task.base, sol, demand);
  Watcher watcher(c.scenario);
  LoopOptions options;
  options.interrupted = task.interrupted;
  options.watch = [&](const Snapshot& s) { watcher.watch(s); };
  const RunRecord record = run_loop(c, {}, options);
  stopped = record.end.reason == plant::RunEnd::interrupted;
  const Figures& f = record.figures;
  TriedSol tried{demand, f.oxygen_delivered, f.energy, f.coke_margin.value, f.nickel_ratio.value, {}};
  for (const RequirementResult& judged : watcher.judge())
    if (!all_hold({judged})) tried.violated.push_back(judged.name);
  if (record.end.reason != plant::RunEnd::reached_end)
    tried.violated.emplace_back(plant::word(record.end.reason));
  return tried;
}

/// From `begin` to `end`: power ceilings stay, and so do the modules that are not in service; the rest is production.
std::vector<scenarios::Command> commands_of(const std::vector<scenarios::Command>& all, double begin,
                                            double end, double demand) {
  scenarios::Command now{0.0, CTL_PRODUCTION, demand};
  std::map<int, int> service;  // of each module that was named
  std::vector<scenarios::Command> later;
  for (scenarios::Command command : all) {
    if (command.at >= end) continue;
    if (command.at <= begin) {
      now.power_ceiling = command.power_ceiling;
      if (command.module >= 0) service[command.module] = command.service;
      continue;
    }
    command.at -= begin;
    command.mode = CTL_PRODUCTION;
    command.oxygen_demand = demand;
    later.push_back(command);
  }
  std::vector<scenarios::Command> commands{now};
  for (const auto& [module, state] : service) {
    if (state == CTL_SERVICE_IN) continue;
    now.module = module;
    now.service = state;
    commands.push_back(now);
  }
  commands.insert(commands.end(), later.begin(), later.end());
  return commands;
}

void keep(SeasonSchedule& season, TriedSol tried) {
  const auto place = std::find_if(season.tried.begin(), season.tried.end(),
                                  [&](const TriedSol& t) { return t.demand > tried.demand; });
  season.tried.insert(place, std::move(tried));
}

/// Halves the grid between a set-point that holds and one that does not; false when it was interrupted.
bool find_best(const ScheduleTask& task, SeasonSchedule& season) {
  const auto holds = [&](std::size_t k, bool& stopped) {
    TriedSol tried =
        try_sol(task, season.sampled_sol, task.least + static_cast<double>(k) * task.step, stopped);
    const bool good = tried.holds();
    if (!stopped) keep(season, std::move(tried));
    return good;
  };
  bool stopped = false;
  std::size_t below = 0, above = task.grid();  // the least that may be unknown; one that does not hold
  if (holds(task.grid() - 1, stopped))
    below = task.grid() - 1;
  else
    above = task.grid() - 1;
  if (stopped) return false;
  if (above < task.grid() && above > 0 && !holds(0, stopped)) above = 0;
  while (!stopped && above > below + 1) {
    const std::size_t middle = below + (above - below) / 2;
    (holds(middle, stopped) ? below : above) = middle;
  }
  for (const TriedSol& tried : season.tried)
    if (tried.holds()) season.best = tried.demand;
  return !stopped;
}

std::vector<SeasonSchedule> cut(const ScheduleTask& task) {
  const scenarios::Scenario& s = task.base.scenario;
  constexpr double kRounding = 1e-9;
  const double length = s.duration / plant::kSolSeconds;
  const auto sols = std::max<std::size_t>(1, static_cast<std::size_t>(length + kRounding));
  const std::size_t count = std::min(task.seasons, sols);
  const plant::Environment air(surroundings(task.base).settings, s.period);
  std::vector<SeasonSchedule> seasons(count);
  for (std::size_t i = 0; i < count; ++i) {
    SeasonSchedule& season = seasons[i];
    season.first_sol = season.sampled_sol = sols * i / count;
    season.end_sol = sols * (i + 1) / count;
    season.season = air.mean_at(time_of(season.first_sol)).areocentric_longitude;
    season.density = std::numeric_limits<double>::infinity();
    const bool last = i + 1 == count;
    if (last) season.rest = length - static_cast<double>(sols);
    const std::size_t end = season.end_sol + (last && season.rest > kRounding ? 1 : 0);
    for (std::size_t sol = season.first_sol; sol < end; ++sol) {
      const double at = afternoon(air, s.start, sol);
      if (sol == season.end_sol && at > s.duration) continue;  // the run ends before
      const plant::Ambient a = air.mean_at(at);
      const double density = plant::density(a.pressure, a.temperature, a.composition);
      if (density >= season.density) continue;
      season.density = density;
      season.sampled_sol = sol;
    }
  }
  return seasons;
}

}  // namespace

const TriedSol* SeasonSchedule::at(double demand) const {
  for (const TriedSol& t : tried)
    if (std::abs(t.demand - demand) < kSameDemand) return &t;
  return nullptr;
}

bool Schedule::holds() const {
  return std::all_of(seasons.begin(), seasons.end(), [](const auto& s) { return s.best.has_value(); });
}

Schedule::Total Schedule::total(const std::function<double(const SeasonSchedule&)>& demand) const {
  constexpr double kNone = std::numeric_limits<double>::infinity();
  Total total{0.0, 0.0, kNone, kNone, 0};
  for (const SeasonSchedule& season : seasons) {
    const TriedSol* sol = season.at(demand(season));
    if (sol == nullptr) {
      ++total.violated;
      continue;
    }
    total.oxygen += sol->oxygen * season.sols();
    total.energy += sol->energy * season.sols();
    total.coke_margin = std::min(total.coke_margin, sol->coke_margin);
    total.nickel_ratio = std::min(total.nickel_ratio, sol->nickel_ratio);
    if (!sol->holds()) ++total.violated;
  }
  return total;
}

scenarios::Case sol_of(const scenarios::Case& base, std::size_t sol, double demand) {
  scenarios::Case c = base;
  scenarios::Scenario& s = c.scenario;
  const double t = time_of(sol), end = t + plant::kSolSeconds;
  const plant::Environment air(surroundings(base).settings, s.period);
  s.duration = std::floor(plant::kSolSeconds / s.period) * s.period;
  s.start.season = air.mean_at(t).areocentric_longitude;
  s.start.local_time_h = 24.0 * air.mean_at(t).local_time;
  for (plant::StormEvent& storm : s.storms) storm.start -= t;
  const auto shift = [&](auto& events, auto time) {
    std::erase_if(events, [&](const auto& e) { return e.*time < t || e.*time >= end; });
    for (auto& e : events) e.*time -= t;
  };
  shift(s.vortices, &plant::VortexEvent::time);
  shift(s.gusts, &plant::GustEvent::time);
  for (const scenarios::Event& event : s.events)
    if (event.at < t) scenarios::apply(event, c.plant.parameters);
  shift(s.events, &scenarios::Event::at);
  s.commands = commands_of(s.commands, t, end, demand);
  const double behind = s.initial.operating_hours;
  const auto since = [&](scenarios::ServicedPart part, double hours) {
    double from = 0.0;
    return since_service(base.scenario, part, std::isnan(hours) ? behind : hours, t, from);
  };
  const scenarios::Initial& start = base.scenario.initial;
  s.initial.operating_hours = behind + t;
  s.initial.filter_hours =
      filter_time(base, air, std::isnan(start.filter_hours) ? behind : start.filter_hours, t);
  s.initial.bearing_hours = since(scenarios::ServicedPart::bearing, start.bearing_hours);
  s.initial.seals_hours = since(scenarios::ServicedPart::seals, start.seals_hours);
  s.initial.state = scenarios::InitialState::producing;
  s.services.clear();
  s.faults.clear();
  s.operator_actions.clear();
  return c;
}

Schedule make_schedule(const ScheduleTask& task) {
  Schedule schedule;
  schedule.seasons = cut(task);
  const std::size_t count = schedule.seasons.size();
  std::size_t done = 0;
  std::mutex showing;  // progress is shown by one thread at a time
  std::atomic<bool> whole{true};
  // all seasons, then all at the constant set-point
  const auto over_all = [&](const std::function<bool(SeasonSchedule&)>& work) {
    on_threads(count, task.threads, [&](std::size_t i) {
      if (whole && !work(schedule.seasons[i])) whole = false;
      if (!task.progress) return;
      const std::lock_guard lock(showing);
      task.progress(static_cast<double>(++done) / static_cast<double>(2 * count));
    });
  };
  over_all([&](SeasonSchedule& season) { return find_best(task, season); });
  schedule.interrupted = !whole;
  if (!whole || !schedule.holds()) return schedule;
  double constant = task.most;
  for (const SeasonSchedule& season : schedule.seasons) constant = std::min(constant, *season.best);
  schedule.constant = constant;
  over_all([&](SeasonSchedule& season) {
    if (season.at(constant) != nullptr) return true;
    bool stopped = false;
    TriedSol tried = try_sol(task, season.sampled_sol, constant, stopped);
    if (stopped) return false;
    keep(season, std::move(tried));
    return true;
  });
  schedule.interrupted = !whole;
  return schedule;
}

scenarios::Scenario scheduled(const scenarios::Case& base, const Schedule& schedule, double least) {
  scenarios::Scenario s = base.scenario;
  const auto demand_at = [&](double t) {
    double demand = 0.0;
    for (const SeasonSchedule& season : schedule.seasons)
      if (time_of(season.first_sol) <= t) demand = season.best.value_or(least);
    return demand;
  };
  std::vector<scenarios::Command> commands;
  std::size_t season = 0;
  const auto begin_seasons = [&](double until) {
    for (; season < schedule.seasons.size() && time_of(schedule.seasons[season].first_sol) < until;
         ++season) {
      scenarios::Command c = commands.empty() ? scenarios::Command{} : commands.back();
      c.module = -1;  // what is asked of a module is asked once
      c.at = time_of(schedule.seasons[season].first_sol);
      c.oxygen_demand = demand_at(c.at);
      if (!commands.empty() && commands.back().at == c.at) commands.pop_back();
      commands.push_back(c);
    }
  };
  for (scenarios::Command command : base.scenario.commands) {
    begin_seasons(command.at);
    command.oxygen_demand = demand_at(command.at);
    while (season < schedule.seasons.size() && time_of(schedule.seasons[season].first_sol) == command.at)
      ++season;
    commands.push_back(command);
  }
  begin_seasons(s.duration);
  s.commands = std::move(commands);
  s.title += ", set-points by season";
  return s;
}

}  // namespace duskline::harness
