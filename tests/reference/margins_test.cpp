// Margins, sampled models and responses against systems whose answers can be written down, and against the loops of
// Skogestad's rules.
//
// SIMC rows: S. Skogestad, J. Process Control 13 (2003) 291, whose paper gives Ms 1.59, GM 3.14, PM 61.4 deg, delay
// margin 2.14 for the first and 1.70, 2.96, 46.9 deg, 1.59 for the integrating process; digits beyond those of the
// paper are our own evaluation of its formulas, made independently of this code (50-digit root finding).
#include <Eigen/LU>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "hil-harness/linearize/margins.hpp"
#include "hil-harness/linearize/state_space.hpp"

using namespace duskline::harness;

namespace {

using Complex = std::complex<double>;
constexpr double kPi = std::numbers::pi;

/// K (1 + 1/(Ti s)) g(s)
FrequencyResponse with_pi(double gain, double time, std::function<Complex(Complex)> process) {
  return [=](double omega) {
    const Complex s{0.0, omega};
    return gain * (1.0 + 1.0 / (time * s)) * process(s);
  };
}

StateSpace scalar_system(double a, double b, double c, double step = 0.0) {
  StateSpace s;
  s.a = Eigen::MatrixXd::Constant(1, 1, a);
  s.b = Eigen::MatrixXd::Constant(1, 1, b);
  s.c = Eigen::MatrixXd::Constant(1, 1, c);
  s.d = Eigen::MatrixXd::Zero(1, 1);
  s.step = step;
  return s;
}

StateSpace double_integrator() {
  StateSpace s;
  s.a = (Eigen::MatrixXd(2, 2) << 0, 1, 0, 0).finished();
  s.b = (Eigen::MatrixXd(2, 1) << 0, 1).finished();
  s.c = (Eigen::MatrixXd(1, 2) << 1, 0).finished();
  s.d = Eigen::MatrixXd::Zero(1, 1);
  return s;
}

/// w0^2/(s^2 + 2 z w0 s + w0^2)
StateSpace second_order(double w0, double damping) {
  StateSpace s = double_integrator();
  s.a << 0, 1, -w0 * w0, -2 * damping * w0;
  s.b << 0, w0 * w0;
  return s;
}

}  // namespace

TEST_CASE("The loops of the SIMC rules have the margins of their table") {
  struct Row {
    const char* name;
    FrequencyResponse loop;
    double ms, gain, phase, crossover, delay;
  };
  const auto lag = [](double k, double tau, double theta) {
    return [=](Complex s) { return k * std::exp(-theta * s) / (tau * s + 1.0); };
  };
  const Row rows[] = {
      {"lag as long as the delay", with_pi(0.5, 1, lag(1, 1, 1)), 1.5905, 3.1416, 61.352, 0.5, 2.1416},
      {"integrating", with_pi(0.5, 8, [](Complex s) { return std::exp(-s) / s; }), 1.7035, 2.9634, 46.864,
       0.5145, 1.5896},
      {"lag of 20 delays", with_pi(10, 8, lag(1, 20, 1)), 1.6512, 3.0348, 52.512, 0.5122, 1.7892},
      {"two lags", with_pi(5.5, 0.8, [](Complex s) { return 1.0 / ((s + 1.0) * (0.2 * s + 1.0)); }), 1.5602,
       INFINITY, 46.478, 4.2514, 0.1908},
      {"seven lags and a zero on the right",
       with_pi(0.8503, 2.5,
               [](Complex s) {
                 return (-0.3 * s + 1.0) * (0.08 * s + 1.0) /
                        ((2.0 * s + 1.0) * (s + 1.0) * (0.4 * s + 1.0) * (0.2 * s + 1.0) *
                         std::pow(0.05 * s + 1.0, 3));
               }),
       1.6616, 3.370, 57.82, 0.3472, 2.907},
      {"three equal lags", with_pi(0.5, 1.5, [](Complex s) { return 1.0 / std::pow(s + 1.0, 3); }), 1.4318,
       6.745, 62.45, 0.3195, 3.412},
  };
  for (const Row& row : rows) {
    INFO(row.name);
    const Margins m = margins_of(row.loop, 1e-3, 1e3);
    CHECK(m.sensitivity == Approx(row.ms).epsilon(1e-4));
    if (std::isinf(row.gain))
      CHECK(std::isinf(m.gain));
    else
      CHECK(m.gain == Approx(row.gain).epsilon(2e-4));
    CHECK(m.phase == Approx(row.phase).epsilon(1e-4));
    CHECK(m.crossover == Approx(row.crossover).epsilon(2e-4));
    CHECK(m.delay == Approx(row.delay).epsilon(3e-4));
    // what Ms promises: GM >= Ms/(Ms - 1), PM >= 2 asin(1/(2 Ms)) (Astrom and Hagglund, PID Controllers, 1995)
    CHECK(m.gain >= gain_promised(m.sensitivity));
    CHECK(m.phase >= phase_promised(m.sensitivity));
  }
}

