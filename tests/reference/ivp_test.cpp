// End values of four stiff problems against the Test Set for IVP Solvers, release 2.4
// (tests/support/ivp_test_set.hpp), with our stepper under Odeint's adaptive loop, with Odeint's Rosenbrock
// method and with CVODE. The digits asked for are what was measured here, rounded down to the half: "computed
// here".
#include <array>
#include <boost/numeric/odeint/integrate/integrate_adaptive.hpp>
#include <catch2/catch.hpp>
#include <cstddef>
#include <functional>

#include "plant-model/integrate/advance.hpp"
#include "tests/support/cvode.hpp"
#include "tests/support/ivp_test_set.hpp"

using namespace duskline::plant;
using namespace duskline::tests;

namespace {

/// Digits of the end value with relative tolerance `relative` and absolute tolerance `relative * size`.
template <class Problem>
double digits_linearly_implicit(double relative, double size) {
  constexpr std::size_t kStates = Problem::kStates;
  Problem problem;
  auto x = Problem::kStart;
  StepControl control;
  control.min_step = 1e-14;
  control.max_age = 1e300;
  control.max_uses = 1;  // a new Jacobian at every step: these problems change theirs by decades
  LinearlyImplicit<kStates> stepper(uniform_tolerances<kStates>(relative * size, relative), control);
  boost::numeric::odeint::integrate_adaptive(std::ref(stepper), std::ref(problem), x, 0.0, Problem::kEnd,
                                             1e-6);
  return correct_digits(x, Problem::kReference);
}

template <class Problem>
double digits_rosenbrock(double relative, double size) {
  constexpr std::size_t kStates = Problem::kStates;
  Problem problem;
  auto x = Problem::kStart;
  StepControl control;
  control.min_step = 1e-14;
  Integrator<kStates> integrator(Method::rosenbrock4, uniform_tolerances<kStates>(relative * size, relative),
                                 control);
  REQUIRE(integrator.advance(problem, x, 0, Problem::kEnd).ok());
  return correct_digits(x, Problem::kReference);
}

template <class Problem>
double digits_cvode(double relative, double size, CvodeJacobian jacobian) {
  Problem problem;
  typename Problem::State absolute;
  absolute.fill(relative * size);
  Cvode<Problem, Problem::kStates> cvode(problem, Problem::kStart, 0, relative, absolute, jacobian);
  return correct_digits(cvode.integrate(Problem::kEnd), Problem::kReference);
}

}  // namespace

TEST_CASE("the linearly implicit method reaches the reference end values") {
  SECTION("Robertson") {
    CHECK(digits_linearly_implicit<Robertson>(1e-4, 1e-10) > 4);
    CHECK(digits_linearly_implicit<Robertson>(1e-6, 1e-10) > 6);
    CHECK(digits_linearly_implicit<Robertson>(1e-8, 1e-10) > 8);
  }
  SECTION("Van der Pol") {
    CHECK(digits_linearly_implicit<VanDerPol>(1e-4, 1e-2) > 3.5);
    CHECK(digits_linearly_implicit<VanDerPol>(1e-6, 1e-2) > 5.5);
    CHECK(digits_linearly_implicit<VanDerPol>(1e-8, 1e-2) > 7.5);
  }
  SECTION("HIRES") {
    CHECK(digits_linearly_implicit<Hires>(1e-4, 1e-4) > 3);
    CHECK(digits_linearly_implicit<Hires>(1e-6, 1e-4) > 5.5);
    CHECK(digits_linearly_implicit<Hires>(1e-8, 1e-4) > 8);
  }
  SECTION("OREGO") {
    CHECK(digits_linearly_implicit<Orego>(1e-4, 1e-2) > 3);
    CHECK(digits_linearly_implicit<Orego>(1e-6, 1e-2) > 5);
    CHECK(digits_linearly_implicit<Orego>(1e-8, 1e-2) > 7);
  }
}

TEST_CASE("the Rosenbrock method of order 4 reaches the reference end values") {
  CHECK(digits_rosenbrock<Robertson>(1e-8, 1e-10) > 8.5);
  CHECK(digits_rosenbrock<VanDerPol>(1e-8, 1e-2) > 8.5);
  CHECK(digits_rosenbrock<Hires>(1e-8, 1e-4) > 9);
  CHECK(digits_rosenbrock<Orego>(1e-8, 1e-2) > 7);
}

TEST_CASE("CVODE, through our wrapper, reaches the reference end values") {
  for (const CvodeJacobian jacobian : {CvodeJacobian::from_system, CvodeJacobian::by_differences}) {
    CHECK(digits_cvode<Robertson>(1e-8, 1e-10, jacobian) > 6);
    CHECK(digits_cvode<Hires>(1e-8, 1e-4, jacobian) > 5.5);
    CHECK(digits_cvode<VanDerPol>(1e-8, 1e-2, jacobian) > 5.5);
    CHECK(digits_cvode<Orego>(1e-8, 1e-2, jacobian) > 5.5);
  }
}
