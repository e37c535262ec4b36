// The plant controller around simple modules, headers and a train that can surge (tests/support/outpost_stand_in.hpp),
// and around the model of the outpost.
#include <catch2/catch.hpp>

#include "hil-harness/loop/shared_side.hpp"
#include "tests/support/outpost.hpp"
#include "tests/support/outpost_stand_in.hpp"

using duskline::test::OutpostRig;
using namespace duskline;

namespace {

constexpr double kHour = 3600.0;

/// Six modules at 3 kg/h, in order for 15 min.
OutpostRig at_full_load() {
  OutpostRig rig;
  rig.run(900.0);
  REQUIRE(rig.out.mode == CTL_PLANT_PRODUCTION);
  rig.plant.least_margin = 1e9, rig.plant.across = 0.0;
  return rig;
}

/// The demand moves to a share of 3 kg/h over some time.
void ramp(OutpostRig& rig, double share, double seconds) {
  const double from = rig.demand, to = share * 3.0 / kHour;
  for (double t = 0.0; t < seconds; t += 1.0) {
    rig.demand = from + (to - from) * t / seconds;
    rig.step();
  }
  rig.demand = to;
}

/// The plant of outpost.yaml with its instruments, actuators and plant controller. In place of the module controllers: the
/// current that the order asks for, the feed for it by a PI on the valve, heat by a PI on the zones.
class ModelledOutpost {
 public:
  ModelledOutpost() {
    plant_.set_boundary(tests::afternoon(), 0.0);
    side_.inputs().requested_mode = CTL_PLANT_PRODUCTION;
    side_.inputs().power_ceiling = std::numeric_limits<float>::quiet_NaN();
    for (std::size_t k = 0; k < u_.size(); ++k) side_.inputs().service[k] = CTL_SERVICE_IN;
  }
  void run(double demand, int seconds) {
    side_.inputs().oxygen_demand = static_cast<float>(demand);
    for (int n = 0; n < seconds; ++n) tick();
  }
  const ctl_plant_outputs& orders() const { return side_.orders(); }
  /// The headers stand at the set-points of the controller, within the errors of its instruments and 0.5 %.
  void check_pressures() const {
    CHECK(shared.truth.feed_header_pressure == Approx(65e3).epsilon(0.01));
    CHECK(shared.truth.exhaust_header_pressure == Approx(55e3).epsilon(0.01));
    CHECK(shared.truth.product_header_pressure - shared.truth.exhaust_header_pressure ==
          Approx(500.0).margin(300.0));
    CHECK(shared.truth.feed_header_co_fraction == Approx(0.02).margin(0.005));  // its zero error: 0.0025
  }

  std::vector<plant::PlantOutputs> modules = std::vector<plant::PlantOutputs>(6);
  plant::SharedOutputs shared{};
  double least_margin = 1e9, greatest_across = 0.0;  ///< 1, Pa

 private:
  static constexpr double kFull = 3.0 / kHour / 6.0, kCurrent = 34.9, kFeed = 0.83e-3;  // kg/s, A, kg/s
  double share(std::size_t k) const {
    const ctl_module_order& order = side_.orders().order[k];
    const bool makes = order.requested_mode == CTL_PRODUCTION;
    return makes ? std::max(0.06, static_cast<double>(order.oxygen_demand) / kFull) : 0.06;
  }

