#include "hil-harness/loop/fault_trigger.hpp"

#include <algorithm>
#include <utility>

#include "scenarios/requirements/trigger.hpp"

namespace duskline::harness {
namespace {

constexpr std::size_t kLook = 16;  ///< ticks between two looks at which rows are still needed

}  // namespace

FaultTrigger::FaultTrigger(plant::FaultEvent fault, std::size_t modules) : fault_(std::move(fault)) {
  auto parsed = scenarios::parse_trigger(fault_.when, requirement_signals(modules));
  if (!parsed.problems.empty()) return;
  condition_ = std::make_shared<const scenarios::Requirement>(std::move(parsed.requirement));
  stream_ = scenarios::Stream::of(*condition_);
  for (const std::size_t i : condition_->signals) rows_.want(i);
  rows_.settle();
}

void FaultTrigger::watch(const Snapshot& s) {
  if (!stream_ || came_true_ || s.time < fault_.at) return;
  rows_.add(s);
  const scenarios::TraceSamples window = rows_.samples();
  came_true_ = stream_->verdict(window, rows_.base()).outcome == scenarios::Outcome::satisfied;
  if (++ticks_ % kLook != 0) return;
  stream_->advance(window, rows_.base());
  rows_.forget(std::min(stream_->needs(), rows_.base() + rows_.size() - 1));
}

}  // namespace duskline::harness
