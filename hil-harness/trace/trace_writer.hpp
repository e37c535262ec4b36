/// Records the signals of a run in a NetCDF file that is readable whatever ends the run.
///
/// While the run goes on the file has the classic NetCDF layout: rows one after the other, and their
/// count in the header, written last. Whatever has been flushed is therefore a complete file, also after
/// a kill or on a full disk. `close` rewrites it as columns (NetCDF-4), which is what analysis reads fast.
/// Signals are float32, flags int32, time float64 in seconds since the start of the run; CF-1.10 attributes.
/// The bytes depend on nothing but what was given. A finished file has reached the disk before it takes the place
/// of the rows.
#pragma once

#include <cstddef>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "hil-harness/trace/row_file.hpp"
#include "hil-harness/trace/signal.hpp"

namespace duskline::harness {

using TraceAttributes = std::map<std::string, std::string>;

struct TraceOptions {
  std::size_t flush_rows = 600;       ///< rows kept in memory before they are written
  int deflate = 1;                    ///< 0 (none) to 9: compression of the finished file
  std::optional<RowsInFile> go_on{};  ///< behind these rows of the file that is there; none: a new file
  bool keep_rows = false;             ///< `close` leaves the rows beside the finished file, as PATH.rows
};

class TraceWriter {
 public:
  TraceWriter(std::string path, std::vector<SignalInfo> signals, const TraceAttributes& attributes = {},
              TraceOptions options = {});
  ~TraceWriter();
  TraceWriter(TraceWriter&&) noexcept;
  TraceWriter& operator=(TraceWriter&&) noexcept;

  /// Adds a row: all signals in order, one after the other. False once recording has failed.
  bool append(double time_s, std::span<const double> values);
  /// Writes the rows kept in memory. After it the file on disk is complete up to the last row.
  bool flush();
  /// Flushes and rewrites the file as columns. If that cannot be done (no space), the rows remain.
  bool close();
  /// Flushes and leaves the file as rows, so that a later writer can go on with it.
  bool leave();
  /// The rows in the file; a later writer goes on behind them.
  RowsInFile in_file() const;

  /// What went wrong first; empty when all is well.
  const std::string& problem() const;
  /// There was no room for it.
  bool no_space() const;
  /// Rows that are safely in the file.
  std::size_t rows_written() const;

 private:
  struct File;
  std::unique_ptr<File> file_;
};

}  // namespace duskline::harness
