// The outpost with all its controllers: six module controllers behind the headers that the plant controller holds, by the
// instruments and actuators of the plant file.
#include <catch2/catch.hpp>
#include <limits>
#include <memory>

#include "hil-harness/loop/instruments.hpp"
#include "hil-harness/loop/shared_side.hpp"
#include "scenarios/reader/controller_sizes.hpp"
#include "tests/support/outpost.hpp"

using namespace duskline;

namespace {

constexpr double kHour = 3600.0, kRated = 3.0 / kHour;  // s, kg/s

/// What stands between one module and its controller, and the controller.
class Module {
 public:
  Module(const scenarios::PlantFile& file, const plant::Commands& start, std::uint64_t number)
      : sensors_(scenarios::expand(file.instruments), number + 1, 1.0), actuators_(file.parameters, start) {
    ctl_default_params(&params);
    params.law = CTL_LAW_CASCADE;
    scenarios::size_controller(file.parameters, params);
    scenarios::tell_controller(file.instruments, file.parameters, params);
    REQUIRE(ctl_init(&state_, &params) == CTL_OK);
  }
  void sense(const plant::PlantOutputs& seen, std::int64_t tick) {
    harness::Snapshot s;
    s.plant = seen;
    harness::Channels truth{}, readings{};
    harness::true_values(s, truth);
    sensors_.sample(truth, tick, readings);
    harness::put_readings(readings, in);
    in.tick = static_cast<std::uint32_t>(tick);
  }
  void report(ctl_module_report& r) const {
    r.feed_wanted = out.feed_setpoint, r.feed_flow = in.feed_flow, r.oxygen_rate = out.oxygen_rate;
    r.coke_margin = out.coke_margin, r.coke_sigma = out.coke_sigma;
    r.added_resistance = out.cell_resistance[out.worst_cell];
    float least = 1e9F, most = 0.0F;
    for (const float zone : in.zone_temperature) least = std::min(least, zone), most = std::max(most, zone);
    r.temperature = least, r.hottest = most;
    float volts = 0.0F;
    for (const float cell : in.cell_voltage) volts += cell * params.cells_per_tap;
    r.heating = (out.preheater_power + out.end_power[0] + out.end_power[1]) / params.heater_converter;
    r.power = r.heating + in.stack_current * volts / params.stack_converter;
    r.mode = out.mode, r.limiter = out.limiter, r.response = out.response, r.diagnosed = out.diagnosed;
  }
  void obey(const ctl_module_order& order, float co) {
    in.requested_mode = order.requested_mode;
    in.oxygen_demand = order.oxygen_demand;
    in.power_ceiling = order.power_ceiling;
    in.inlet_co_fraction = co;
    in.local_time = in.command_age = in.next_power_ceiling = in.ceiling_in =
        std::numeric_limits<float>::quiet_NaN();
    REQUIRE(ctl_step(&state_, &params, &in, &out) == CTL_OK);
    diagnosed |= out.diagnosed;
    alarms |= out.alarms_active;
  }
  plant::ModuleCommands actuate(const ctl_module_order& order) {
    plant::Commands u = actuators_.actuate(out, 1.0);
    return {.stack_current = u.stack_current,
            .preheater_power = u.preheater_power,
            .feed_opening = std::min(u.feed_opening, static_cast<double>(order.feed_opening_max)),
            .end_power = u.end_power};
  }

  ctl_params params{};
  ctl_inputs in{};
  ctl_outputs out{};
  std::uint32_t diagnosed = 0, alarms = 0;

 private:
  ctl_state state_{};
  plant::SensorBank sensors_;
  harness::ActuatorBank actuators_;
};

/// The whole of it, in the order of a tick of hil-harness/loop/loop.hpp.
class WholeOutpost {
 public:
  WholeOutpost() {
    plant_.set_boundary(tests::afternoon(), 0.0);
    for (std::size_t k = 0; k < outputs.size(); ++k)
      modules.push_back(std::make_unique<Module>(file_, start_, k));
    side_.inputs().requested_mode = CTL_PLANT_PRODUCTION;
    side_.inputs().power_ceiling = std::numeric_limits<float>::quiet_NaN();
    for (std::size_t k = 0; k < outputs.size(); ++k) side_.inputs().service[k] = CTL_SERVICE_IN;
    // what a plant in production reports
    for (std::size_t k = 0; k < outputs.size(); ++k) {
      ctl_outputs& out = modules[k]->out;
      out.mode = CTL_PRODUCTION, out.limiter = CTL_BY_DEMAND;
      out.feed_setpoint = 0.8e-3F, out.oxygen_rate = static_cast<float>(kRated / 6.0);
      out.coke_margin = 0.05F;
    }
  }
  void run(double demand, int seconds) {
    side_.inputs().oxygen_demand = static_cast<float>(demand);
    for (int n = 0; n < seconds; ++n) tick();
  }
  const ctl_plant_outputs& orders() const { return side_.orders(); }
  void watch_from_here() { least_margin = least_nickel = least_surge = 1e9, most_across = 0.0; }