  void tick() {
    plant_.observe(x_, f_, modules, shared);
    least_margin = std::min(least_margin, shared.surge_margin);
    greatest_across = std::max(greatest_across, std::abs(shared.truth.product_header_pressure -
                                                         shared.truth.exhaust_header_pressure));
    side_.sense(shared, tick_);
    for (std::size_t k = 0; k < u_.size(); ++k) report(modules[k], share(k), side_.inputs().module[k]);
    REQUIRE(side_.control(static_cast<double>(tick_)).reason == plant::RunEnd::reached_end);
    for (std::size_t k = 0; k < u_.size(); ++k) follow(k);
    plant_.set_commands(u_, side_.actuate(true));
    plant_.command_rates(x_, f_);
    const double t = static_cast<double>(tick_++);
    REQUIRE(integrator_.advance_with(plant_, x_, f_, t, t + 1.0).ok());
  }
  static void report(const plant::PlantOutputs& m, double share, ctl_module_report& r) {
    const auto f = [](double x) { return static_cast<float>(x); };
    r.feed_wanted = f(kFeed * std::max(0.12, share));
    r.feed_flow = f(m.feed_flow), r.oxygen_rate = f(m.oxygen_made);
    r.coke_margin = f(m.min_margin), r.coke_sigma = 0.004F;
    r.power = f(m.stack_power + m.heater_power), r.heating = f(m.heater_power);
    const auto [least, most] = std::minmax_element(m.zone_temperature.begin(), m.zone_temperature.end());
    r.temperature = f(*least), r.hottest = f(*most);
    r.mode = CTL_PRODUCTION, r.limiter = CTL_BY_DEMAND;
  }
  void follow(std::size_t k) {
    const plant::PlantOutputs& m = modules[k];
    double mean = 0.0;
    for (const double zone : m.zone_temperature) mean += zone / static_cast<double>(plant::kZones);
    const double heat = loops_[k].heat(1073.15 - mean, 1.0);
    u_[k].end_power = {heat, heat};
    u_[k].preheater_power = 100.0;
    const double ramp = 0.05, asked = kCurrent * share(k);  // A/s
    u_[k].stack_current += std::clamp(asked - u_[k].stack_current, -ramp, ramp);
    const double wanted = kFeed * std::max(0.12, u_[k].stack_current / kCurrent);
    const auto most = static_cast<double>(side_.orders().order[k].feed_opening_max);
    u_[k].feed_opening = std::min(most, loops_[k].feed(wanted - m.feed_flow, 1.0));
  }
  static ctl_plant_params controller() {
    ctl_plant_params params;
    ctl_plant_default_params(&params);
    return params;
  }

  struct ModuleLoop {
    tests::LoopPi heat{60, 600, 0, 900, 200}, feed{300, 3, 0, 1, 0.7};
  };
  const plant::PlantParameters p_ = tests::outpost();
  plant::Plant plant_{p_};
  plant::State x_ = plant::producing_state(p_, tests::afternoon(), 1073.15, 0.4), f_;
  plant::IntegratorOn<plant::State> integrator_ = tests::module_integrator(plant_.layout(), true);
  std::vector<plant::ModuleCommands> u_ =
      std::vector<plant::ModuleCommands>(6, {.stack_current = kCurrent, .feed_opening = 0.7});
  harness::InProcessOf<harness::PlantController> link_{controller()};
  harness::SharedSide side_{p_, controller(), link_, {4050.0, 0.0, 0.5, 0.7, 0.7, 1.0}, 1};
  std::vector<ModuleLoop> loops_ = std::vector<ModuleLoop>(6);
  std::int64_t tick_ = 0;
};

}  // namespace

TEST_CASE("The plant controller holds the modelled outpost by its instruments, also turned down") {
  ModelledOutpost o;
  o.run(3.0 / kHour, 900);
  o.check_pressures();
  CHECK(o.shared.oxygen_delivered * kHour == Approx(3.0).epsilon(0.01));
  CHECK(o.shared.anti_surge_opening < 1e-6);      // the actuator closes by a lag
  o.least_margin = 1e9, o.greatest_across = 0.0;  // the start from given pressures is over
  for (int n = 0; n < 300; ++n) o.run(3.0 / kHour * (1.0 - 0.5 * n / 300.0), 1);
  o.run(1.5 / kHour, 900);
  o.check_pressures();
  CHECK(o.shared.oxygen_delivered * kHour == Approx(1.5).epsilon(0.02));
  CHECK(o.shared.anti_surge_opening > 0.1);
  // the controller reckons by the ratio of the whole machine with its coolers at 290 K, the model by the stage that is nearest
  // to surge with coolers that are warmer: the estimate stands on the cautious side
  CHECK(static_cast<double>(o.orders().surge_margin) < o.shared.surge_margin + 0.02);
  CHECK(static_cast<double>(o.orders().surge_margin) > o.shared.surge_margin - 0.12);
  CHECK(o.least_margin > 0.08);       // the line at which the valve opens fully
  CHECK(o.greatest_across < 2000.0);  // the limit is 5 kPa
  CHECK(o.orders().tripped == 0);
}

