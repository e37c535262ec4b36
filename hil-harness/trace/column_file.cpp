#include "hil-harness/trace/column_file.hpp"

#include <netcdf.h>
#include <unistd.h>

#include <algorithm>
#include <bit>
#include <cstdio>
#include <cstdlib>
#include <filesystem>

#include "hil-harness/trace/layout.hpp"

namespace duskline::harness {
namespace {

constexpr std::size_t kLargestChunk = 4096;  // rows: 16 KiB for a signal of one value

struct Block {
  std::vector<double> times;
  std::vector<std::uint32_t> bits;
};

Outcome write_signal(int file, int variable, const SignalInfo& signal, std::size_t first, const Block& block,
                     std::size_t place, std::size_t width) {
  const std::size_t count = block.times.size();
  const auto shape = layout::shape_of(signal, count);
  std::vector<std::size_t> start(shape.size(), 0);
  start[0] = first;
  std::vector<float> values(count * signal.width);
  std::vector<int> flags(signal.flags.empty() ? 0 : values.size());
  for (std::size_t row = 0; row < count; ++row)
    for (std::size_t i = 0; i < signal.width; ++i) {
      const std::uint32_t bits = block.bits[row * width + place + i];
      if (flags.empty())
        values[row * signal.width + i] = std::bit_cast<float>(bits);
      else
        flags[row * signal.width + i] = std::bit_cast<std::int32_t>(bits);
    }
  const int status = flags.empty()
                         ? nc_put_vara_float(file, variable, start.data(), shape.data(), values.data())
                         : nc_put_vara_int(file, variable, start.data(), shape.data(), flags.data());
  return layout::outcome(status, signal.name);
}

Outcome write_block(int file, const layout::Definition& definition, const std::vector<SignalInfo>& signals,
                    std::size_t first, const Block& block) {
  const std::size_t count = block.times.size();
  Outcome result =
      layout::outcome(nc_put_vara_double(file, definition.time, &first, &count, block.times.data()), "time");
  const std::size_t width = row_width(signals);
  std::size_t place = 0;
  for (std::size_t s = 0; s < signals.size() && result; place += signals[s].width, ++s)
    result = write_signal(file, definition.variables[s], signals[s], first, block, place, width);
  return result;
}

/// Every write fills its chunks, so that none need wait in memory for more; by default the library keeps them all.
Outcome keep_one_chunk(int file, const layout::Definition& definition, const std::vector<SignalInfo>& signals,
                       std::size_t chunk) {
  Outcome result;
  for (std::size_t s = 0; s < signals.size() && result; ++s)
    result = layout::outcome(nc_set_var_chunk_cache(file, definition.variables[s],
                                                    chunk * signals[s].width * sizeof(float), 1, 1.0F),
                             signals[s].name);
  return result;
}

/// The library underneath does not say why it could not write.
bool has_room(const std::string& path, std::size_t bytes) {
  std::error_code error;
  const auto space = std::filesystem::space(std::filesystem::absolute(path).parent_path(), error);
  return error || space.available > bytes;
}

/// The library underneath keeps a file that it could not close and falls over it when the program ends. So
/// the program ends, with the exit code that it has, before the library looks again.
void leave_library_alone() {
  on_exit(
      [](int code, void*) {
        std::fflush(nullptr);
        _exit(code);
      },
      nullptr);
}

}  // namespace

Outcome write_columns(const std::string& path, const RowFile& rows, const std::vector<SignalInfo>& signals,
                      const std::map<std::string, std::string>& attributes, int deflate) {
  const auto lock = layout::lock_library();
  int file = -1;
  ::unlink(path.c_str());  // of a run that was killed here; a link is not followed
  const std::string where = layout::library_path(path);
  if (Outcome made = layout::outcome(nc_create(where.c_str(), NC_NOCLOBBER | NC_NETCDF4, &file), path); !made)
    return made;
  const std::size_t chunk = std::clamp<std::size_t>(rows.rows(), 1, kLargestChunk);
  layout::Definition definition;
  Outcome result =
      layout::define(file, layout::Storage::columns, signals, attributes, chunk, deflate, definition);
  if (result) result = keep_one_chunk(file, definition, signals, chunk);
  Block block;
  for (std::size_t first = 0; first < rows.rows() && result; first += chunk) {
    result = rows.read(first, std::min(chunk, rows.rows() - first), block.times, block.bits);
    if (result) result = write_block(file, definition, signals, first, block);
  }
  const Outcome closed = layout::outcome(nc_close(file), path);
  if (!closed) leave_library_alone();
  if (result) result = closed;
  if (!result) {
    result.no_space = result.no_space ||
                      !has_room(path, rows.rows() * (sizeof(double) + sizeof(float) * row_width(signals)));
    std::remove(path.c_str());
  }
  return result;
}

}  // namespace duskline::harness
