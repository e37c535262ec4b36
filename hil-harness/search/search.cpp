#include "hil-harness/search/search.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace duskline::harness {
namespace {

constexpr std::size_t kBatch = 16;         // draws at a time
constexpr std::size_t kFewestDraws = 60;   // enough for 95 % of the space at 95 % confidence, which takes 59
constexpr double kShare = 0.25;            // of the runs are draws
constexpr std::size_t kFewestMembers = 4;  // a child has one to come from, one to go to and two that differ
constexpr double kLeastF = 0.4, kMostF = 0.9, kCrossover = 0.9;
constexpr double kSettled = 1e-3;  // of the side of the cube; nothing new is found closer together

}  // namespace

std::size_t Search::draws_of(std::size_t runs) {
  const auto share = static_cast<std::size_t>(kShare * static_cast<double>(runs));
  return std::min(runs, std::max(kFewestDraws, share));
}

Search::Search(SearchPlan plan) : plan_(std::move(plan)), stream_(plan_.seed, plan_.stream) {
  plan_.draws = std::min(plan_.draws, plan_.runs);
}

Search::Search(std::size_t dimension, std::size_t runs, std::uint64_t seed)
    : Search({dimension,
              runs,
              seed,
              "falsify",
              draws_of(runs),
              std::clamp<std::size_t>(2 * dimension + 8, 12, 40),
              {}}) {}

double Search::uniform() {
  return stream_.uniform(drawn_++);
}

std::size_t Search::below(std::size_t n) {
  return std::min(n - 1, static_cast<std::size_t>(uniform() * static_cast<double>(n)));
}

Point Search::draw() {
  Point point(plan_.dimension);
  for (double& x : point) x = uniform();
  return point;
}

Point Search::child_of(std::size_t i) {
  const std::size_t best = std::max<std::size_t>(2, members_.size() / 5);
  const Point& x = members_[i].at;
  const Point& towards = members_[below(best)].at;
  std::size_t one = i, two = i;
  while (one == i) one = below(members_.size());
  while (two == i || two == one) two = below(members_.size());
  const double f = kLeastF + (kMostF - kLeastF) * uniform();
  const std::size_t always = below(plan_.dimension);  // one number at least is new
  Point child = x;
  for (std::size_t d = 0; d < plan_.dimension; ++d) {
    const bool taken = uniform() < kCrossover || d == always;
    if (!taken) continue;
    const double v = x[d] + f * (towards[d] - x[d]) + f * (members_[one].at[d] - members_[two].at[d]);
    child[d] = v < 0.0 ? 0.5 * x[d] : v > 1.0 ? 0.5 * (1.0 + x[d]) : v;
  }
  return child;
}

std::vector<Point> Search::ask() {
  batch_.clear();
  const std::size_t left = plan_.runs - asked_;
  if (asked_ < plan_.draws) {
    const std::size_t end = std::min(asked_ + kBatch, plan_.draws);
    for (std::size_t i = asked_; i < end; ++i)
      batch_.push_back(i < plan_.first.size() ? plan_.first[i] : draw());
  } else if (members_.size() >= kFewestMembers) {
    afresh_ = settled();
    for (std::size_t i = afresh_ ? 1 : 0; i < members_.size() && batch_.size() < left; ++i)
      batch_.push_back(afresh_ ? draw() : child_of(i));
  }
  asked_ += batch_.size();
  return batch_;
}

void Search::tell(std::span<const double> values) {
  const bool drawing = asked_ <= plan_.draws;
  for (std::size_t i = 0; i < batch_.size() && i < values.size(); ++i) {
    const double value = std::isnan(values[i]) ? std::numeric_limits<double>::infinity() : values[i];
    if (drawing) {
      members_.push_back({batch_[i], value});
      continue;
    }
    Member& parent = members_[afresh_ ? i + 1 : i];
    if (afresh_ || value <= parent.value) parent = {batch_[i], value};
  }
  sort_members();
  if (members_.size() > plan_.members) members_.resize(plan_.members);
}

void Search::sort_members() {
  std::stable_sort(members_.begin(), members_.end(),
                   [](const Member& a, const Member& b) { return a.value < b.value; });
}

bool Search::settled() const {
  for (std::size_t d = 0; d < plan_.dimension; ++d) {
    double least = 1.0, most = 0.0;
    for (const Member& m : members_) {
      least = std::min(least, m.at[d]);
      most = std::max(most, m.at[d]);
    }
    if (most - least > kSettled) return false;
  }
  return true;
}

}  // namespace duskline::harness
