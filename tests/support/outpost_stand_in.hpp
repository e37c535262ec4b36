/// Several simple modules between headers, fed by a train of nine stages, for tests of the plant controller.
///
/// What it is   duct and feed header after Greitzer, exhaust and oxygen headers, five control valves; each module follows
///              its orders as its own controller would: ramps, valve for the feed that it wants, oxygen as far as it may
/// Equation     sums of flows into volumes of ideal gas at 300 K; feed of a module 5.2 kg per kg of oxygen
/// Symbols      SI
/// Validity     trends of minutes; steps of 10 ms
/// Left out     all that happens inside a module
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <vector>

#include "controller/include/plant_controller.h"
#include "plant-model/compressors/centrifugal.hpp"
#include "plant-model/compressors/surge.hpp"
#include "plant-model/flow/control_valve.hpp"

namespace duskline::test {

struct ModuleStandIn {
  double temperature = 1073.0, oxygen{}, flow{}, heating{};    // K, kg/s, kg/s, W
  double margin = 0.08, age{}, most = 1.6e-4, warming = 0.05;  // V, ohm m2, kg/s that it can make, K/s
  std::uint32_t mode = CTL_STANDBY, diagnosed{}, response{};
  bool limited{};

  static constexpr double kProtective = 1e-5, kFeed = 5.2, kLeastFeed = 1e-4;  // kg/s, kg/kg, kg/s
  bool warm() const { return temperature > 870.0; }
  double wanted() const {
    return warm() && mode != CTL_SAFE && mode != CTL_OFF ? std::max(kLeastFeed, kFeed * (oxygen + 4e-6))
                                                         : 0.0;
  }
  double power() const { return heating + oxygen * 1.79e7; }

  void follow(const ctl_module_order& o, double period) {
    const bool on = o.requested_mode == CTL_STANDBY || o.requested_mode == CTL_PRODUCTION;
    if (o.requested_mode == CTL_SAFE) mode = CTL_SAFE;
    if (mode == CTL_SAFE && on) mode = CTL_STANDBY;
    if (mode == CTL_SAFE && o.requested_mode == CTL_OFF) mode = CTL_COOL_DOWN;
    if (on && (mode == CTL_OFF || mode == CTL_COOL_DOWN)) mode = CTL_WARM_UP;
    if (mode == CTL_WARM_UP && temperature > 1060.0) mode = CTL_STANDBY;
    if (mode == CTL_STANDBY && temperature < 1040.0) mode = CTL_WARM_UP;
    if (mode == CTL_STANDBY && o.requested_mode == CTL_PRODUCTION && flow > 0.5 * kLeastFeed)
      mode = CTL_PRODUCTION;
    if (mode == CTL_PRODUCTION && o.requested_mode != CTL_PRODUCTION) mode = CTL_STANDBY;
    if (o.requested_mode == CTL_OFF && mode != CTL_OFF) mode = temperature > 400.0 ? CTL_COOL_DOWN : CTL_OFF;

    const bool heats = mode == CTL_WARM_UP;
    const double wanted = heats ? 3000.0 : mode == CTL_STANDBY || mode == CTL_PRODUCTION ? 150.0 : 0.0;
    const double ceiling = std::isfinite(o.power_ceiling) ? o.power_ceiling : 1e9;
    heating = std::min(wanted, ceiling);
    if (heats) temperature = std::min(1073.0, temperature + warming * period * heating / 3000.0);
    if (mode == CTL_COOL_DOWN || mode == CTL_SAFE)
      temperature = std::max(250.0, temperature - warming * period);

    double asked = !warm() || mode == CTL_SAFE || mode == CTL_OFF ? 0.0
                   : mode == CTL_PRODUCTION ? std::max<double>(kProtective, o.oxygen_demand)
                                            : kProtective;
    const double by_feed = flow / kFeed;
    const double may = std::min({most, by_feed, std::max(0.0, ceiling - heating) / 1.79e7});
    limited = asked > most;
    asked = std::min(asked, may);
    oxygen = std::clamp(asked, std::max(0.0, oxygen - 4e-5 * period), oxygen + 2e-6 * period);
  }

