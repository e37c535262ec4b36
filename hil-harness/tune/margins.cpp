#include "hil-harness/tune/margins.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace duskline::harness {

struct MarginCheck::Content {
  double most = 0.0;
  std::string problem;
};

MarginCheck::MarginCheck(const scenarios::Case&, const std::vector<scenarios::OperatingPoint>&, double most,
                         const std::atomic<bool>*)
    : content_(std::make_unique<Content>()) {
  content_->most = most;
}
MarginCheck::~MarginCheck() = default;

const std::string& MarginCheck::problem() const {
  return content_->problem;
}

std::vector<PointMargins> MarginCheck::at_all_points(const ctl_params&) const {
  return {};
}

double MarginCheck::lack(const ctl_params& params, std::string& why) const {
  constexpr double kUnstable = 10.0;
  double sum = 0.0, worst = 0.0;
  for (const PointMargins& p : at_all_points(params))
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
