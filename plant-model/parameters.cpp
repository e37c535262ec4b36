#include "plant-model/parameters.hpp"

#include <cmath>

namespace duskline::plant {
namespace {

// One row a parameter: path, unit, validity limits in SI, meaning. Values, plausible bands and sources stand
// in plants/*.yaml.
// WHERE gives the forms of plants that have it; without it all have.
#define SCALAR_WHERE(fits, part, field, unit, lower, upper, meaning)                  \
  ParameterInfo {                                                                     \
#part "." #field, unit, lower, upper, meaning,                                    \
        [](PlantParameters & p) { return std::span<double>(&p.part.field, 1); }, fits \
  }
#define SCALAR(...) SCALAR_WHERE(always, __VA_ARGS__)
// The rows of what machines have in common.
#define STAGES_WHERE(fits, part, scale, throat_meaning)                                                     \
  SCALAR_WHERE(fits, part, stages, "1", 1, 12, "number of stages"),                                         \
      SCALAR_WHERE(fits, part, flow_coefficient, "1", 0.01, scale, "flow coefficient at the design point"), \
      SCALAR_WHERE(fits, part, surge_coefficient, "1", 0.005, scale,                                        \
                   "flow coefficient at which the head is largest"),                                        \
      SCALAR_WHERE(fits, part, head, "1", 0.1, 0.8, "head coefficient at the design point"),                \
      SCALAR_WHERE(fits, part, peak_head, "1", 0.1, 0.9, "largest head coefficient"),                       \
      SCALAR_WHERE(fits, part, throat, "1", 0.02, 3, throat_meaning),                                       \
      SCALAR_WHERE(fits, part, efficiency, "1", 0.3, 0.95,                                                  \
                   "polytropic efficiency at a Reynolds number of 1e6"),                                    \
      SCALAR_WHERE(fits, part, efficiency_fall, "1", 0, 5, "loss of efficiency away from the design flow")
#define DUCT_MACHINE_WHERE(fits, part)                                                                       \
  SCALAR_WHERE(fits, part, duct_area, "m2", 1e-5, 1, "area of the duct with the gas that is set in motion"), \
      SCALAR_WHERE(fits, part, duct_length, "m", 0.1, 100, "length of that duct"),                           \
      SCALAR_WHERE(fits, part, inlet_heat_capacity, "J K-1", 1, 1e6,                                         \
                   "heat capacity of what the air passes before the machine"),                               \
      SCALAR_WHERE(fits, part, friction_torque, "N m", 0, 100,                                               \
                   "friction torque of the bearings at the drive's shaft"),                                  \
      SCALAR_WHERE(fits, part, bearing_wear, "1", 0, 2, "wear of the bearings: 0 new, 1 worn out"),          \
      SCALAR_WHERE(fits, part, tone, "m s-2", 0, 10,                                                         \
                   "vibration at the bearing tone, rms, new, at 300 rad/s"),                                 \
      SCALAR_WHERE(fits, part, inertia, "kg m2", 1e-6, 10, "moment of inertia at the drive's shaft"),        \
      SCALAR_WHERE(fits, part, drive_lag, "s", 0.05, 60, "lag of the speed loop in the drive"),              \
      SCALAR_WHERE(fits, part, acceleration, "rad s-2", 0.1, 10000,                                          \
                   "largest acceleration that the drive commands"),                                          \
      SCALAR_WHERE(fits, part, motor_efficiency, "1", 0.1, 1,                                                \
                   "efficiency of motor, drive and gears together"),                                         \
      SCALAR_WHERE(fits, part, casing_heat_capacity, "J K-1", 1, 1e7,                                        \
                   "heat capacity of casings and coolers"),                                                  \
      SCALAR_WHERE(fits, part, casing_conductance, "W K-1", 0.01, 1e5,                                       \
                   "conductance from the casings to the housing")
#define PER_CELL(part, field, unit, lower, upper, meaning)                          \
  ParameterInfo {                                                                   \
#part "." #field, unit, lower, upper, meaning,                                  \
        [](PlantParameters & p) { return std::span<double>(p.part.field); }, always \
  }
#define PER_MODULE(part, field, unit, lower, upper, meaning)                                               \
  ParameterInfo {                                                                                          \
#part "." #field, unit, lower, upper, meaning,                                                         \
        [](PlantParameters & p) { return std::span<double>(p.part.field).first(p.form.modules); }, headers \
  }

constexpr bool always(const PlantForm&) {
  return true;
}
constexpr bool scroll(const PlantForm& f) {
  return has_scrolls(f);
}
constexpr bool bank(const PlantForm& f) {
  return f.intake == kScrollBank;
}
constexpr bool lobe(const PlantForm& f) {
  return f.intake == kLobe;
}
constexpr bool turbo(const PlantForm& f) {
  return has_turbo(f);
}
constexpr bool axial(const PlantForm& f) {
  return f.intake == kAxial;
}
constexpr bool freezer(const PlantForm& f) {
  return f.intake == kFreezer;
}
constexpr bool turning(const PlantForm& f) {
  return f.intake != kFreezer;
}
constexpr bool apertures(const PlantForm& f) {
  return !has_headers(f);
}
constexpr bool back_pressure(const PlantForm& f) {
  return f.outlet == kBackPressure;
}
constexpr bool headers(const PlantForm& f) {
  return has_headers(f);
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
    SCALAR_WHERE(scroll, compressor, displacement, "m3", 1e-07, 1, "swept volume per revolution"),
    SCALAR_WHERE(scroll, compressor, filling, "1", 0.3, 1, "volumetric efficiency without leakage"),
    SCALAR_WHERE(scroll, compressor, leakage, "mol s-1 Pa-2", 0, 1e-09,
                 "flow back to suction per difference of squared pressures"),
    SCALAR_WHERE(scroll, compressor, volume_ratio, "1", 1, 60, "built-in volume ratio"),
    SCALAR_WHERE(scroll, compressor, friction_torque, "N m", 0, 100, "friction torque independent of speed"),
    SCALAR_WHERE(scroll, compressor, viscous_friction, "N m s rad-1", 0, 1, "friction torque per speed"),
    SCALAR_WHERE(scroll, compressor, bearing_wear, "1", 0, 2, "wear of the bearings: 0 new, 1 worn out"),
    SCALAR_WHERE(scroll, compressor, bearing_life, "s", 1e6, 1e10,
                 "production until the bearings are worn out, for wear in advance"),
    SCALAR_WHERE(scroll, compressor, leakage_growth, "s-1", 0, 1e-6,
                 "relative growth of the leakage, for wear in advance"),
    SCALAR_WHERE(scroll, compressor, tone, "m s-2", 0, 10,
                 "vibration at the bearing tone, rms, of a new machine at 300 rad/s"),
    SCALAR_WHERE(scroll, compressor, inertia, "kg m2", 1e-06, 10, "moment of inertia of rotor and orbiter"),
    SCALAR_WHERE(scroll, compressor, drive_lag, "s", 0.05, 30, "lag of the speed loop in the drive"),
    SCALAR_WHERE(scroll, compressor, acceleration, "rad s-2", 0.1, 1000,
                 "largest acceleration that the drive commands"),
    SCALAR_WHERE(scroll, compressor, motor_efficiency, "1", 0.1, 1, "efficiency of motor and drive together"),
    SCALAR_WHERE(scroll, compressor, cooling, "1", 0, 1,
                 "share of the way to the shell temperature that discharge gas cools"),
    SCALAR_WHERE(scroll, compressor, shell_heat_capacity, "J K-1", 1, 10000000.0,
                 "heat capacity of the shell"),
    SCALAR_WHERE(scroll, compressor, shell_conductance, "W K-1", 0.01, 100000.0,
                 "conductance from shell to housing"),
    SCALAR_WHERE(scroll, compressor, isentropic_exponent, "1", 1.05, 1.67,
                 "isentropic exponent of the gas in the pockets"),
    SCALAR_WHERE(apertures, flow, plenum_volume, "m3", 1e-06, 100, "volume between compressor and feed line"),
    SCALAR(flow, cathode_volume, "m3", 1e-07, 10, "gas volume of cathode channels and hot manifolds"),
    SCALAR(flow, anode_volume, "m3", 1e-07, 10, "gas volume of anode channels and product line"),
    SCALAR_WHERE(apertures, flow, feed_conductance, "mol s-1 Pa-2", 1e-16, 0.001,
                 "laminar conductance of the feed line"),
    SCALAR_WHERE(apertures, flow, exhaust_aperture, "m2", 1e-10, 0.01,
                 "discharge coefficient times area of the cathode exhaust"),
    SCALAR_WHERE(apertures, flow, recycle_aperture, "m2", 0, 0.01,
                 "discharge coefficient times area of the open recycle valve"),
    SCALAR_WHERE(apertures, flow, recycle_lag, "s", 0.05, 60, "lag of the recycle valve"),
    SCALAR_WHERE(apertures, flow, recycle_slew, "s-1", 0.001, 100,
                 "fastest change of the recycle valve's opening"),
    SCALAR_WHERE(apertures, flow, product_aperture, "m2", 1e-10, 0.01,
                 "discharge coefficient times area of the oxygen outlet, hot"),
    SCALAR_WHERE(back_pressure, flow, product_below, "Pa", 0, 1e5,
                 "difference below the cathode at which the back-pressure valve begins to open"),
    SCALAR_WHERE(back_pressure, flow, product_band, "Pa", 10, 1e5, "rise of the anode that opens it in full"),
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
    SCALAR_WHERE(apertures, heat, plenum_heat_capacity, "J K-1", 1, 10000000.0,
                 "heat capacity of the plenum wall"),
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
    SCALAR_WHERE(apertures, heat, plenum_conductance, "W K-1", 0.0001, 1000000.0,
                 "conductance from plenum wall to housing"),
    SCALAR_WHERE(scroll, heat, suction_heating, "1", 0, 1,
                 "share of the way from ambient to shell that suction gas warms"),
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
    SCALAR_WHERE(turning, power, speed_max, "rad s-1", 1, 10000.0, "largest compressor speed"),
    SCALAR(power, bus_voltage, "V", 1, 1000, "supply bus voltage"),
    SCALAR_WHERE(turbo, train, design_flow, "mol s-1", 1e-4, 100, "flow that the stages are sized for"),
    SCALAR_WHERE(turbo, train, design_pressure, "Pa", 100, 1e6, "inlet pressure that they are sized for"),
    SCALAR_WHERE(turbo, train, design_temperature, "K", 150, 400,
                 "inlet temperature that they are sized for"),
    SCALAR_WHERE(turbo, train, molar_mass, "kg mol-1", 0.002, 0.2, "molar mass of the gas"),
    SCALAR_WHERE(turbo, train, isentropic_exponent, "1", 1.05, 1.67, "isentropic exponent of the gas"),
    SCALAR_WHERE(turbo, train, blade_speed, "m s-1", 50, 450,
                 "blade speed of all stages at the design point"),
    STAGES_WHERE(turbo, train, 0.2, "throat over the square of the diameter"),
    SCALAR_WHERE(turbo, train, cooling, "1", 0, 1,
                 "share of the way to the casing's temperature in a cooler"),
    SCALAR_WHERE(turbo, train, cooler_loss, "1", 0, 0.2, "share of the pressure that a cooler costs"),
    SCALAR_WHERE(turbo, train, viscous_friction, "N m s rad-1", 0, 1, "friction torque per speed"),
    DUCT_MACHINE_WHERE(turbo, train),
    STAGES_WHERE(axial, axial, 1.0, "throat over the annulus"),
    SCALAR_WHERE(axial, axial, radius, "m", 0.005, 1, "mean radius of the blades, on the drive's shaft"),
    SCALAR_WHERE(bank, bank, count, "1", 1, 1000, "machines in parallel"),
    SCALAR_WHERE(bank, bank, running, "1", 1, 1000, "of them, those that run"),
    SCALAR_WHERE(bank, bank, check_valve_leak, "mol s-1 Pa-1", 0, 1e-6,
                 "leak of the check valve of a machine that stands still"),
    SCALAR_WHERE(bank, bank, design_speed, "rad s-1", 10, 700, "speed at the design point"),
    SCALAR_WHERE(lobe, lobe, stages, "1", 1, 12, "number of stages, with a cooler behind each"),
    SCALAR_WHERE(lobe, lobe, design_flow, "mol s-1", 1e-4, 100, "flow that the stages are sized for"),
    SCALAR_WHERE(lobe, lobe, design_speed, "rad s-1", 10, 1000, "speed that they are sized for"),
    SCALAR_WHERE(lobe, lobe, design_pressure, "Pa", 100, 1e6, "inlet pressure that they are sized for"),
    SCALAR_WHERE(lobe, lobe, discharge_pressure, "Pa", 200, 1e6,
                 "pressure behind the last stage that they are sized for"),
    SCALAR_WHERE(lobe, lobe, design_temperature, "K", 150, 400, "inlet temperature that they are sized for"),
    SCALAR_WHERE(lobe, lobe, cooled_temperature, "K", 150, 400,
                 "temperature behind the coolers that they are sized for"),
    SCALAR_WHERE(lobe, lobe, isentropic_exponent, "1", 1.05, 1.67, "isentropic exponent of the gas"),
    SCALAR_WHERE(lobe, lobe, mechanical_efficiency, "1", 0.3, 1, "efficiency of rotors and gears"),
    DUCT_MACHINE_WHERE(lobe, lobe),
    SCALAR_WHERE(freezer, freezer, area, "m2", 0.01, 1000, "cold surface of a bed"),
    SCALAR_WHERE(freezer, freezer, transfer, "mol s-1 m-2 Pa-1", 1e-8, 1e-2,
                 "flow onto the surface through the gases that do not freeze"),
    SCALAR_WHERE(freezer, freezer, sweep, "m3 s-1", 1e-4, 100, "air that the fan sweeps over a bed"),
    SCALAR_WHERE(freezer, freezer, fan_pressure, "Pa", 1, 1000, "pressure rise of the fan"),
    SCALAR_WHERE(freezer, freezer, fan_efficiency, "1", 0.05, 1, "efficiency of fan and its motor"),
    SCALAR_WHERE(freezer, freezer, metal, "J K-1", 1, 1e7, "heat capacity of a surface and its vessel"),
    SCALAR_WHERE(freezer, freezer, leak, "W K-1", 0, 1000, "conductance from the housing to a cold bed"),
    SCALAR_WHERE(freezer, freezer, cooler, "W", 1, 1e6, "heat that the cooler lifts at most"),
    SCALAR_WHERE(freezer, freezer, coldest, "K", 100, 150, "surface temperature at which it lifts nothing"),
    SCALAR_WHERE(freezer, freezer, carnot_share, "1", 0.01, 1,
                 "efficiency of the cooler over that of Carnot"),
    SCALAR_WHERE(freezer, freezer, warm_end, "K", 200, 350, "temperature at which it gives its heat away"),
    SCALAR_WHERE(freezer, freezer, heating, "W K-1", 0.1, 1e5,
                 "conductance from the housing's coolant to a bed that sublimes"),
    SCALAR_WHERE(freezer, freezer, volume, "m3", 1e-4, 100, "volume of a vessel"),
    SCALAR_WHERE(freezer, freezer, full, "mol", 1, 1e6, "ice at which the cooler stops"),
    SCALAR_WHERE(freezer, freezer, vessel_pressure, "Pa", 1e3, 4e5,
                 "pressure that heating holds in the vessel that sublimes"),
    SCALAR_WHERE(freezer, freezer, header_pressure, "Pa", 1e3, 4e5,
                 "set-point of the regulator to the header"),
    SCALAR_WHERE(freezer, freezer, regulator_band, "Pa", 1, 1e4, "fall of the header that opens it in full"),
    SCALAR_WHERE(freezer, freezer, regulator, "mol s-1 Pa-1", 1e-8, 1e-2,
                 "conductance of the open regulator"),
    SCALAR_WHERE(freezer, freezer, period, "s", 60, 1e6, "both beds once: half of it a bed delivers"),
    SCALAR_WHERE(freezer, freezer, design_flow, "mol s-1", 1e-4, 100, "flow that the beds are sized for"),
    SCALAR_WHERE(freezer, freezer, blower_pressure, "Pa", 1e2, 1e5,
                 "inlet pressure of the blower that lifts recycled gas to the header"),
    SCALAR_WHERE(freezer, freezer, blower_efficiency, "1", 0.05, 1,
                 "isothermal work over the work that it draws"),
    SCALAR_WHERE(headers, headers, feed_volume, "m3", 1e-5, 100, "volume of the feed header"),
    SCALAR_WHERE(headers, headers, exhaust_volume, "m3", 1e-5, 100, "volume of the exhaust header"),
    SCALAR_WHERE(headers, headers, product_volume, "m3", 1e-5, 100, "volume of the product header"),
    SCALAR_WHERE(headers, headers, feed_heat_capacity, "J K-1", 1, 1e7, "heat capacity of its wall"),
    SCALAR_WHERE(headers, headers, exhaust_heat_capacity, "J K-1", 1, 1e7, "heat capacity of its wall"),
    SCALAR_WHERE(headers, headers, product_heat_capacity, "J K-1", 1, 1e7, "heat capacity of its wall"),
    SCALAR_WHERE(headers, headers, feed_conductance, "W K-1", 1e-4, 1e5,
                 "conductance from its wall to the housing"),
    SCALAR_WHERE(headers, headers, exhaust_conductance, "W K-1", 1e-4, 1e5,
                 "conductance from its wall to the housing"),
    SCALAR_WHERE(headers, headers, product_conductance, "W K-1", 1e-4, 1e5,
                 "conductance from its wall to the housing"),
    SCALAR_WHERE(headers, valves, feed_capacity, "1", 1e-5, 1000,
                 "K_v of the open feed valve of a module, m3/h"),
    SCALAR_WHERE(headers, valves, anti_surge_capacity, "1", 1e-5, 1000,
                 "K_v of the open anti-surge valve, m3/h"),
    SCALAR_WHERE(headers, valves, recycle_capacity, "1", 1e-5, 1000, "K_v of the open recycle valve, m3/h"),
    SCALAR_WHERE(headers, valves, exhaust_capacity, "1", 1e-5, 1000, "K_v of the open exhaust valve, m3/h"),
    SCALAR_WHERE(headers, valves, product_capacity, "1", 1e-5, 1000, "K_v of the open product valve, m3/h"),
    SCALAR_WHERE(headers, valves, choke_ratio, "1", 0.2, 1,
                 "pressure difference over inlet pressure at choke, x_T, of all valves"),
    SCALAR_WHERE(headers, valves, rangeability, "1", 0, 200,
                 "equal percentage from 1/R to 1, of all valves; 0: linear"),
    SCALAR_WHERE(headers, valves, leakage, "1", 0, 0.1, "share of the capacity that leaks when shut"),
    SCALAR_WHERE(headers, valves, lag, "s", 0.05, 60, "lag of the positioners"),
    SCALAR_WHERE(headers, valves, stroke, "s", 0.1, 600, "time from shut to open"),
    SCALAR_WHERE(headers, valves, anti_surge_stroke, "s", 0.1, 60,
                 "time from shut to open of the anti-surge valve"),
    SCALAR_WHERE(headers, valves, exhaust_line, "mol s-1 Pa-2", 1e-16, 1e-3,
                 "laminar conductance from a cathode to the exhaust header"),
    SCALAR_WHERE(headers, valves, product_line, "mol s-1 Pa-2", 1e-16, 1e-3,
                 "laminar conductance from an anode to the product header"),
    SCALAR_WHERE(headers, valves, isolation_leakage, "1", 1e-8, 0.1,
                 "share of the flow that passes a shut isolation valve"),
    SCALAR_WHERE(headers, product, tank_pressure, "Pa", 1000, 1e7, "pressure behind the product valve"),
    SCALAR_WHERE(headers, product, liquid_temperature, "K", 55, 150, "temperature of the liquid"),
    SCALAR_WHERE(headers, product, liquefier_share, "1", 0.01, 1,
                 "efficiency of the liquefier over that of Carnot"),
    SCALAR_WHERE(headers, product, liquefier_warm, "K", 200, 400,
                 "temperature at which it gives its heat away"),
    SCALAR_WHERE(headers, product, water, "1", 0, 0.1, "water in the product before the dryer"),
    SCALAR_WHERE(headers, bus, others, "W", 0, 1e7, "power that others draw from the bus"),
    SCALAR_WHERE(headers, bus, ceiling, "W", 1, 1e7, "power that the bus can give to all"),
    SCALAR_WHERE(headers, bus, droop, "1", 0, 0.5, "fall of the voltage at that power"),
    PER_MODULE(module, production, "s", 0, 1e9, "production that each module has behind it"),
    PER_MODULE(module, resistance, "1", 0.5, 3,
               "resistance of the cells of each module relative to the design"),
    PER_MODULE(module, seals, "1", 0, 1e4, "leak of the seals of each module relative to the design"),
    PER_MODULE(module, insulation, "1", 0.2, 10,
               "conductance of the insulation of each module relative to the design"),
};

#undef SCALAR
#undef SCALAR_WHERE
#undef PER_MODULE
#undef PER_CELL
#undef STAGES_WHERE
#undef DUCT_MACHINE_WHERE

}  // namespace

std::span<const ParameterInfo> parameter_table() {
  return kTable;
}

TrainSize train_size(const PlantParameters& p) {
  return size_of(p.train, p.form.intake == kAxial ? &p.axial : nullptr);
}

IntakeRating intake_rating(const PlantParameters& p) {
  switch (static_cast<Intake>(p.form.intake)) {
    case kScroll:
      return {0.0, kRatedSpeed * p.power.speed_max, p.compressor.acceleration};
    case kCentrifugal:
    case kAxial:
      return {p.train.design_flow, train_size(p).speed, p.train.acceleration};
    case kScrollBank:
      return {0.0, p.bank.design_speed, p.compressor.acceleration};
    case kLobe:
      return {p.lobe.design_flow, p.lobe.design_speed, p.lobe.acceleration};
    case kFreezer:
      return {p.freezer.design_flow, 0.0, 0.0};
  }
  return {};
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
  if (p.form.intake == kScrollBank)
    for (const auto& [path, machines] :
         {std::pair{"bank.count", p.bank.count}, std::pair{"bank.running", p.bank.running}})
      if (machines != std::floor(machines))
        problems.push_back({path, 0, "is a number of machines; expected a whole number"});
  if (p.form.intake == kScrollBank && p.bank.running > p.bank.count)
    problems.push_back({"bank.running", 0, "is larger than the number of machines, bank.count"});
  if (p.form.intake == kLobe && p.lobe.stages != std::floor(p.lobe.stages))
    problems.push_back({"lobe.stages", 0, "is a number of stages; expected a whole number"});
  if (p.form.intake == kLobe && p.lobe.discharge_pressure <= p.lobe.design_pressure)
    problems.push_back({"lobe.discharge_pressure", 0, "lies above the inlet pressure lobe.design_pressure"});
  const auto check_stages = [&problems](const StageParameters& s, const char* stages, const char* surge,
                                        const char* head) {
    if (s.stages != std::floor(s.stages))
      problems.push_back({stages, 0, "is a number of stages; expected a whole number"});
    if (s.surge_coefficient >= s.flow_coefficient)
      problems.push_back({surge, 0, "lies below the flow coefficient at the design point"});
    if (s.head >= s.peak_head) problems.push_back({head, 0, "lies below the largest head coefficient"});
  };
  if (has_turbo(p.form)) check_stages(p.train, "train.stages", "train.surge_coefficient", "train.head");
  if (p.form.intake == kAxial) {
    check_stages(p.axial, "axial.stages", "axial.surge_coefficient", "axial.head");
    if (p.axial.stages + p.train.stages > static_cast<double>(kMostStages))
      problems.push_back({"axial.stages", 0, "and train.stages are more than 12 together"});
  }
  static_assert(kMostStages == 12, "the message above says 12");
  if (p.form.intake == kFreezer && p.freezer.vessel_pressure <= p.freezer.header_pressure)
    problems.push_back({"freezer.vessel_pressure", 0, "lies above the set-point freezer.header_pressure"});
  return problems;
}

}  // namespace duskline::plant
