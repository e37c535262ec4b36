#include "hil-harness/campaign/subset.hpp"

#include <algorithm>
#include <cmath>

#include "hil-harness/falsify/statistics.hpp"

namespace duskline::harness {
namespace {

constexpr double kShare = 0.1, kKept = 0.8;

/// How much less the members of chains say than independent ones: chains stand one after the other in each row of
/// `chains` members.
double chain_excess(const std::vector<bool>& passed, std::size_t chains, double p) {
  const std::size_t length = passed.size() / chains;
  double sum = 0.0;
  for (std::size_t lag = 1; lag < length; ++lag) {
    double both = 0.0;
    for (std::size_t step = 0; step + lag < length; ++step)
      for (std::size_t c = 0; c < chains; ++c)
        both += passed[step * chains + c] && passed[(step + lag) * chains + c] ? 1.0 : 0.0;
    const double covariance = both / static_cast<double>((length - lag) * chains) - p * p;
    sum +=
        2.0 * (1.0 - static_cast<double>(lag) / static_cast<double>(length)) * covariance / (p * (1.0 - p));
  }
  return std::max(0.0, sum);
}

}  // namespace

SubsetSimulation::SubsetSimulation(std::size_t dimension, std::size_t points, std::size_t levels,
                                   std::uint64_t seed)
    : dimension_(dimension),
      points_(points),
      levels_(levels),
      stream_(seed, "campaign/subset"),
      chains_(points) {}

std::vector<SubsetSimulation::Normals> SubsetSimulation::ask() {
  asked_.clear();
  if (over_) return {};
  for (std::size_t c = 0; c < chains_; ++c) {
    Normals u(dimension_);
    for (std::size_t d = 0; d < dimension_; ++d)
      u[d] = level_ == 0 ? normal()
                         : kKept * members_[members_.size() - chains_ + c].at[d] +
                               std::sqrt(1.0 - kKept * kKept) * normal();
    asked_.push_back(std::move(u));
  }
  return asked_;
}

void SubsetSimulation::tell(std::span<const double> values) {
  for (std::size_t c = 0; c < chains_; ++c)
    if (level_ == 0 || values[c] <= limit_) {
      members_.push_back({asked_[c], values[c]});
    } else {
      const Member stays = members_[members_.size() - chains_];  // the chain's member one step earlier
      members_.push_back(stays);
    }
  if (members_.size() >= points_) end_level();
}

void SubsetSimulation::end_level() {
  std::vector<std::size_t> order(members_.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return members_[a].value < members_[b].value; });
  const auto tenth = static_cast<std::size_t>(kShare * static_cast<double>(points_));
  const double next = members_[order[tenth - 1]].value;
  ++level_;
  over_ = next <= 0.0 || level_ == levels_;
  limit_ = over_ ? 0.0 : next;
  std::vector<bool> passed;
  std::size_t count = 0;
  for (const Member& member : members_) {
    passed.push_back(member.value <= limit_);
    count += passed.back();
  }
  reached_ = over_ && count > 0;
  const auto n = static_cast<double>(points_);
  const double p = count > 0 ? static_cast<double>(count) / n : upper_share(0, points_, kConfidence);
  probability_ *= p;
  if (count > 0) squares_ += (1.0 - p) / (n * p) * (1.0 + (p < 1.0 ? chain_excess(passed, chains_, p) : 0.0));
  if (over_) return;
  std::vector<Member> seeds;
  for (std::size_t i = 0; i < tenth; ++i) seeds.push_back(members_[order[i]]);
  members_ = std::move(seeds);
  chains_ = tenth;
}

double SubsetSimulation::variation() const {
  return std::sqrt(squares_);
}

}  // namespace duskline::harness
