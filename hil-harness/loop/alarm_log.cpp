#include "hil-harness/loop/alarm_log.hpp"

#include <algorithm>

namespace duskline::harness {
namespace {

constexpr double kTenMinutes = 600.0, kChatter = 60.0, kStale = 86400.0;
constexpr std::size_t kFloodBegins = 10, kFloodEnds = 5, kChatterCount = 3, kTop = 10;

const char* const kPriorities[] = {
#define WORD(identifier, value, word, meaning) word,
    CTL_PRIORITY_LIST(WORD)
#undef WORD
};

constexpr bool stands(std::uint8_t state) {
  return state == CTL_ALARM_UNACKNOWLEDGED || state == CTL_ALARM_ACKNOWLEDGED;
}

}  // namespace

const AlarmInfo& alarm_info(std::size_t alarm) {
  static const AlarmInfo infos[] = {
#define INFO(identifier, number, word, severity, minutes, priority, latched, on, off, source, argument, \
             limit, dead_band, suppressed, consequence, cause, action)                                  \
  {word, kPriorities[priority], action},
      CTL_ALARM_LIST(INFO)
#undef INFO
  };
  return infos[alarm];
}

std::vector<std::size_t> AlarmLog::tick(const ctl_outputs& control, double time, double period) {
  std::vector<std::size_t> began;
  time_ = time + period;
  ignored_ = control.alarms_ignored;
  bins_.resize(static_cast<std::size_t>(time / kTenMinutes) + 1);
  for (std::size_t k = 0; k < CTL_ALARMS; ++k) {
    Row& row = rows_[k];
    const std::uint8_t state = control.alarm_state[k];
    if (stands(state) && !stands(row.state)) row.since = time;
    if (stands(state) && time - row.since > kStale) row.stale = true;
    if (state == CTL_ALARM_UNACKNOWLEDGED && row.state != CTL_ALARM_UNACKNOWLEDGED) {
      began.push_back(k);
      ++row.count;
      ++count_;
      ++bins_.back();
      window_.push_back(time);
      row.recent.push_back(time);
      while (time - row.recent.front() > kChatter) row.recent.pop_front();
      row.chattered = row.chattered || row.recent.size() >= kChatterCount;
    }
    row.state = state;
  }
  while (!window_.empty() && time - window_.front() > kTenMinutes) window_.pop_front();
  flood_ = flood_ ? window_.size() >= kFloodEnds : window_.size() >= kFloodBegins;
  if (flood_) flood_time_ += period;
  return began;
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
  std::size_t over = 0;
  for (const std::size_t n : bins_) {
    f.max_in_ten_minutes = std::max(f.max_in_ten_minutes, n);
    over += n > kFloodBegins ? 1 : 0;
  }
  if (!bins_.empty()) f.share_over_ten = static_cast<double>(over) / static_cast<double>(bins_.size());
  std::vector<std::size_t> order;
  for (std::size_t k = 0; k < CTL_ALARMS; ++k) {
    const Row& row = rows_[k];
    const char* word = alarm_info(k).word;
    if (row.count > 0) order.push_back(k);
    if (row.chattered) f.chattering.emplace_back(word);
    if (row.stale) f.stale.emplace_back(word);
    if (stands(row.state)) f.standing.emplace_back(word);
    if (row.state == CTL_ALARM_UNACKNOWLEDGED || row.state == CTL_ALARM_RETURNED ||
        row.state == CTL_ALARM_LATCHED)
      f.unacknowledged.emplace_back(word);
  }
  std::stable_sort(order.begin(), order.end(),
                   [&](auto a, auto b) { return rows_[a].count > rows_[b].count; });
  if (order.size() > kTop) order.resize(kTop);
  std::size_t top = 0;
  for (const std::size_t k : order) {
    top += rows_[k].count;
    f.most_frequent.emplace_back(alarm_info(k).word);
  }
  if (count_ > 0) f.top_ten_share = static_cast<double>(top) / static_cast<double>(count_);
  return f;
}

}  // namespace duskline::harness
