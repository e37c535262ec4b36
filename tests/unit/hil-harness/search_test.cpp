// The search for the least value: functions whose least value is known, the same points for the same seed, and a
// batch at a time. Sources: closed forms of the functions; Ishigami's function with a = 7, b = 0.1 is least where
// sin x1 = -1, sin x2 = 0, |x3| = pi: -(1 + pi^4/10).
#include "hil-harness/search/search.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <limits>
#include <numbers>

using namespace duskline::harness;

namespace {

using Function = std::function<double(const Point&)>;

struct Found {
  double least = std::numeric_limits<double>::infinity();
  std::size_t asked = 0, first_below = 0;
};

Found minimise(const Function& f, std::size_t dimension, std::size_t runs, std::uint64_t seed,
               double wanted = -1e300) {
  Search search(dimension, runs, seed);
  Found found;
  for (auto batch = search.ask(); !batch.empty(); batch = search.ask()) {
    std::vector<double> values;
    for (const Point& p : batch) {
      for (const double x : p) REQUIRE((x >= 0.0 && x <= 1.0));
      values.push_back(f(p));
      ++found.asked;
      found.least = std::min(found.least, values.back());
      if (found.first_below == 0 && values.back() < wanted) found.first_below = found.asked;
    }
    search.tell(values);
  }
  return found;
}

double bowl(const Point& p) {
  double sum = 0.0;
  for (std::size_t d = 0; d < p.size(); ++d) {
    const double away = p[d] - 0.1 * static_cast<double>(d + 1);
    sum += away * away;
  }
  return sum;
}

double valley(const Point& p) {  // Rosenbrock's, over [-2, 2]
  const double x = 4.0 * p[0] - 2.0, y = 4.0 * p[1] - 2.0;
  return 100.0 * (y - x * x) * (y - x * x) + (1.0 - x) * (1.0 - x);
}

double ishigami(const Point& p) {
  const auto at = [&](std::size_t d) { return std::numbers::pi * (2.0 * p[d] - 1.0); };
  const double s = std::sin(at(0)), t = std::sin(at(1));
  return s + 7.0 * t * t + 0.1 * std::pow(at(2), 4) * s;
}

}  // namespace

TEST_CASE("the least value of known functions is found") {
  for (const std::uint64_t seed : {1U, 2U, 3U}) {
    INFO("seed " << seed);
    CHECK(minimise(bowl, 8, 2000, seed).least < 1e-3);
    CHECK(minimise(valley, 2, 1000, seed).least < 1e-3);
    const double deepest = -(1.0 + 0.1 * std::pow(std::numbers::pi, 4));
    const double found = minimise(ishigami, 3, 1000, seed).least;
    CHECK(found >= deepest - 1e-12);
    CHECK(found < deepest + 0.01);
  }
}

TEST_CASE("a least value in a corner is found, and one that draws alone would miss") {
  const Function corner = [](const Point& p) { return p[0] - p[1] + p[2]; };
  CHECK(minimise(corner, 3, 600, 5).least < -0.995);
  // a ball of radius 0.1 in eight dimensions holds 4.1e-8 of the cube; a slope leads to it
  const Function deep = [](const Point& p) { return bowl(p) - 0.01; };
  const Found found = minimise(deep, 8, 2000, 4, 0.0);
  CHECK(found.least < 0.0);
  CHECK(found.first_below > 500);  // none of the draws was in it
}

TEST_CASE("no more runs than allowed, and draws first") {
  for (const std::size_t runs : {1U, 7U, 60U, 61U, 200U, 403U}) {
    CHECK(minimise(bowl, 4, runs, 1).asked == runs);
    const Search search(4, runs, 1);
    CHECK(search.draws() == std::min<std::size_t>(runs, std::max<std::size_t>(60, runs / 4)));
  }
}

TEST_CASE("the same seed gives the same points, another seed gives others") {
  Search a(3, 300, 9), b(3, 300, 9), c(3, 300, 10);
  bool differ = false;
  for (auto batch = a.ask(); !batch.empty(); batch = a.ask()) {
    CHECK(batch == b.ask());
    differ = differ || batch != c.ask();
    std::vector<double> values;
    for (const Point& p : batch) values.push_back(valley(p));
    for (Search* s : {&a, &b, &c}) s->tell(values);
  }
  CHECK(differ);
}

TEST_CASE("values that are none are the worst") {
  const Function holed = [](const Point& p) {
    return p[0] > 0.5 ? std::nan("") : p[0] < 0.2 ? std::numeric_limits<double>::infinity() : bowl(p);
  };
  CHECK(minimise(holed, 2, 400, 3).least < 0.0101);  // 0.01 is the least on the edge at 0.2
  const Function flat = [](const Point&) { return std::numeric_limits<double>::infinity(); };
  CHECK(minimise(flat, 2, 400, 3).asked == 400);
}
