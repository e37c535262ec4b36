#include "hil-harness/loop/sols.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>

#include "hil-harness/loop/words.hpp"
#include "plant-model/environment/sol_clock.hpp"

namespace duskline::harness {
namespace {

constexpr double kUnknown = std::numeric_limits<double>::quiet_NaN();

double known(double v) {
  return std::isfinite(v) ? v : kUnknown;
}
double over(double sum, double by) {
  return by > 0.0 ? sum / by : kUnknown;
}

/// "coke margin" as part of a name.
std::string joined(std::string_view word) {
  std::string name(word);
  for (char& c : name)
    if (c == ' ' || c == '-') c = '_';
  return name;
}

SolColumn column(const char* group, std::string name, const char* unit, std::string meaning,
                 const char* method, double (*value)(const SolSums&)) {
  return {{std::move(name), unit, std::move(meaning), "", 1, group, {}, false, method},
          [value](const SolSums& r, double* out) { *out = value(r); }};
}

SolColumn hours(std::string name, const char* unit, const std::string& meaning, const char* method,
                std::function<double(const SolSums&, std::size_t)> value) {
  return {{std::move(name),
           unit,
           meaning + " in each hour of the sol, hour 1 from local midnight",
           "hour",
           kHours,
           "hours",
           {},
           false,
           method},
          [value = std::move(value)](const SolSums& r, double* out) {
            for (std::size_t h = 0; h < kHours; ++h) out[h] = value(r, h);
          }};
}

void add_season(std::vector<SolColumn>& t) {
  t.insert(t.end(), {column("season", "sol", "1", "number of the sol since the start of the run, from 1", "",
                            [](const SolSums& r) { return r.sol; }),
                     column("season", "covered_time", "s", "time of the run that the row covers", "sum",
                            [](const SolSums& r) { return r.time; }),
                     column("season", "areocentric_longitude", "rad", "season at the beginning of the row",
                            "", [](const SolSums& r) { return r.season; }),
                     column("season", "ambient_pressure", "Pa", "ambient pressure", "mean",
                            [](const SolSums& r) { return over(r.pressure, r.time); }),
                     column("season", "ambient_temperature", "K", "air temperature at the intake", "mean",
                            [](const SolSums& r) { return over(r.temperature, r.time); }),
                     column("season", "ambient_density", "kg m-3", "density of the air at the intake", "mean",
                            [](const SolSums& r) { return over(r.density, r.time); }),
                     column("season", "ambient_density_min", "kg m-3", "density of the air at the intake",
                            "minimum", [](const SolSums& r) { return known(r.density_min); }),
                     column("season", "optical_depth", "1", "dust optical depth", "mean",
                            [](const SolSums& r) { return over(r.depth, r.time); })});
}

void add_production(std::vector<SolColumn>& t) {
  t.insert(t.end(),
           {column("production", "oxygen_made", "kg", "oxygen made in the stack", "sum",
                   [](const SolSums& r) { return r.made; }),
            column("production", "oxygen_delivered", "kg", "oxygen that left the anode", "sum",
                   [](const SolSums& r) { return r.delivered; }),
            column("production", "oxygen_demanded", "kg", "oxygen asked for in production", "sum",
                   [](const SolSums& r) { return r.demanded; }),
            column("production", "bus_energy", "J", "energy from the bus", "sum",
                   [](const SolSums& r) { return r.energy; }),
            column("production", "specific_energy", "J kg-1", "energy from the bus over oxygen made", "mean",
                   [](const SolSums& r) { return r.made > 1e-6 ? r.energy / r.made : kUnknown; }),
            column("production", "bus_power", "W", "power drawn from the bus", "mean",
                   [](const SolSums& r) { return over(r.energy, r.time); }),
            column("production", "bus_power_max", "W", "power drawn from the bus", "maximum",
                   [](const SolSums& r) { return r.power_max; }),
            column("production", "stack_current", "A", "stack current in production", "mean",
                   [](const SolSums& r) { return over(r.current_time, r.producing); })});
}

void add_limits(std::vector<SolColumn>& t) {
  t.insert(t.end(),
           {column("limits", "coke_margin_min", "V", "least coke margin of the hot cells", "minimum",
                   [](const SolSums& r) { return known(r.coke_margin); }),
            column("limits", "nickel_ratio_min", "1",
                   "least CO/CO2 at a hot inlet over the ratio at which nickel oxidises", "minimum",
                   [](const SolSums& r) { return known(r.nickel_ratio); }),
            column("limits", "stack_gradient_max", "K", "largest difference between neighbouring zones",
                   "maximum", [](const SolSums& r) { return r.gradient_max; }),
            column("limits", "utilisation_max", "1", "share of the CO2 in the feed that is converted",
                   "maximum", [](const SolSums& r) { return r.utilisation_max; }),
            column("limits", "time_above_onset", "s", "time with a hot cell above its coke-onset voltage",
                   "sum", [](const SolSums& r) { return r.above_onset; }),
            column("limits", "time_above_ceiling", "s", "time with more drawn than the bus allowed", "sum",
                   [](const SolSums& r) { return r.above_ceiling; })});
}

void add_times(std::vector<SolColumn>& t) {
  for (std::size_t k = 0; k < CTL_MODES; ++k)
    t.push_back({{"time_in_" + joined(mode_words()[k].word),
                  "s",
                  fmt::format("time in the mode {}", mode_words()[k].word),
                  "",
                  1,
                  "modes",
                  {},
                  false,
                  "sum"},
                 [k](const SolSums& r, double* out) { *out = r.in_mode[k]; }});
  for (std::size_t k = 0; k < CTL_LIMITERS; ++k)
    t.push_back({{"limited_by_" + joined(limiter_words()[k].word),
                  "s",
                  fmt::format("time in production with this in force: {}", limiter_words()[k].meaning),
                  "",
                  1,
                  "modes",
                  {},
                  false,
                  "sum"},
                 [k](const SolSums& r, double* out) { *out = r.limited[k]; }});
  t.insert(t.end(), {column("modes", "alarms", "1", "alarms that became unacknowledged", "sum",
                            [](const SolSums& r) { return r.alarms; }),
                     column("modes", "trips", "1", "interlocks that acted", "sum",
                            [](const SolSums& r) { return r.trips; }),
                     column("modes", "starts", "1", "beginnings of production", "sum",
                            [](const SolSums& r) { return r.starts; })});
}

void add_wear(std::vector<SolColumn>& t) {
  t.insert(
      t.end(),
      {column("wear", "filter_dust", "kg", "dust held by the filter, at the end", "",
              [](const SolSums& r) { return r.dust; }),
       column("wear", "estimated_filter_loading", "1",
              "pressure lost in the filter over that of a clean one, by the controller, at the end", "",
              [](const SolSums& r) { return r.loading; }),
       column("wear", "bearing_wear", "1", "wear of the bearing, 0 new, 1 worn out, at the end", "",
              [](const SolSums& r) { return r.wear; }),
       column("wear", "estimated_bearing_wear", "1", "the same by the controller, from the tone", "",
              [](const SolSums& r) { return r.wear_estimate; }),
       column("wear", "compressor_leakage", "mol s-1 Pa-2", "leakage of the compressor, at the end", "",
              [](const SolSums& r) { return r.leakage; }),
       column("wear", "estimated_compressor_efficiency", "1",
              "volumetric efficiency over that of a new machine, by the controller, at the end", "",
              [](const SolSums& r) { return r.efficiency; }),
       column("wear", "ageing", "ohm m2",
              "resistance added by hours and thermal cycles, mean of the cells, at the end", "",
              [](const SolSums& r) { return r.ageing; }),
       column("wear", "ageing_max", "ohm m2", "the same of the worst cell", "",
              [](const SolSums& r) { return r.ageing_max; }),
       column("wear", "added_resistance", "ohm m2",
              "mean resistance beyond the model, by the controller, at the end", "",
              [](const SolSums& r) { return r.added_resistance; }),
       column("wear", "damage_max", "1", "irreversible damage of the worst cell, at the end", "",
              [](const SolSums& r) { return r.damage_max; }),
       column("wear", "carbon", "mol", "carbon held by the cells, at the end", "",
              [](const SolSums& r) { return r.carbon; }),
       column("wear", "nickel_oxide", "mol", "nickel oxide held by the cells, at the end", "",
              [](const SolSums& r) { return r.oxide; }),
       column("wear", "corrected_instruments", "1", "instruments that the controller corrects, at the end",
              "", [](const SolSums& r) { return r.corrections; }),
       column("wear", "suspect_instruments", "1", "measurements that are suspect, at the end", "",
              [](const SolSums& r) { return r.suspects; })});
}

void add_headers(std::vector<SolColumn>& t) {
  t.insert(t.end(), {column("plant", "modules_in_production", "1", "modules in production", "mean",
                            [](const SolSums& r) { return over(r.modules_producing, r.time); }),
                     column("plant", "surge_margin_min", "1",
                            "flow over that at surge, less 1, of the stage that is nearest to it", "minimum",
                            [](const SolSums& r) { return known(r.surge_margin); })});
}

void add_hours(std::vector<SolColumn>& t) {
  t.insert(t.end(),
           {hours("hour_time", "s", "time of the run", "sum",
                  [](const SolSums& r, std::size_t h) { return r.hour_time[h]; }),
            hours("hour_oxygen_made", "kg", "oxygen made", "sum",
                  [](const SolSums& r, std::size_t h) { return r.hour_made[h]; }),
            hours("hour_bus_power", "W", "power drawn from the bus", "mean",
                  [](const SolSums& r, std::size_t h) { return over(r.hour_energy[h], r.hour_time[h]); }),
            hours("hour_ambient_density", "kg m-3", "density of the air at the intake", "mean",
                  [](const SolSums& r, std::size_t h) { return over(r.hour_density[h], r.hour_time[h]); }),
            hours("hour_coke_margin_min", "V", "least coke margin of the hot cells", "minimum",
                  [](const SolSums& r, std::size_t h) { return known(r.hour_margin[h]); })});
  for (std::size_t k = 0; k < CTL_LIMITERS; ++k)
    t.push_back(hours("hour_limited_by_" + joined(limiter_words()[k].word), "s",
                      fmt::format("time in production with this in force: {};", limiter_words()[k].meaning),
                      "sum", [k](const SolSums& r, std::size_t h) { return r.hour_limited[k][h]; }));
}

double bits(std::uint32_t word) {
  return static_cast<double>(std::popcount(word));
}

}  // namespace

std::vector<SolColumn> sol_table(const SolForm& form) {
  std::vector<SolColumn> t;
  add_season(t);
  add_production(t);
  add_limits(t);
  add_times(t);
  add_wear(t);
  if (form.headers) add_headers(t);
  if (form.fast_forward)
    t.push_back(column("season", "simulated", "1",
                       "1: every tick of the row was simulated; 0: an estimate of a sol stepped over", "",
                       [](const SolSums& r) { return 1.0 - r.estimated; }));
  add_hours(t);
  return t;
}

SolSums estimated_row(const SolSums& last, const SolSums& present, std::size_t i, std::size_t n) {
  SolSums r = last;
  const double sols = static_cast<double>(i);
  const double share = sols / static_cast<double>(n), way = sols / static_cast<double>(n + 1);
  r.estimated = 1.0;
  r.sol += sols;
  r.begin += way * (present.begin - last.begin);
  r.season =
      plant::wrap(r.season + way * plant::wrap(present.season - last.season, plant::kTurn), plant::kTurn);
  for (const auto member : {&SolSums::dust, &SolSums::wear, &SolSums::leakage, &SolSums::ageing,
                            &SolSums::ageing_max, &SolSums::damage_max, &SolSums::carbon, &SolSums::oxide})
    r.*member += share * (present.*member - last.*member);
  return r;
}

SolStatistics::SolStatistics(double period) : period_(period) {}

bool SolStatistics::tick(const Snapshot& s) {
  const double local = s.ambient.local_time;
  const bool first = m_.local_time < 0.0;
  const bool midnight = !first && (local < m_.local_time - 0.5 || s.sols_stepped > 0);
  if (midnight) last_ = m_.sums;
  if (first || midnight) begin(s);
  m_.local_time = s.sols_stepped > 0 && local > 0.5 ? 0.0 : local;  // a rounding before midnight
  add(s);
  return midnight;
}

void SolStatistics::begin(const Snapshot& s) {
  const double number = m_.sums.sol + 1.0 + static_cast<double>(s.sols_stepped);
  m_.sums = SolSums{};
  m_.sums.sol = number;
  m_.sums.begin = s.time;
  m_.sums.season = s.ambient.areocentric_longitude;
  m_.sums.hour_margin.fill(std::numeric_limits<double>::infinity());
}

void SolStatistics::add(const Snapshot& s) {
  SolSums& r = m_.sums;
  const double dt = period_;
  r.time += dt;
  r.pressure += s.ambient.pressure * dt;
  r.density += s.ambient_density * dt;
  r.temperature += s.ambient.temperature * dt;
  r.depth += s.ambient.optical_depth * dt;
  r.density_min = std::min(r.density_min, s.ambient_density);
  r.made += s.plant.oxygen_made * dt;
  r.delivered += s.plant.oxygen_delivered * dt;
  r.energy += s.plant.bus_power * dt;
  r.power_max = std::max(r.power_max, s.plant.bus_power);
  r.gradient_max = std::max(r.gradient_max, s.plant.gradient);
  r.utilisation_max = std::max(r.utilisation_max, s.plant.utilisation);
  if (s.coke_margin < r.coke_margin) r.coke_margin = s.coke_margin;  // unknown compares false
  if (s.nickel_ratio < r.nickel_ratio) r.nickel_ratio = s.nickel_ratio;
  if (s.coke_margin < 0.0) r.above_onset += dt;
  if (s.plant.bus_power > static_cast<double>(s.measured.power_ceiling)) r.above_ceiling += dt;

  const std::uint32_t mode = s.control.mode;
  if (mode < CTL_MODES) r.in_mode[mode] += dt;
  std::size_t limiter = CTL_LIMITERS;
  if (mode == CTL_PRODUCTION) {
    r.demanded += static_cast<double>(s.measured.oxygen_demand) * dt;
    r.producing += dt;
    r.current_time += s.plant.truth.stack_current * dt;
    if (s.control.limiter < CTL_LIMITERS) r.limited[limiter = s.control.limiter] += dt;
  }
  if (mode != m_.mode) {
    if (mode == CTL_SAFE) r.trips += 1.0;
    if (mode == CTL_PRODUCTION) r.starts += 1.0;
    m_.mode = mode;
  }
  const AlarmStates states = alarm_states(s);
  for (std::size_t k = 0; k < states.count; ++k) {
    const std::uint8_t state = states.state[k];
    if (state == CTL_ALARM_UNACKNOWLEDGED && m_.alarms[k] != state) r.alarms += 1.0;
    m_.alarms[k] = state;
  }
  for (const Snapshot* module : s.modules)
    if (module->control.mode == CTL_PRODUCTION) r.modules_producing += dt;
  if (s.shared != nullptr) r.surge_margin = std::min(r.surge_margin, s.shared->plant.surge_margin);
  note_hour(s, limiter);
  note_state(s);
}

void SolStatistics::note_hour(const Snapshot& s, std::size_t limiter) {
  SolSums& r = m_.sums;
  const double dt = period_;
  const auto hour =
      std::min(kHours - 1,
               static_cast<std::size_t>(std::max(0.0, s.ambient.local_time * static_cast<double>(kHours))));
  r.hour_time[hour] += dt;
  r.hour_made[hour] += s.plant.oxygen_made * dt;
  r.hour_energy[hour] += s.plant.bus_power * dt;
  r.hour_density[hour] += s.ambient_density * dt;
  if (s.coke_margin < r.hour_margin[hour]) r.hour_margin[hour] = s.coke_margin;
  if (limiter < CTL_LIMITERS) r.hour_limited[limiter][hour] += dt;
}

void SolStatistics::note_state(const Snapshot& s) {
  SolSums& r = m_.sums;
  const auto& compressor = s.model->parameters().compressor;
  r.dust = s.plant.filter_dust;
  const double nobody = std::nan("");
  const bool scrolls = plant::has_scrolls(s.model->parameters().form);  // no other intake wears
  r.wear = scrolls ? compressor.bearing_wear : nobody;
  r.leakage = scrolls ? compressor.leakage : nobody;
  // behind headers nobody estimates these three
  r.loading = s.shared == nullptr ? s.control.filter_loading : nobody;
  r.wear_estimate = s.shared == nullptr ? s.control.bearing_wear : nobody;
  r.efficiency = s.shared == nullptr ? s.control.compressor_efficiency : nobody;
  r.added_resistance = r.corrections = r.suspects = 0.0;
  r.ageing = r.ageing_max = r.damage_max = r.carbon = r.oxide = 0.0;
  const auto modules = static_cast<double>(std::max<std::size_t>(1, s.modules.size()));
  for_each_module(s, [&r, modules](const Snapshot& module) {
    r.added_resistance += module.control.added_resistance / modules;
    r.corrections += bits(module.control.corrected);
    r.suspects += bits(module.control.suspect[0]) + bits(module.control.suspect[1]);
    const plant::CellReadings& cells = module.plant.cells;
    for (std::size_t c = 0; c < plant::kCells; ++c) {
      r.ageing += cells.ageing[c] / static_cast<double>(plant::kCells) / modules;
      r.ageing_max = std::max(r.ageing_max, cells.ageing[c]);
      r.damage_max = std::max(r.damage_max, cells.damage[c]);
      r.carbon += cells.carbon[c];
      r.oxide += cells.oxide[c];
    }
  });
}

namespace {

std::vector<SignalInfo> infos(const std::vector<SolColumn>& table) {
  std::vector<SignalInfo> all;
  for (const SolColumn& c : table) all.push_back(c.info);
  return all;
}

}  // namespace

SolRecorder::SolRecorder(const std::string& path, const TraceAttributes& attributes, double period,
                         const TraceOptions& options, const SolForm& form)
    : statistics_(period),
      table_(sol_table(form)),
      file_(path, infos(table_), attributes, options),
      row_(row_width(infos(table_))) {}

void SolRecorder::watch(const Snapshot& s) {
  if (!statistics_.tick(s)) return;
  const SolSums &last = statistics_.last(), &present = statistics_.present();
  write(last);
  for (std::size_t i = 1; i <= s.sols_stepped; ++i) write(estimated_row(last, present, i, s.sols_stepped));
}

void SolRecorder::write(const SolSums& sums) {
  std::size_t place = 0;
  for (const SolColumn& c : table_) {
    c.read(sums, &row_[place]);
    place += c.info.width;
  }
  file_.append(sums.begin, row_);
}

void SolRecorder::end() {
  if (statistics_.present().time > 0.0) write(statistics_.present());
}

}  // namespace duskline::harness