  ctl_module_report report() const {
    ctl_module_report r{};
    r.feed_wanted = static_cast<float>(wanted());
    r.feed_flow = static_cast<float>(flow);
    r.oxygen_rate = static_cast<float>(oxygen);
    r.coke_margin = static_cast<float>(margin);
    r.coke_sigma = 0.004F;
    r.added_resistance = static_cast<float>(age);
    r.power = static_cast<float>(power());
    r.heating = static_cast<float>(heating);
    r.temperature = r.hottest = static_cast<float>(temperature);
    r.mode = mode;
    r.limiter = limited ? CTL_BY_COKE_MARGIN : CTL_BY_DEMAND;
    r.response = response;
    r.diagnosed = diagnosed;
    return r;
  }
};

class OutpostStandIn {
 public:
  explicit OutpostStandIn(std::size_t count = 6) : module(count) {
    plant::TurboStage like;
    like.surge_flow = 0.06, like.design_flow = 0.08, like.throat = 0.2;
    like.shutoff_head = 0.471, like.head_height = 0.0245, like.efficiency = 0.8, like.efficiency_fall = 0.5;
    const plant::CentrifugalDesign design{.gas = {kMass, kExponent, 1.2177e-5},
                                          .between = {.coolant = 300.0, .cooling = 1.0},
                                          .like = like,
                                          .flow = 0.104,
                                          .pressure = 700.0,
                                          .temperature = 240.0,
                                          .blade_speed = 250.0};
    gas_ = design.gas, between_ = design.between;
    plant::size_train(design, stages_);
    anti_surge_ = valve(7e-3, 65e3, 700.0);
    recycle_ = valve(2e-3, 55e3, 700.0);
    exhaust_ = valve(1e-2, 55e3, 700.0);
    product_ = valve(2e-3, 55e3, 700.0);
    feed_ = valve(2e-3, 65e3, 55e3);
  }

  std::vector<ModuleStandIn> module;
  double speed = 4000.0, flow = 0.1, header = 65e3, exhaust = 55e3, product = 55.5e3;  // rad/s, mol/s, Pa
  double co = 0.03, liquefier = 1.0, work{}, least_margin = 1e9, across{};
  int reversals = 0;
  std::array<double, 5> position{0.0, 0.0, 0.3, 0.4, 0.4};  // speed unused, then the valves of the list

  double surge_margin() const { return train(flow).surge_margin; }
  double compressor_power() const { return std::max(0.0, flow) * work / 0.9; }
  double bus_power() const {
    double sum = compressor_power() + 500.0 + liquefier * product_out_ * kOxygen * 5.4e6;
    for (const ModuleStandIn& m : module) sum += m.power();
    return sum;
  }
  double oxygen() const {
    double sum = 0.0;
    for (const ModuleStandIn& m : module) sum += m.oxygen;
    return sum;
  }

  /// The surge line of its train, at the speeds and the suction of the controller's map.
  void size_map(ctl_plant_params& p) const {
    p.map_speed = 4000.0F;
    float flow = 0.0F, ratio = 1.0F;  // of the row before; the rows rise
    for (std::size_t row = 0; row < CTL_PLANT_MAP_ROWS; ++row) {
      double low = 1e-3, high = 0.3;  // mol/s
      const double at = 4000.0 * static_cast<double>(p.map_speed_share[row]);
      for (int n = 0; n < 40; ++n) {
        const double middle = 0.5 * (low + high);
        (train(middle, at).surge_margin < 0.0 ? low : high) = middle;
      }
      const double ratio_there = train(high, at).pressure / 700.0;
      p.map_surge_flow[row] = flow = std::max(static_cast<float>(high * kMass), 1.001F * flow);
      p.map_ratio[row] = ratio = std::max(static_cast<float>(ratio_there), 1.001F * ratio);
    }
  }

