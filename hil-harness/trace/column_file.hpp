/// The file of a run that has ended: NetCDF-4, one column after the other in chunks of time.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "hil-harness/trace/row_file.hpp"
#include "hil-harness/trace/signal.hpp"

namespace duskline::harness {

/// Writes all rows as columns to a new file at `path`. On failure nothing is left there.
Outcome write_columns(const std::string& path, const RowFile& rows, const std::vector<SignalInfo>& signals,
                      const std::map<std::string, std::string>& attributes, int deflate);

}  // namespace duskline::harness
