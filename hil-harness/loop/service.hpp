/// What a service renews in a plant; the work takes no time.
#pragma once

#include "plant-model/instruments/sensor.hpp"
#include "plant-model/parameters.hpp"
#include "scenarios/reader/scenario.hpp"

namespace duskline::harness {

/// What people can work on.
struct Serviceable {
  double& dust;  ///< kg on the filter
  plant::CompressorParameters& compressor;
  double new_leakage;  ///< mol/s/Pa2, of new tip seals
  plant::SensorBank& sensors;
  std::int64_t tick;
};

inline void renew(scenarios::ServicedPart part, const Serviceable& plant) {
  switch (part) {
    case scenarios::ServicedPart::filter:
      plant.dust = 0.0;
      break;
    case scenarios::ServicedPart::bearing:
      plant.compressor.bearing_wear = 0.0;
      break;
    case scenarios::ServicedPart::seals:
      plant.compressor.leakage = plant.new_leakage;
      break;
    case scenarios::ServicedPart::instruments:
      plant.sensors.calibrate(plant.tick);
      break;
  }
}

}  // namespace duskline::harness