  ctl_plant_inputs sense() const {
    const auto f = [](double x) { return static_cast<float>(x); };
    ctl_plant_inputs in{};
    in.ambient_pressure = in.suction_pressure = 700.0F;
    in.ambient_temperature = 240.0F;
    in.compressor_speed = f(speed), in.compressor_flow = f(flow * kMass);
    in.discharge_pressure = in.feed_header_pressure = f(header);
    in.discharge_temperature = 350.0F, in.compressor_vibration = 3.0F;
    in.feed_header_temperature = in.exhaust_header_temperature = in.housing_temperature = 300.0F;
    in.feed_header_co_fraction = f(co);
    in.exhaust_header_pressure = f(exhaust), in.product_header_pressure = f(product);
    in.product_oxygen_fraction = 0.99F, in.product_flow = f(product_out_ * kOxygen);
    in.bus_voltage = 120.0F, in.bus_power = f(bus_power());
    in.power_ceiling = std::numeric_limits<float>::quiet_NaN();
    for (std::size_t k = 0; k < module.size(); ++k) {
      in.service[k] = CTL_SERVICE_IN;
      in.module[k] = module[k].report();
    }
    return in;
  }

  /// A control period; `guarded`: the anti-surge valve is connected.
  void move(const ctl_plant_outputs& out, double period, bool guarded = true) {
    liquefier = (out.shed & CTL_SHED_LIQUEFIER) != 0 ? 0.0 : 1.0;
    for (std::size_t k = 0; k < module.size(); ++k) module[k].follow(out.order[k], period);
    constexpr double kStep = 0.01;
    const std::array<double, 5> asked{0.0, guarded ? static_cast<double>(out.anti_surge_opening) : 0.0,
                                      static_cast<double>(out.recycle_opening),
                                      static_cast<double>(out.exhaust_opening),
                                      static_cast<double>(out.product_opening)};
    for (int n = 0; n < static_cast<int>(period / kStep + 0.5); ++n) step(out, asked, kStep);
    least_margin = std::min(least_margin, surge_margin());
    across = std::max(across, std::abs(product - exhaust));
  }

 private:
  static constexpr double kMass = 0.0440095, kOxygen = 0.0319988, kExponent = 1.3, kT = 300.0;
  static constexpr double kFeedVolume = 0.2, kExhaustVolume = 0.2, kProductVolume = 0.05;  // m3
  static constexpr double kSuctionTime = 0.5;  // s, in which gas mixes before the first stage

  static plant::ControlValve valve(double capacity, double p1, double p2) {
    plant::ControlValve v;
    v.choke_ratio = 0.7, v.rangeability = 0.0;  // linear
    v.capacity = plant::capacity_for(v, kExponent, kMass, capacity, p1, kT, p2);
    return v;
  }
  static double through(const plant::ControlValve& v, double travel, double p1, double p2,
                        double mass = kMass) {
    return plant::valve_flow(v, kExponent, travel, p1, kT, mass, p2, kT, mass);
  }
  template <class S>
  plant::TrainResult<S> train(const S& n, double shaft, double temperature = 240.0) const {
    return plant::turbo_train<S>(stages_, gas_, between_, n, S(700.0), S(temperature),
                                 S(std::max(shaft, 100.0)));
  }
  template <class S>
  plant::TrainResult<S> train(const S& n) const {
    return train<S>(n, speed, suction_);
  }

