#include "hil-harness/batch/upper_bound.hpp"

#include <algorithm>
#include <cmath>

#include "plant-model/compressors/scroll.hpp"
#include "plant-model/flow/aperture.hpp"
#include "plant-model/flow/suction.hpp"

namespace duskline::harness {
namespace {

using plant::CO, plant::CO2, plant::N2, plant::Ar, plant::O2;

/// Where f is greatest between low and high, if it rises and then falls; `right` where it is level.
template <class F>
double peak(double low, double high, int steps, bool right, F&& f) {
  constexpr double kGolden = 0.61803398874989484820;
  double a = high - kGolden * (high - low), b = low + kGolden * (high - low);
  double at_a = f(a), at_b = f(b);
  for (int n = 0; n < steps; ++n) {
    if (at_b > at_a || (at_b == at_a && right)) {
      low = a, a = b, at_a = at_b;
      b = low + kGolden * (high - low), at_b = f(b);
    } else {
      high = b, b = a, at_b = at_a;
      a = high - kGolden * (high - low), at_a = f(a);
    }
  }
  return at_b > at_a ? b : a;
}

/// kg/s of all cells for each ampere.
double oxygen_per_ampere(const plant::PlantParameters& p) {
  return static_cast<double>(plant::kCells) * p.stack.repeats * plant::kMolarMass[O2] /
         (4.0 * plant::kFaraday);
}

/// One module behind a scroll compressor, with apertures of its own.
bool covered(const plant::PlantForm& form) {
  return form.modules == 1 && form.intake == plant::kScroll && form.piping == plant::kApertures;
}

}  // namespace

SettledPlant::SettledPlant(const plant::Plant& plant, const plant::State& x) : plant_(plant), x_(x) {
  const plant::Layout& layout = plant_.layout();
  cathode_ = layout.index("cathode.CO2");
  plenum_ = layout.index("plenum.CO2");
  current_ = layout.index("stack.current");
  opening_ = layout.index("recycle.opening");
  wall_ = x[layout.index("plenum_wall.temperature")];
  manifold_ = x[layout.index("manifold.temperature")];
  shell_ = x[layout.index("shell.temperature")];
  plant::State rates;
  plant::PlantOutputs out{};
  plant_.observe(x_, rates, out);
  exhaust_temperature_ = plant_.parameters().variants.exhaust == plant::kHotExhaust
                             ? out.exhaust_temperature
                             : x[layout.index("housing.temperature")];
  leak_ = out.leak_flow;
}

double SettledPlant::held(double pressure) const {
  return pressure * plant_.parameters().flow.plenum_volume / (plant::kGasConstant * wall_);
}

SettledPlant::Seen SettledPlant::at(double current, double flow, double opening) {
  const plant::PlantParameters& p = plant_.parameters();
  const plant::Boundary& boundary = plant_.boundary();
  const plant::Ambient& ambient = boundary.ambient;
  const plant::Composition<double>& air = ambient.composition;
  Seen seen{-1e9, 0.0, 0.0, false};

  // gas of the loop, settled: oxygen of the air burns with CO before the stack
  const double converted =
      static_cast<double>(plant::kCells) * p.stack.repeats * current / (2.0 * plant::kFaraday) / flow;
  const double outlets = p.flow.exhaust_aperture + opening * p.flow.recycle_aperture;
  const double recycled = opening * p.flow.recycle_aperture / outlets * (flow - leak_);
  const double left = 1.0 - air[O2], fresh = (flow - recycled) / left;
  plant::Composition<double> in{}, out{};
  in[CO] = std::max(1e-6, (recycled / fresh * converted + air[CO] - 2.0 * air[O2]) / left);
  in[N2] = air[N2] / left;
  in[Ar] = air[Ar] / left;
  in[CO2] = 1.0 - in[CO] - in[N2] - in[Ar];
  out = in;
  out[CO] += converted;
  out[CO2] -= converted;
  if (out[CO2] < 1e-3) return seen;  // all CO2 used up

  const double molar_mass = plant::molar_mass(out);
  const double per_pascal = outlets / std::sqrt(molar_mass * plant::kGasConstant * exhaust_temperature_) *
                            plant::flow_function(0.0);
  seen.pressure = (flow - leak_) / per_pascal;
  const double before =
      std::sqrt(seen.pressure * seen.pressure + flow / p.flow.feed_conductance);  // Pa, plenum
  const double suction = ambient.temperature + p.heat.suction_heating * (shell_ - ambient.temperature);
  plant::Composition<double> back = out;
  for (double& amount : back) amount *= recycled;
  const auto drawn =
      plant::suction_manifold(ambient.pressure, boundary.filter_resistance, air,
                              plant::swept_flow_per_pascal(p.compressor, p.power.speed_max, suction),
                              p.compressor.leakage, before, in, back);
  seen.delivered = drawn.swept - drawn.leaked >= fresh + recycled;

  plant::fill(x_.data() + plenum_, in, before, p.flow.plenum_volume, wall_);
  plant::fill(x_.data() + cathode_, out, seen.pressure, p.flow.cathode_volume, manifold_);
  x_[current_] = current;
  x_[opening_] = opening;
  plant::State rates;
  plant::PlantOutputs values{};
  plant_.observe(x_, rates, values);
  seen.margin = values.min_margin;
  seen.nickel = values.min_nickel_ratio;
  return seen;
}

double SettledPlant::current(double flow, double opening, const KeptMargins& kept, double wanted,
                             bool any_compressor) {
  const auto allowed = [&](const Seen& s) {
    return s.nickel >= kept.nickel && s.pressure <= pressure_max_ && (any_compressor || s.delivered);
  };
  const double carried = 2.0 * plant::kFaraday * flow /
                         (static_cast<double>(plant::kCells) * plant_.parameters().stack.repeats);  // A
  double high = std::min(wanted, 0.999 * carried), low = 1e-3 * high;
  double at_high = 0.0, at_low = 0.0;
  const auto off_at = [&](double current) { return at(current, flow, opening).margin - kept.coke; };
  bool framed = false;
  for (const double reach : {0.02, 0.2}) {  // beside what was found last
    if (framed || !(near_ > 0.0) || (1.0 + reach) * near_ >= high) continue;
    const double a = (1.0 - reach) * near_, b = (1.0 + reach) * near_, at_a = off_at(a), at_b = off_at(b);
    if (!(at_a > 0.0 && at_b <= 0.0)) continue;
    framed = true;
    low = a, high = b, at_low = at_a, at_high = at_b;
  }
  if (!framed) {
    const Seen most = at(high, flow, opening);
    if (most.margin >= kept.coke) return allowed(most) ? high : 0.0;
    at_high = most.margin - kept.coke;
    at_low = off_at(low);
    if (!(at_low > 0.0)) return 0.0;
  }
  // the margin falls with the current: its root by false position, halving the weight of an end that stays (Illinois)
  constexpr double kClose = 1e-7;  // V
  int side = 0;
  for (int n = 0; n < 60 && high - low > 1e-7 * high; ++n) {
    const bool far = at_high < -1.0;  // beyond what the gas carries
    const double middle = far ? 0.5 * (low + high) : (high * at_low - low * at_high) / (at_low - at_high);
    const Seen s = at(middle, flow, opening);
    const double off = s.margin - kept.coke;
    if (std::abs(off) < kClose) {
      near_ = middle;
      return allowed(s) ? middle : 0.0;
    }
    if (off > 0.0) {
      low = middle, at_low = off;
      if (side > 0) at_high *= 0.5;
    } else {
      high = middle, at_high = off;
      if (side < 0) at_low *= 0.5;
    }
    side = far ? 0 : (off > 0.0 ? 1 : -1);
  }
  return allowed(at(low, flow, opening)) ? low : 0.0;
}

SettledPlant::Best SettledPlant::best(const KeptMargins& kept, double wanted, double pressure_max,
                                      const Best& hint) {
  if (!(wanted > 0.0)) return {0.0, hint.flow, hint.opening, 0.0};
  pressure_max_ = pressure_max;
  const plant::PlantParameters& p = plant_.parameters();
  const double largest =
      pressure_max * (p.flow.exhaust_aperture + p.flow.recycle_aperture) /
      std::sqrt(0.035 * plant::kGasConstant * exhaust_temperature_);  // mol/s, lean exhaust
  Best best{0.0, 0.0, 0.0, 0.0};
  const auto search = [&](double slowest, double fastest, double closed, double open, int flows,
                          int openings) {
    const auto over_openings = [&](double flow) {
      double most = 0.0;
      if (best.current >= wanted) return wanted;  // no more is asked for
      peak(closed, open, openings, true, [&](double opening) {
        const double I = current(flow, opening, kept, wanted, false);
        most = std::max(most, I);
        if (I > best.current) best = {I, flow, opening, 0.0};
        return I;
      });
      return most;
    };
    peak(slowest, fastest, flows, false, over_openings);
  };
  // beside the last instant, then, where the best lies at an edge of that, everywhere; to 1e-4 of the flow
  const double slowest = 0.85 * hint.flow, fastest = std::min(largest, 1.15 * hint.flow);
  const double closed = std::max(0.0, hint.opening - 0.1), open = std::min(1.0, hint.opening + 0.1);
  if (hint.current > 0.0) search(slowest, fastest, closed, open, 15, 13);
  const bool inside = best.flow > 1.01 * slowest && (best.flow < 0.99 * fastest || fastest == largest) &&
                      (best.opening > closed + 2e-3 || closed == 0.0) &&
                      (best.opening < open - 2e-3 || open == 1.0);
  if (best.current < wanted && !(best.current > 0.0 && inside))
    search(0.02 * largest, largest, 0.0, 1.0, 22, 18);
  if (best.current <= 0.0 || best.current >= wanted) return best;
  constexpr double kMore = 0.01;
  double more = 0.0;
  for (const double opening : {0.99 * best.opening, best.opening, std::min(1.0, 1.01 * best.opening)})
    more = std::max(more, current((1.0 + kMore) * best.flow, opening, kept, wanted, true));
  best.worth = std::max(0.0, more - best.current) / (kMore * best.flow);
  return best;
}

void OxygenBound::watch(const Snapshot& s) {
  const bool producing = s.control.mode == CTL_PRODUCTION;
  if (!covered(s.model->parameters().form) || s.measured.requested_mode != CTL_PRODUCTION ||
      (instants_.empty() && !producing))
    return;
  const double period = case_.scenario.period, demand = s.measured.oxygen_demand;
  if (instants_.empty() || instants_.back().duration >= every_)
    // after a trip the stack is taken as it was when it last produced
    instants_.push_back({*s.model, producing || instants_.empty() ? *s.state : instants_.back().x, 0.0, 0.0});
  instants_.back().duration += period;
  instants_.back().demanded += demand * period;
  counted_ += std::min(s.plant.oxygen_made, demand) * period;
}

double OxygenBound::most(const KeptMargins& kept) const {
  constexpr double kTrip = 1.02;     // a pressure that is read 2 % low trips there
  constexpr double kSearch = 1.001;  // what the search may miss, twice what a test finds
  double sum = 0.0, worth = 0.0, rises = 0.0, held = 0.0;
  SettledPlant::Best best{0.0, 0.0, 0.0, 0.0};
  for (const Instant& i : instants_) {
    SettledPlant settled(i.plant, i.x);
    const double per_ampere = oxygen_per_ampere(i.plant.parameters());
    const double wanted =
        std::min(i.demanded / i.duration / per_ampere, i.plant.parameters().power.current_max);
    const double pressure = kTrip * static_cast<double>(case_.scenario.controller.cathode_pressure_max);
    best = settled.best(kept, wanted, pressure, best);
    sum += i.duration * per_ampere * best.current;
    rises += per_ampere * std::max(0.0, best.worth - worth);
    worth = best.worth;
    held = std::max(held, settled.held(pressure));
  }
  return kSearch * (sum + held * rises);
}

}  // namespace duskline::harness
