/// What `tune` is asked for: which gains may move how far, what counts as better, on which plants it is tried.
///
/// Everything is SI; gains are in the unit of the controller's parameter. A scenario without gains has no tuning.
/// Left out: the requirements, which are those of the scenarios.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "scenarios/reader/variation.hpp"

namespace duskline::scenarios {

enum class Search { both, population, subplex, quadratic, linear };

/// What a candidate is measured by; see scenarios/requirements/objective.hpp.
struct Aim {
  std::string name;
  std::string aim;
};

/// A further scenario that every candidate runs.
struct TuningCase {
  std::string file;  ///< relative to the scenario
};

/// Where the loops are looked at for their margins: the plant settled in production at this local time.
struct OperatingPoint {
  std::string name;
  double local_time_h{};  ///< h
};

struct Tuning {
  std::vector<Variation> vary;  ///< parameters of the controller
  std::vector<Aim> objectives;  ///< their costs are added
  std::vector<TuningCase> cases;
  std::vector<OperatingPoint> operating_points;
  double sensitivity_max{1.8};  ///< Ms at every operating point
  std::uint64_t draws{4};       ///< dispersed plants a scenario
  std::uint64_t held_out{20};   ///< fresh draws on which start and result are compared
  double resistance{0.2};       ///< half-width of the dispersion of the cells' resistance
  double flow{0.1};             ///< half-width of the dispersion of flow shares and swept volume
  std::uint64_t budget{200};    ///< candidates
  std::uint64_t population{16};
  std::uint64_t seed{1};
  Search search{Search::both};
};

}  // namespace duskline::scenarios