  std::vector<std::unique_ptr<Module>> modules;
  std::vector<plant::PlantOutputs> outputs = std::vector<plant::PlantOutputs>(6);
  plant::SharedOutputs shared{};
  double least_margin = 1e9, least_nickel = 1e9, least_surge = 1e9, most_across = 0.0;  // V, 1, 1, Pa

 private:
  void tick() {
    plant_.observe(x_, f_, outputs, shared);
    least_surge = std::min(least_surge, shared.surge_margin);
    most_across = std::max(
        most_across, std::abs(shared.truth.product_header_pressure - shared.truth.exhaust_header_pressure));
    side_.sense(shared, tick_);
    for (std::size_t k = 0; k < outputs.size(); ++k) {
      least_margin = std::min(least_margin, outputs[k].min_margin);
      least_nickel = std::min(least_nickel, outputs[k].min_nickel_ratio);
      modules[k]->sense(outputs[k], tick_);
      modules[k]->report(side_.inputs().module[k]);
    }
    REQUIRE(side_.control(static_cast<double>(tick_)).reason == plant::RunEnd::reached_end);
    std::vector<plant::ModuleCommands> u;
    for (std::size_t k = 0; k < outputs.size(); ++k) {
      modules[k]->obey(side_.orders().order[k], side_.inputs().feed_header_co_fraction);
      u.push_back(modules[k]->actuate(side_.orders().order[k]));
    }
    plant_.set_commands(u, side_.actuate(true));
    plant_.command_rates(x_, f_);
    const double t = static_cast<double>(tick_++);
    REQUIRE(integrator_.advance_with(plant_, x_, f_, t, t + 1.0).ok());
  }
  static ctl_plant_params controller(const plant::PlantParameters& p) {
    ctl_plant_params params;
    ctl_plant_default_params(&params);
    scenarios::size_controller(p, params);
    return params;
  }

  const scenarios::PlantFile file_ =
      *scenarios::read_plant(DUSKLINE_SOURCE_DIR "/plant-model/plants/outpost.yaml").value;
  const plant::PlantParameters& p_ = file_.parameters;
  const plant::Commands start_{
      .stack_current = 34.9, .preheater_power = 40.0, .feed_opening = 0.7, .end_power = {180.0, 180.0}};
  plant::Plant plant_{p_};
  plant::State x_ = plant::producing_state(p_, tests::afternoon(), 1073.15, 0.4), f_;
  plant::IntegratorOn<plant::State> integrator_ = tests::module_integrator(plant_.layout(), true);
  harness::InProcessOf<harness::PlantController> link_{controller(p_)};
  harness::SharedSide side_{p_, controller(p_), link_, {4050.0, 0.0, 0.6, 0.7, 0.7, 1.0}, 1};
  std::int64_t tick_ = 0;
};

}  // namespace

TEST_CASE("Six module controllers behind headers make 3 kg/h for an hour") {
  WholeOutpost o;
  o.run(kRated, 600);
  o.watch_from_here();
  o.run(kRated, 3000);
  CHECK(o.shared.truth.feed_header_pressure == Approx(65e3).epsilon(0.02));
  CHECK(o.shared.truth.exhaust_header_pressure == Approx(55e3).epsilon(0.02));
  CHECK(o.shared.oxygen_delivered * kHour == Approx(3.0).epsilon(0.02));
  CHECK(o.most_across < 2000.0);
  CHECK(o.least_margin > 0.0);  // V, true margin of every cell: limit by definition
  CHECK(o.least_nickel > 1.0);  // by definition
  CHECK(o.least_surge > 0.08);  // the line at which the anti-surge valve opens fully
  CHECK(o.orders().tripped == 0);
  CHECK(o.orders().alarms_active == 0);
  for (const auto& m : o.modules) {
    CHECK(m->out.mode == CTL_PRODUCTION);
    CHECK(m->out.compressor_speed == 0.0F);
    CHECK(m->out.recycle_opening == 0.0F);
    CHECK(m->diagnosed == 0);
    CHECK(m->alarms == 0);
  }
}
