/// The file of a run that goes on: classic NetCDF, written row by row.
///
/// The library writes the header; rows are then added behind it as the format says (NetCDF classic format
/// specification, Unidata, "64-bit offset" variant): big-endian, all variables of a row one after the
/// other in the order of their definition, each a multiple of four bytes; the count of rows stands in bytes
/// 4 to 7 of the file. A file that is there already is left alone: of two runs into one folder the second
/// is refused. A row counts only when its bytes are in the file, so no moment exists at which the
/// file is not whole.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <span>
#include <string>
#include <vector>

#include "hil-harness/trace/signal.hpp"

namespace duskline::harness {

/// Where the rows of a file begin, and how many are in it.
struct RowsInFile {
  std::uint64_t first{}, count{};
};

class RowFile {
 public:
  RowFile() = default;
  RowFile(const RowFile&) = delete;
  RowFile& operator=(const RowFile&) = delete;
  ~RowFile();

  Outcome create(const std::string& path, const std::vector<SignalInfo>& signals,
                 const std::map<std::string, std::string>& attributes);
  /// Goes on behind the first rows of a file that `create` made for these signals; what follows them is cut off.
  Outcome go_on(const std::string& path, const std::vector<SignalInfo>& signals, RowsInFile kept);
  /// Adds one row to the rows in memory.
  void add(double time, std::span<const double> values);
  /// Moves the rows in memory to the file; on a full disk the whole rows that fit.
  Outcome write();
  /// Reads rows back: times, and for each row the float or integer bits of every value.
  Outcome read(std::size_t first, std::size_t count, std::vector<double>& times,
               std::vector<std::uint32_t>& bits) const;
  void close();

  std::size_t waiting() const { return row_bytes_ == 0 ? 0 : buffer_.size() / row_bytes_; }
  std::size_t rows() const { return rows_; }
  RowsInFile in_file() const { return {first_row_, rows_}; }

 private:
  Outcome find_first_row();
  Outcome write_count();
  Outcome system_problem() const;

  std::string path_;
  int file_ = -1;
  std::vector<std::uint8_t> is_flag_;  ///< for each value of a row
  std::vector<unsigned char> buffer_;
  std::size_t row_bytes_ = 0;
  std::size_t first_row_ = 0;  ///< place of the first row in the file
  std::size_t rows_ = 0;
};

}  // namespace duskline::harness
