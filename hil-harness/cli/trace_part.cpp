#include "hil-harness/cli/trace_part.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "hil-harness/report/display_units.hpp"
#include "hil-harness/trace/trace_reader.hpp"
#include "scenarios/reader/quantity.hpp"
#include "scenarios/reader/suggest.hpp"
#include "scenarios/reader/text.hpp"
#include "scenarios/reader/units.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;
using scenarios::Problem;

/// Reads what was asked for and gathers what is wrong with it.
class Part {
 public:
  explicit Part(const PartRequest& request) : request_(request) {}

  scenarios::Result<TracePart> read() {
    const double from = time(request_.from, "--from", 0.0), to = time(request_.to, "--to", 1e12);
    const double every = time(request_.every, "--every", 0.0);
    if (!open()) return {std::nullopt, problems_};
    choose_signals();
    choose_units();
    if (!problems_.empty()) return {std::nullopt, problems_};
    rows_within(from, to, every);
    if (rows_.empty())
      return {std::nullopt, {{request_.run, 1, 1, "", "holds no row between these instants"}}};
    for (const std::size_t row : rows_) part_.times.push_back(trace_->times()[row]);
    for (TraceColumn& column : part_.columns)
      if (!fill(column)) return {std::nullopt, problems_};
    return {std::move(part_), {}};
  }

 private:
  void add(const char* option, std::size_t number, const std::string& path, std::string message) {
    problems_.push_back({fmt::format("{}:{}", option, number + 1), 1, 1, path, std::move(message)});
  }

  double time(const std::string& text, const char* option, double otherwise) {
    if (text.empty()) return otherwise;
    const auto reading = scenarios::read_quantity(text, {"s", 0.0, 1e12});
    if (!reading.error.empty()) problems_.push_back({option, 1, 1, "", reading.error});
    return reading.value;
  }

  bool open() {
    std::error_code error;
    const fs::path given = fs::absolute(request_.run, error).lexically_normal();
    const fs::path file = fs::is_directory(given, error) ? given / "trace.nc" : given;
    std::string problem = "there is no recorded run (trace.nc)";
    if (fs::is_regular_file(file, error)) trace_ = TraceReader::open(file.string(), problem);
    if (!trace_) problems_.push_back({request_.run, 1, 1, "", problem});
    return trace_.has_value();
  }

  void choose_signals() {
    std::vector<std::string> known;
    for (const SignalInfo& s : trace_->signals()) known.push_back(s.name);
    for (std::size_t i = 0; i < request_.signals.size(); ++i) {
      const std::string& list = request_.signals[i];
      for (std::size_t at = 0; at <= list.size();) {
        const std::size_t end = std::min(list.find(',', at), list.size());
        const std::string name = list.substr(at, end - at);
        at = end + 1;
        if (const SignalInfo* info = trace_->find(name))
          part_.columns.push_back({*info, info->unit, {}});
        else
          add("--signal", i, name, "the trace has no such signal" + scenarios::did_you_mean(name, known));
      }
    }
  }

  void choose_units() {
    for (std::size_t i = 0; i < request_.units.size(); ++i) {
      const std::string& given = request_.units[i];
      const std::size_t equals = given.find('=');
      const std::string name = given.substr(0, equals);
      const std::string unit = equals == std::string::npos ? "" : given.substr(equals + 1);
      const auto column = std::find_if(part_.columns.begin(), part_.columns.end(),
                                       [&](const TraceColumn& c) { return c.info.name == name; });
      if (column == part_.columns.end())
        add("--unit", i, name, "is none of the signals asked for");
      else if (std::vector<double> none; unit.empty() || !convert_units(none, column->unit, unit))
        add("--unit", i, name,
            fmt::format("'{}' is no unit for {}{}", unit, column->unit, suggestion(unit, column->unit)));
      else
        column->unit = unit;
    }
  }

  static std::string suggestion(const std::string& unit, const std::string& wanted) {
    const std::string near = scenarios::nearest_unit(unit, wanted);
    return near.empty() ? "" : fmt::format("; did you mean '{}'?", near);
  }

  void rows_within(double from, double to, double every) {
    double due = from;
    for (std::size_t row = 0; row < trace_->rows(); ++row) {
      const double t = trace_->times()[row];
      if (t < due || t > to) continue;
      rows_.push_back(row);
      if (every > 0.0) due = from + (std::floor((t - from) / every) + 1.0) * every;
    }
  }

  bool fill(TraceColumn& column) {
    const std::vector<double> all = trace_->column(column.info.name);
    const std::size_t width = column.info.width;
    if (all.size() < trace_->rows() * width) {
      problems_.push_back({request_.run, 1, 1, column.info.name, "cannot be read"});
      return false;
    }
    for (const std::size_t row : rows_)
      column.values.insert(column.values.end(), all.begin() + static_cast<std::ptrdiff_t>(row * width),
                           all.begin() + static_cast<std::ptrdiff_t>((row + 1) * width));
    if (column.unit == column.info.unit) return true;
    return convert_units(column.values, column.info.unit, column.unit);
  }

  const PartRequest& request_;
  std::optional<TraceReader> trace_;
  std::vector<std::size_t> rows_;
  TracePart part_;
  std::vector<Problem> problems_;
};

std::string csv_field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string out = "\"";
  for (const char c : text) out += c == '"' ? "\"\"" : std::string(1, c);
  return out + "\"";
}

}  // namespace

scenarios::Result<TracePart> read_part(const PartRequest& request) {
  return Part(request).read();
}

std::string cell_text(const TraceColumn& column, double value) {
  const auto& flags = column.info.flags;
  if (std::isnan(value)) return {};
  if (flags.empty())
    return column.unit == column.info.unit ? fmt::format("{}", static_cast<float>(value))
                                           : fmt::format("{:.9g}", value);
  if (value < 0.0) return {};
  if (!column.info.masks) {
    const auto n = static_cast<std::size_t>(value);
    return n < flags.size() ? flags[n] : fmt::format("{}", n);
  }
  std::string text;
  for (std::size_t n = 0; n < flags.size(); ++n)
    if ((static_cast<unsigned long long>(value) >> n & 1U) != 0)
      text += (text.empty() ? "" : " + ") + flags[n];
  return text;
}

std::string csv_of(const TracePart& part) {
  std::string text = "time (s)";
  for (const TraceColumn& c : part.columns)
    for (std::size_t k = 0; k < c.info.width; ++k) {
      std::string head = c.info.name + c.info.place_name(k);
      if (c.info.flags.empty() && !c.unit.empty()) head += fmt::format(" ({})", c.unit);
      text += "," + csv_field(head);
    }
  text += "\r\n";
  for (std::size_t row = 0; row < part.times.size(); ++row) {
    text += fmt::format("{}", part.times[row]);
    for (const TraceColumn& c : part.columns)
      for (std::size_t k = 0; k < c.info.width; ++k)
        text += "," + csv_field(cell_text(c, c.values[row * c.info.width + k]));
    text += "\r\n";
  }
  return text;
}

}  // namespace duskline::harness
