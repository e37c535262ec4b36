// What draws say about a space. Sources: bounds of Clopper and Pearson, Biometrika 26 (1934) 404, and sizes of samples
// of Wilks, Ann. Math. Statist. 12 (1941) 91 (59 for 95 % at 95 % confidence is in many hand-books); digits computed
// with a separate program from the beta distribution.
#include "hil-harness/falsify/statistics.hpp"

#include <catch2/catch.hpp>

using duskline::harness::upper_share;

TEST_CASE("bounds of Clopper and Pearson, one-sided at 95 %") {
  struct Row {
    std::size_t broken, draws;
    double bound;
  };
  for (const Row& r : {Row{0, 10, 0.258866}, Row{0, 100, 0.029513}, Row{1, 100, 0.046560},
                       Row{5, 100, 0.102253}, Row{10, 100, 0.163718}, Row{3, 1000, 0.007735}}) {
    INFO(r.broken << " of " << r.draws);
    CHECK(upper_share(r.broken, r.draws, 0.95) == Approx(r.bound).margin(6e-7));
  }
  // two-sided at 95 % is one-sided at 97.5 %
  CHECK(upper_share(0, 10, 0.975) == Approx(0.308497).margin(6e-7));
  CHECK(upper_share(5, 100, 0.975) == Approx(0.112835).margin(6e-7));
  CHECK(upper_share(10, 10, 0.95) == 1.0);
}

TEST_CASE("sizes of samples of Wilks, first order, one-sided") {
  struct Row {
    double share, confidence;
    std::size_t draws;
  };
  for (const Row& r : {Row{0.95, 0.95, 59}, Row{0.90, 0.95, 29}, Row{0.99, 0.95, 299}, Row{0.95, 0.99, 90},
                       Row{0.99, 0.99, 459}, Row{0.90, 0.90, 22}, Row{0.999, 0.95, 2995}}) {
    INFO(r.share << " at " << r.confidence);
    CHECK(upper_share(0, r.draws, r.confidence) <= 1.0 - r.share);
    CHECK(upper_share(0, r.draws - 1, r.confidence) > 1.0 - r.share);
  }
}
