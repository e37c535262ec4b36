// Estimates of the controller of gas and coke, against thermochemical tables and hand calculation.
#include <catch2/catch.hpp>
#include <cmath>

#include "controller/estimate/coke.hpp"
#include "controller/estimate/density.hpp"

using namespace duskline::controller;

namespace {

ctl_params defaults() {
  ctl_params p;
  ctl_default_params(&p);
  return p;
}

// Free energy over RT from the seven-term polynomials of NASA TM-4513 (McBride, Gordon, Reno 1993), high
// range above 1000 K, low range below.
double gibbs(const double (&low)[7], const double (&high)[7], double T) {
  const double(&a)[7] = T < 1000.0 ? low : high;
  const double h =
      a[0] + a[1] * T / 2 + a[2] * T * T / 3 + a[3] * T * T * T / 4 + a[4] * T * T * T * T / 5 + a[5] / T;
  const double s = a[0] * std::log(T) + a[1] * T + a[2] * T * T / 2 + a[3] * T * T * T / 3 +
                   a[4] * T * T * T * T / 4 + a[6];
  return h - s;
}
constexpr double kCo2[2][7] = {{2.35677352, 8.98459677e-03, -7.12356269e-06, 2.45919022e-09, -1.43699548e-13,
                                -4.83719697e+04, 9.90105222},
                               {4.63659493, 2.74131991e-03, -9.95828531e-07, 1.60373011e-10, -9.16103468e-15,
                                -4.90249341e+04, -1.93534855}};
constexpr double kCo[2][7] = {
    {3.57953347, -6.1035368e-04, 1.01681433e-06, 9.07005884e-10, -9.04424499e-13, -1.4344086e+04, 3.50840928},
    {3.04848583, 1.35172818e-03, -4.85794075e-07, 7.88536486e-11, -4.69807489e-15, -1.42661171e+04,
     6.0170979}};
constexpr double kO2[2][7] = {
    {3.78245636, -2.99673415e-03, 9.847302e-06, -9.68129508e-09, 3.24372836e-12, -1063.94356, 3.65767573},
    {3.66096083, 6.56365523e-04, -1.41149485e-07, 2.05797658e-11, -1.29913248e-15, -1215.97725, 3.41536184}};
constexpr double kCarbon[2][7] = {
    {-0.310872072, 4.40353686e-03, 1.90394118e-06, -6.38546966e-09, 2.98964248e-12, -108.650794, 1.11382953},
    {1.45571829, 1.71702216e-03, -6.97562786e-07, 1.35277032e-10, -9.67590652e-15, -695.138814, -8.52583033}};

double volts(double reduced, double T) {
  return reduced * 8.314462618 * T / (2 * 96485.33212);
}

}  // namespace

TEST_CASE("reaction potentials follow the NASA polynomials within 0.01 mV, 0.03 mV below 900 K") {
  for (double T = 840.0; T <= 1250.0; T += 5.0) {
    const double close = T < 900.0 ? 3e-5 : 1e-5;
    const double co2 = gibbs(kCo2[0], kCo2[1], T), co = gibbs(kCo[0], kCo[1], T),
                 o2 = gibbs(kO2[0], kO2[1], T), c = gibbs(kCarbon[0], kCarbon[1], T);
    CHECK(reduction_potential(static_cast<float>(T)) == Approx(volts(co + 0.5 * o2 - co2, T)).margin(close));
    CHECK(carbon_potential(static_cast<float>(T)) == Approx(volts(c + 0.5 * o2 - co, T)).margin(close));
    const double boudouard = std::exp(-(c + co2 - 2 * co));
    CHECK(boudouard_constant(static_cast<float>(T)) == Approx(boudouard).epsilon(T < 900.0 ? 2e-3 : 5e-4));
  }
}

TEST_CASE("nickel limit follows its table within 0.3 %") {
  // Ni + CO2 = NiO + CO, from OECD-NEA TDB 6 (2005) and NASA TM-4513; three digits in the table
  const float table[][2] = {{900.0f, 0.00218f},   {973.15f, 0.00352f},  {1000.0f, 0.00413f},
                            {1023.15f, 0.00471f}, {1073.15f, 0.00613f}, {1100.0f, 0.00699f},
                            {1123.15f, 0.00780f}, {1173.15f, 0.00972f}};
  for (const auto& row : table) CHECK(nickel_limit(row[0]) == Approx(row[1]).epsilon(0.003));
}

