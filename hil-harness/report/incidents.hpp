/// What went wrong in a run and which logged events came before it.
///
/// What it is   for each violated requirement, and each interlock that belongs to none: the earliest cause still acting
///              (or over for less than kAfterEffect), then what was logged between it and the violation
/// Validity     an order in time, not a proof of cause; a page that shows it says "preceded by"
/// Left out     causes that no event tells, such as slow changes of the weather
#pragma once

#include <string>
#include <vector>

#include "hil-harness/report/summary_view.hpp"

namespace duskline::harness {

inline constexpr double kAfterEffect = 1800.0;  ///< s after its end in which a cause still counts
inline constexpr double kLookBack = 7200.0;     ///< s looked back when no cause is logged

struct ChainStep {
  double time{};
  std::string kind, text;
  std::size_t count = 1;  ///< of equal events, the first of which is this one
};

struct Incident {
  std::string title, must, verdict;  ///< verdict: empty for an interlock
  std::optional<double> margin;
  std::string unit;
  double from{}, to{};  ///< s
  bool cause_logged = false;
  std::vector<ChainStep> chain;  ///< in the order of time; ends before `from`
  std::size_t left_out{};        ///< events in the middle that are not in the chain
};

/// Violated requirements in the order of time, then interlocks. `events` in the order of time.
std::vector<Incident> incidents(const std::vector<RequirementEntry>& requirements,
                                const std::vector<EventEntry>& events);

}  // namespace duskline::harness
