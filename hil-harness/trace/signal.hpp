/// What a trace says about each of its signals, and how an operation on a trace ends.
///
/// A signal is `width` numbers at each row: one (axis "") or one for each place along an axis ("cell",
/// "zone", "end", ...). All signals with the same axis have as many places. A signal of several modules has all this for
/// each of them, module by module. `unit` is UDUNITS text.
/// A signal with `flags` holds whole numbers: 0, 1, 2, ... for one word each, or, with `masks`, one bit
/// for each word.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace duskline::harness {

struct SignalInfo {
  std::string name;
  std::string unit;
  std::string meaning;
  std::string axis;
  std::size_t width = 1;
  std::string group;
  std::vector<std::string> flags;
  bool masks = false;
  std::string cell_method{};  ///< "minimum" or "maximum" since the row before; empty: at the instant
  std::size_t modules = 0;    ///< whose values these are; 0: of no module

  std::size_t places() const { return modules > 0 ? width / modules : width; }  ///< along the axis
  /// "[2]" or, of the place of a module, "[1][2]"; empty where there is one value.
  std::string place_name(std::size_t i) const;

  friend bool operator==(const SignalInfo&, const SignalInfo&) = default;
};

/// Number of values in a row of all signals.
std::size_t row_width(const std::vector<SignalInfo>& signals);

/// True, or false with the problem in plain words.
struct Outcome {
  std::string problem;
  bool no_space = false;  ///< the disk, the quota or the limit of the file's size is at its end
  explicit operator bool() const { return problem.empty(); }
};

}  // namespace duskline::harness