TEST_CASE("carbon activity of the gas and of the polarised electrode") {
  // K_B(1073.15 K) = 0.1404, so x = 0.5 at 1 bar gives 0.0702; 100 mV multiply by exp(0.1/0.046239) = 8.69
  // (by hand)
  CHECK(carbon_activity(1073.15f, 0.5e5f, 0.5e5f, 0.0f) == Approx(0.0702).epsilon(0.002));
  CHECK(carbon_activity(1073.15f, 0.5e5f, 0.5e5f, 0.1f) == Approx(0.0702 * 8.694).epsilon(0.003));
  // x = 0.7 at 800 degC: 0.229 (K_B p x^2/(1-x))
  CHECK(carbon_activity(1073.15f, 0.7e5f, 0.3e5f, 0.0f) == Approx(0.229).epsilon(0.003));
  // equilibrium CO fraction 0.889 at 800 degC and 1 bar, 0.618 at 700 degC: activity one
  CHECK(carbon_activity(1073.15f, 0.889e5f, 0.111e5f, 0.0f) == Approx(1.0).epsilon(0.01));
  CHECK(carbon_activity(973.15f, 0.618e5f, 0.382e5f, 0.0f) == Approx(1.0).epsilon(0.01));
  // at half the activity that pressure gives: proportional to pressure at fixed composition
  CHECK(carbon_activity(1073.15f, 0.25e5f, 0.25e5f, 0.0f) == Approx(0.0351).epsilon(0.002));
}

TEST_CASE("coke-onset voltage without current is the carbon equilibrium") {
  // E_coke at 1 bar, 1 bar O2: 1.1034 V (x_CO 0.5) and 1.0878 V (0.7) at 1073 K, 1.0791 V (0.5) at 1023 K,
  // computed from E(CO/C) = 1.07130, 1.04850 V
  const ctl_params p = defaults();
  CHECK(coke_onset_voltage(p, 1073.15f, 0.5e5f, 1e5f, 0.0f, 0.0f) == Approx(1.1034).margin(2e-4));
  CHECK(coke_onset_voltage(p, 1073.15f, 0.7e5f, 1e5f, 0.0f, 0.0f) == Approx(1.0878).margin(2e-4));
  CHECK(coke_onset_voltage(p, 1023.15f, 0.5e5f, 1e5f, 0.0f, 0.0f) == Approx(1.0791).margin(3e-4));
}

TEST_CASE("the voltage criterion and the activity criterion are the same statement") {
  // at V = V_on the cathode overpotential is V_on - E_N - i R - eta_an, and that overpotential gives activity
  // one
  const ctl_params p = defaults();
  for (const float T : {950.0f, 1023.15f, 1073.15f, 1150.0f}) {
    for (const float x : {0.2f, 0.5f, 0.8f}) {
      const float co = x * 6e4f, co2 = (0.95f - x) * 6e4f, oxygen = 5e4f, i = 1500.0f;
      const float onset = coke_onset_voltage(p, T, co, oxygen, i, 0.0f);
      const float rest = model_voltage(p, T, co, co2, oxygen, i) - cathode_overpotential(p, T, i, co2);
      CHECK(carbon_activity(T, co, co2, onset - rest) == Approx(1.0).epsilon(2e-3));
    }
  }
}

TEST_CASE("losses follow their closed forms") {
  const ctl_params p = defaults();
  // RT/F asinh(i/2 i0) at 1073.15 K: 0.092478 V asinh(0.4) = 0.036070 V (by hand)
  CHECK(activation(1073.15f, 1600.0f, 2000.0f) == Approx(0.036070).epsilon(1e-4));
  CHECK(ohmic_resistance(p, 1073.15f) == Approx(1.75e-5).epsilon(1e-6));
  // 750 degC: conductivity of 75 kJ/mol, sigma T form: 1.25e-5 (1023.15/1073.15) exp(9020.5 (1/1023.15 -
  // 1/1073.15))
  CHECK(ohmic_resistance(p, 1023.15f) ==
        Approx(1.25e-5 * 0.953408 * std::exp(9020.5 * 4.55364e-5) + 5e-6).epsilon(1e-4));
}