TEST_CASE("Without power the machine of the headers stops, and its valves go where their rows say") {
  ctl_plant_params params;
  ctl_plant_default_params(&params);
  harness::InProcessOf<harness::PlantController> link(params);
  harness::SharedSide side(tests::outpost(), params, link, {4050.0, 0.2, 0.5, 0.7, 0.6, 1.0}, 1);
  const plant::SharedCommands u = side.actuate(false);
  CHECK(u.compressor_speed == 0.0);
  CHECK(u.anti_surge_opening == 1.0);
  CHECK(u.recycle_opening == 0.5);
  CHECK(u.exhaust_opening == 1.0);
  CHECK(u.product_opening == 1.0);
}

TEST_CASE("Six modules make 3 kg/h at their pressures") {
  OutpostRig rig = at_full_load();
  CHECK(rig.plant.oxygen() * kHour == Approx(3.0).epsilon(0.005));
  CHECK(rig.plant.header == Approx(65e3).epsilon(0.005));
  CHECK(rig.plant.exhaust == Approx(55e3).epsilon(0.005));
  CHECK(rig.plant.product - rig.plant.exhaust == Approx(500.0).margin(100.0));
  CHECK(rig.plant.co == Approx(0.02).epsilon(0.02));
  CHECK(rig.out.anti_surge_opening == 0.0F);
  // the margin that the controller estimates from its map is that of the train, but for the gas: 1.5 % heavier than its air
  CHECK(static_cast<double>(rig.out.surge_margin) == Approx(rig.plant.surge_margin()).margin(0.06));
  CHECK(rig.out.limiter == CTL_PLANT_BY_DEMAND);
  CHECK(rig.out.alarms_active == 0);
}

TEST_CASE("Turned down to 30 % and back the train does not surge and the cells keep their pressure") {
  OutpostRig rig = at_full_load();
  ramp(rig, 0.3, 300.0);
  rig.run(900.0);
  CHECK(rig.plant.oxygen() * kHour == Approx(0.9).epsilon(0.06));  // one module at standby, protected
  CHECK(rig.out.anti_surge_opening > 0.1F);
  CHECK(rig.out.surge_margin == Approx(rig.params.surge_line).margin(0.03));  // the control line
  ramp(rig, 1.0, 300.0);
  rig.run(900.0);
  CHECK(rig.plant.oxygen() * kHour == Approx(3.0).epsilon(0.01));
  CHECK(rig.plant.reversals == 0);
  CHECK(rig.plant.least_margin > 0.08);  // the line at which the valve opens fully
  CHECK(rig.plant.across < 2000.0);      // the limit is 5 kPa
  CHECK(rig.out.mode == CTL_PLANT_PRODUCTION);
}

TEST_CASE("Without its anti-surge valve the same plant surges and trips") {
  OutpostRig rig = at_full_load();
  rig.guarded = false;
  ramp(rig, 0.3, 300.0);
  const double tripped = rig.until(600.0, [&] { return rig.out.mode == CTL_PLANT_SAFE; });
  CHECK(rig.out.mode == CTL_PLANT_SAFE);
  CHECK(tripped >= 0.0);
  CHECK(rig.out.tripped == CTL_PLANT_SURGED);
  CHECK(rig.plant.reversals >= 2);
  CHECK(rig.out.compressor_speed == 0.0F);
  rig.run(600.0);
  CHECK(rig.plant.across < 5000.0);  // both outlet headers empty together
  CHECK(rig.plant.exhaust < 5000.0);
}

TEST_CASE("One module falls out and the others take its share") {
  OutpostRig rig = at_full_load();
  rig.demand = 2.7 / kHour;
  rig.run(300.0);
  rig.plant.module[2].mode = CTL_SAFE;
  rig.run(600.0);
  CHECK(rig.out.order[2].requested_mode == CTL_SAFE);
  CHECK(rig.plant.oxygen() * kHour == Approx(2.7).epsilon(0.01));
  CHECK(rig.plant.reversals == 0);
  CHECK(rig.plant.least_margin > 0.0);
  CHECK(rig.plant.across < 5000.0);
  CHECK(rig.plant.header == Approx(65e3).epsilon(0.02));
}

