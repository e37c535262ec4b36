/// What each measurement should be by the others: the parity relations of the plant.
///
/// What it is   feed flow three ways, product flow three ways, pressures along the feed line, gas at the
///              outlet, power by its parts; all from measurements and the commands of the tick before
/// Equation     compressor n = eta V w p_s/(2 pi R T_s) - K (p_d^2 - p_s^2) - d(p_d V/R T)/dt apertures m = C
///              A p sqrt(M/(R T)); feed line n = G (p_d^2 - p_c^2); Faraday m = N I e M/4F power P = I
///              sum(V)/e_s + heaters/e_h + (n w + torque w)/e_m + electronics
/// Symbols      p_d, p_c, p_s [Pa] plenum, cathode, suction; n [mol/s]; m [kg/s]; w [J/mol] work, [rad/s]
///              speed; x [1] mole fraction of CO
/// Validity     apertures choked, compressor running, after the start of the flow has settled
/// Source       ideal gas, ISO 9300 flow function, Hagen-Poiseuille, Faraday; sizes: controller_parameters.h
/// Left out     wear of any of them: that is what the differences are for
#pragma once

#include "controller/detect/sensor_accuracy.hpp"
#include "controller/estimate/coke.hpp"
#include "controller/feed.hpp"

namespace duskline::controller {

/// What was commanded at the tick before.
struct Applied {
  float feed;  // of the feed device, in its unit
  float current, opening, preheater;
  float end[CTL_ENDS];
};

/// A command on its way through an actuator: its slew, then its lag.
struct Follower {
  float slewed, lagged;
};

constexpr void follow(Follower& f, float command, float reach, float period, float lag) {
  f.slewed = clamp(command, f.slewed - reach, f.slewed + reach);
  f.lagged = low_pass(f.lagged, f.slewed, period, lag);
}

/// The reading as far as one of both can be right: how quick this plant's actuator is, nobody has measured.
constexpr float between(const Follower (&f)[2], float reading) {
  return clamp(reading, min_of(f[0].lagged, f[1].lagged), max_of(f[0].lagged, f[1].lagged));
}

struct RelationMemory {
  float plenum_slow;         // Pa
  float brought;             // mol/s that the compressor brings, lagged like the rise of the plenum
  float feed;                // kg/s by the meter, lagged likewise
  float aperture;            // kg/s by the exhaust aperture, lagged likewise
  float recycled;            // kg/s through the recycle valve as commanded, part of it
  float inlet_co;            // mole fraction, without the learning of the estimator
  float analyser;            // mole fraction, lagged like the analyser
  Follower current[2];       // A, a converter that follows at best, and one that hardly does
  float oxygen;              // kg/s, lagged like anode volume and meter
  float oxygen_slow;         // kg/s
  Follower speed[2];         // rad/s, a drive likewise
  float flow_integral_time;  // s with flow
  float full_time;           // s with as much of it as in production
  float made_time;           // s with oxygen enough for its relations
};

/// Values expected of the measurements; a relation that does not hold now is not usable.
struct Relations {
  float feed_compressor, feed_aperture;     // kg/s
  float product_faraday, product_aperture;  // kg/s
  float cathode_pressure, plenum_pressure, anode_pressure;
  float ambient_pressure, ambient_temperature;  // that make the compressor bring the feed
  float outlet_co, purity;
  float current, speed;      // by command
  float power, power_motor;  // W
  float filter;              // Pa of a clean one
  float tone;                // m/s2 of the bearing as it is, at most of one that counts as worn
  float stored;              // kg/s that the plenum takes up, part of what the compressor's feed counts on
  float leak_share;          // what the compressor leaks by what it brings
  float unsettled;           // kg/s of oxygen that came within ten seconds
  float feed_slow;           // kg/s by the meter, with the lag of the other two
  float recycled;            // kg/s that the aperture's feed counts on to come back
  float feed;                // kg/s that the relations were worked out with
  bool flowing, making;
  bool producing;  // enough of it for the classes of its meters
};

inline constexpr float kCriticalFlow = 0.66545f;  // of a gas with isentropic exponent 1.29
inline constexpr float kWorkExponent = 1.29f;     // of the gas in the pockets
inline constexpr float kTwoPi = 6.28318531f;
inline constexpr float kPlenumWindow = 4.0f;     // s, over which the rise of the plenum is taken
inline constexpr float kSettled = 180.0f;        // s with flow until its relations hold
inline constexpr float kRelationFeed = 1.5e-6f;  // kg/s, least feed for them
inline constexpr float kFullShare = 0.3f;        // of the largest current
inline constexpr float kRelationCurrent = 0.3f;  // A, least current for the product's

// Of the demo plant's converter and drive, by the ends of their ranges: lags, and the slowest rate over that of the
// command (0.2 A/s of 0.5; 8 rad/s2 of 20).
inline constexpr float kQuickLag = 0.1f, kSlowLag = 1.0f;  // s
inline constexpr float kSlowRate = 0.4f;
inline constexpr float kUnbounded = 1e6f;

/// Mass flow of a choked aperture, kg/s.
constexpr float choked_flow(float aperture, float pressure, float molar_mass, float temperature) {
  return kCriticalFlow * aperture * pressure *
         square_root(molar_mass / (kGasConstant * max_of(50.0f, temperature)));
}

/// Work on the gas per R T_s in a machine of fixed volume ratio.
constexpr float scroll_work(const ctl_params& p, float pressure_ratio) {
  const float v = p.compressor_volume_ratio, k = kWorkExponent, vk = power_of(v, k);
  return k / (k - 1.0f) * (vk / v - 1.0f) + (pressure_ratio - vk) / v;
}

inline Relations relate(RelationMemory& m, const ctl_params& p, const Signals& y, const Applied& u,
                        float stack_temperature, float measured_co = 0.0f) {
  Relations r{};
  const float p_air = max_of(50.0f, y[in_ambient_pressure]);
  const float p_suction = max_of(20.0f, p_air - y[in_filter_differential_pressure]);
  const float p_plenum = y[in_plenum_pressure], p_cathode = y[in_cathode_pressure];
  const float t_air = y[in_ambient_temperature], t_plenum = max_of(100.0f, y[in_plenum_temperature]);
  const float t_suction = max_of(80.0f, t_air + p.suction_heating * (y[in_compressor_temperature] - t_air));
  r.feed = max_of(0.0f, y[in_feed_flow]);

  // composition, with the recycle valve as commanded and no learning
  const float carbon = p.air_co2_fraction;
  const float inlet_co = clamp(m.inlet_co, 0.0f, 0.98f * carbon);
  const float molar_in = p.air_molar_mass - inlet_co * kOxygenAtomMass;
  const float moles = max_of(kLeastFeed, r.feed / molar_in);
  const float current = max_of(0.0f, y[in_stack_current]);
  const float made = clamp(converted(p, current) / moles, 0.0f, 0.98f * (carbon - inlet_co));
  const float outlet_co = inlet_co + made;
  const float molar_out = p.air_molar_mass - outlet_co * kOxygenAtomMass;
  const float t_exhaust = y[in_housing_temperature];
  const float recycle = choked_flow(p.recycle_aperture * u.opening, p_cathode, molar_out, t_exhaust);
  const float share = clamp(recycle / molar_out / moles, 0.0f, 0.9f);
  const float held = max_of(1e-6f, p_plenum * p.plenum_volume / (kGasConstant * t_plenum));
  const float renewed = p.period * moles / held;
  m.inlet_co = (inlet_co + renewed * share * outlet_co) / (1.0f + renewed);
  if (measured_co > 0.0f && measured_co <= 1.0f) m.inlet_co = measured_co;
  m.analyser = low_pass(m.analyser, outlet_co, p.period, p.analyser_lag);
  r.outlet_co = m.analyser;

  // compressor
  m.feed = low_pass(m.feed, r.feed, p.period, kPlenumWindow);
  const float rise = (p_plenum - m.plenum_slow) / (kPlenumWindow + p.period);
  m.plenum_slow = low_pass(m.plenum_slow, p_plenum, p.period, kPlenumWindow);
  const float swept = p.compressor_swept * p.compressor_displacement * y[in_compressor_speed] * p_suction /
                      (kTwoPi * kGasConstant * t_suction);
  const float leaked = p.compressor_leakage * (p_plenum * p_plenum - p_suction * p_suction);
  const float stored = rise * p.plenum_volume / (kGasConstant * t_plenum);
  m.brought = low_pass(m.brought, swept - leaked, p.period, kPlenumWindow);
  r.feed_slow = m.feed;
  r.feed_compressor = max_of(0.0f, (m.brought - stored) * molar_in);
  r.stored = stored * molar_in;
  r.leak_share = leaked / max_of(1e-9f, m.feed / molar_in);

  const float wanted = m.feed / molar_in + leaked + stored, per = max_of(1e-12f, swept);
  r.ambient_pressure = p_suction * wanted / per + y[in_filter_differential_pressure];
  const float shell = p.suction_heating * y[in_compressor_temperature];
  r.ambient_temperature =
      (t_suction * per / max_of(1e-9f, wanted) - shell) / max_of(0.1f, 1.0f - p.suction_heating);

  // apertures and feed line
  const float leak = p.seal_leak * (p_cathode - y[in_anode_pressure]);  // mol/s into the product
  const float oxygen = oxygen_rate(p, current);
  const float out =
      choked_flow(p.exhaust_aperture, p_cathode, molar_out, t_exhaust) + recycle + oxygen + leak * molar_out;
  m.aperture = low_pass(m.aperture, out, p.period, kPlenumWindow);
  r.feed_aperture = m.aperture;
  m.recycled = low_pass(m.recycled, recycle, p.period, kPlenumWindow);
  r.recycled = m.recycled;
  const float line = moles / p.feed_conductance;
  r.cathode_pressure = square_root(max_of(1.0f, p_plenum * p_plenum - line));
  r.plenum_pressure = square_root(p_cathode * p_cathode + line);

  // product
  const float moles_made = oxygen / kOxygenMolarMass;
  m.oxygen = low_pass(m.oxygen, oxygen + leak * molar_out, p.period, 2.0f);
  m.oxygen_slow = low_pass(m.oxygen_slow, m.oxygen, p.period, 10.0f);
  r.product_faraday = m.oxygen;
  r.unsettled = m.oxygen - m.oxygen_slow;
  r.purity = moles_made / max_of(1e-9f, moles_made + max_of(0.0f, leak));
  const float product_mass = r.purity * kOxygenMolarMass + (1.0f - r.purity) * molar_out;
  const float per_pascal = choked_flow(p.product_aperture, 1.0f, product_mass, stack_temperature);
  r.product_aperture = per_pascal * y[in_anode_pressure];
  r.anode_pressure = r.product_faraday / per_pascal;

  // commands and power
  follow(m.current[0], u.current, kUnbounded, p.period, kQuickLag);
  follow(m.current[1], u.current, kSlowRate * p.current_rate_down * p.period, p.period, kSlowLag);
  const float commanded = feed_row(p).compressor ? u.feed : 0.0f;
  follow(m.speed[0], commanded, kUnbounded, p.period, kQuickLag);
  follow(m.speed[1], commanded, kSlowRate * p.speed_rate * p.period, p.period, kSlowLag);
  r.current = between(m.current, y[in_stack_current]);
  r.speed = between(m.speed, y[in_compressor_speed]);
  const float speed = max_of(0.0f, y[in_compressor_speed]);
  const float gas = max_of(0.0f, swept) * kGasConstant * t_suction * scroll_work(p, p_plenum / p_suction);
  // what the tone tells of the bearing, up to where it counts as worn, belongs to the machine as it is
  const float turn = speed * (1.0f / 300.0f), new_tone = p.bearing_tone * turn * turn;
  const bool heard = y.has(in_bearing_vibration) && new_tone > 0.02f;
  const float louder = heard ? clamp(y[in_bearing_vibration] / new_tone, 1.0f, p.tone_max) : 1.0f;
  r.tone = new_tone * louder;
  const float torque = p.friction_torque * (1.0f + (louder - 1.0f) * (3.0f / 9.0f));
  const float friction = torque * speed / square_root(speed * speed + 25.0f) + p.viscous_friction * speed;
  r.power_motor = max_of(0.0f, gas + friction * speed) / p.motor_efficiency;
  float heaters = u.preheater;
  for (const float power : u.end) heaters += power;
  r.power = current * stack_voltage(p, y) / p.stack_converter + heaters / p.heater_converter + r.power_motor +
            p.electronics_power;
  // free-molecular flow in the mat: the loss follows the flow and the root of the temperature, not the pressure
  const float taken = max_of(0.0f, swept - leaked - recycle / molar_out);
  r.filter = p.filter_resistance * taken * square_root(max_of(50.0f, t_air) * (1.0f / 240.0f));

  const bool turns = !feed_row(p).compressor || speed > 0.5f * p.speed_min;
  const bool running = r.feed > kRelationFeed && p_cathode > 3.0f * p_air && turns;
  m.flow_integral_time = running ? min_of(m.flow_integral_time + p.period, 1e6f) : 0.0f;
  r.flowing = m.flow_integral_time > kSettled;
  const bool makes = current > kRelationCurrent && y[in_anode_pressure] > 3.0f * p_air;
  m.made_time = makes ? min_of(m.made_time + p.period, 1e6f) : 0.0f;
  r.making = r.flowing && m.made_time > kSettled;
  m.full_time = makes && current > kFullShare * p.current_max ? min_of(m.full_time + p.period, 1e6f) : 0.0f;
  r.producing = r.making && m.full_time > kSettled;
  return r;
}

}  // namespace duskline::controller
