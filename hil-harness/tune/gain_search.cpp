#include "hil-harness/tune/gain_search.hpp"

#include <limits>
#include <numeric>

#include "plant-model/random/noise.hpp"

namespace duskline::harness {
namespace {

/// One point in each of `count` strata of every coordinate (Latin hypercube).
std::vector<Point> strata(std::size_t count, std::size_t width, std::uint64_t seed) {
  const plant::NoiseStream stream(seed, "tune/strata");
  std::int64_t drawn = 0;
  std::vector<Point> points(count, Point(width));
  std::vector<std::size_t> order(count);
  for (std::size_t d = 0; d < width; ++d) {
    std::iota(order.begin(), order.end(), std::size_t{0});
    for (std::size_t i = count; i-- > 1;)
      std::swap(order[i],
                order[static_cast<std::size_t>(stream.uniform(drawn++) * static_cast<double>(i + 1))]);
    for (std::size_t i = 0; i < count; ++i)
      points[i][d] = (static_cast<double>(order[i]) + stream.uniform(drawn++)) / static_cast<double>(count);
  }
  return points;
}

}  // namespace

Found search_population(const std::vector<Point>& starts, std::size_t population, std::size_t budget,
                        std::uint64_t seed, const Costs& costs) {
  Found found{{}, std::numeric_limits<double>::infinity(), 0};
  if (starts.empty() || budget == 0) return found;
  std::vector<Point> first = starts;
  if (first.size() < population)
    for (Point& point : strata(population - first.size(), starts[0].size(), seed))
      first.push_back(std::move(point));
  const std::size_t members = first.size();
  Search search({starts[0].size(), budget, seed, "tune/population", members, members, std::move(first)});
  for (auto batch = search.ask(); !batch.empty(); batch = search.ask()) {
    const std::vector<double> values = costs(batch);
    for (std::size_t i = 0; i < values.size(); ++i)
      if (values[i] < found.cost || found.point.empty()) found.point = batch[i], found.cost = values[i];
    found.tried += values.size();
    if (values.size() < batch.size()) break;
    search.tell(values);
  }
  return found;
}

Found search(scenarios::Search method, const std::vector<Point>& starts, std::size_t population,
             std::size_t budget, std::uint64_t seed, const Costs& costs) {
  if (method == scenarios::Search::population)
    return search_population(starts, population, budget, seed, costs);
  if (method != scenarios::Search::both) return search_local(method, starts.front(), budget, costs);
  Found wide = search_population(starts, population, (2 * budget + 2) / 3, seed, costs);
  if (wide.tried >= budget || wide.point.empty()) return wide;
  Found close = search_local(scenarios::Search::subplex, wide.point, budget - wide.tried, costs);
  close.tried += wide.tried;
  if (close.point.empty() || !(close.cost < wide.cost)) close.point = wide.point, close.cost = wide.cost;
  return close;
}

}  // namespace duskline::harness