// Before, the valve opened by the share of the flow at surge: 1.6 times what was shut off, and the header fell to 53 kPa.
TEST_CASE("All modules fall out in a moment: no surge while the machine runs on, and the header stays full") {
  OutpostRig rig = at_full_load();
  for (auto& m : rig.plant.module) m.oxygen = 0.0;
  rig.demand = 0.0;
  double least = 1e9;
  for (int n = 0; n < 120; ++n) {
    rig.step();
    least = std::min(least, rig.plant.header);
  }
  CHECK(least > 60e3);
  CHECK(rig.plant.reversals == 0);
  CHECK(rig.out.mode == CTL_PLANT_PRODUCTION);
  CHECK(rig.plant.header < 85e3);
}

TEST_CASE("Under a sudden power ceiling the liquefier goes first, then the module with the least margin") {
  OutpostRig rig = at_full_load();
  rig.plant.module[1].margin = 0.03;
  rig.ceiling = 16000.0;  // of 22.7 kW
  rig.run(60.0);
  CHECK(rig.plant.bus_power() < 16000.0);
  CHECK((rig.out.shed & CTL_SHED_LIQUEFIER) != 0);
  CHECK((rig.out.shed & CTL_SHED_HEAT) == 0);
  CHECK(rig.plant.module[1].oxygen < 0.7 * rig.plant.module[0].oxygen);
  for (const auto& m : rig.plant.module) CHECK(m.heating == Approx(150.0));
  CHECK(rig.plant.reversals == 0);
  CHECK(rig.plant.across < 5000.0);
  rig.ceiling = 40000.0;
  rig.run(900.0);
  CHECK(rig.out.shed == CTL_SHED_NOTHING);
  CHECK(rig.plant.oxygen() * kHour == Approx(3.0).epsilon(0.01));
}

TEST_CASE("A surge of demand from a third to all is followed without a trip") {
  OutpostRig rig = at_full_load();
  ramp(rig, 0.35, 200.0);
  rig.run(600.0);
  rig.demand = 3.0 / kHour;
  rig.run(600.0);
  CHECK(rig.plant.oxygen() * kHour == Approx(3.0).epsilon(0.01));
  CHECK(rig.plant.reversals == 0);
  CHECK(rig.plant.across < 5000.0);
}

TEST_CASE("An aged module with little margin gets less, and the demand is met") {
  OutpostRig rig;
  rig.demand = 2.4 / kHour;
  rig.plant.module[4].margin = 0.02, rig.plant.module[4].age = 3e-5;
  rig.run(3000.0);
  CHECK(rig.plant.oxygen() * kHour == Approx(2.4).epsilon(0.01));
  // weight (0.4 + 0.6/3)/1.5 = 0.4 of the others: shares 0.4/5.4 and 1/5.4 of 2.4 kg/h
  CHECK(rig.plant.module[4].oxygen * kHour == Approx(2.4 * 0.4 / 5.4).epsilon(0.02));
  CHECK(rig.plant.module[0].oxygen * kHour == Approx(2.4 / 5.4).epsilon(0.02));
}

TEST_CASE("From cold to production under a ceiling that heats two modules at a time, and off again") {
  OutpostRig rig;
  for (auto& m : rig.plant.module) m.temperature = 250.0, m.mode = CTL_OFF, m.warming = 1.0;
  rig.plant.header = rig.plant.exhaust = rig.plant.product = 700.0;
  rig.plant.co = rig.plant.speed = rig.plant.flow = 0.0;
  rig.ceiling = 9000.0;
  int heating = 0;
  const double hot = rig.until(1500.0, [&] {
    int now = 0;
    for (const auto& m : rig.plant.module) now += m.mode == CTL_WARM_UP ? 1 : 0;
    heating = std::max(heating, now);
    return rig.out.mode == CTL_PLANT_PRODUCTION;
  });
  CHECK(hot > 600.0);
  CHECK(heating == 2);
  CHECK(rig.plant.reversals == 0);
  rig.ceiling = 40000.0;
  rig.run(4000.0);
  CHECK(rig.plant.oxygen() * kHour == Approx(3.0).epsilon(0.01));
  rig.request = CTL_PLANT_OFF;
  CHECK(rig.until(3000.0, [&] { return rig.out.mode == CTL_PLANT_OFF; }) > 0.0);
  CHECK(rig.out.tripped == 0);
  CHECK(rig.plant.across < 5000.0);
  CHECK(rig.out.compressor_speed == 0.0F);
}