  void step(const ctl_plant_outputs& out, const std::array<double, 5>& asked, double h) {
    speed += std::clamp(static_cast<double>(out.compressor_speed) - speed, -100.0 * h, 100.0 * h);
    for (std::size_t k = 1; k < 5; ++k) position[k] += std::clamp(asked[k] - position[k], -h / 1.5, h / 1.5);
    const plant::SurgeDuct duct{.area = 2.5e-4, .length = 10.0};
    const auto rate = plant::duct_acceleration(duct, kMass, train(plant::Dual<1>(flow, 0)).pressure,
                                               plant::Dual<1>(header));
    const bool reverse = flow < 0.0;
    flow += h * rate.value / (1.0 - h * std::min(rate.slope[0], 0.0));
    reversals += flow < 0.0 && !reverse ? 1 : 0;
    work = train(flow).work;

    const double back = through(anti_surge_, position[1], header, 700.0);
    const double recycled = through(recycle_, position[2], exhaust, 700.0);
    const double left = through(exhaust_, position[3], exhaust, 700.0);
    product_out_ = through(product_, position[4], product, 700.0, kOxygen);
    double taken = 0.0, made = 0.0;
    for (std::size_t k = 0; k < module.size(); ++k) {
      ModuleStandIn& m = module[k];
      // a valve that is moved to what it should pass, at once
      const double full = through(feed_, 1.0, header, exhaust);
      const double wanted = out.order[k].feed_opening_max > 0.0F ? m.wanted() / kMass : 0.0;
      const double n = full > 0.0 ? std::min(wanted, full) : 0.0;
      m.flow = n * kMass;
      taken += n;
      made += std::min(m.oxygen / kOxygen, 0.5 * n);
    }
    const double outlet_co = co + (taken > 0.0 ? 2.0 * made / taken : 0.0);
    const double drawn = std::max(flow, 1e-3);
    const double mixed = 240.0 + std::min(1.0, (back + recycled) / drawn) * (kT - 240.0);
    suction_ += h / kSuctionTime * (mixed - suction_);
    const double inlet_co = std::min(1.0, (recycled * outlet_co + back * co) / drawn);
    const auto fill = [h](double volume) { return h * plant::kGasConstant * kT / volume; };
    co += h * drawn * (inlet_co - co) / (std::max(header, 700.0) * kFeedVolume / (plant::kGasConstant * kT));
    header = std::max(700.0, header + fill(kFeedVolume) * (flow - taken - back));
    exhaust = std::max(700.0, exhaust + fill(kExhaustVolume) * (taken - left - recycled));
    product = std::max(700.0, product + fill(kProductVolume) * (made - product_out_));
  }

  plant::StageGas gas_{};
  plant::Intercooling between_{};
  std::vector<plant::TurboStage> stages_ = std::vector<plant::TurboStage>(9);
  plant::ControlValve anti_surge_, recycle_, exhaust_, product_, feed_;
  double product_out_{}, suction_ = 240.0;  // mol/s; K, of air and what comes back
};

/// The plant controller around the stand-in.
struct OutpostRig {
  ctl_plant_params params{};
  ctl_plant_state state{};
  ctl_plant_inputs in{};
  ctl_plant_outputs out{};
  OutpostStandIn plant;
  std::array<std::uint32_t, CTL_PLANT_MODULES> service{};
  double demand = 3.0 / 3600.0;
  double ceiling = std::numeric_limits<double>::quiet_NaN();
  std::uint32_t request = CTL_PLANT_PRODUCTION;
  bool guarded = true;

  explicit OutpostRig(std::size_t count = 6) : plant(count) {
    ctl_plant_default_params(&params);
    plant.size_map(params);
    service.fill(CTL_SERVICE_ABSENT);
    for (std::size_t k = 0; k < count; ++k) service[k] = CTL_SERVICE_IN;
    ctl_plant_init(&state, &params);
  }
  bool step() {
    const std::uint32_t tick = in.tick + 1;
    in = plant.sense();
    in.tick = tick;
    in.oxygen_demand = static_cast<float>(demand);
    in.power_ceiling = static_cast<float>(ceiling);
    in.requested_mode = request;
    std::copy(service.begin(), service.end(), in.service);
    const bool good = ctl_plant_step(&state, &params, &in, &out) == CTL_OK;
    plant.move(out, static_cast<double>(params.period), guarded);
    return good;
  }
  void run(double seconds) {
    for (double t = 0.0; t < seconds; t += static_cast<double>(params.period)) step();
  }
  /// Seconds until the condition holds, or -1.
  template <class Condition>
  double until(double most, const Condition& condition) {
    for (double t = 0.0; t < most; t += static_cast<double>(params.period)) {
      step();
      if (condition()) return t;
    }
    return -1.0;
  }
};

}  // namespace duskline::test
