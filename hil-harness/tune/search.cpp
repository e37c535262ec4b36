#include "hil-harness/tune/search.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "plant-model/instruments/noise.hpp"

namespace duskline::harness {
namespace {

constexpr double kCrossing = 0.9;

/// Draws one after the other from a named stream.
class Draws {
 public:
  explicit Draws(std::uint64_t seed) : stream_(seed, "tune/population") {}
  double next() { return stream_.uniform(count_++); }
  std::size_t below(std::size_t n) {
    return std::min(n - 1, static_cast<std::size_t>(next() * static_cast<double>(n)));
  }

 private:
  plant::NoiseStream stream_;
  std::int64_t count_ = 0;
};

/// One point in each of `count` strata of every coordinate (Latin hypercube).
std::vector<std::vector<double>> strata(std::size_t count, std::size_t width, Draws& draws) {
  std::vector<std::vector<double>> points(count, std::vector<double>(width));
  std::vector<std::size_t> order(count);
  for (std::size_t d = 0; d < width; ++d) {
    for (std::size_t i = 0; i < count; ++i) order[i] = i;
    for (std::size_t i = count; i-- > 1;) std::swap(order[i], order[draws.below(i + 1)]);
    for (std::size_t i = 0; i < count; ++i)
      points[i][d] = (static_cast<double>(order[i]) + draws.next()) / static_cast<double>(count);
  }
  return points;
}

double reflected(double x) {
  if (x < 0.0) x = -x;
  if (x > 1.0) x = 2.0 - x;
  return std::clamp(x, 0.0, 1.0);
}

}  // namespace

Found search_population(const std::vector<std::vector<double>>& starts, std::size_t population,
                        std::size_t budget, std::uint64_t seed, const Costs& costs) {
  Found found{{}, std::numeric_limits<double>::infinity(), 0};
  if (starts.empty() || budget == 0) return found;
  Draws draws(seed);
  const std::size_t width = starts[0].size();
  std::vector<std::vector<double>> members = starts;
  if (members.size() < population)
    for (auto& point : strata(population - members.size(), width, draws)) members.push_back(std::move(point));
  members.resize(std::min(members.size(), budget));
  std::vector<double> cost = costs(members);
  const auto note = [&](const std::vector<std::vector<double>>& points, const std::vector<double>& values) {
    for (std::size_t i = 0; i < values.size(); ++i)
      if (values[i] < found.cost || found.point.empty()) found.point = points[i], found.cost = values[i];
    found.tried += values.size();
  };
  note(members, cost);
  const std::size_t n = members.size();
  while (cost.size() == n && n >= 4 && found.tried < budget) {
    const double factor = 0.5 + 0.5 * draws.next();
    std::vector<std::vector<double>> trials;
    for (std::size_t i = 0; i < n && found.tried + trials.size() < budget; ++i) {
      std::size_t pick[3];
      for (std::size_t k = 0; k < 3; ++k) do
          pick[k] = draws.below(n);
        while (pick[k] == i || std::find(pick, pick + k, pick[k]) != pick + k);
      const std::size_t always = draws.below(width);
      std::vector<double> trial = members[i];
      for (std::size_t d = 0; d < width; ++d)
        if (draws.next() < kCrossing || d == always)
          trial[d] = reflected(members[pick[0]][d] + factor * (members[pick[1]][d] - members[pick[2]][d]));
      trials.push_back(std::move(trial));
    }
    const std::vector<double> now = costs(trials);
    note(trials, now);
    for (std::size_t i = 0; i < now.size(); ++i)
      if (now[i] <= cost[i]) members[i] = trials[i], cost[i] = now[i];
    if (now.size() < trials.size()) break;
  }
  return found;
}

Found search(scenarios::Search method, const std::vector<std::vector<double>>& starts, std::size_t population,
             std::size_t budget, std::uint64_t seed, const Costs& costs) {
  using scenarios::Search;
  if (method == Search::population) return search_population(starts, population, budget, seed, costs);
  if (method != Search::both) return search_local(method, starts.front(), budget, costs);
  Found wide = search_population(starts, population, (2 * budget + 2) / 3, seed, costs);
  if (wide.tried >= budget || wide.point.empty()) return wide;
  Found close = search_local(Search::subplex, wide.point, budget - wide.tried, costs);
  close.tried += wide.tried;
  if (close.point.empty() || !(close.cost < wide.cost)) close.point = wide.point, close.cost = wide.cost;
  return close;
}

}  // namespace duskline::harness
