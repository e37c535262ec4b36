// NLopt is seen here alone.
#include <nlopt.h>

#include <algorithm>
#include <exception>
#include <limits>
#include <memory>

#include "hil-harness/tune/gain_search.hpp"

namespace duskline::harness {
namespace {

constexpr double kFirstStep = 0.1;      // share of the range
constexpr double kSmallestStep = 1e-5;  // the same, where the search ends

struct Errand {
  const Costs* costs;
  Found found;
  nlopt_opt opt;
  std::exception_ptr error;
};

double cost_of(unsigned n, const double* x, double*, void* data) {
  auto& errand = *static_cast<Errand*>(data);
  std::vector<double> point(x, x + n);
  std::vector<double> costs;
  try {
    costs = (*errand.costs)({point});
  } catch (...) {  // NLopt is C: nothing may fly through it
    errand.error = std::current_exception();
  }
  if (costs.empty()) {
    nlopt_force_stop(errand.opt);
    return std::numeric_limits<double>::infinity();
  }
  ++errand.found.tried;
  if (costs[0] < errand.found.cost || errand.found.point.empty()) {
    errand.found.point = std::move(point);
    errand.found.cost = costs[0];
  }
  return costs[0];
}

nlopt_algorithm algorithm(scenarios::Search method) {
  switch (method) {
    case scenarios::Search::quadratic:
      return NLOPT_LN_BOBYQA;
    case scenarios::Search::linear:
      return NLOPT_LN_COBYLA;
    default:
      return NLOPT_LN_SBPLX;
  }
}

}  // namespace

Found search_local(scenarios::Search method, const std::vector<double>& start, std::size_t budget,
                   const Costs& costs) {
  Errand errand{&costs, {{}, std::numeric_limits<double>::infinity(), 0}, nullptr, nullptr};
  if (budget == 0) return errand.found;
  const auto n = static_cast<unsigned>(start.size());
  const std::unique_ptr<nlopt_opt_s, void (*)(nlopt_opt)> opt(nlopt_create(algorithm(method), n),
                                                              nlopt_destroy);
  errand.opt = opt.get();
  nlopt_set_lower_bounds1(opt.get(), 0.0);
  nlopt_set_upper_bounds1(opt.get(), 1.0);
  nlopt_set_min_objective(opt.get(), cost_of, &errand);
  nlopt_set_initial_step1(opt.get(), kFirstStep);
  nlopt_set_xtol_abs1(opt.get(), kSmallestStep);
  nlopt_set_maxeval(opt.get(), static_cast<int>(std::min<std::size_t>(budget, 1000000)));
  std::vector<double> x = start;
  double least = 0.0;
  nlopt_optimize(opt.get(), x.data(), &least);  // what it found is in the errand, however it ended
  if (errand.error) std::rethrow_exception(errand.error);
  return errand.found;
}

}  // namespace duskline::harness
