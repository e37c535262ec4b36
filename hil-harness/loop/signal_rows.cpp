#include "hil-harness/loop/signal_rows.hpp"

#include <algorithm>

#include "hil-harness/loop/signals.hpp"

namespace duskline::harness {
namespace {

std::vector<scenarios::TraceSignal> make_signals() {
  std::vector<scenarios::TraceSignal> list;
  for (const Signal& s : signal_table())
    list.push_back({s.info.name, s.info.unit, s.info.width, s.info.flags, s.info.masks});
  return list;
}

}  // namespace

const std::vector<scenarios::TraceSignal>& requirement_signals() {
  static const std::vector<scenarios::TraceSignal> list = make_signals();
  return list;
}

void SignalRows::settle() {
  std::sort(wanted_.begin(), wanted_.end());
  wanted_.erase(std::unique(wanted_.begin(), wanted_.end()), wanted_.end());
  columns_.resize(requirement_signals().size());
}

void SignalRows::add(const Snapshot& s) {
  if (wanted_.empty()) return;
  times_.push_back(s.time);
  for (const std::size_t i : wanted_) {
    const Signal& signal = signal_table()[i];
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
  for (const std::size_t i : wanted_) cut(columns_[i], rows * requirement_signals()[i].width);
  base_ += rows;
}

}  // namespace duskline::harness
