#include "hil-harness/loop/signal_rows.hpp"

#include <algorithm>
#include <array>
#include <mutex>

#include "hil-harness/loop/signals.hpp"

namespace duskline::harness {
namespace {

std::vector<scenarios::TraceSignal> make_signals(std::size_t modules) {
  std::vector<scenarios::TraceSignal> list;
  for (const Signal& s : signal_table(modules))
    list.push_back({s.info.name, s.info.unit, s.info.width, s.info.flags, s.info.masks});
  return list;
}

}  // namespace

const std::vector<scenarios::TraceSignal>& requirement_signals(std::size_t modules) {
  static std::array<std::once_flag, plant::kMostModules + 1> made;
  static std::array<std::vector<scenarios::TraceSignal>, plant::kMostModules + 1> lists;
  std::call_once(made[modules], [&] { lists[modules] = make_signals(modules); });
  return lists[modules];
}

scenarios::SignalLists requirement_lists() {
  return {[](const plant::PlantForm& form) {
    return std::span<const scenarios::TraceSignal>(
        requirement_signals(plant::has_headers(form) ? form.modules : 0));
  }};
}

void SignalRows::settle() {
  std::sort(wanted_.begin(), wanted_.end());
  wanted_.erase(std::unique(wanted_.begin(), wanted_.end()), wanted_.end());
  columns_.resize(wanted_.empty() ? 0 : wanted_.back() + 1);
  widths_.assign(columns_.size(), 0);
}

void SignalRows::add(const Snapshot& s) {
  if (wanted_.empty()) return;
  times_.push_back(s.time);
  for (const std::size_t i : wanted_) {
    const Signal& signal = signal_table(s)[i];
    widths_[i] = signal.info.width;
    auto& column = columns_[i];
    const std::size_t end = column.size();
    column.resize(end + signal.info.width);
    signal.read(s, &column[end]);
  }
}

void SignalRows::forget(std::size_t needed) {
  const std::size_t rows = std::min(needed - std::min(needed, base_), times_.size());
  if (rows * 2 < times_.size()) return;
  const auto cut = [](std::vector<double>& from, std::size_t count) {
    from.erase(from.begin(), from.begin() + static_cast<std::ptrdiff_t>(count));
  };
  cut(times_, rows);
  for (const std::size_t i : wanted_) cut(columns_[i], rows * widths_[i]);
  base_ += rows;
}

}  // namespace duskline::harness
