#include "hil-harness/trace/layout.hpp"

#include <netcdf.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <limits>
#include <set>

namespace duskline::harness {

std::size_t row_width(const std::vector<SignalInfo>& signals) {
  std::size_t width = 0;
  for (const SignalInfo& signal : signals) width += signal.width;
  return width;
}

std::string SignalInfo::place_name(std::size_t i) const {
  if (modules == 0) return width > 1 ? "[" + std::to_string(i + 1) + "]" : "";
  const std::string module = "[" + std::to_string(i / places() + 1) + "]";
  return places() > 1 ? module + "[" + std::to_string(i % places() + 1) + "]" : module;
}

namespace layout {
namespace {

constexpr const char* kModuleAxis = "module";

/// Calls to the library in a row; the first that fails is kept, the rest are left out.
class Calls {
 public:
  template <class Call>
  void operator()(const std::string& what, Call&& call) {
    if (result_) result_ = outcome(call(), what);
  }
  const Outcome& result() const { return result_; }

 private:
  Outcome result_;
};

void put_text(Calls& calls, int file, int variable, const std::string& name, const std::string& text) {
  if (text.empty()) return;
  calls("attribute '" + name + "'",
        [&] { return nc_put_att_text(file, variable, name.c_str(), text.size(), text.data()); });
}

/// CF wants the words of a flag separated by blanks, so blanks inside a word become underscores.
std::string flag_words(const std::vector<std::string>& flags) {
  std::string words;
  for (std::string word : flags) {
    std::replace(word.begin(), word.end(), ' ', '_');
    words += (words.empty() ? "" : " ") + word;
  }
  return words;
}

void put_flags(Calls& calls, int file, int variable, const SignalInfo& signal) {
  std::vector<int> values;
  for (std::size_t i = 0; i < signal.flags.size(); ++i)
    values.push_back(signal.masks ? 1 << i : static_cast<int>(i));
  const char* name = signal.masks ? "flag_masks" : "flag_values";
  calls(signal.name,
        [&] { return nc_put_att_int(file, variable, name, NC_INT, values.size(), values.data()); });
  put_text(calls, file, variable, "flag_meanings", flag_words(signal.flags));
}

void put_axis(Calls& calls, int file, const std::string& axis, int dimension, std::vector<int>& coordinates) {
  int variable = -1;
  calls(axis, [&] { return nc_def_var(file, axis.c_str(), NC_INT, 1, &dimension, &variable); });
  put_text(calls, file, variable, "long_name", axis + " number, from 1");
  put_text(calls, file, variable, "units", "1");
  coordinates.push_back(variable);
}

void put_signal(Calls& calls, int file, Storage storage, const SignalInfo& signal,
                const std::vector<int>& dimensions, std::size_t chunk_rows, int deflate, int& variable) {
  const bool flags = !signal.flags.empty();
  const int rank = static_cast<int>(dimensions.size());
  calls(signal.name, [&] {
    return nc_def_var(file, signal.name.c_str(), flags ? NC_INT : NC_FLOAT, rank, dimensions.data(),
                      &variable);
  });
  if (storage == Storage::columns) {
    const auto chunk = shape_of(signal, chunk_rows);
    calls(signal.name, [&] { return nc_def_var_chunking(file, variable, NC_CHUNKED, chunk.data()); });
    if (deflate > 0) calls(signal.name, [&] { return nc_def_var_deflate(file, variable, 1, 1, deflate); });
  }
  put_text(calls, file, variable, "long_name", signal.meaning);
  put_text(calls, file, variable, "units", signal.unit);
  put_text(calls, file, variable, "group", signal.group);
  if (!signal.cell_method.empty())
    put_text(calls, file, variable, "cell_methods", "time: " + signal.cell_method);
  if (flags) {
    put_flags(calls, file, variable, signal);
  } else {
    const float fill = std::numeric_limits<float>::quiet_NaN();
    calls(signal.name, [&] { return nc_put_att_float(file, variable, "_FillValue", NC_FLOAT, 1, &fill); });
  }
}

}  // namespace

namespace {

bool is_no_space(int error) {
  return error == ENOSPC || error == EDQUOT || error == EFBIG;
}

}  // namespace

std::unique_lock<std::mutex> lock_library() {
  static std::mutex mutex;
  return std::unique_lock(mutex);
}

Outcome outcome(int status, const std::string& text) {
  if (status == NC_NOERR) return {};
  return {text + ": " + nc_strerror(status), is_no_space(status)};
}

Outcome system_outcome(const std::string& text) {
  const int error = errno;
  return {text + ": " + std::strerror(error), is_no_space(error)};
}

std::string library_path(const std::string& path) {
  std::error_code error;
  const std::string whole = std::filesystem::absolute(path, error).string();
  if (error) return path;
  std::string plain;  // "//" is "/" to the system, but part of an address to the library
  for (const char c : whole)
    if (c != '/' || plain.empty() || plain.back() != '/') plain += c;
  return plain;
}

std::vector<std::size_t> shape_of(const SignalInfo& signal, std::size_t rows) {
  std::vector<std::size_t> shape{rows};
  if (signal.modules > 0) shape.push_back(signal.modules);
  if (!signal.axis.empty()) shape.push_back(signal.places());
  return shape;
}

Outcome check(const std::vector<SignalInfo>& signals) {
  std::set<std::string> names{"time"};
  std::map<std::string, std::size_t> widths;
  for (const SignalInfo& signal : signals) {
    if (!names.insert(signal.name).second) return {"signal '" + signal.name + "' is named twice"};
    if (signal.width == 0) return {"signal '" + signal.name + "' has no values"};
    if (signal.axis.empty() && signal.places() > 1)
      return {"signal '" + signal.name + "' has several values but no axis"};
    if (!signal.axis.empty() && widths.emplace(signal.axis, signal.places()).first->second != signal.places())
      return {"signal '" + signal.name + "': axis '" + signal.axis + "' has two widths"};
    if (signal.modules > 0 && (signal.width % signal.modules != 0 ||
                               widths.emplace(kModuleAxis, signal.modules).first->second != signal.modules))
      return {"signal '" + signal.name + "' is of another number of modules"};
    if (signal.masks && signal.flags.size() > 31) return {"signal '" + signal.name + "' has too many flags"};
  }
  for (const auto& [axis, width] : widths)
    if (names.contains(axis)) return {"'" + axis + "' is the name of a signal and of an axis"};
  return {};
}

Outcome define(int file, Storage storage, const std::vector<SignalInfo>& signals,
               const std::map<std::string, std::string>& attributes, std::size_t chunk_rows, int deflate,
               Definition& out) {
  Calls calls;
  int time = -1;
  calls("time", [&] { return nc_def_dim(file, "time", NC_UNLIMITED, &time); });
  std::map<std::string, int> axes;
  std::vector<int> coordinates;
  std::vector<int> counts;
  for (const SignalInfo& signal : signals) {
    const auto add = [&](const std::string& axis, std::size_t places) {
      if (axis.empty() || places == 0 || axes.contains(axis)) return;
      int& dimension = axes[axis];
      calls(axis, [&] { return nc_def_dim(file, axis.c_str(), places, &dimension); });
      put_axis(calls, file, axis, dimension, coordinates);
      counts.push_back(static_cast<int>(places));
    };
    add(kModuleAxis, signal.modules);
    add(signal.axis, signal.places());
  }

  calls("time", [&] { return nc_def_var(file, "time", NC_DOUBLE, 1, &time, &out.time); });
  if (storage == Storage::columns) {
    calls("time", [&] { return nc_def_var_chunking(file, out.time, NC_CHUNKED, &chunk_rows); });
    if (deflate > 0) calls("time", [&] { return nc_def_var_deflate(file, out.time, 1, 1, deflate); });
  }
  put_text(calls, file, out.time, "long_name", "time since the start of the run");
  put_text(calls, file, out.time, "units", "s");
  put_text(calls, file, out.time, "axis", "T");

  out.variables.assign(signals.size(), -1);
  for (std::size_t i = 0; i < signals.size(); ++i) {
    std::vector<int> dimensions{time};
    if (signals[i].modules > 0) dimensions.push_back(axes[kModuleAxis]);
    if (!signals[i].axis.empty()) dimensions.push_back(axes[signals[i].axis]);
    put_signal(calls, file, storage, signals[i], dimensions, chunk_rows, deflate, out.variables[i]);
  }
  put_text(calls, file, NC_GLOBAL, "Conventions", "CF-1.10");
  for (const auto& [name, text] : attributes) put_text(calls, file, NC_GLOBAL, name, text);
  calls("definitions", [&] { return nc_enddef(file); });

  for (std::size_t i = 0; i < coordinates.size(); ++i)
    for (int k = 0; k < counts[i]; ++k) {
      const std::size_t index = static_cast<std::size_t>(k);
      const int number = k + 1;
      calls("axis", [&] { return nc_put_var1_int(file, coordinates[i], &index, &number); });
    }
  return calls.result();
}

}  // namespace layout
}  // namespace duskline::harness
