#include "hil-harness/tune/margins.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "hil-harness/batch/threads.hpp"
#include "hil-harness/linearize/linearize.hpp"
#include "hil-harness/tune/relay_run.hpp"
#include "hil-harness/tune/trial.hpp"

namespace duskline::harness {
namespace {

constexpr double kSlowDrift = 1.001;  // modulus of a pole
constexpr double kSettling = 1800.0;  // s, many times the slowest loop of the gas path

}  // namespace

struct MarginCheck::Content {
  struct Point {
    scenarios::OperatingPoint where;
    std::shared_ptr<const OperatingPoint> plant;
  };
  std::vector<Point> points;
  std::vector<PointMargins> start;
  double most = 0.0;
  unsigned threads = 1;
  std::string problem;
};

MarginCheck::MarginCheck(const scenarios::Case& c, unsigned threads, const std::atomic<bool>* interrupted)
    : content_(std::make_unique<Content>()) {
  const auto& points = c.scenario.tuning.operating_points;
  content_->most = c.scenario.tuning.sensitivity_max;
  content_->threads = threads;
  std::vector<std::string> problems(points.size());
  content_->points.resize(points.size());
  on_threads(points.size(), threads, [&](std::size_t i) {
    content_->points[i] = {points[i], operating_point(settled_at(c, points[i].local_time_h, kSettling),
                                                      kSettling, problems[i], {{}, interrupted})};
  });
  for (std::size_t i = 0; i < points.size(); ++i)
    if (!content_->points[i].plant && content_->problem.empty())
      content_->problem = fmt::format("operating point '{}': {}", points[i].name, problems[i]);
  if (content_->problem.empty()) content_->start = at_all_points(c.scenario.controller);
}

MarginCheck::~MarginCheck() = default;

const std::string& MarginCheck::problem() const {
  return content_->problem;
}

const std::vector<PointMargins>& MarginCheck::at_start() const {
  return content_->start;
}

std::vector<PointMargins> MarginCheck::at_all_points(const ctl_params& params) const {
  std::vector<PointMargins> all(content_->points.size());
  on_threads(all.size(), content_->threads, [&](std::size_t i) {
    const auto& point = content_->points[i];
    all[i] = {point.where.name, point.where.local_time_h, {}};
    auto& loops = all[i].loops;
    for (const LoopMargins& l : loop_margins(*point.plant, params))
      if (l.feedback)
        loops.push_back({l.name, l.in_charge, l.slowest < kSlowDrift, l.margins.sensitivity, l.margins.gain,
                         l.margins.phase, l.margins.delay});
    if (content_->start.empty()) return;
    for (LoopFigures gone : content_->start[i].loops) {
      if (std::any_of(loops.begin(), loops.end(), [&](const auto& l) { return l.name == gone.name; }))
        continue;
      gone.stable = false;
      loops.push_back(std::move(gone));
    }
  });
  return all;
}

double MarginCheck::lack(const std::vector<PointMargins>& margins, std::string& why) const {
  constexpr double kUnstable = 10.0;
  double sum = 0.0, worst = 0.0;
  for (const PointMargins& p : margins)
    for (const LoopFigures& l : p.loops) {
      const double lack = l.stable ? std::max(0.0, l.sensitivity - content_->most) : kUnstable;
      sum += lack;
      if (lack <= worst) continue;
      worst = lack;
      why = l.stable ? fmt::format("Ms {:.2f} of {} ({})", l.sensitivity, l.name, p.point)
                     : fmt::format("{} is not stable ({})", l.name, p.point);
    }
  return sum;
}

}  // namespace duskline::harness
