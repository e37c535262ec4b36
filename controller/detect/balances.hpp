/// Balances of the feed that change within a minute: a recycle valve that shuts, a meter that leaves the others.
///
/// What it is   the exhaust aperture's feed against that of the meter and of the machine, and the pressures of the feed
///              line, each against its own mean of a minute
/// Equation     change = x - mean(x); four ticks of five beyond a share of the recycled flow, or of the feed
/// Symbols      kg/s, kg/s, Pa
/// Validity     with flow that has settled; a change of what is suspect among the witnesses begins the means again
/// Left out     changes slower than a minute and smaller ones: the residuals see those
#pragma once

#include "controller/detect/detection.hpp"

namespace duskline::controller {

/// What the balances of the feed rest on; a change of what is suspect among it is no change of the plant.
inline constexpr uint32_t kMachineWitnesses =
    bits(in_ambient_pressure, in_ambient_temperature, in_filter_differential_pressure, in_compressor_speed);
inline constexpr uint32_t kWitnesses =
    kMachineWitnesses | bits(in_feed_flow, in_cathode_pressure, in_plenum_pressure);
static_assert(in_filter_differential_pressure < 32, "they stand in the first word");

/// Balances of the feed that change within a minute need not wait for the residuals.
/// A recycle valve that shuts at once: the aperture counts on its flow and misses most of it against the meter and against
/// the machine, while the pressures of the feed line agree. What clogs an exhaust takes longer. Every second counts: the
/// gas at the inlet is renewed within half a minute. Of two witnesses one is enough while the other is suspect.
/// A feed meter that leaves the two others, which go on agreeing, is suspect at once.
inline uint32_t test_balances(Detection& d, const DetectInput& x, const Relations& rel) {
  const float now[3] = {rel.feed_aperture - rel.feed_slow, rel.feed_aperture - rel.feed_compressor,
                        x.y[in_plenum_pressure] - rel.plenum_pressure};
  const uint32_t suspect = d.suspect[0] & kWitnesses;
  const bool fresh = !rel.flowing || d.started < kBalanceTime || suspect != d.witnesses;
  d.witnesses = suspect;
  float change[3];
  for (uint32_t k = 0; k < 3; ++k) {
    if (fresh) d.balance[k] = now[k];
    d.balance[k] = low_pass(d.balance[k], now[k], x.params.period, kBalanceTime);
    change[k] = now[k] - d.balance[k];
  }
  const auto sound = [suspect](uint32_t inputs) { return (suspect & inputs) == 0; };
  const bool meter = sound(bits(in_feed_flow)), machine = sound(kMachineWitnesses);
  const bool cathode = sound(bits(in_cathode_pressure)), plenum = sound(bits(in_plenum_pressure));
  // the machine alone knows the air behind the lag of its thermometer: 3 % of the feed within half a minute of convection
  const float share = meter ? kUnrecycled : kUnrecycledAlone;
  const float missing = share * rel.recycled, apart = kMisread * rel.feed_slow;
  const float per_flow = x.y[in_plenum_pressure] / max_of(kRelationFeed, rel.feed_slow);
  const auto line = [&](float flow) { return abs_of(change[2]) < kUnrecycled * flow * per_flow; };

  const bool known = rel.flowing && (meter || machine) && (cathode || plenum) &&
                     rel.recycled > kRecycledLeast * rel.feed_slow;
  // by the change both miss it; by value one does: the other may have been off before, its own way
  const bool by_value = (meter && now[0] > 0.5f * missing) || (machine && now[1] > 0.5f * missing);
  const bool lost =
      (!meter || change[0] > missing) && (!machine || change[1] > missing) && by_value && line(missing);

  const bool leaves =
      abs_of(change[0]) > apart && abs_of(now[0]) > 0.5f * apart && abs_of(change[1]) < 0.4f * apart;
  if (four_of_five(d.misread, rel.flowing && meter && machine && cathode && leaves && line(apart))) {
    put_in(d.suspect, in_feed_flow, true);
    d.clean[in_feed_flow] = 0;
  }
  return four_of_five(d.unrecycled, known && lost) ? uint32_t{CTL_RECYCLE_LOST} : 0u;
}

}  // namespace duskline::controller
