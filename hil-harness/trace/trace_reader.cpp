#include "hil-harness/trace/trace_reader.hpp"

#include <netcdf.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <utility>

#include "hil-harness/trace/layout.hpp"

namespace duskline::harness {
namespace {

std::string text_attribute(int file, int variable, const char* name) {
  std::size_t length = 0;
  nc_type type = NC_NAT;
  if (nc_inq_att(file, variable, name, &type, &length) != NC_NOERR || type != NC_CHAR) return {};
  std::string text(length, '\0');
  if (nc_get_att_text(file, variable, name, text.data()) != NC_NOERR) return {};
  return text;
}

std::vector<std::string> words(const std::string& text) {
  std::vector<std::string> result;
  for (std::size_t begin = 0; begin < text.size();) {
    const std::size_t end = std::min(text.find(' ', begin), text.size());
    std::string word = text.substr(begin, end - begin);
    std::replace(word.begin(), word.end(), '_', ' ');
    result.push_back(std::move(word));
    begin = end + 1;
  }
  return result;
}

/// A variable over time, and over modules or one axis or both, is a signal; anything else is not.
std::optional<SignalInfo> read_signal(int file, int variable, int time) {
  std::array<char, NC_MAX_NAME + 1> name{};
  int rank = 0;
  if (nc_inq_varname(file, variable, name.data()) != NC_NOERR) return {};
  if (nc_inq_varndims(file, variable, &rank) != NC_NOERR || rank < 1 || rank > 3) return {};
  std::array<int, 3> dimensions{-1, -1, -1};
  if (nc_inq_vardimid(file, variable, dimensions.data()) != NC_NOERR || dimensions[0] != time) return {};
  SignalInfo signal;
  signal.name = name.data();
  if (signal.name == "time") return {};
  for (int i = 1; i < rank; ++i) {
    std::size_t places = 0;
    if (nc_inq_dim(file, dimensions[static_cast<std::size_t>(i)], name.data(), &places) != NC_NOERR)
      return {};
    signal.width *= places;
    if (i == 1 && std::string_view(name.data()) == "module")
      signal.modules = places;
    else if (signal.axis.empty())
      signal.axis = name.data();
    else
      return {};
  }
  signal.unit = text_attribute(file, variable, "units");
  signal.meaning = text_attribute(file, variable, "long_name");
  signal.group = text_attribute(file, variable, "group");
  const std::string method = text_attribute(file, variable, "cell_methods");
  if (method.starts_with("time: ")) signal.cell_method = method.substr(6);
  signal.flags = words(text_attribute(file, variable, "flag_meanings"));
  std::size_t length = 0;
  signal.masks = nc_inq_attlen(file, variable, "flag_masks", &length) == NC_NOERR;
  return signal;
}

std::map<std::string, std::string> read_attributes(int file) {
  std::map<std::string, std::string> result;
  int count = 0;
  if (nc_inq_natts(file, &count) != NC_NOERR) return result;
  for (int i = 0; i < count; ++i) {
    std::array<char, NC_MAX_NAME + 1> name{};
    if (nc_inq_attname(file, NC_GLOBAL, i, name.data()) == NC_NOERR)
      result[name.data()] = text_attribute(file, NC_GLOBAL, name.data());
  }
  return result;
}

/// Largest factor by which the compression of a chunk can shrink it (DEFLATE, RFC 1951: 258 bytes in 2 bits).
constexpr double kDeflateMax = 1032.0;

/// A corrupted header may claim any number of rows; what a file says must fit into it.
bool fits(int file, const std::string& path, std::size_t rows, const std::vector<SignalInfo>& signals) {
  std::error_code error;
  const auto size = static_cast<double>(std::filesystem::file_size(path, error));
  if (error) return false;
  const auto claimed = [&](const char* name, double bytes) {
    int variable = -1, shuffle = 0, deflate = 0, level = 0;
    if (nc_inq_varid(file, name, &variable) != NC_NOERR) return bytes;
    nc_inq_var_deflate(file, variable, &shuffle, &deflate, &level);
    return deflate != 0 ? bytes / kDeflateMax : bytes;
  };
  const auto count = static_cast<double>(rows);
  double bytes = claimed("time", count * sizeof(double));
  for (const SignalInfo& s : signals)
    bytes += claimed(s.name.c_str(), count * static_cast<double>(s.width) * sizeof(float));
  return bytes <= size;
}

}  // namespace

std::optional<TraceReader> TraceReader::open(const std::string& path, std::string& problem) {
  TraceReader reader;
  const auto lock = layout::lock_library();
  if (Outcome opened =
          layout::outcome(nc_open(layout::library_path(path).c_str(), NC_NOWRITE, &reader.file_), path);
      !opened) {
    reader.file_ = -1;
    problem = opened.problem;
    return {};
  }
  int time = -1;
  int time_variable = -1;
  int variables = 0;
  std::size_t rows = 0;
  if (nc_inq_dimid(reader.file_, "time", &time) != NC_NOERR ||
      nc_inq_varid(reader.file_, "time", &time_variable) != NC_NOERR ||
      nc_inq_dimlen(reader.file_, time, &rows) != NC_NOERR ||
      nc_inq_nvars(reader.file_, &variables) != NC_NOERR) {
    problem = path + ": not a trace: it has no time";
    return {};
  }
  for (int variable = 0; variable < variables; ++variable)
    if (std::optional<SignalInfo> signal = read_signal(reader.file_, variable, time))
      reader.signals_.push_back(std::move(*signal));
  if (!fits(reader.file_, path, rows, reader.signals_)) {
    problem = path + ": is damaged: it claims more rows than fit into it";
    return {};
  }
  reader.times_.resize(rows);
  if (rows > 0) {
    const Outcome read =
        layout::outcome(nc_get_var_double(reader.file_, time_variable, reader.times_.data()), path);
    if (!read) {
      problem = read.problem;
      return {};
    }
  }
  reader.attributes_ = read_attributes(reader.file_);
  return reader;
}

TraceReader::~TraceReader() {
  if (file_ < 0) return;
  const auto lock = layout::lock_library();
  nc_close(file_);
}

TraceReader::TraceReader(TraceReader&& other) noexcept
    : file_(std::exchange(other.file_, -1)),
      signals_(std::move(other.signals_)),
      attributes_(std::move(other.attributes_)),
      times_(std::move(other.times_)) {}

TraceReader& TraceReader::operator=(TraceReader&& other) noexcept {
  std::swap(file_, other.file_);
  signals_ = std::move(other.signals_);
  attributes_ = std::move(other.attributes_);
  times_ = std::move(other.times_);
  return *this;
}

const SignalInfo* TraceReader::find(std::string_view name) const {
  const auto at = std::find_if(signals_.begin(), signals_.end(),
                               [name](const SignalInfo& signal) { return signal.name == name; });
  return at == signals_.end() ? nullptr : &*at;
}

std::vector<double> TraceReader::column(std::string_view name, std::size_t first, std::size_t count) const {
  const SignalInfo* signal = find(name);
  const auto lock = layout::lock_library();
  int variable = -1;
  if (signal == nullptr || nc_inq_varid(file_, signal->name.c_str(), &variable) != NC_NOERR) return {};
  // a column is read once: by default the library keeps it until the file is closed, each in 16 MiB of its own;
  // the rows of a run that goes on have no chunks, and the call says so
  nc_set_var_chunk_cache(file_, variable, 0, 1, 1.0F);
  std::vector<double> values(count * signal->width);
  const auto counts = layout::shape_of(*signal, count);
  std::vector<std::size_t> from(counts.size(), 0);
  from[0] = first;
  if (!values.empty() &&
      nc_get_vara_double(file_, variable, from.data(), counts.data(), values.data()) != NC_NOERR)
    return {};
  return values;
}

}  // namespace duskline::harness
