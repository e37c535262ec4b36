#include "hil-harness/falsify/statistics.hpp"

#include <boost/math/distributions/binomial.hpp>

namespace duskline::harness {

double upper_share(std::size_t broken, std::size_t draws, double confidence) {
  if (broken >= draws) return 1.0;
  return boost::math::binomial_distribution<double>::find_upper_bound_on_p(
      static_cast<double>(draws), static_cast<double>(broken), 1.0 - confidence);
}

}  // namespace duskline::harness
