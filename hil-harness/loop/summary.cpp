#include "hil-harness/loop/summary.hpp"

#include <cmath>

namespace duskline::harness {
namespace {

/// Figures that are sums over time; delivered oxygen and energy come from the state of the plant.
constexpr double Figures::*kSums[] = {
    &Figures::oxygen_made,          &Figures::oxygen_in_production, &Figures::oxygen_demanded,
    &Figures::production_energy,    &Figures::time_below_onset,     &Figures::time_above_ceiling,
    &Figures::energy_above_ceiling, &Figures::travel_speed,         &Figures::travel_current};
constexpr double ModuleFigures::*kModuleSums[] = {
    &ModuleFigures::oxygen_made, &ModuleFigures::time_below_onset, &ModuleFigures::time_in_production};
constexpr double SharedFigures::*kSharedSums[] = {&SharedFigures::stacks, &SharedFigures::heaters,
                                                  &SharedFigures::compressor, &SharedFigures::liquefier,
                                                  &SharedFigures::others};

}  // namespace

void Summary::repeat_sol(std::size_t times) {
  const Figures& before = at_sol_;
  const auto n = static_cast<double>(times);
  const auto repeat = [n](double& sum, double then) { sum += n * (sum - then); };
  f_.oxygen_estimated += n * (f_.oxygen_made - before.oxygen_made);
  for (const auto sum : kSums) repeat(f_.*sum, before.*sum);
  for (std::size_t m = 0; m < CTL_MODES; ++m) {
    f_.time_estimated += n * (f_.time_in_mode[m] - before.time_in_mode[m]);
    repeat(f_.time_in_mode[m], before.time_in_mode[m]);
  }
  for (std::size_t m = 0; m < CTL_LIMITERS; ++m) repeat(f_.time_limited[m], before.time_limited[m]);
  for (std::size_t k = 0; k < f_.modules; ++k)
    for (const auto sum : kModuleSums) repeat(f_.module[k].*sum, before.module[k].*sum);
  for (const auto sum : kSharedSums) repeat(f_.shared.*sum, before.shared.*sum);
}

void Summary::tick(const Snapshot& s, double period) {
  namespace at = plant::at;
  const plant::State& x = *s.state;
  const std::size_t q = s.model->layout().first_quadrature();
  const bool producing = s.control.mode == CTL_PRODUCTION;

  f_.oxygen_made += s.plant.oxygen_made * period;
  f_.oxygen_delivered = x[q + at::oxygen] * plant::kMolarMass[plant::O2];
  f_.energy = x[q + at::bus_energy];
  if (producing) {
    f_.oxygen_in_production += s.plant.oxygen_made * period;
    f_.oxygen_demanded += static_cast<double>(s.measured.oxygen_demand) * period;
    f_.production_energy += s.plant.bus_power * period;
    f_.greatest_production_power = std::max(f_.greatest_production_power, s.plant.bus_power);
    product_oxygen_ += s.plant.oxygen_delivered / plant::kMolarMass[plant::O2] * period;
    if (s.plant.anode_gas[plant::O2] > 0.0)
      product_ +=
          s.plant.oxygen_delivered / plant::kMolarMass[plant::O2] / s.plant.anode_gas[plant::O2] * period;
    f_.purity = product_ > 0.0 ? product_oxygen_ / product_ : 0.0;
    if (s.control.limiter < CTL_LIMITERS) f_.time_limited[s.control.limiter] += period;
  }
  if (s.control.mode < CTL_MODES) f_.time_in_mode[s.control.mode] += period;

  if (s.coke_margin < f_.coke_margin.value)
    f_.coke_margin = {s.coke_margin, s.time, s.worst_cell,
                      static_cast<std::size_t>(s.plant.cells.worst_segment[s.worst_cell])};
  if (s.coke_margin < 0.0) f_.time_below_onset += period;
  if (s.nickel_ratio < f_.nickel_ratio.value) f_.nickel_ratio = {s.nickel_ratio, s.time, 0, 0};

  f_.greatest_gradient = std::max(f_.greatest_gradient, s.plant.gradient);
  for (const double rate : s.plant.zone_rate) f_.greatest_ramp = std::max(f_.greatest_ramp, std::abs(rate));
  if (const double excess = s.plant.bus_power - static_cast<double>(s.measured.power_ceiling); excess > 0.0) {
    f_.time_above_ceiling += period;
    f_.energy_above_ceiling += excess * period;
  }
  f_.greatest_power = std::max(f_.greatest_power, s.plant.bus_power);
  f_.carbon = f_.oxide = 0.0;
  for_each_module(s, [this](const Snapshot& module) {
    const plant::CellReadings& cells = module.plant.cells;
    for (std::size_t c = 0; c < plant::kCells; ++c) {
      f_.greatest_voltage = std::max(f_.greatest_voltage, cells.voltage[c]);
      f_.carbon += cells.carbon[c];
      f_.oxide += cells.oxide[c];
      f_.damage = std::max(f_.damage, cells.damage[c]);
    }
  });
  f_.carbon_greatest = std::max(f_.carbon_greatest, f_.carbon);
  f_.oxide_greatest = std::max(f_.oxide_greatest, f_.oxide);
  f_.travel_speed += std::abs(static_cast<double>(s.control.compressor_speed) - last_speed_);
  f_.travel_current += std::abs(static_cast<double>(s.control.stack_current) - last_current_);
  last_speed_ = s.control.compressor_speed;
  last_current_ = s.control.stack_current;
  if (s.shared != nullptr) between_headers(s, period);
}

void Summary::between_headers(const Snapshot& s, double period) {
  f_.modules = s.modules.size();
  for (std::size_t n = 0; n < f_.modules; ++n) {
    const Snapshot& m = *s.modules[n];
    ModuleFigures& own = f_.module[n];
    own.oxygen_made += m.plant.oxygen_made * period;
    if (m.coke_margin < own.coke_margin.value)
      own.coke_margin = {m.coke_margin, m.time, m.worst_cell,
                         static_cast<std::size_t>(m.plant.cells.worst_segment[m.worst_cell])};
    if (m.nickel_ratio < own.nickel_ratio.value) own.nickel_ratio = {m.nickel_ratio, m.time, 0, 0};
    if (m.coke_margin < 0.0) own.time_below_onset += period;
    if (m.control.mode == CTL_PRODUCTION) own.time_in_production += period;
    own.greatest_gradient = std::max(own.greatest_gradient, m.plant.gradient);
    for (const double rate : m.plant.zone_rate)
      own.greatest_ramp = std::max(own.greatest_ramp, std::abs(rate));
    for (const double damage : m.plant.cells.damage) own.damage = std::max(own.damage, damage);
    f_.greatest_ramp = std::max(f_.greatest_ramp, own.greatest_ramp);
  }
  const plant::SharedOutputs& seen = s.shared->plant;
  SharedFigures& g = f_.shared;
  if (seen.surge_margin < g.surge_margin.value) g.surge_margin = {seen.surge_margin, s.time, 0, 0};
  const bool reversed = seen.truth.compressor_flow < 0.0;
  if (reversed && !reversed_) ++g.surges;
  reversed_ = reversed;
  g.greatest_across = std::max(
      g.greatest_across, std::abs(seen.truth.product_header_pressure - seen.truth.exhaust_header_pressure));
  const plant::PowerParameters& power = s.model->parameters().power;
  g.stacks += s.plant.stack_power / power.stack_converter * period;
  g.heaters += s.plant.heater_power / power.heater_converter * period;
  g.compressor += seen.compressor_power * period;
  g.liquefier += (seen.liquefier_power + seen.dryer_power) * period;
  g.others += seen.others_power * period;
}

}  // namespace duskline::harness
