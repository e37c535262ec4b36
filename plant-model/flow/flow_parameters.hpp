/// Volumes, lines, apertures and seals between the stores.
#pragma once

namespace duskline::plant {

struct FlowParameters {
  double plenum_volume{};     ///< m3
  double cathode_volume{};    ///< m3
  double anode_volume{};      ///< m3
  double feed_conductance{};  ///< mol/s/Pa2, laminar line from plenum to cathode
  double exhaust_aperture{};  ///< m2, Cd A
  double recycle_aperture{};  ///< m2, Cd A of the open recycle valve
  double recycle_lag{};       ///< s
  double recycle_slew{};      ///< 1/s, fastest change of the opening
  double product_aperture{};  ///< m2, Cd A; of a back-pressure valve, open
  double product_below{};     ///< Pa below the cathode at which that valve opens
  double product_band{};      ///< Pa from shut to open; 0: an open aperture
  double seal_leak{};         ///< mol/s/Pa, cathode to anode, all seals of the stack
  double back_diffusion{};    ///< mol/s, exchange with the cathode volume at no flow
  double feed_diffusion{};    ///< mol/s, exchange of plenum and cathode volume at no flow
  double outlet_diffusion{};  ///< mol/s, exchange of either outlet with the air at no flow
  double combustion_rate{};   ///< 1/s, of oxygen that meets CO in the hot cathode volume
};

}  // namespace duskline::plant