TEST_CASE("cells take the temperature of their place among the zones") {
  const float zone[CTL_ZONES] = {1000.0f, 1030.0f, 1050.0f, 1040.0f, 1010.0f};
  CHECK(cell_temperature(zone, 0) == Approx(1000.0));
  CHECK(cell_temperature(zone, 1) == Approx(1020.0));  // 1/1.5 of the way
  CHECK(cell_temperature(zone, 2) == Approx(1035.0));  // 0.5/2 of the way
  CHECK(cell_temperature(zone, 4) == Approx(1047.5));
  CHECK(cell_temperature(zone, 7) == Approx(1010.0));
}

TEST_CASE("Faraday's law for the stack") {
  ctl_params p = defaults();
  p.faraday_efficiency = 1.0f;
  // 10 g/h of oxygen is a sum of cell currents of 33.503 A: 0.0829110 mg/s per cell-ampere (CODATA 2018)
  CHECK(current_for_oxygen(p, 10e-3f / 3600.0f) * CTL_CELLS == Approx(33.503).epsilon(1e-4));
  CHECK(oxygen_rate(p, 1.0f) == Approx(8 * 8.29110e-8).epsilon(1e-5));

  p.cells_per_tap = 6.0f;  // 48 cells in series, eight taps
  CHECK(current_for_oxygen(p, 0.5f / 3600.0f) * 48 == Approx(50 * 33.503).epsilon(1e-4));  // 0.5 kg/h
  CHECK(oxygen_rate(p, 1.0f) == Approx(48 * 8.29110e-8).epsilon(1e-5));
  Signals y{};
  for (uint32_t k = 0; k < CTL_CELLS; ++k) y.value[in_cell_voltage + k] = 1.0f + 0.1f * static_cast<float>(k);
  CHECK(stack_voltage(p, y) == Approx(64.8));  // 6 (8 + 0.1 28) V
}

TEST_CASE("intake density and the speed that it asks for") {
  ctl_params p = defaults();
  p.compressor_displacement = 2e-5f;
  Signals y{};
  y.value[in_ambient_pressure] = 700.0f;
  y.value[in_ambient_temperature] = 240.0f;
  // 700 Pa x 0.04335 kg/mol/(8.31446 x 240 K) = 0.015207 kg/m3 (by hand)
  CHECK(intake_density(p, y) == Approx(0.015207).epsilon(1e-4));
  // 20 cm3/rev, filling 0.85: 15.28 mg/s need 1.5282e-5 2 pi/(0.015207 x 2e-5 x 0.85) = 371.4 rad/s
  CHECK(1.5282e-5f / flow_per_speed(p, 0.015207f) == Approx(371.4).epsilon(1e-3));
}

namespace {

Signals gas_signals() {
  Signals y{};
  y.value[in_cathode_pressure] = 57000.0f;
  y.value[in_plenum_pressure] = 60000.0f;
  y.value[in_plenum_temperature] = 300.0f;
  y.lost = bit_of(in_outlet_co_fraction);
  return y;
}

}  // namespace

TEST_CASE("inlet and outlet gas settle at the recycle balance") {
  // steady: x_in = r/(1-r) dx, independent of the volume of the plenum
  const ctl_params p = defaults();
  const Signals y = gas_signals();
  GasMemory memory = initial_gas();
  Gas g{};
  for (int k = 0; k < 2000; ++k) g = estimate_gas(memory, p, y, 1.55e-5f, 4.19f, 0.3f);
  CHECK(g.recycled > 0.02f);
  CHECK(g.recycled < 0.2f);
  CHECK(g.inlet_co == Approx(g.recycled / (1.0f - g.recycled) * g.conversion).epsilon(1e-3));
  CHECK(g.inlet_co + g.inlet_co2 == Approx(p.air_co2_fraction).epsilon(1e-6));
  // utilisation by hand: N I e/(2F) over n x_CO2
  const double made = 8 * 4.19 * 0.999 / (2 * 96485.33);
  CHECK(g.utilisation == Approx(made / (double(g.feed) * double(g.inlet_co2))).epsilon(1e-4));
}

