#include "hil-harness/trace/row_file.hpp"

#include <fcntl.h>
#include <netcdf.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <bit>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <limits>

#include "hil-harness/trace/layout.hpp"

namespace duskline::harness {
namespace {

constexpr off_t kCountPlace = 4;
constexpr std::uint64_t kMark = 0x43A7D15C96E2B84F;  ///< time of the row that shows where rows begin

template <class Bits>
Bits big_endian(Bits bits) {
  if constexpr (std::endian::native == std::endian::big) return bits;
  if constexpr (sizeof(Bits) == 8)
    return __builtin_bswap64(bits);
  else
    return __builtin_bswap32(bits);
}

std::uint32_t flag_bits(double value) {
  const bool known = value >= 0.0 && value <= 2147483647.0;
  return std::bit_cast<std::uint32_t>(known ? static_cast<std::int32_t>(value) : std::int32_t{-1});
}

float narrow(double value) {
  constexpr double kLargest = std::numeric_limits<float>::max();
  if (std::abs(value) > kLargest)
    return std::copysign(std::numeric_limits<float>::infinity(), value < 0 ? -1.0f : 1.0f);
  return static_cast<float>(value);
}

/// Writes bytes at a place of the file and counts them; fewer, with errno set, when the system takes no more.
std::size_t write_all(int file, const unsigned char* bytes, std::size_t count, off_t place) {
  std::size_t done = 0;
  while (done < count) {
    const ssize_t taken = pwrite(file, bytes + done, count - done, place + static_cast<off_t>(done));
    if (taken < 0 && errno == EINTR) continue;
    if (taken <= 0) break;
    done += static_cast<std::size_t>(taken);
  }
  return done;
}

bool read_all(int file, unsigned char* bytes, std::size_t count, off_t place) {
  std::size_t done = 0;
  while (done < count) {
    const ssize_t given = pread(file, bytes + done, count - done, place + static_cast<off_t>(done));
    if (given < 0 && errno == EINTR) continue;
    if (given <= 0) return false;
    done += static_cast<std::size_t>(given);
  }
  return true;
}

}  // namespace

RowFile::~RowFile() {
  close();
}

void RowFile::close() {
  if (file_ >= 0) ::close(file_);
  file_ = -1;
}

Outcome RowFile::create(const std::string& path, const std::vector<SignalInfo>& signals,
                        const std::map<std::string, std::string>& attributes) {
  path_ = path;
  for (const SignalInfo& signal : signals)
    is_flag_.insert(is_flag_.end(), signal.width, signal.flags.empty() ? 0 : 1);
  row_bytes_ = sizeof(double) + is_flag_.size() * sizeof(float);

  const auto lock = layout::lock_library();
  int id = -1;
  const std::string where = layout::library_path(path);
  if (where.find('\\') != std::string::npos)
    return {path + ": a trace cannot have a backslash in its path, which the library takes for a slash"};
  if (Outcome made = layout::outcome(nc_create(where.c_str(), NC_NOCLOBBER | NC_64BIT_OFFSET, &id), path);
      !made)
    return made;
  layout::Definition definition;
  Outcome defined = layout::define(id, layout::Storage::rows, signals, attributes, 0, 0, definition);
  // One row, taken back below, shows where the rows begin. (The size of the file does not: the library may
  // leave room behind the row.)
  const std::size_t row = 0;
  const double time = std::bit_cast<double>(kMark);
  if (defined) defined = layout::outcome(nc_put_var1_double(id, definition.time, &row, &time), path);
  const Outcome closed = layout::outcome(nc_close(id), path);
  if (!defined) return defined;
  if (!closed) return closed;
  return find_first_row();
}

Outcome RowFile::go_on(const std::string& path, const std::vector<SignalInfo>& signals, RowsInFile kept) {
  path_ = path;
  for (const SignalInfo& signal : signals)
    is_flag_.insert(is_flag_.end(), signal.width, signal.flags.empty() ? 0 : 1);
  row_bytes_ = sizeof(double) + is_flag_.size() * sizeof(float);
  file_ = ::open(path_.c_str(), O_RDWR | O_CLOEXEC | O_NOFOLLOW);
  struct stat status {};
  if (file_ < 0 || fstat(file_, &status) != 0) return system_problem();
  unsigned char head[4]{};
  const std::uint64_t end = kept.first + kept.count * row_bytes_;
  if (!read_all(file_, head, sizeof head, 0) || std::memcmp(head, "CDF\x02", sizeof head) != 0 ||
      static_cast<std::uint64_t>(status.st_size) < end)
    return {path_ + ": does not hold the rows that its checkpoint names"};
  first_row_ = kept.first;
  rows_ = kept.count;
  if (ftruncate(file_, static_cast<off_t>(end)) != 0) return system_problem();
  return write_count();
}

Outcome RowFile::system_problem() const {
  return layout::system_outcome(path_);
}

Outcome RowFile::find_first_row() {
  file_ = ::open(path_.c_str(), O_RDWR | O_CLOEXEC);
  struct stat status {};
  if (file_ < 0 || fstat(file_, &status) != 0) return system_problem();
  std::vector<unsigned char> bytes(static_cast<std::size_t>(status.st_size));
  if (!read_all(file_, bytes.data(), bytes.size(), 0)) return {path_ + ": the header cannot be read back"};
  const std::uint64_t mark = big_endian(kMark);
  const auto* first = reinterpret_cast<const unsigned char*>(&mark);
  const auto found = std::find_end(bytes.begin(), bytes.end(), first, first + sizeof mark);
  if (found == bytes.end()) return {path_ + ": the header could not be written"};
  first_row_ = static_cast<std::size_t>(found - bytes.begin());
  if (ftruncate(file_, static_cast<off_t>(first_row_)) != 0) return system_problem();
  return write_count();
}

Outcome RowFile::write_count() {
  unsigned char bytes[4];
  const std::uint32_t count = big_endian(static_cast<std::uint32_t>(rows_));
  std::memcpy(bytes, &count, sizeof count);
  if (write_all(file_, bytes, sizeof bytes, kCountPlace) != sizeof bytes) return system_problem();
  return {};
}

void RowFile::add(double time, std::span<const double> values) {
  const std::size_t begin = buffer_.size();
  buffer_.resize(begin + row_bytes_);
  unsigned char* place = buffer_.data() + begin;
  const std::uint64_t time_bits = big_endian(std::bit_cast<std::uint64_t>(time));
  std::memcpy(place, &time_bits, sizeof time_bits);
  place += sizeof time_bits;
  for (std::size_t i = 0; i < values.size(); ++i, place += sizeof(float)) {
    const std::uint32_t bits =
        big_endian(is_flag_[i] != 0 ? flag_bits(values[i]) : std::bit_cast<std::uint32_t>(narrow(values[i])));
    std::memcpy(place, &bits, sizeof bits);
  }
}

Outcome RowFile::write() {
  if (buffer_.empty()) return {};
  const off_t end = static_cast<off_t>(first_row_ + rows_ * row_bytes_);
  const std::size_t done = write_all(file_, buffer_.data(), buffer_.size(), end);
  Outcome result = done == buffer_.size() ? Outcome{} : system_problem();
  rows_ += done / row_bytes_;
  buffer_.clear();
  if (Outcome counted = write_count(); !counted && result) result = counted;
  return result;
}

Outcome RowFile::read(std::size_t first, std::size_t count, std::vector<double>& times,
                      std::vector<std::uint32_t>& bits) const {
  std::vector<unsigned char> bytes(count * row_bytes_);
  if (!read_all(file_, bytes.data(), bytes.size(), static_cast<off_t>(first_row_ + first * row_bytes_)))
    return {path_ + ": the rows cannot be read back"};
  const std::size_t width = is_flag_.size();
  times.resize(count);
  bits.resize(count * width);
  const unsigned char* place = bytes.data();
  for (std::size_t row = 0; row < count; ++row) {
    std::uint64_t time_bits = 0;
    std::memcpy(&time_bits, place, sizeof time_bits);
    times[row] = std::bit_cast<double>(big_endian(time_bits));
    place += sizeof time_bits;
    for (std::size_t i = 0; i < width; ++i, place += sizeof(std::uint32_t)) {
      std::uint32_t word = 0;
      std::memcpy(&word, place, sizeof word);
      bits[row * width + i] = big_endian(word);
    }
  }
  return {};
}

}  // namespace duskline::harness
