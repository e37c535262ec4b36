#include "hil-harness/loop/timing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace duskline::harness {
namespace {

constexpr double kMicro = 1e6;             // us in a second
constexpr std::size_t kBinsTogether = 10;  // of the fine ones: five bins a decade are drawn

struct Row {
  const char* word;
  const char* meaning;
  const Durations& spread;
};

std::array<Row, 4> rows(const Timing& t) {
  return {{{"begin_late", "a tick began after its instant", t.begin},
           {"period_error", "distance of two beginnings, less the period", t.step},
           {"answer", "from the readings sent to the commands received", t.answer},
           {"work", "from the beginning of a tick to the end of its work", t.work}}};
}

std::string spread_json(const Row& row) {
  std::string bins;
  row.spread.each_bin(kBinsTogether, [&bins](double from, double to, std::uint64_t count) {
    bins += fmt::format("{}{{\"from\": {:.4g}, \"to\": {:.4g}, \"count\": {}}}", bins.empty() ? "" : ", ",
                        kMicro * from, kMicro * to, count);
  });
  const Durations& s = row.spread;
  return fmt::format(
      "    {{\"name\": \"{}\", \"meaning\": \"{}\", \"unit\": \"us\", \"count\": {}, \"mean\": {:.4g}, "
      "\"p50\": {:.4g}, \"p90\": {:.4g}, \"p99\": {:.4g}, \"p99.9\": {:.4g}, \"greatest\": {:.4g},\n"
      "     \"histogram\": [{}]}}",
      row.word, row.meaning, s.count(), kMicro * s.mean(), kMicro * s.percentile(0.5),
      kMicro * s.percentile(0.9), kMicro * s.percentile(0.99), kMicro * s.percentile(0.999),
      kMicro * s.greatest(), bins);
}

}  // namespace

void Durations::add(double seconds) {
  ++count_;
  sum_ += seconds;
  greatest_ = std::max(greatest_, seconds);
  const double bin = kPerDecade * std::log10(std::max(seconds, kShortest) / kShortest);
  ++bins_[std::min(static_cast<std::size_t>(bin), bins_.size() - 1)];
}

double Durations::edge(std::size_t bin) {
  return kShortest * std::pow(10.0, static_cast<double>(bin) / kPerDecade);
}

double Durations::percentile(double share) const {
  if (count_ == 0) return 0.0;
  const auto wanted = static_cast<std::uint64_t>(std::ceil(share * static_cast<double>(count_)));
  std::uint64_t seen = 0;
  for (std::size_t k = 0; k + 1 < bins_.size(); ++k) {
    seen += bins_[k];
    if (seen >= wanted && seen > 0) return std::min(edge(k + 1), greatest_);
  }
  return greatest_;
}

std::string timing_json(const Timing& t) {
  std::string spreads;
  for (const Row& row : rows(t)) spreads += (spreads.empty() ? "" : ",\n") + spread_json(row);
  return fmt::format(
      "{{\n  \"format\": \"duskline/timing/1\",\n  \"period\": {:g},\n  \"speed\": {:g},\n  \"ticks\": {},\n"
      "  \"overruns\": {},\n  \"late_answers\": {},\n  \"lost_frames\": {},\n  \"furthest_behind\": {:.6g},\n"
      "  \"scheduling\": \"{}\",\n  \"memory\": \"{}\",\n  \"spreads\": [\n{}\n  ]\n}}\n",
      t.period, t.speed, t.ticks, t.overruns, t.late, t.lost, t.behind, t.scheduling, t.memory, spreads);
}

std::string timing_text(const Timing& t) {
  std::string text = fmt::format(
      "  pace             {:g} s of plant a second, {} ticks of {:g} ms; {} overruns, {} late answers, {} "
      "lost "
      "frames\n"
      "  real time        scheduling {}; memory {}\n",
      t.speed, t.ticks, 1e3 * t.period / t.speed, t.overruns, t.late, t.lost, t.scheduling, t.memory);
  for (const Row& row : rows(t))
    text += fmt::format(
        "  {:<16} {:.0f} us half of the time, {:.0f} us 99 %, {:.0f} us 99.9 %, {:.0f} us at most\n",
        row.word, kMicro * row.spread.percentile(0.5), kMicro * row.spread.percentile(0.99),
        kMicro * row.spread.percentile(0.999), kMicro * row.spread.greatest());
  return text;
}

}  // namespace duskline::harness