TEST_CASE("CO that is measured in the feed counts, and holds while it is not measured") {
  ctl_params p = defaults();
  Signals y = gas_signals();
  y.lost = 0;
  y.value[in_outlet_co_fraction] = 0.3f;
  GasMemory own = initial_gas(), headed = initial_gas();
  for (int k = 0; k < 100; ++k) {
    const Gas without = estimate_gas(own, p, y, 1.55e-5f, 4.19f, 0.3f);
    for (const float none : {0.0f, -0.01f, 1.01f, NAN}) {
      GasMemory copy = headed;
      CHECK(estimate_gas(copy, p, y, 1.55e-5f, 4.19f, 0.3f, none).inlet_co == without.inlet_co);
    }
    headed = own;
  }
  const float factor = headed.recycle_factor;
  const Gas g = estimate_gas(headed, p, y, 1.55e-5f, 4.19f, 0.3f, 0.031f);
  CHECK(g.inlet_co == 0.031f);
  CHECK(g.inlet_co + g.inlet_co2 == Approx(p.air_co2_fraction).epsilon(1e-6));
  CHECK(headed.recycle_factor == factor);  // nothing is learnt of a valve that did not bring it
  // of the analyser, two deviations: 2 % of the reading and 1 % (defaults of the parameters)
  CHECK(g.inlet_sigma == Approx(0.5 * (double(p.analyser_class) * 0.031 + double(p.analyser_zero))));

  p.recycle_aperture = 0.0f;  // behind a header
  for (int k = 0; k < 600; ++k) CHECK(estimate_gas(headed, p, y, 1.55e-5f, 4.19f, 0.0f).inlet_co == 0.031f);
}

TEST_CASE("the analyser corrects the recycled share") {
  const ctl_params p = defaults();
  Signals y = gas_signals();
  y.lost = 0;
  GasMemory memory = initial_gas();
  Gas g{};
  for (int k = 0; k < 20000; ++k) {
    y.value[in_outlet_co_fraction] = g.conversion / (1.0f - 1.3f * g.recycled / memory.recycle_factor);
    g = estimate_gas(memory, p, y, 1.55e-5f, 4.19f, 0.3f);
  }
  CHECK(memory.recycle_factor == Approx(1.3).epsilon(0.01));
}

namespace {

Signals cell_signals() {
  Signals y = gas_signals();
  y.value[in_anode_pressure] = 40000.0f;
  y.value[in_product_oxygen_fraction] = 0.98f;
  return y;
}

constexpr float kZone[CTL_ZONES] = {1073.15f, 1073.15f, 1073.15f, 1073.15f, 1073.15f};
constexpr float kCurrent = 4.19f;
const Gas kGas{3.5e-4f, 0.0425f, 0.05f, 0.901f, 0.47f, 0.3f, 0.1f, 0.52f, 0.006f, 0.005f};

/// Voltage at which a cell with this share of the flow and this added resistance carries the current.
float carried_voltage(const ctl_params& p, const Signals& y, float share, float added,
                      const CellConstants& constants = {}) {
  const CellChemistry c = with_constants(
      cell_chemistry(p, 1073.15f, y[in_cathode_pressure], 0.98f * y[in_anode_pressure]), constants);
  float voltage = 1.0f;
  for (int k = 0; k < 20; ++k)
    voltage -= solve_column(p, c, cell_gas(p, kGas, share), added, kCurrent, voltage).innovation;
  return voltage;
}

struct Cells {
  ctl_params p = defaults();
  Signals y = cell_signals();
  CokeMemory memory = initial_coke();
  Consistency consistency = kConsistentAtRest;
  Coke run(int ticks, float above_tap = 0.0f) {
    Coke c{};
    for (int k = 0; k < ticks; ++k)
      c = estimate_coke(memory, p, y, kGas, kZone, kCurrent, above_tap, consistency);
    return c;
  }
};

}  // namespace

