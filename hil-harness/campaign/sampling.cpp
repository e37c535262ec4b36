#include "hil-harness/campaign/sampling.hpp"

#include <algorithm>
#include <boost/random/sobol.hpp>
#include <cmath>
#include <numeric>
#include <string>

#include "plant-model/random/noise.hpp"

namespace duskline::harness {
namespace {

plant::NoiseStream stream_of(std::uint64_t seed, const char* kind, std::size_t dimension) {
  return {seed, std::string(kind) + std::to_string(dimension)};
}

}  // namespace

Points latin_hypercube(std::size_t runs, std::size_t dimensions, std::uint64_t seed) {
  Points points(runs * dimensions);
  std::vector<std::size_t> order(runs);
  for (std::size_t d = 0; d < dimensions; ++d) {
    const plant::NoiseStream places = stream_of(seed, "campaign/order/", d);
    const plant::NoiseStream within = stream_of(seed, "campaign/within/", d);
    std::iota(order.begin(), order.end(), std::size_t{0});
    for (std::size_t i = runs; i > 1; --i) {
      const double u = places.uniform(static_cast<std::int64_t>(i));
      std::swap(order[i - 1], order[std::min(i - 1, static_cast<std::size_t>(u * static_cast<double>(i)))]);
    }
    for (std::size_t n = 0; n < runs; ++n)
      points[n * dimensions + d] =
          (static_cast<double>(order[n]) + within.uniform(static_cast<std::int64_t>(n))) /
          static_cast<double>(runs);
  }
  return points;
}

Points sobol_points(std::size_t runs, std::size_t dimensions, std::uint64_t seed, bool shifted) {
  Points points(runs * dimensions);
  if (points.empty()) return points;
  boost::random::sobol sequence(dimensions);
  std::vector<std::uint64_t> shift(dimensions);
  for (std::size_t d = 0; shifted && d < dimensions; ++d) {
    const plant::NoiseStream stream = stream_of(seed, "campaign/shift/", d);
    for (const std::int64_t half : {0, 1})
      shift[d] = (shift[d] << 32U) | static_cast<std::uint64_t>(stream.uniform(half) * 0x1p32);
  }
  for (std::size_t n = 0; n < runs; ++n)
    for (std::size_t d = 0; d < dimensions; ++d) {
      const std::uint64_t bits = (n == 0 ? 0 : sequence()) ^ shift[d];  // the engine begins behind the corner
      // the middle of the finest box that a double resolves, so that no point lies on a side of the cube
      points[n * dimensions + d] = shifted ? (static_cast<double>(bits >> 12U) + 0.5) * 0x1p-52
                                           : static_cast<double>(bits >> 11U) * 0x1p-53;
    }
  return points;
}

double square_discrepancy(const Points& points, std::size_t dimensions) {
  const std::size_t n = points.size() / dimensions;
  const auto count = static_cast<double>(n);
  double single = 0.0, pairs = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    double product = 1.0;
    for (std::size_t d = 0; d < dimensions; ++d) {
      const double x = points[i * dimensions + d];
      product *= 0.5 * (1.0 - x * x);
    }
    single += product;
    for (std::size_t k = 0; k < n; ++k) {
      double both = 1.0;
      for (std::size_t d = 0; d < dimensions; ++d)
        both *= 1.0 - std::max(points[i * dimensions + d], points[k * dimensions + d]);
      pairs += both;
    }
  }
  return std::pow(3.0, -static_cast<double>(dimensions)) - 2.0 * single / count + pairs / (count * count);
}

}  // namespace duskline::harness
