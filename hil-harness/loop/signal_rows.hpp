/// The signals of a run that a sentence asks for, tick by tick, as the language of requirements reads them.
///
/// What it is   one column for each signal that is wanted, from row `base` on
/// Validity     a row is forgotten only when nobody needs it
/// Left out     nothing
#pragma once

#include <vector>

#include "hil-harness/loop/snapshot.hpp"
#include "scenarios/reader/signal_lists.hpp"
#include "scenarios/requirements/keeper.hpp"
#include "scenarios/requirements/requirement.hpp"

namespace duskline::harness {

/// The signals that a requirement may name: the dictionary of recorded signals.
/// `modules` as in signal_table.
const std::vector<scenarios::TraceSignal>& requirement_signals(std::size_t modules = 0);
/// Of any plant, for the reader.
scenarios::SignalLists requirement_lists();

/// Rows of the signals that are asked for, from number `base` on.
class SignalRows {
 public:
  void want(std::size_t signal) { wanted_.push_back(signal); }
  /// Call once, when all are known.
  void settle();
  void add(const Snapshot& s);
  /// Forgets the rows before number `needed`, when that is worth the moving.
  void forget(std::size_t needed);
  std::size_t size() const { return times_.size(); }
  std::size_t base() const { return base_; }
  scenarios::TraceSamples samples() const {
    return {times_, [this](std::size_t i) { return std::span<const double>(columns_[i]); }};
  }
  void keep(scenarios::Keeper& k) {
    auto& [wanted, columns, widths, times, base] = *this;
    k(columns, widths, times, base);
  }

 private:
  std::vector<std::size_t> wanted_;
  std::vector<std::vector<double>> columns_;  // one for each of the dictionary; empty when not asked for
  std::vector<std::size_t> widths_;           // of them, known with the first row
  std::vector<double> times_;
  std::size_t base_ = 0;
};

}  // namespace duskline::harness
