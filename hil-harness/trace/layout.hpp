/// The variables and attributes of a trace, defined alike in both layouts of the file.
#pragma once

#include <cstddef>
#include <map>
#include <mutex>
#include <string>
#include <vector>

#include "hil-harness/trace/signal.hpp"

namespace duskline::harness::layout {

enum class Storage { rows, columns };

struct Definition {
  int time = -1;               ///< variable of the time
  std::vector<int> variables;  ///< variable of each signal
};

/// How many values along time and each axis of the signal.
std::vector<std::size_t> shape_of(const SignalInfo& signal, std::size_t rows);

/// What cannot be recorded: doubled names, an axis of two widths, an axis missing.
Outcome check(const std::vector<SignalInfo>& signals);

/// Defines everything in a new NetCDF file and leaves define mode. Columns are chunked by `chunk_rows`.
Outcome define(int file, Storage storage, const std::vector<SignalInfo>& signals,
               const std::map<std::string, std::string>& attributes, std::size_t chunk_rows, int deflate,
               Definition& out);

/// The library is not made for threads: whoever calls it holds this lock. Rows are added without it.
std::unique_lock<std::mutex> lock_library();

/// "TEXT: what the library says", or nothing when the status is good.
Outcome outcome(int status, const std::string& text);
/// "TEXT: what the system says" of the latest call that failed.
Outcome system_outcome(const std::string& text);

/// The path as the library is given it: absolute and without "//", or it would take `http://...` for an address.
std::string library_path(const std::string& path);

}  // namespace duskline::harness::layout
