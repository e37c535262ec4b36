#include "hil-harness/loop/recorder.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <stdexcept>

namespace duskline::harness {
namespace {

constexpr std::array kWatched{
    "oxygen_rate",
    "product_purity",
    "cell_voltage",
    "cell_coke_margin",
    "coke_margin",
    "nickel_ratio",
    "utilisation",
    "feed_flow",
    "plenum_pressure",
    "cathode_pressure",
    "anode_pressure",
    "zone_temperature",
    "end_temperature",
    "preheater_temperature",
    "compressor_temperature",
    "stack_gradient",
    "compressor_speed",
    "stack_current",
    "bus_power",
};
constexpr std::size_t kWidestSignal = plant::kMostModules * plant::kCells;
constexpr double kUnknown = std::numeric_limits<double>::quiet_NaN();

const Signal& signal_of(std::string_view name, std::size_t modules) {
  const auto& table = signal_table(modules);
  const auto found =
      std::find_if(table.begin(), table.end(), [&](const Signal& s) { return s.info.name == name; });
  if (found == table.end() || found->info.width > kWidestSignal)
    throw std::logic_error("recorder: no signal " + std::string(name));
  return *found;
}

std::vector<SignalInfo> recorded(const IntervalExtremes& extremes, bool every_tick, std::size_t modules) {
  std::vector<SignalInfo> infos;
  for (const Signal& s : signal_table(modules)) infos.push_back(s.info);
  if (!every_tick) infos.insert(infos.end(), extremes.signals().begin(), extremes.signals().end());
  return infos;
}

}  // namespace

IntervalExtremes::IntervalExtremes(std::size_t modules) {
  std::size_t place = 0;
  for (const char* name : kWatched) {
    const Signal& signal = signal_of(name, modules);
    sources_.push_back({&signal, place});
    for (const bool least : {true, false}) {
      SignalInfo info = signal.info;
      info.name += least ? "_min" : "_max";
      info.meaning =
          std::string(least ? "least of: " : "greatest of: ") + info.meaning + ", since the row before";
      info.cell_method = least ? "minimum" : "maximum";
      infos_.push_back(std::move(info));
    }
    place += 2 * signal.info.width;
  }
  values_.assign(place, kUnknown);
}

void IntervalExtremes::gather(const Snapshot& s) {
  std::array<double, kWidestSignal> now;
  for (const Source& source : sources_) {
    source.signal->read(s, now.data());
    const std::size_t width = source.signal->info.width;
    double* const least = values_.data() + source.place;
    double* const greatest = least + width;
    for (std::size_t i = 0; i < width; ++i) {
      // unknown compares false: the first known value replaces it, and unknown ones are passed over
      if (!(least[i] <= now[i]) && !std::isnan(now[i])) least[i] = now[i];
      if (!(greatest[i] >= now[i]) && !std::isnan(now[i])) greatest[i] = now[i];
    }
  }
}

void IntervalExtremes::take(std::span<double> out) {
  std::copy(values_.begin(), values_.end(), out.begin());
  std::fill(values_.begin(), values_.end(), kUnknown);
}

// of a short run compression costs more than it saves on disk; a sol at 10 s takes a few megabytes without
Recorder::Recorder(const std::string& path, const std::map<std::string, std::string>& attributes,
                   bool every_tick, const TraceOptions& options, std::size_t modules)
    : every_tick_(every_tick),
      extremes_(modules),
      trace_(path, recorded(extremes_, every_tick, modules), attributes, options) {
  signals_ = row_width(recorded(extremes_, true, modules));
  row_.resize(row_width(recorded(extremes_, every_tick, modules)));
}

bool Recorder::row(const Snapshot& s) {
  const std::span<double> row(row_);
  read_signals(s, row.first(signals_));
  if (!every_tick_) extremes_.take(row.subspan(signals_));
  return trace_.append(s.time, row_);
}

}  // namespace duskline::harness
