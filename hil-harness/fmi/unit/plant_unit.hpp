/// The plant behind the functions of a unit, whatever the version of the standard: the closed loop in a thread of its own,
/// whose controller is the other side of the interface.
///
/// Validity     a step is a control period or whole periods; commands act from its beginning, readings are those at its end
/// Source       Functional Mock-up Interface 2.0, sections 2.1 and 4.2; 3.0, sections 2.3 and 4.2
#pragma once

#include <bit>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "hil-harness/fmi/description.hpp"

namespace duskline::harness {

/// By the numbers that both versions give them.
enum class UnitAnswer { ok = 0, discard = 2, error = 3 };

class PlantUnit {
 public:
  /// answer, category, text
  using Log = std::function<void(UnitAnswer, const char*, const std::string&)>;
  explicit PlantUnit(Log log);
  ~PlantUnit();
  PlantUnit(const PlantUnit&) = delete;
  PlantUnit& operator=(const PlantUnit&) = delete;

  /// Reads what the unit holds; false, and reported, if that cannot be used.
  bool open(const std::string& guid, const std::filesystem::path& resources);
  UnitAnswer initialise(double start);
  UnitAnswer step(double time, double size);
  void terminate();
  void reset();

  double time() const;  ///< s since the start, at the end of the last step
  bool at_end() const;  ///< of the scenario: no further step is possible

  /// The 32 bits of a variable; none, and reported: there is none of that type.
  std::optional<std::uint32_t> bits(unsigned reference, RegisterType type) const;
  UnitAnswer set(unsigned reference, RegisterType type, double value);

  /// Calls the log.
  UnitAnswer report(UnitAnswer answer, const std::string& what) const;
  UnitAnswer missing(const char* what) const;

 private:
  class Running;
  void take(const ctl_inputs& in);

  Log log_;
  scenarios::Case plant_;
  std::vector<std::uint16_t> readings_, commands_;  ///< registers
  std::int64_t tick_ = 0;
  std::unique_ptr<Running> running_;
};

/// The unit behind the handle of either version.
inline PlantUnit& unit_of(void* handle) {
  return *static_cast<PlantUnit*>(handle);
}

/// Reads variables of one type, in the type that the standard gives them.
template <class Value>
UnitAnswer get_variables(const PlantUnit& unit, RegisterType type, const unsigned* references,
                         std::size_t count, Value* values) {
  for (std::size_t k = 0; k < count; ++k) {
    const auto bits = unit.bits(references[k], type);
    if (!bits) return UnitAnswer::error;
    values[k] = type == RegisterType::number ? static_cast<Value>(std::bit_cast<float>(*bits))
                                             : static_cast<Value>(*bits);
  }
  return UnitAnswer::ok;
}

/// Writes them; those before a wrong one are written.
template <class Value>
UnitAnswer set_variables(PlantUnit& unit, RegisterType type, const unsigned* references, std::size_t count,
                         const Value* values) {
  for (std::size_t k = 0; k < count; ++k)
    if (const auto answer = unit.set(references[k], type, static_cast<double>(values[k]));
        answer != UnitAnswer::ok)
      return answer;
  return UnitAnswer::ok;
}

}  // namespace duskline::harness
