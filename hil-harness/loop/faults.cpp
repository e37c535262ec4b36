#include "hil-harness/loop/faults.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace duskline::harness {
namespace {

using plant::FaultEffect;
using plant::FaultRow;

constexpr double kSol = 88775.244;  // s

bool on_parameter(FaultEffect effect) {
  return effect == FaultEffect::scale || effect == FaultEffect::set || effect == FaultEffect::add;
}
bool on_path(FaultEffect effect) {
  return effect == FaultEffect::sensor || effect == FaultEffect::actuator;
}

void inject_value(const FaultRow& row, double size, double share, const plant::ParameterInfo& info,
                  double& x) {
  if (row.effect == FaultEffect::scale) x *= 1.0 + (size - 1.0) * share;
  if (row.effect == FaultEffect::set) x += (size - x) * share;
  if (row.effect == FaultEffect::add) x += size * share;
  // a supply may be dead; everything else stays where the model holds
  if (row.target != "power.bus_voltage") x = std::clamp(x, info.lower, info.upper);
}

}  // namespace

Faults::Faults(std::span<const plant::FaultEvent> events) {
  for (const auto& event : events)
    if (event.when.empty()) add(event);
}

void Faults::add(const plant::FaultEvent& event) {
  if (const FaultRow* row = plant::find_fault(event.fault))
    faults_.push_back({event, row, 0.0, false, false});
}

bool Faults::clear(const scenarios::FaultClearing& meant, double t) {
  bool found = false;
  for (ActiveFault& f : faults_) {
    if (!scenarios::is_meant(meant, f.event) || t >= f.event.at + f.event.length) continue;
    f.event.length = std::max(0.0, t - f.event.at);
    found = true;
  }
  return found;
}

bool Faults::move_to(double t, const News& news) {
  bool anew = false;
  touched_ = false;
  for (ActiveFault& f : faults_) {
    const bool before = f.acts;
    f.acts = plant::fault_acts(f.event, t);
    double share = plant::fault_share(f.event, t);
    if (on_parameter(f.row->effect)) {
      share = std::floor(100.0 * share + 1e-9) / 100.0;
      anew = anew || share != f.share;
    }
    f.share = share;
    if (on_path(f.row->effect)) touched_ = touched_ || before || f.acts;
    if (f.acts != before && news) news(f.event, f.acts);
    f.resets = f.row->course == plant::FaultCourse::once && f.acts && !before;
  }
  return anew;
}

std::vector<plant::FaultEvent> Faults::events() const {
  std::vector<plant::FaultEvent> all;
  for (const ActiveFault& f : faults_) all.push_back(f.event);
  return all;
}

bool Faults::ActiveFault::on(Part part) const {
  if (part == kSharedPart || row->scope == plant::FaultScope::headers)
    return part == kSharedPart && row->scope == plant::FaultScope::headers;
  return event.module < 0 || event.module == part;
}

void Faults::inject(plant::PlantParameters& healthy, Part part) const {
  for (const ActiveFault& f : faults_) {
    if (!f.acts || !on_parameter(f.row->effect) || (f.event.module >= 0 && f.event.module != part)) continue;
    for (const plant::ParameterInfo& info : plant::parameter_table()) {
      if (info.path != f.row->target) continue;
      const auto values = info.get(healthy);
      for (std::size_t i = 0; i < values.size(); ++i)
        if (f.event.item < 0 || static_cast<std::size_t>(f.event.item) == i)
          inject_value(*f.row, f.event.size, f.share, info, values[i]);
    }
  }
}

void Faults::inject(plant::Ambient& air) const {
  for (const ActiveFault& f : faults_) {
    if (!f.acts || f.row->effect != FaultEffect::cold) continue;
    const double change = f.event.size * f.share;
    for (double* x : {&air.temperature, &air.sky_temperature, &air.ground_temperature})
      *x = std::max(100.0, *x + change);
  }
}

void Faults::inject(plant::SensorBank& sensors, std::int64_t tick, Part part) const {
  if (!touched_) return;
  const auto channel = [part](const ActiveFault& f) {
    if (part == kSharedPart) return scenarios::shared_reading(f.row->target);
    return scenarios::reading_channel(f.row->target) + static_cast<std::size_t>(std::max(0, f.event.item));
  };
  for (const ActiveFault& f : faults_)
    if (f.row->effect == FaultEffect::sensor && f.on(part)) sensors.set_fault(channel(f), {}, tick);
  for (const ActiveFault& f : faults_)
    if (f.row->effect == FaultEffect::sensor && f.on(part) && f.acts)
      sensors.set_fault(channel(f), {f.row->sensor, f.event.size * f.share}, tick);
}

void Faults::inject(Channels& readings, Part module) const {
  for (const ActiveFault& f : faults_) {
    if (!f.acts || f.row->effect != FaultEffect::swap || !f.on(module)) continue;
    const std::size_t first = scenarios::reading_channel(f.row->target),
                      items = scenarios::fault_items(*f.row);
    const auto item = static_cast<std::size_t>(f.event.item);
    std::swap(readings[first + item], readings[first + (item + 1) % items]);
  }
}

