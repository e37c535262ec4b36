/// Reads a trace, finished or cut short.
///
/// `open` returns nothing and says why when the file is not a trace. A column holds the values of one
/// signal, row after row, `width` values for each row; flags come back as whole numbers, what was not
/// finite as NaN (signals) or -1 (flags). Opening reads names and times only, a column is read when asked
/// for.
#pragma once

#include <cstddef>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "hil-harness/trace/signal.hpp"

namespace duskline::harness {

class TraceReader {
 public:
  static std::optional<TraceReader> open(const std::string& path, std::string& problem);
  ~TraceReader();
  TraceReader(TraceReader&&) noexcept;
  TraceReader& operator=(TraceReader&&) noexcept;

  const std::vector<SignalInfo>& signals() const { return signals_; }
  const std::map<std::string, std::string>& attributes() const { return attributes_; }
  const std::vector<double>& times() const { return times_; }
  std::size_t rows() const { return times_.size(); }

  /// The signal of that name, or null.
  const SignalInfo* find(std::string_view name) const;
  /// All values of a signal; empty when the trace lacks it or it cannot be read.
  std::vector<double> column(std::string_view name) const { return column(name, 0, rows()); }
  /// `count` of its rows from row `first` on.
  std::vector<double> column(std::string_view name, std::size_t first, std::size_t count) const;

 private:
  TraceReader() = default;
  int file_ = -1;
  std::vector<SignalInfo> signals_;
  std::map<std::string, std::string> attributes_;
  std::vector<double> times_;
};

}  // namespace duskline::harness