TEST_CASE("What Ms promises is what the textbook tabulates") {
  // Astrom and Hagglund, PID Controllers (1995): Ms 2 gives at least a gain margin of 2 and 29 deg; 1.4 gives 3.5
  // and 42 deg. Further digits from the two formulas.
  const double table[][3] = {
      {1.2, 6.00, 49.25}, {1.4, 3.50, 41.85}, {1.6, 2.667, 36.42}, {1.7, 2.429, 34.21}, {2.0, 2.00, 28.96}};
  for (const auto& [ms, gain, phase] : table) {
    CHECK(gain_promised(ms) == Approx(gain).margin(5e-4));
    CHECK(phase_promised(ms) == Approx(phase).margin(5e-3));
  }
}

TEST_CASE("A double integrator has no phase margin until it is given lead") {
  // arg = -180 deg at every frequency, |L| = 1 at 1 rad/s
  const Margins bare = margins_of([](double w) { return -1.0 / Complex(w * w, 0.0); }, 1e-2, 1e2);
  CHECK(bare.phase == Approx(0.0).margin(1e-9));
  // (1 + s)/s^2: |L| = 1 where w^4 = 1 + w^2, w^2 the golden ratio; PM = atan w
  const Margins lead = margins_of([](double w) { return Complex(1.0, w) / Complex(-w * w, 0.0); }, 1e-2, 1e2);
  const double crossover = std::sqrt(0.5 * (1.0 + std::sqrt(5.0)));
  CHECK(lead.crossover == Approx(crossover).epsilon(1e-8));
  CHECK(lead.phase == Approx(std::atan(crossover) * 180.0 / kPi).epsilon(1e-8));
  CHECK(lead.delay == Approx(std::atan(crossover) / crossover).epsilon(1e-8));
  CHECK(lead.gain_down == 0.0);  // it never crosses the axis: any gain will do
}

TEST_CASE("A loop that needs its gain has a lower gain margin, too") {
  // K/(s - 1) (unstable) with a lag: L = 3/((s - 1)(0.1 s + 1)): on the real axis at w = 0, where L = -3
  const auto loop = [](double w) {
    const Complex s{0.0, w};
    return 3.0 * (s + 3.0) / ((s - 1.0) * (0.1 * s + 1.0) * (0.1 * s + 1.0));
  };
  // Im = 0 by hand: arg((3+jw)) - arg(jw-1) - 2 atan(0.1 w) = -pi: atan(w/3) + atan(w) = 2 atan(0.1 w) has no root
  // but w = 0, so gain is limited above only beyond the sweep and never below within it
  const Margins m = margins_of(loop, 1e-3, 1e4);
  CHECK(m.gain_down == 0.0);
  // a conditionally stable loop: K (s + 1)^2/s^3, arg = -270 + 2 atan w = -180 at w = 1, where |L| = 2 K
  const Margins c = margins_of(
      [](double w) {
        const Complex s{0.0, w};
        return 2.0 * (s + 1.0) * (s + 1.0) / (s * s * s);
      },
      1e-2, 1e3);
  CHECK(c.gain_down == Approx(0.25).epsilon(1e-8));
  CHECK(std::isinf(c.gain));
}

