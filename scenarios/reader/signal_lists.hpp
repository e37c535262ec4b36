/// What a requirement may name, by the form of the plant: several modules make signals of several places.
#pragma once

#include <functional>
#include <span>
#include <utility>
#include <vector>

#include "plant-model/form.hpp"
#include "scenarios/requirements/requirement.hpp"

namespace duskline::scenarios {

class SignalLists {
 public:
  /// None: requirements are not checked.
  SignalLists() = default;
  /// The same for every plant; it must outlive this.
  SignalLists(const std::vector<TraceSignal>& same)
      : of_([list = std::span<const TraceSignal>(same)](const plant::PlantForm&) { return list; }) {}
  SignalLists(std::function<std::span<const TraceSignal>(const plant::PlantForm&)> of)
      : of_(std::move(of)), headers_(true) {}

  /// A plant of several modules between headers is refused by whoever does not know its signals.
  bool know_headers() const { return headers_; }
  std::span<const TraceSignal> of(const plant::PlantForm& form) const {
    return of_ ? of_(form) : std::span<const TraceSignal>{};
  }

 private:
  std::function<std::span<const TraceSignal>(const plant::PlantForm&)> of_;
  bool headers_ = false;
};

}  // namespace duskline::scenarios
