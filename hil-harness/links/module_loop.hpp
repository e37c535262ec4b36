/// A simple controller of a stack module behind headers: what its plant controller orders, by one loop for each actuator.
///
/// What it is   current by the oxygen that is ordered, on a ramp; PI of the feed valve to the feed for it; PI of the end
///              heaters to the mean of the zones; modes by the coldest zone
/// Equation     I = 4 F m/(M n); F_feed = I n M_CO2/(2 F U)
/// Symbols      m [kg/s] oxygen ordered, n [1] cells, U [1] utilisation of the feed
/// Validity     a module in order near its rated point
/// Source       estimate: the utilisation of the plant file's sizing; ramps and gains by trial on the model
/// Left out     every limit of the cells: it keeps no coke margin, finds no fault and has no alarms. It stands in until the
///              module controller commands a feed valve (controller/include/controller.h)
#pragma once

#include "hil-harness/links/link.hpp"
#include "plant-model/parameters.hpp"

namespace duskline::harness {

/// What it tells the plant controller in place of an estimate, V.
inline constexpr double kAssumedMargin = 0.08, kAssumedSigma = 0.004;

class ModuleLoop final : public Link {
 public:
  /// `opening`: where the feed valve stands.
  ModuleLoop(const plant::PlantParameters& p, double opening, double period);

  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override;
  std::string name() const override { return "module loop"; }
  ctl_status restart(bool) override {
    first_ = true;
    return CTL_NOT_RETAINED;
  }

 private:
  struct Pi {
    double gain, integral_time, upper, integral;  ///< between 0 and `upper`; s
    double operator()(double error, double period);
  };
  void take_over(const ctl_inputs& in);
  void change_mode(const ctl_inputs& in, double coldest);

  double period_, cells_, rated_current_, preheating_;  ///< s, 1, A, W
  Pi heat_, feed_;
  double current_ = 0.0;  ///< A, ordered
  std::uint32_t mode_ = CTL_OFF;
  bool first_ = true;
};

}  // namespace duskline::harness