TEST_CASE("a voltage that nothing explains counts in full, beyond what noise may bring") {
  Cells cells;
  for (uint32_t k = 0; k < CTL_CELLS; ++k)
    cells.y.value[in_cell_voltage + k] = carried_voltage(cells.p, cells.y, 1.0f, 0.0f);
  const Coke healthy = cells.run(1);
  CHECK(healthy.residual[5] == Approx(0.0).margin(1e-4));
  cells.y.value[in_cell_voltage + 5] += 0.04f;
  const Coke worn = cells.run(1);
  CHECK(worn.worst == 5);
  CHECK(healthy.cell[5] - worn.cell[5] > 0.037f);
  CHECK(healthy.cell[5] - worn.cell[5] < 0.055f);  // the column errs upwards on so large a step
  CHECK(worn.cell[4] == Approx(healthy.cell[4]).margin(1e-5));
  CHECK(worn.highest_voltage == cells.y[in_cell_voltage + 5]);
  // a lost tap: the cell is taken to be as high as the highest
  cells.y.lost |= bit_of(in_cell_voltage + 2);
  CHECK(cells.run(1).cell[2] < healthy.cell[2] - 0.01f);
}

TEST_CASE(
    "resistance of all cells is identified, and that of one as far as it can be distinguished from its "
    "flow") {
  Cells cells;
  const float mean = 4e-6f, more = 1.6e-6f;
  for (uint32_t k = 0; k < CTL_CELLS; ++k)
    cells.y.value[in_cell_voltage + k] = carried_voltage(cells.p, cells.y, 1.0f, k == 3 ? mean + more : mean);
  const Coke c = cells.run(4 * 3600);
  // as a resistance that takes as much voltage, by the slopes of the working point: to the scatter of a cell voltage
  const float volts = (c.added_resistance - (mean + more / 8)) * cells.memory.resistance.at_density;
  CHECK(std::abs(volts) < cells.p.residual_noise);
  for (const float r : c.residual) CHECK(r == Approx(0.0).margin(3e-4));
  // resistance and flow share the rise in the ratio of their prior variances: neither takes all of it
  CHECK(c.added[3] - c.ohmic > 0.04f * more);
  CHECK(c.added[3] - c.ohmic < more);
  CHECK(c.share[3] < 0.99f);
  CHECK(c.share[2] == Approx(1.0).margin(0.01));
  CHECK(cells.memory.resistance.cell[3].p[1][1] > 0.2f * cells.p.flow_prior_sigma * cells.p.flow_prior_sigma);
}

// Before, a residual was used as soon as the current stood, from a filter that was not filled; what followed was kept out as an
// outlier until the resistance had been widened, and was taken for resistance.
TEST_CASE("the first residual is used when its filter is full, and shared out by the priors however large") {
  Cells cells;
  const bool beyond_the_gate = GENERATE(false, true);
  if (beyond_the_gate) {
    cells.p.mean_resistance_prior_sigma = 1e-6f;
    cells.p.cathode_prior_sigma = cells.p.anode_prior_sigma = 0.05f;
    cells.p.diffusion_prior_sigma = 1e-6f;
  }
  const CellConstants slow{0.7f, 0.8f, 8e-6f};
  for (uint32_t k = 0; k < CTL_CELLS; ++k)
    cells.y.value[in_cell_voltage + k] = carried_voltage(cells.p, cells.y, 1.0f, 0.0f, slow);
  const float first = cells.run(1).residual[0];  // V
  REQUIRE(first > 0.03f);
  ResistanceMemory& m = cells.memory.resistance;
  const float before = m.mean.p[common_cathode][common_cathode];
  for (int k = 0; k < 600 && m.mean.x[common_cathode] == 0.0f; ++k) {
    m.slot = 0;  // its turn at every tick: the earliest that can be used is
    m.since = kSlot;
    cells.run(1);
  }
  CHECK(std::abs(cells.run(1).residual[0]) < 0.2f * first);  // the slopes are those before
  CHECK(m.mean.outliers == 0);
  CHECK(m.mean.p[common_cathode][common_cathode] < before);
  // by the priors and the slopes of the working point
  float prior[kCommonStates]{};
  common_variances(cells.p, prior);
  CHECK(m.mean.x[common_cathode] / m.mean.x[common_added] ==
        Approx(m.at_constant[constant_cathode] * prior[common_cathode] / (m.at_density * prior[common_added]))
            .epsilon(0.1));
}

