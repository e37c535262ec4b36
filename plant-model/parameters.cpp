#include "plant-model/parameters.hpp"

#include <cmath>

namespace duskline::plant {
namespace {

// One row a parameter: path, unit, validity limits in SI, meaning. Values, plausible bands and sources stand
// in plants/*.yaml.
#define SCALAR(part, field, unit, lower, upper, meaning)                        \
  ParameterInfo {                                                               \
#part "." #field, unit, lower, upper, meaning,                              \
        [](PlantParameters & p) { return std::span<double>(&p.part.field, 1); } \
  }
#define PER_CELL(part, field, unit, lower, upper, meaning)                  \
  ParameterInfo {                                                           \
#part "." #field, unit, lower, upper, meaning,                          \
        [](PlantParameters & p) { return std::span<double>(p.part.field); } \
  }

constexpr ParameterInfo kTable[] = {
    SCALAR(filter, area, "m2", 0.001, 10, "face area of the intake filter"),
    SCALAR(filter, thickness, "m", 1e-05, 0.01, "thickness of the mat"),
    SCALAR(filter, solidity, "1", 0.006, 0.3, "volume share of fibres"),
    SCALAR(filter, fibre_diameter, "m", 1e-07, 2e-05, "fibre diameter"),
    SCALAR(filter, cake_resistance, "s-1", 0, 100000000.0,
           "pressure drop of the dust cake per face velocity and dust per area, continuum"),
    SCALAR(filter, cake_slip, "1", 1, 50, "factor by which slip lowers the cake resistance"),
    SCALAR(filter, efficiency, "1", 0, 1, "share of the dust that is caught"),
    SCALAR(compressor, displacement, "m3", 1e-07, 1, "swept volume per revolution"),
    SCALAR(compressor, filling, "1", 0.3, 1, "volumetric efficiency without leakage"),
    SCALAR(compressor, leakage, "mol s-1 Pa-2", 0, 1e-09,
           "flow back to suction per difference of squared pressures"),
    SCALAR(compressor, volume_ratio, "1", 1, 60, "built-in volume ratio"),
    SCALAR(compressor, friction_torque, "N m", 0, 100, "friction torque independent of speed"),
    SCALAR(compressor, viscous_friction, "N m s rad-1", 0, 1, "friction torque per speed"),
    SCALAR(compressor, bearing_wear, "1", 0, 2, "wear of the bearings: 0 new, 1 worn out"),
    SCALAR(compressor, bearing_life, "s", 1e6, 1e10,
           "production until the bearings are worn out, for wear in advance"),
    SCALAR(compressor, leakage_growth, "s-1", 0, 1e-6, "relative growth of the leakage, for wear in advance"),
    SCALAR(compressor, tone, "m s-2", 0, 10,
           "vibration at the bearing tone, rms, of a new machine at 300 rad/s"),
    SCALAR(compressor, inertia, "kg m2", 1e-06, 10, "moment of inertia of rotor and orbiter"),
    SCALAR(compressor, drive_lag, "s", 0.05, 30, "lag of the speed loop in the drive"),
    SCALAR(compressor, acceleration, "rad s-2", 0.1, 1000, "largest acceleration that the drive commands"),
    SCALAR(compressor, motor_efficiency, "1", 0.1, 1, "efficiency of motor and drive together"),
    SCALAR(compressor, cooling, "1", 0, 1,
           "share of the way to the shell temperature that discharge gas cools"),
    SCALAR(compressor, shell_heat_capacity, "J K-1", 1, 10000000.0, "heat capacity of the shell"),
    SCALAR(compressor, shell_conductance, "W K-1", 0.01, 100000.0, "conductance from shell to housing"),
    SCALAR(compressor, isentropic_exponent, "1", 1.05, 1.67, "isentropic exponent of the gas in the pockets"),
    SCALAR(flow, plenum_volume, "m3", 1e-06, 100, "volume between compressor and feed line"),
    SCALAR(flow, cathode_volume, "m3", 1e-07, 10, "gas volume of cathode channels and hot manifolds"),
    SCALAR(flow, anode_volume, "m3", 1e-07, 10, "gas volume of anode channels and product line"),
    SCALAR(flow, feed_conductance, "mol s-1 Pa-2", 1e-16, 0.001, "laminar conductance of the feed line"),
    SCALAR(flow, exhaust_aperture, "m2", 1e-10, 0.01,
           "discharge coefficient times area of the cathode exhaust"),
    SCALAR(flow, recycle_aperture, "m2", 0, 0.01,
           "discharge coefficient times area of the open recycle valve"),
    SCALAR(flow, recycle_lag, "s", 0.05, 60, "lag of the recycle valve"),
    SCALAR(flow, recycle_slew, "s-1", 0.001, 100, "fastest change of the recycle valve's opening"),
    SCALAR(flow, product_aperture, "m2", 1e-10, 0.01,
           "discharge coefficient times area of the oxygen outlet, hot"),
    SCALAR(flow, seal_leak, "mol s-1 Pa-1", 0, 0.001, "leak of all seals from cathode to anode"),
    SCALAR(flow, back_diffusion, "mol s-1", 1e-09, 1,
           "exchange of the channels with the cathode volume at no flow"),
    SCALAR(flow, feed_diffusion, "mol s-1", 1e-11, 1e-4,
           "exchange of plenum and cathode volume by diffusion at no flow"),
    SCALAR(flow, outlet_diffusion, "mol s-1", 1e-11, 1e-4,
           "exchange of the exhaust, and of the oxygen outlet, with the air by diffusion at no flow"),
    SCALAR(flow, combustion_rate, "s-1", 0, 100, "rate at which oxygen burns with CO on hot nickel"),
    SCALAR(heat, end_plate_heat_capacity, "J K-1", 1, 10000000.0, "heat capacity of one end plate"),
    SCALAR(heat, manifold_heat_capacity, "J K-1", 1, 10000000.0, "heat capacity of the hot manifolds"),
    SCALAR(heat, preheater_heat_capacity, "J K-1", 1, 10000000.0, "heat capacity of the preheater"),
    SCALAR(heat, inner_heat_capacity, "J K-1", 1, 100000000.0,
           "heat capacity of the insulation near the hot box"),
    SCALAR(heat, outer_heat_capacity, "J K-1", 1, 100000000.0,
           "heat capacity of the insulation near the housing"),
    SCALAR(heat, plenum_heat_capacity, "J K-1", 1, 10000000.0, "heat capacity of the plenum wall"),
    SCALAR(heat, axial_conductance, "W K-1", 0.001, 1000000.0, "conductance between neighbouring zones"),
    SCALAR(heat, flow_conductance, "W K-1", 0.001, 1000000.0,
           "conductance between neighbouring segments of one cell"),
    SCALAR(heat, end_conductance, "W K-1", 0.001, 1000000.0,
           "conductance between an end plate and the outer zone"),
    SCALAR(heat, manifold_conductance, "W K-1", 0.001, 1000000.0,
           "conductance between manifolds and the edges of the stack"),
    SCALAR(heat, side_loss, "W K-1", 0.0001, 1000000.0, "conductance from the stack to the inner insulation"),
    SCALAR(heat, end_loss, "W K-1", 0.0001, 1000000.0,
           "conductance from one end plate to the inner insulation"),
    SCALAR(heat, manifold_loss, "W K-1", 0.0001, 1000000.0,
           "conductance from the manifolds to the inner insulation"),
    SCALAR(heat, preheater_loss, "W K-1", 1e-05, 1000000.0,
           "conductance from the preheater to the inner insulation"),
    SCALAR(heat, inner_conductance, "W K-1", 0.0001, 1000000.0,
           "conductance from inner to outer insulation near 0 K"),
    SCALAR(heat, outer_conductance, "W K-1", 0.0001, 1000000.0,
           "conductance from outer insulation to housing near 0 K"),
    SCALAR(heat, radiative_growth, "1", 0, 20, "rise of insulation conductance at a mean of 1000 K"),
    SCALAR(heat, recuperator_ua, "W K-1", 0, 1000000.0, "conductance times area of the recuperator"),
    SCALAR(heat, preheater_effectiveness, "1", 0, 1,
           "share of the way to its body temperature that the preheater warms the feed"),
    SCALAR(heat, plenum_conductance, "W K-1", 0.0001, 1000000.0, "conductance from plenum wall to housing"),
    SCALAR(heat, suction_heating, "1", 0, 1, "share of the way from ambient to shell that suction gas warms"),
    SCALAR(heat, end_heater_max, "W", 0, 1000000.0, "largest power of one end-plate heater"),
    SCALAR(heat, preheater_max, "W", 0, 1000000.0, "largest power of the preheater"),
    SCALAR(heat, heater_lag, "s", 0.05, 60, "lag of heater power behind its command"),
    SCALAR(heat, heater_slew, "W s-1", 0.01, 1000000.0, "fastest change of the power of a heater"),
    SCALAR(housing, area, "m2", 0.001, 10000.0, "area that sees wind and sky"),
    SCALAR(housing, emissivity, "1", 0, 1, "infrared emissivity"),
    SCALAR(housing, absorptivity, "1", 0, 1, "solar absorptivity"),
    SCALAR(housing, sunlit_area, "m2", 0, 10000.0, "area projected to the sun"),
    SCALAR(housing, still_air, "W m-2 K-1", 0, 100, "heat transfer to still thin air"),
    SCALAR(housing, wind_term, "W m-2 K-1", 0, 100, "heat transfer per (wind speed in m/s)^0.6"),
    SCALAR(housing, ground_conductance, "W K-1", 0, 10000.0, "conductance through the feet"),
    SCALAR(housing, heat_capacity, "J K-1", 1, 100000000.0, "heat capacity of housing and electronics"),
    SCALAR(cell, area, "m2", 1e-05, 1, "active area of a cell"),
    SCALAR(cell, electrolyte_thickness, "m", 1e-06, 0.001, "electrolyte thickness"),
    SCALAR(cell, conductivity, "S m-1", 0.1, 100, "electrolyte conductivity at 800 degC"),
    SCALAR(cell, conductivity_energy, "J mol-1", 10000.0, 200000.0,
           "activation energy of conductivity times temperature"),
    SCALAR(cell, contact_resistance, "ohm m2", 0, 0.001, "contact and interconnect oxide"),
    SCALAR(cell, cathode_exchange, "A m-2", 1, 1000000.0,
           "exchange current density of the fuel electrode at 800 degC and 0.5 bar CO2"),
    SCALAR(cell, cathode_energy, "J mol-1", 10000.0, 300000.0, "activation energy of the fuel electrode"),
    SCALAR(cell, anode_exchange, "A m-2", 1, 1000000.0,
           "exchange current density of the oxygen electrode at 800 degC and 1 bar O2"),
    SCALAR(cell, anode_energy, "J mol-1", 10000.0, 300000.0, "activation energy of the oxygen electrode"),
    SCALAR(cell, diffusion_length, "m", 1e-06, 0.002, "thickness through which gas diffuses to the reaction"),
    SCALAR(cell, diffusivity, "m2 s-1", 1e-08, 0.001, "effective CO-CO2 diffusivity at 800 degC and 1 bar"),
    SCALAR(cell, overpotential_share, "1", 0.2, 1, "share of the cathode overpotential that drives carbon"),
    SCALAR(cell, electronic_leak, "A m-2", 0, 100000.0, "electronic current density at 1.8 V"),
    SCALAR(cell, heat_capacity, "J K-1", 0.01, 1000000.0, "heat capacity of a cell with its interconnect"),
    SCALAR(stack, repeats, "1", 1, 10000, "real cells that each modelled cell stands for"),
    PER_CELL(stack, zone, "1", 0, 4, "zone in which each modelled cell lies"),
    PER_CELL(stack, resistance_factor, "1", 0.2, 5, "resistance of each cell relative to the design"),
    PER_CELL(stack, flow_share, "1", 0.2, 2, "flow through each cell relative to the mean"),
    PER_CELL(stack, crack_leak, "mol s-1 Pa-1", 0, 1,
             "leak through each cell that is cracked from the start"),
    SCALAR(stack, crack_gradient, "K", 1, 10000.0,
           "difference between neighbouring zones that cracks a cell"),
    SCALAR(stack, crack_pressure, "Pa", 100, 10000000.0,
           "difference between cathode and anode that cracks a cell"),
    SCALAR(stack, crack_size, "mol s-1 Pa-1", 0, 1, "leak that a crack adds"),
    SCALAR(degradation, carbon_rate, "mol m-2 s-1", 0, 1,
           "carbon formed at an activity one above onset, 800 degC"),
    SCALAR(degradation, carbon_energy, "J mol-1", 10000.0, 400000.0,
           "activation energy of carbon formation and removal"),
    SCALAR(degradation, gasification_time, "s", 1, 1000000000.0,
           "time for carbon to gasify in carbon-free gas, 800 degC"),
    SCALAR(degradation, carbon_reference, "mol", 1e-09, 10, "carbon per cell that doubles its resistance"),
    SCALAR(degradation, carbon_damage, "mol-1", 0, 1000000000.0, "irreversible damage per carbon formed"),
    SCALAR(degradation, nickel_amount, "mol", 1e-09, 1000.0, "nickel per cell within reach of the gas"),
    SCALAR(degradation, oxidation_time, "s", 1, 1000000000.0, "time to oxidise nickel without CO, 800 degC"),
    SCALAR(degradation, reduction_time, "s", 1, 1000000000.0,
           "time to reduce the oxide in protective gas, 800 degC"),
    SCALAR(degradation, oxidation_energy, "J mol-1", 10000.0, 400000.0,
           "activation energy of oxidation and reduction"),
    SCALAR(degradation, oxide_damage, "1", 0, 100, "irreversible damage of one full oxidation"),
    SCALAR(degradation, oxide_resistance, "1", 0, 100, "relative rise of resistance when fully oxidised"),
    SCALAR(degradation, ageing_rate, "ohm m2 s-1", 0, 1e-06, "rise of resistance at 0.3 A/cm2"),
    SCALAR(degradation, cycle_ageing, "ohm m2", 0, 0.001,
           "rise of resistance per full thermal cycle at 2 K/min"),
    SCALAR(power, stack_converter, "1", 0.1, 1, "efficiency of the stack's converter"),
    SCALAR(power, heater_converter, "1", 0.1, 1, "efficiency of the heater drivers"),
    SCALAR(power, electronics, "W", 0, 100000.0, "power of sensors and control electronics"),
    SCALAR(power, current_lag, "s", 0.02, 30, "lag of the stack current behind its command"),
    SCALAR(power, current_slew, "A s-1", 0.0001, 10000.0, "largest rate of the stack current"),
    SCALAR(power, current_max, "A", 0, 100000.0, "largest stack current"),
    SCALAR(power, speed_max, "rad s-1", 1, 10000.0, "largest compressor speed"),
    SCALAR(power, bus_voltage, "V", 1, 1000, "supply bus voltage"),
};

#undef SCALAR
#undef PER_CELL

}  // namespace

std::span<const ParameterInfo> parameter_table() {
  return kTable;
}

std::vector<ParameterProblem> check(const PlantParameters& p) {
  std::vector<ParameterProblem> problems;
  std::array<bool, kZones> occupied{};
  for (std::size_t c = 0; c < kCells; ++c) {
    const double zone = p.stack.zone[c];
    if (zone == std::floor(zone) && zone >= 0.0 && zone < static_cast<double>(kZones))
      occupied[static_cast<std::size_t>(zone)] = true;
    else
      problems.push_back({"stack.zone", c + 1, "is no zone; expected a whole number from 0 to 4"});
  }
  static_assert(kZones == 5, "the message above says 4");
  if (problems.empty())
    for (std::size_t z = 0; z < kZones; ++z)
      if (!occupied[z])
        problems.push_back(
            {"stack.zone", 0,
             "leaves zone " + std::to_string(z) + " without a cell; each of the zones 0 to 4 needs one"});
  if (p.stack.repeats != std::floor(p.stack.repeats))
    problems.push_back({"stack.repeats", 0, "is a number of cells; expected a whole number"});
  return problems;
}

}  // namespace duskline::plant