void Faults::drive(Part part, const SetFault& set) const {
  if (!touched_) return;
  for (const ActiveFault& f : faults_)
    if (f.row->effect == FaultEffect::actuator && f.on(part)) set(f.row->target, f.event.item, {});
  for (const ActiveFault& f : faults_) {
    if (f.row->effect != FaultEffect::actuator || !f.acts || !f.on(part)) continue;
    const bool share = f.row->actuator == plant::ActuatorFaultMode::loss;
    set(f.row->target, f.event.item, {f.row->actuator, share ? f.event.size * f.share : f.event.size});
  }
}

void Faults::inject(ctl_inputs& in, double period, Part module) const {
  for (const ActiveFault& f : faults_) {
    if (!f.acts || !f.on(module)) continue;
    const double jump = f.event.size * f.share;
    if (f.row->effect == FaultEffect::clock) {
      const double local = static_cast<double>(in.local_time) + jump / kSol;
      in.local_time = static_cast<float>(local - std::floor(local));
    }
    if (f.row->effect == FaultEffect::tick) in.tick += static_cast<std::uint32_t>(jump / period);
  }
}

bool Faults::on_wire(Part module) const {
  return std::any_of(faults_.begin(), faults_.end(), [module](const ActiveFault& f) {
    return f.row->effect == FaultEffect::wire && f.on(module);
  });
}

bool Faults::resets(Part module) const {
  return std::any_of(faults_.begin(), faults_.end(),
                     [module](const ActiveFault& f) { return f.resets && f.on(module); });
}

bool Faults::memory_intact(Part module) const {
  return std::none_of(faults_.begin(), faults_.end(), [module](const ActiveFault& f) {
    return f.resets && f.on(module) && f.row->effect == FaultEffect::forget;
  });
}

WireState Faults::wire(double period, Part module) const {
  WireState w;
  for (const ActiveFault& f : faults_) {
    if (!f.acts || f.row->effect != FaultEffect::wire || !f.on(module)) continue;
    const double size = f.event.size;
    switch (f.row->wire) {
      case plant::WireFaultMode::none:
        break;
      case plant::WireFaultMode::cut:
        w.cut = true;
        break;
      case plant::WireFaultMode::one_way:
        w.one_way = true;
        break;
      case plant::WireFaultMode::delay:
        w.delay = size / period;
        break;
      case plant::WireFaultMode::duplicate:
        w.duplicate = size;
        break;
      case plant::WireFaultMode::reorder:
        w.reorder = size;
        break;
      case plant::WireFaultMode::corrupt:
        w.corrupt = size;
        break;
      case plant::WireFaultMode::babble:
        w.babble = size;
        break;
      case plant::WireFaultMode::slow:
        w.slow = size;
        break;
      case plant::WireFaultMode::board_off:
        w.board_off = true;
        break;
      case plant::WireFaultMode::drift:
        w.drift = size;
        break;
    }
  }
  return w;
}

void Faults::keep(scenarios::Keeper& k) {
  auto& [faults, touched] = *this;
  std::uint64_t count = faults.size();
  k(count, touched);
  if (k.loads()) faults.clear();
  for (std::uint64_t i = 0; i < count && k.well(); ++i) {
    if (k.loads()) faults.push_back({});
    auto& [event, row, share, acts, resets] = faults[i];  // the last is what begins at a tick
    k(event, share, acts);
    row = plant::find_fault(event.fault);
    if (row == nullptr) k.fail();
  }
}

double Faults::acting() const {
  return static_cast<double>(std::count_if(faults_.begin(), faults_.end(), [](const ActiveFault& f) {
    return f.acts && f.row->course != plant::FaultCourse::once;
  }));
}

int Faults::count(FaultEffect effect) const {
  return static_cast<int>(std::count_if(faults_.begin(), faults_.end(), [&](const ActiveFault& f) {
    return f.acts && f.row->effect == effect;
  }));
}

void add_weather(std::span<const plant::FaultEvent> faults, plant::EnvironmentSettings& settings) {
  constexpr double kDecay = 20.0 * kSol;
  for (const auto& e : faults) {
    const FaultRow* row = plant::find_fault(e.fault);
    if (row == nullptr || !e.when.empty()) continue;
    if (row->effect == FaultEffect::storm) settings.storms.push_back({e.at, e.size, e.rise, kDecay});
    // the fault sets in where the disturbance is first felt
    if (row->effect == FaultEffect::gust) settings.gusts.push_back({e.at + 0.5 * e.length, e.size, e.length});
    if (row->effect == FaultEffect::vortex)
      settings.vortices.push_back({e.at + 0.5 * e.length, e.size, e.length / 3.0, 0.0, 0.0});
  }
}

bool is_weather(const plant::FaultEvent& event) {
  const FaultRow* row = plant::find_fault(event.fault);
  return row != nullptr && (row->effect == FaultEffect::storm || row->effect == FaultEffect::gust ||
                            row->effect == FaultEffect::vortex || row->effect == FaultEffect::cold);
}

std::string fault_text(const plant::FaultEvent& event) {
  const FaultRow* row = plant::find_fault(event.fault);
  std::string text = event.fault;
  if (row != nullptr && row->item >= 0) text += fmt::format(" {}", event.item + 1);
  if (event.module >= 0) text += fmt::format(" of module {}", event.module + 1);
  if (row != nullptr && row->has_size())
    text += fmt::format(", size {:.4g}{}{}", event.size, row->unit == "1" ? "" : " ",
                        row->unit == "1" ? "" : row->unit);
  return text;
}

}  // namespace duskline::harness