TEST_CASE("Held inputs: the exponential of matrices whose exponential is known") {
  // [[0, 1], [0, 0]]: exp(A h) = [[1, h], [0, 1]], B_d = [h^2/2, h]
  const StateSpace d = discretised(double_integrator(), 0.1);
  CHECK(d.step == 0.1);
  CHECK((d.a - (Eigen::MatrixXd(2, 2) << 1, 0.1, 0, 1).finished()).norm() < 1e-15);
  CHECK((d.b - (Eigen::MatrixXd(2, 1) << 0.005, 0.1).finished()).norm() < 1e-15);
  // a lag: a_d = exp(-h/tau), b_d = 1 - exp(-h/tau)
  const StateSpace lag = discretised(scalar_system(-0.5, 0.5, 1.0), 0.3);
  CHECK(lag.a(0, 0) == Approx(std::exp(-0.15)).epsilon(1e-14));
  CHECK(lag.b(0, 0) == Approx(1 - std::exp(-0.15)).epsilon(1e-14));
  // a rotation: eigenvalues exp(+-i h)
  StateSpace turn = second_order(1.0, 0.0);
  const auto z = poles(discretised(turn, 0.7));
  CHECK(std::abs(z[0] - std::polar(1.0, 0.7)) < 1e-14);
  CHECK(std::abs(z[1] - std::polar(1.0, -0.7)) < 1e-14);
  CHECK(std::abs(continuous_pole(z[0], 0.7) - Complex(0, 1)) < 1e-14);
}

TEST_CASE("Scaling of the states changes no answer") {
  StateSpace s = second_order(2.0, 0.3);
  const StateSpace plain = discretised(s, 0.2);
  s.state_scale = (Eigen::VectorXd(2) << 1e-6, 1e4).finished();
  const StateSpace scaled = discretised(s, 0.2);
  CHECK((plain.a - scaled.a).norm() < 1e-13);
  CHECK(std::abs(Transfer(s).at(1.3)(0, 0) - 4.0 / Complex(4.0 - 1.69, 1.2 * 1.3)) < 1e-12);
}

TEST_CASE("Frequency response and step of first and second order are those of the handbook") {
  const Transfer lag(scalar_system(-0.5, 0.5, 1.0));
  for (const double w : {0.01, 0.5, 3.0})
    CHECK(std::abs(lag.at(w)(0, 0) - 1.0 / Complex(1.0, 2.0 * w)) < 1e-14);
  const double w0 = 1.5, damping = 0.2;
  const StateSpace s = second_order(w0, damping);
  const Transfer t(s);
  // resonance: w0 sqrt(1 - 2 z^2), height 1/(2 z sqrt(1 - z^2))
  CHECK(std::abs(t.at(w0 * std::sqrt(1 - 2 * damping * damping))(0, 0)) ==
        Approx(1 / (2 * damping * std::sqrt(1 - damping * damping))).epsilon(1e-12));
  // overshoot exp(-pi z/sqrt(1 - z^2)) at t = pi/wd; the step is sampled so that one sample falls there
  const double wd = w0 * std::sqrt(1 - damping * damping), h = kPi / wd / 50;
  const Eigen::MatrixXd y = step_response(discretised(s, h), 0, 51);
  CHECK(y(50, 0) == Approx(1 + std::exp(-kPi * damping / std::sqrt(1 - damping * damping))).epsilon(1e-12));
  CHECK(y.col(0).maxCoeff() == y(50, 0));
  const auto p = poles(s);
  CHECK(std::abs(p[0] - Complex(-damping * w0, wd)) < 1e-12);
}

TEST_CASE("The response of a sampled lag is that of its difference equation") {
  const StateSpace d = discretised(scalar_system(-0.5, 0.5, 1.0), 0.3);
  for (const double w : {0.01, 1.0, kPi / 0.3}) {
    const Complex z = std::polar(1.0, 0.3 * w);
    CHECK(std::abs(Transfer(d).at(w)(0, 0) - (1 - std::exp(-0.15)) / (z - std::exp(-0.15))) < 1e-13);
  }
}

TEST_CASE("Responses of a large random system agree with a plain solution") {
  // independent of the Hessenberg form: (i w I - A)^-1 by LU
  std::srand(7);
  StateSpace s;
  s.a = Eigen::MatrixXd::Random(40, 40) - 3.0 * Eigen::MatrixXd::Identity(40, 40);
  s.b = Eigen::MatrixXd::Random(40, 3);
  s.c = Eigen::MatrixXd::Random(2, 40);
  s.d = Eigen::MatrixXd::Random(2, 3);
  const Transfer t(s);
  for (const double w : {0.0, 0.3, 10.0}) {
    const Eigen::MatrixXcd whole = Complex(0, w) * Eigen::MatrixXcd::Identity(40, 40) - s.a.cast<Complex>();
    const Eigen::MatrixXcd expected =
        s.c.cast<Complex>() * whole.partialPivLu().solve(s.b.cast<Complex>()) + s.d.cast<Complex>();
    CHECK((t.at(w) - expected).norm() < 1e-12);
  }
}
