#include "hil-harness/loop/alarm_log.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "hil-harness/loop/words.hpp"

namespace duskline::harness {
namespace {

constexpr double kTenMinutes = 600.0, kChatter = 60.0, kStale = 86400.0;
constexpr std::size_t kFloodBegins = 10, kFloodEnds = 5, kChatterCount = 3, kTop = 10;

constexpr bool stands(std::uint8_t state) {
  return state == CTL_ALARM_UNACKNOWLEDGED || state == CTL_ALARM_ACKNOWLEDGED;
}

/// A count over all controllers of a run.
template <class Count>
std::uint32_t of_all(const Snapshot& s, Count&& count) {
  if (s.shared == nullptr) return count(s.control);
  std::uint32_t sum = count(s.shared->control);
  for (const Snapshot* module : s.modules) sum += count(module->control);
  return sum;
}
}  // namespace

bool is_gone(std::uint8_t state) {
  return state == CTL_ALARM_NORMAL || state == CTL_ALARM_RETURNED || state == CTL_ALARM_LATCHED ||
         state == CTL_ALARM_LATCHED_ACKNOWLEDGED;
}

std::string_view plant_alarm_priority(std::size_t alarm) {
  static constexpr std::uint32_t kPriority[] = {
#define PRIORITY(identifier, number, word, severity, minutes, priority, ...) priority,
      CTL_PLANT_ALARM_LIST(PRIORITY)
#undef PRIORITY
  };
  return word_of(priority_words(), kPriority[alarm]);
}

const AlarmInfo& alarm_info(std::size_t alarm) {
  static const std::vector<AlarmInfo> infos = [] {
    constexpr std::uint32_t kPriority[] = {
#define PRIORITY(identifier, number, word, severity, minutes, priority, ...) priority,
        CTL_ALARM_LIST(PRIORITY)
#undef PRIORITY
    };
    std::vector<AlarmInfo> all;
    for (std::uint32_t k = 0; k < CTL_ALARMS; ++k)
      all.push_back({alarm_words()[k].word.data(), word_of(priority_words(), kPriority[k]).data(),
                     alarm_words()[k].meaning.data()});
    return all;
  }();
  return infos[alarm];
}

std::vector<std::string> module_alarm_names() {
  std::vector<std::string> names;
  for (std::size_t k = 0; k < CTL_ALARMS; ++k) names.emplace_back(alarm_info(k).word);
  return names;
}

std::vector<std::string> plant_alarm_names(std::size_t modules) {
  std::vector<std::string> names;
  for (std::size_t k = 0; k < CTL_PLANT_ALARMS; ++k) names.emplace_back(plant_alarm_words()[k].word);
  for (std::size_t n = 1; n <= modules; ++n)
    for (const std::string& name : module_alarm_names())
      names.push_back(fmt::format("module {}: {}", n, name));
  return names;
}

AlarmStates alarm_states(const Snapshot& s) {
  AlarmStates all;
  const auto add = [&all](const std::uint8_t* states, std::size_t count) {
    std::copy_n(states, count, all.state.begin() + static_cast<std::ptrdiff_t>(all.count));
    all.count += count;
  };
  if (s.shared == nullptr) {
    add(s.control.alarm_state, CTL_ALARMS);
    return all;
  }
  add(s.shared->control.alarm_state, CTL_PLANT_ALARMS);
  for (const Snapshot* module : s.modules) add(module->control.alarm_state, CTL_ALARMS);
  return all;
}

std::uint32_t alarms_ignored(const Snapshot& s) {
  return of_all(s, [](const auto& control) { return control.alarms_ignored; });
}
std::uint32_t alarms_unacknowledged(const Snapshot& s) {
  return of_all(s, [](const auto& control) { return control.alarms_unacknowledged; });
}

std::span<const AlarmChange> AlarmLog::tick(std::span<const std::uint8_t> states, std::uint32_t ignored,
                                            double time, double period) {
  changes_.clear();
  time_ = time + period;
  ignored_ = ignored;
  if (const auto bin = static_cast<std::size_t>(time / kTenMinutes) + 1; bin != bins_) {
    bins_ = bin;
    in_bin_ = 0;
  }
  for (std::size_t k = 0; k < rows_.size(); ++k) {
    Row& row = rows_[k];
    const std::uint8_t state = states[k];
    if (state == row.state && !stands(state)) continue;
    if (stands(state) && !stands(row.state)) row.since = time;
    if (stands(state) && time - row.since > kStale) row.stale = true;
    if (state == CTL_ALARM_UNACKNOWLEDGED && row.state != CTL_ALARM_UNACKNOWLEDGED) {
      changes_.push_back({k, true});
      ++row.count;
      ++count_;
      max_in_bin_ = std::max(max_in_bin_, ++in_bin_);
      if (in_bin_ == kFloodBegins + 1) ++bins_over_;
      window_.push_back(time);
      row.recent.push_back(time);
      while (time - row.recent.front() > kChatter) row.recent.pop_front();
      row.chattered = row.chattered || row.recent.size() >= kChatterCount;
    }
    if (stands(row.state) && is_gone(state)) changes_.push_back({k, false});
    row.state = state;
  }
  while (!window_.empty() && time - window_.front() > kTenMinutes) window_.pop_front();
  flood_ = flood_ ? window_.size() >= kFloodEnds : window_.size() >= kFloodBegins;
  if (flood_) flood_time_ += period;
  return changes_;
}

AlarmFigures AlarmLog::figures() const {
  AlarmFigures f;
  f.count = count_;
  f.ignored = ignored_;
  if (time_ > 0.0) {
    f.per_ten_minutes = static_cast<double>(count_) / (time_ / kTenMinutes);
    f.share_in_flood = flood_time_ / time_;
  }
  f.time_in_flood = flood_time_;
  f.max_in_ten_minutes = max_in_bin_;
  if (bins_ > 0) f.share_over_ten = static_cast<double>(bins_over_) / static_cast<double>(bins_);
  std::vector<std::size_t> order;
  for (std::size_t k = 0; k < rows_.size(); ++k) {
    const Row& row = rows_[k];
    const std::string& word = names_[k];
    if (row.count > 0) order.push_back(k);
    if (row.chattered) f.chattering.push_back(word);
    if (row.stale) f.stale.push_back(word);
    if (stands(row.state)) f.standing.push_back(word);
    if (row.state == CTL_ALARM_UNACKNOWLEDGED || row.state == CTL_ALARM_RETURNED ||
        row.state == CTL_ALARM_LATCHED)
      f.unacknowledged.push_back(word);
  }
  std::stable_sort(order.begin(), order.end(),
                   [&](auto a, auto b) { return rows_[a].count > rows_[b].count; });
  if (order.size() > kTop) order.resize(kTop);
  std::size_t top = 0;
  for (const std::size_t k : order) {
    top += rows_[k].count;
    f.most_frequent.push_back(names_[k]);
  }
  if (count_ > 0) f.top_ten_share = static_cast<double>(top) / static_cast<double>(count_);
  return f;
}

}  // namespace duskline::harness