TEST_CASE(
    "exchange currents and diffusion other than the parameters': the margin stays within its deviation") {
  const CellConstants plants[] = {
      {0.6f, 1.0f, 0.0f}, {1.7f, 1.0f, 0.0f}, {0.75f, 0.8f, 1e-5f}, {0.8f, 1.3f, 0.0f}};
  for (const CellConstants& truth : plants) {
    CAPTURE(truth.cathode, truth.anode, truth.diffusion);
    Cells cells;
    const float voltage = carried_voltage(cells.p, cells.y, 1.0f, 0.0f, truth);
    for (uint32_t k = 0; k < CTL_CELLS; ++k) cells.y.value[in_cell_voltage + k] = voltage;
    const CellChemistry c = with_constants(
        cell_chemistry(cells.p, 1073.15f, cells.y[in_cathode_pressure], 0.98f * cells.y[in_anode_pressure]),
        truth);
    const float margin =
        solve_column(cells.p, c, cell_gas(cells.p, kGas, 1.0f), 0.0f, kCurrent, voltage).onset - voltage;
    cells.run(CTL_CELLS);  // each cell has had its turn, nothing is learnt
    const float before = cells.memory.sigma[0];
    const Coke found = cells.run(4 * 3600);
    CHECK(std::abs(found.margin - margin) < 2.0f * found.sigma);
    CHECK(found.sigma < before);
    const auto& p = cells.memory.resistance.mean.p;
    CHECK(p[common_cathode][common_cathode] < cells.p.cathode_prior_sigma * cells.p.cathode_prior_sigma);
    // less or more of the voltage than it is goes to the cathode, none of it the wrong way
    if (truth.anode == 1.0f) CHECK((found.constants.cathode - 1.0f) * (truth.cathode - 1.0f) > 0.0f);
  }
}

TEST_CASE("a cell with too little gas is found out by its voltage and has less margin") {
  Cells cells;
  for (uint32_t k = 0; k < CTL_CELLS; ++k)
    cells.y.value[in_cell_voltage + k] = carried_voltage(cells.p, cells.y, k == 6 ? 0.85f : 1.02f, 0.0f);
  const Coke c = cells.run(4 * 3600);
  CHECK(c.worst == 6);
  CHECK(c.share[6] < 0.94f);
  CHECK(c.sigma > 0.003f);
  CHECK(c.sigma < 0.02f);
  CHECK(c.in_sigmas == Approx(c.margin / c.sigma).epsilon(0.2));
}

// Source: the definition of the margin, onset less voltage; which tap reads low, the sum of all does not say.
TEST_CASE(
    "what the taps lack of the stack's voltage may belong to any cell, and nothing is learnt meanwhile") {
  Cells cells;
  for (uint32_t k = 0; k < CTL_CELLS; ++k)
    cells.y.value[in_cell_voltage + k] = carried_voltage(cells.p, cells.y, 1.0f, 4e-6f);
  const float before = cells.run(1).margin;
  const Coke c = cells.run(3600, 0.03f);
  CHECK(before - c.margin == Approx(0.03).margin(2e-4));
  CHECK(c.added_resistance == 0.0f);
  CHECK(cells.run(3600).added_resistance > 1e-6f);
}

TEST_CASE("below its least current nothing is learnt of the cells, and a moving current is waited for") {
  Cells cells;
  for (uint32_t k = 0; k < CTL_CELLS; ++k)
    cells.y.value[in_cell_voltage + k] = carried_voltage(cells.p, cells.y, 1.0f, 5e-6f);
  for (int k = 0; k < 1000; ++k)
    estimate_coke(cells.memory, cells.p, cells.y, kGas, kZone, 0.9f * kIdentifiable * cells.p.cell_area, 0.0f,
                  cells.consistency);
  CHECK(cells.memory.resistance.mean.x[0] == 0.0f);
  for (int k = 0; k < 1000; ++k)
    estimate_coke(cells.memory, cells.p, cells.y, kGas, kZone, k % 2 == 0 ? 4.6f : 3.8f, 0.0f,
                  cells.consistency);
  CHECK(cells.memory.resistance.mean.x[0] == 0.0f);
}
