/// Wear that hours of production leave in the plant, applied at once instead of being lived through.
///
/// What it is   a fast-forward: resistance of the cells, dust on the filter, leakage and bearing of the
///              compressor
/// Equation     dR = r (I/A)/(3000 A/m2) t; m = e c V n f t, of an intake without a displacement e c (N R T/p) t;
///              K' = K (1 + g t); w' = w + t/life
/// Symbols      r [ohm m2/s], I/A [A/m2], e [1] caught share, c [kg/m3] dust, V n f [m3/s] swept volume, N [mol/s]
///              flow that the intake is sized for, at T and p of the ambient; K leakage, g [1/s], w [1] bearing wear,
///              t [s] hours of production at the rated point, since the part was new or renewed: 52 % of current_max,
///              42 % of speed_max
/// Validity     steady production at the rated point under the dust of the ambient given; the rates of
///              stack/ageing.hpp
/// Source       the same rates as in a run, multiplied by time; leakage and bearing: parameter file
/// Left out     wear of turbo and axial trains, lobe blowers and the freezer; thermal cycles and storms in those
///              hours; carbon and oxide (a plant in order has none); feedback of wear on the operating point
#pragma once

#include <string>

#include "plant-model/environment/ambient.hpp"
#include "plant-model/gas/constants.hpp"
#include "plant-model/network/layout.hpp"
#include "plant-model/parameters.hpp"

namespace duskline::plant {

/// Production behind each part that wears, s.
struct ProductionTime {
  double cells{}, filter{}, bearing{}, seals{};
  static ProductionTime of_all(double time) { return {time, time, time, time}; }
};

/// Resistance that production at the rated point adds in so many seconds, ohm m2.
inline double resistance_after(const PlantParameters& p, double time) {
  const double density = kRatedCurrent * p.power.current_max / p.cell.area;
  return p.degradation.ageing_rate * density / 3000.0 * time;
}

/// What a scroll compressor, or a bank of them, loses by turning for this time; other intakes do not wear.
inline void wear_compressor(PlantParameters& p, const ProductionTime& time) {
  if (!has_scrolls(p.form)) return;
  p.compressor.leakage *= 1.0 + p.compressor.leakage_growth * time.seals;
  p.compressor.bearing_wear += time.bearing / p.compressor.bearing_life;
}

/// The air that the intake draws at the rated point, m3/s.
inline double rated_intake(const PlantParameters& p, const Ambient& ambient) {
  constexpr double kTwoPi = 6.28318530717958647693;
  if (has_scrolls(p.form))
    return p.compressor.displacement * p.compressor.filling * kRatedSpeed * p.power.speed_max / kTwoPi;
  return intake_rating(p).flow * kGasConstant * ambient.temperature / ambient.pressure;
}

inline void wear(PlantParameters& p, const Layout& layout, State& x, const Ambient& ambient,
                 const ProductionTime& time) {
  const double aged = resistance_after(p, time.cells);
  for (std::size_t n = 0; n < p.form.modules; ++n) {
    const std::string module = p.form.modules > 1 ? "module[" + std::to_string(n + 1) + "]." : "";
    const std::size_t ageing = layout.index(module + "cell.ageing[1]");
    for (std::size_t c = 0; c < kCells; ++c) x[ageing + c] += aged;
  }
  x[layout.index("filter.dust")] +=
      p.filter.efficiency * ambient.dust_concentration * rated_intake(p, ambient) * time.filter;
  wear_compressor(p, time);
}

}  // namespace duskline::plant
