#include "scenarios/reader/controller_sizes.hpp"

#include <algorithm>
#include <cmath>

#include "plant-model/compressors/scroll_bank.hpp"
#include "plant-model/compressors/train_map.hpp"
#include "plant-model/flow/control_valve.hpp"
#include "plant-model/wear.hpp"
#include "scenarios/reader/draw.hpp"

namespace duskline::scenarios {
namespace {

float single(double x) {
  return static_cast<float>(x);
}

/// Multiplies members by the same factor.
template <class... Member>
void scale(ctl_params& p, double factor, Member... member) {
  ((p.*member = single(static_cast<double>(p.*member) * factor)), ...);
}

constexpr std::uint32_t bit(ctl_instrument row) {
  return std::uint32_t{1} << row;
}

/// Flow of the open valve, kg/s, at usual temperatures.
double open_flow(const plant::PlantParameters& plant, double capacity, double molar_mass, double p1,
                 double p2) {
  constexpr double kExponent = 1.3, kUsual = 300.0;
  const plant::ControlValve valve{.capacity = capacity, .choke_ratio = plant.valves.choke_ratio};
  return molar_mass *
         plant::valve_flow(valve, kExponent, 1.0, p1, kUsual, molar_mass, p2, kUsual, molar_mass);
}

void size_currents(const plant::PlantParameters& plant, ctl_params& p) {
  using P = ctl_params;
  const double area = plant.cell.area / static_cast<double>(p.cell_area);
  constexpr double kUsed = 0.75;  // of what the converter gives (design, as the demo plant)
  const double most = kUsed * plant.power.current_max, current = most / static_cast<double>(p.current_max);
  const double cells = plant.stack.repeats / static_cast<double>(p.cells_per_tap);
  scale(p, current, &P::protective_current, &P::priming_current, &P::current_rate_up, &P::current_rate_down,
        &P::shed_rate, &P::current_step);
  p.current_rate_down = std::min(p.current_rate_down, single(plant.power.current_slew));
  p.shed_rate = std::min(p.shed_rate, single(plant.power.current_slew));
  scale(p, area, &P::margin_gain, &P::voltage_gain);
  scale(p, 1.0 / cells, &P::power_gain);
  scale(p, current * cells, &P::flow_min, &P::flow_start, &P::flow_rate, &P::flow_max, &P::flow_zero,
        &P::ceiling_headroom, &P::shed_slope);
  scale(p, 0.5 * current * cells, &P::flow_protective);  // the shared compressor has a turndown of its own
  p.cells_per_tap = single(plant.stack.repeats);
  p.cell_area = single(plant.cell.area);
  p.current_max = single(most);
}

void size_feed(const plant::PlantParameters& plant, ctl_params& p) {
  p.feed_device = CTL_FEED_VALVE;
  p.not_fitted = bit(CTL_INPUT_compressor_speed) | bit(CTL_INPUT_compressor_temperature) |
                 bit(CTL_INPUT_filter_differential_pressure) | bit(CTL_INPUT_bearing_vibration) |
                 bit(CTL_INPUT_bus_power);
  p.recycle_aperture = 0.0F;
  p.plenum_volume = single(plant.headers.feed_volume);
  p.valve_capacity = single(plant.valves.feed_capacity);
  p.valve_rangeability = single(plant.valves.rangeability);
  p.valve_choke = single(plant.valves.choke_ratio);
  p.valve_rate = single(0.5 / plant.valves.stroke);
  // the valve answers within its meter: nothing to lead, and most of the loop is its feed-forward
  p.plenum_lag = p.flow_response = 5.0F;
  p.flow_gain = 0.3F;
  p.flow_integral_time = 6.0F;
  p.utilisation_setpoint = 0.5F;  // that the train is sized for
  p.utilisation_saving = 0.6F;
  p.seal_leak = single(plant.flow.seal_leak);
  p.pressure_difference_max = single(0.75 * plant.stack.crack_pressure);
}

void size_heat(const plant::PlantParameters& plant, ctl_params& p) {
  const plant::HeatParameters& h = plant.heat;
  const double end = h.end_plate_heat_capacity / 200.0, preheater = h.preheater_heat_capacity / 50.0;
  p.end_gain = std::min(single(static_cast<double>(p.end_gain) * end), 60.0F);
  p.preheater_gain = single(static_cast<double>(p.preheater_gain) * preheater);
  p.end_rise = single(1.0 / h.end_conductance);
  p.end_power_max = single(h.end_heater_max);
  p.preheater_power_max = single(h.preheater_max);
  p.heater_total_max = single(2.0 * h.end_heater_max + h.preheater_max);
  p.heat_loss = single(1.0 / (1.0 / h.inner_conductance + 1.0 / h.outer_conductance));
  p.heat_capacity =
      single(static_cast<double>(CTL_CELLS) * plant.stack.repeats * plant.cell.heat_capacity +
             2.0 * (h.end_plate_heat_capacity + h.manifold_heat_capacity) + h.inner_heat_capacity);
}

void size_bus(const plant::PlantParameters& plant, ctl_params& p) {
  using P = ctl_params;
  scale(p, plant.power.bus_voltage / static_cast<double>(p.bus_nominal), &P::bus_nominal, &P::bus_sag,
        &P::bus_min, &P::bus_derate);
  p.stack_converter = single(plant.power.stack_converter);
  p.heater_converter = single(plant.power.heater_converter);
  p.electronics_power = 0.0F;  // of the plant, not of a module
}

/// New cells differ from the nominal one by 6.5e-6 ohm m2 (root mean square over the ranges of the plant file); what age adds:
/// add_ageing_prior. The resistance of electrodes to diffusion reaches 18 times the nominal one, 3.6 of the default's deviations
/// above it: with these, one of 600 sampled plants kept 4 mV. Limited to 60 mV as on the demo plant, the margin was below three
/// deviations before the cells are known, and one of 100 plants kept 12 mV; 3.2 deviations keep 19 mV in the weakest plants,
/// where three keep 11, and take 2 % of the oxygen of sampled ones (docs/models/outpost-controller.md).
void size_estimate(ctl_params& p) {
  p.mean_resistance_prior_sigma = 6.5e-6F;
  p.diffusion_prior_sigma = 1.5e-5F;
  p.margin_max = 0.1F;
}

/// The kind of intake, as the plant controller calls it; a bench has none.
ctl_intake intake_of(const plant::PlantForm& form) {
  switch (static_cast<plant::Intake>(form.intake)) {
    case plant::kScroll:
    case plant::kCentrifugal:
      return CTL_INTAKE_CENTRIFUGAL;
    case plant::kAxial:
      return CTL_INTAKE_AXIAL;
    case plant::kScrollBank:
      return CTL_INTAKE_SCROLL_BANK;
    case plant::kLobe:
      return CTL_INTAKE_LOBE;
    case plant::kFreezer:
      return CTL_INTAKE_FREEZER;
  }
  return CTL_INTAKE_CENTRIFUGAL;
}

/// Speeds as shares of the design speed, as those of the machine that the defaults suit.
void size_speeds(const plant::PlantParameters& plant, ctl_plant_params& p) {
  constexpr double kDesign = 3764.0;  // rad/s, of that machine
  const double by = plant::intake_rating(plant).speed / kDesign;
  using P = ctl_plant_params;
  for (float P::*member :
       {&P::speed_min, &P::speed_max, &P::speed_rate, &P::speed_deviation, &P::pressure_gain})
    p.*member = single(static_cast<double>(p.*member) * by);
  p.speed_max = std::min(p.speed_max, single(plant.power.speed_max));
}

/// What a machine that sweeps a volume moves, and how fast its speed fills the header.
void size_swept(const plant::PlantParameters& plant, ctl_plant_params& p) {
  constexpr double kTwoPi = 6.28318530717958647693, kHeader = 300.0;  // K
  constexpr double kClosed = 15.0;                                    // s, of the closed loop
  const plant::IntakeRating rated = plant::intake_rating(plant);
  double flow = rated.flow;  // mol/s at the design speed, pressure and temperature of the suction
  if (plant.form.intake == plant::kScrollBank) {
    const plant::CompressorParameters all = plant::as_one(plant.compressor, plant.bank);
    p.displacement = single(all.displacement);
    const double header = static_cast<double>(p.header_pressure),
                 suction = static_cast<double>(p.map_pressure);
    const double filled = rated.speed * suction *
                          plant::swept_flow_per_pascal(all, 1.0, static_cast<double>(p.map_temperature));
    flow = filled - all.leakage * header * header;
    p.volumetric_efficiency = single(all.filling * flow / filled);
  } else {
    const double density = plant.lobe.design_pressure / (plant::kGasConstant * plant.lobe.design_temperature);
    const double swept = flow / density / static_cast<double>(p.volumetric_efficiency);  // m3/s
    p.displacement = single(swept * kTwoPi / rated.speed);
  }
  p.speed_max = single(plant.power.speed_max);
  const double filling = plant::kGasConstant * kHeader / plant.headers.feed_volume;  // Pa/mol
  p.pressure_gain = single(1.0 / (kClosed * filling * flow / rated.speed));
}

/// The surge line that the acceptance test of the machine measured.
void size_map(const plant::PlantParameters& plant, ctl_plant_params& p) {
  const plant::TrainSize size = plant::train_size(plant);
  const plant::TrainMap map{plant.train, size, static_cast<double>(p.map_pressure),
                            static_cast<double>(p.map_temperature)};
  p.map_speed = single(size.speed);
  double flow = 0.0, ratio = 1.0;  // of the row before; the rows rise
  for (std::size_t row = 0; row < CTL_PLANT_MAP_ROWS; ++row) {
    const double speed = static_cast<double>(p.map_speed_share[row]) * size.speed;
    const double surge = map.surge_flow(speed);
    constexpr double kRise = 1.001;
    flow = std::max(surge * size.gas.molar_mass, kRise * flow);
    ratio = std::max(map.at(speed, surge).pressure / map.pressure, kRise * ratio);
    p.map_surge_flow[row] = single(flow);
    p.map_ratio[row] = single(ratio);
  }
}

}  // namespace

void size_controller(const plant::PlantParameters& plant, ctl_params& params) {
  if (!plant::has_headers(plant.form)) return;
  size_currents(plant, params);
  size_feed(plant, params);
  size_heat(plant, params);
  size_bus(plant, params);
  size_estimate(params);
}

void add_ageing_prior(const PlantFile& nominal, double production, ctl_params& params) {
  if (!plant::has_headers(nominal.parameters.form)) return;
  const auto row =
      static_cast<std::size_t>(find_parameter("degradation.ageing_rate") - plant::parameter_table().data());
  plant::PlantParameters p = nominal.parameters;
  double& rate = p.degradation.ageing_rate;
  const auto limit = static_cast<double>(params.resistance_max);
  double sigma = 0.0;  // ohm m2, root mean square above the least
  if (row < nominal.notes.size() && is_drawn(nominal, row)) {
    const double above = mean_square_above_lower(nominal.notes[row]);
    rate = std::sqrt(above);
    sigma = std::min(plant::resistance_after(p, production), limit);
    rate = nominal.notes[row].lower;
  }
  // Not the mean: a resistance that is assumed too high makes the margin too large until the true one is identified. With the
  // mean one of 57 sampled plants kept 8 mV meanwhile.
  const double lowest =
      static_cast<double>(params.mean_resistance_prior) + plant::resistance_after(p, production);
  params.mean_resistance_prior = single(std::min(lowest, limit));
  params.mean_resistance_prior_sigma =
      single(std::hypot(static_cast<double>(params.mean_resistance_prior_sigma), sigma));
}

void size_controller(const plant::PlantParameters& plant, ctl_plant_params& params) {
  if (!plant::has_headers(plant.form)) return;
  constexpr double kAir = 0.04335, kSuction = 700.0;  // kg/mol, Pa
  const auto exhaust = static_cast<double>(params.exhaust_pressure);
  const double product = exhaust + static_cast<double>(params.product_offset);
  const plant::ValveParameters& v = plant.valves;
  params.surge_capacity = single(
      open_flow(plant, v.anti_surge_capacity, kAir, static_cast<double>(params.header_pressure), kSuction));
  params.recycle_capacity = single(open_flow(plant, v.recycle_capacity, kAir, exhaust, kSuction));
  params.exhaust_capacity = single(open_flow(plant, v.exhaust_capacity, kAir, exhaust, kSuction));
  params.product_capacity = single(open_flow(plant, v.product_capacity, plant::kMolarMass[plant::O2], product,
                                             plant.product.tank_pressure));
  params.valve_rangeability = single(v.rangeability);
  params.intake = intake_of(plant.form);
  if (plant.form.intake != plant::kFreezer) size_speeds(plant, params);
  if (plant::has_turbo(plant.form)) size_map(plant, params);
  if (plant.form.intake == plant::kAxial) {  // from its peak to choke over less than 15 % of the flow
    params.surge_line = 0.20F;
    params.surge_gain = 0.3F;
  }
  if (plant.form.intake == plant::kLobe || plant.form.intake == plant::kScrollBank) size_swept(plant, params);
}

}  // namespace duskline::scenarios
