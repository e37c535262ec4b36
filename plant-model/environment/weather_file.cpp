#include "plant-model/environment/weather_file.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <limits>
#include <numeric>
#include <utility>

#include "plant-model/environment/sol_clock.hpp"
#include "plant-model/environment/weather_columns.hpp"

namespace duskline::plant {
namespace {

using weather::Field;
using weather::kFields;
using weather::kTimeFields;

constexpr std::size_t kMostBytes = std::size_t{64} << 20U;
constexpr std::size_t kMostProblems = 100;
constexpr std::size_t kMostRows = 4000000;  // a year every quarter of a minute
constexpr std::size_t kLongestLine = 4096;  // bytes
constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

struct Cell {
  std::string_view text;
  std::size_t column;  ///< of its first character in the line, from 1
};

/// One row of numbers in SI; NaN where the file has none.
using Row = std::array<double, kFields>;

bool blank(char c) {
  return c == ' ' || c == '\t' || c == '\r';
}

Cell trimmed(std::string_view line, std::size_t begin, std::size_t end) {
  while (begin < end && blank(line[begin])) ++begin;
  while (end > begin && blank(line[end - 1])) --end;
  if (end - begin >= 2 && line[begin] == '"' && line[end - 1] == '"') ++begin, --end;
  return {line.substr(begin, end - begin), begin + 1};
}

void split(std::string_view line, std::vector<Cell>& cells) {
  cells.clear();
  std::size_t begin = 0;
  bool quoted = false;
  for (std::size_t i = 0; i <= line.size(); ++i) {
    if (i < line.size() && line[i] == '"') quoted = !quoted;
    if (i < line.size() && (line[i] != ',' || quoted)) continue;
    cells.push_back(trimmed(line, begin, i));
    begin = i + 1;
  }
}

bool means_missing(std::string_view text) {
  constexpr std::array<std::string_view, 8> kWords{"", "NaN", "nan", "NA", "N/A", "null", "-", "--"};
  return std::find(kWords.begin(), kWords.end(), text) != kWords.end();
}

std::string number(double x) {
  std::array<char, 32> buffer{};
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), x, std::chars_format::general, 6).ptr;
  return {buffer.data(), end};
}

/// Printable start of a cell for a message.
std::string shown(std::string_view text) {
  std::string out;
  for (const char c : text.substr(0, 24)) out += c >= ' ' && c <= '~' ? c : '?';
  return "'" + out + (text.size() > 24 ? "...'" : "'");
}

class Reader {
 public:
  Reader(std::string_view text, std::string_view file) : text_(text), file_(file) {}
  WeatherFile read();

 private:
  struct Used {
    std::size_t index;
    weather::Column column;
    std::vector<double> values;  ///< row by row
  };
  bool full() const { return out_.problems.size() >= kMostProblems; }
  void problem(std::size_t line, std::size_t column, std::string_view name, std::string message);
  void read_header(std::string_view line, std::size_t number);
  void read_row(std::string_view line, std::size_t number);
  double read_cell(const Cell& cell, const weather::Column& column, std::size_t line);
  bool has(Field f) const { return where(f) != nullptr; }
  const Used* where(Field f) const;
  void check_time_axis();
  double sols_of(const Row& row) const;
  void sort_rows();
  void build_series();
  void note_gaps(const WeatherChannel& channel, std::string_view name, double shift);

  std::string_view text_;
  std::string file_;
  WeatherFile out_;
  std::vector<Used> used_;
  std::size_t header_line_ = 0, header_cells_ = 0;
  std::vector<Cell> cells_;           ///< of the line that is being read
  std::vector<std::uint32_t> lines_;  ///< row by row
  std::vector<double> sols_;
};

void Reader::problem(std::size_t line, std::size_t column, std::string_view name, std::string message) {
  if (full()) return;
  out_.problems.push_back({file_, line, column, std::string(name), std::move(message)});
}

const Reader::Used* Reader::where(Field f) const {
  for (const Used& u : used_) {
    if (u.column.field == f) return &u;
  }
  return nullptr;
}

void Reader::read_header(std::string_view line, std::size_t number) {
  header_line_ = number;
  split(line, cells_);
  const std::vector<Cell>& cells = cells_;
  header_cells_ = cells.size();
  for (std::size_t i = 0; i < cells.size(); ++i) {
    const weather::HeaderCell header = weather::read_header_cell(cells[i].text);
    const std::string name = shown(cells[i].text);
    if (!header.problem.empty()) {
      problem(number, cells[i].column, cells[i].text.substr(0, 40), header.problem);
    } else if (!header.column) {
      if (out_.notes.size() < kMostProblems) out_.notes.push_back("column " + name + " is not used");
    } else if (const Used* other = where(header.column->field)) {
      problem(number, cells[i].column, header.column->name,
              "means the same as column '" + other->column.name + "'; keep one of them");
    } else {
      used_.push_back({i, *header.column, {}});
    }
  }
  if (out_.problems.empty()) check_time_axis();
}

void Reader::check_time_axis() {
  const bool quantity = std::any_of(used_.begin(), used_.end(), [](const Used& u) {
    return static_cast<std::size_t>(u.column.field) >= kTimeFields && u.column.field != Field::longitude;
  });
  if (!quantity) {
    problem(header_line_, 1, "file",
            "no column of weather found; name one temperature [K], pressure [Pa], wind_speed [m/s], ...");
  }
  if (!has(Field::time) && !has(Field::sol) && !has(Field::local_time) && !has(Field::longitude)) {
    problem(header_line_, 1, "file", "no time column; name one time [s], sol, local_time [h] or ls [deg]");
  }
  if (has(Field::time) && has(Field::sol)) {
    problem(header_line_, 1, "file", "both a time and a sol column; keep one of them");
  }
  if (has(Field::coldest) != has(Field::warmest)) {
    problem(header_line_, 1, "file", "min_temp and max_temp are needed together");
  }
  if (has(Field::coldest) && has(Field::temperature)) {
    problem(header_line_, 1, "file", "both temperature and daily extremes; keep one of them");
  }
}

double Reader::read_cell(const Cell& cell, const weather::Column& column, std::size_t line) {
  if (means_missing(cell.text)) return kNone;
  double x = 0.0;
  const char* const begin = cell.text.data();
  const char* const end = begin + cell.text.size();
  const bool plus = *begin == '+';
  const auto [stop, error] = std::from_chars(plus ? begin + 1 : begin, end, x);
  if (error == std::errc::invalid_argument || stop != end || (plus && begin[1] == '-')) {
    problem(line, cell.column, column.name, shown(cell.text) + " is not a number");
    return kNone;
  }
  if (std::isnan(x)) return kNone;
  const weather::Range range = weather::range_of(column.field);
  const double si = column.offset + column.factor * x;
  if (error != std::errc{} || !(si >= range.least && si <= range.most)) {
    problem(line, cell.column, column.name,
            shown(cell.text) + " is outside " + std::string(range.text) + "; is the unit right?");
    return kNone;
  }
  return si;
}

void Reader::read_row(std::string_view line, std::size_t number) {
  split(line, cells_);
  const std::vector<Cell>& cells = cells_;
  if (cells.size() != header_cells_) {
    problem(number, 1, "file",
            std::to_string(cells.size()) + " cells where the header has " + std::to_string(header_cells_));
    return;
  }
  Row row;
  row.fill(kNone);
  for (const Used& u : used_) {
    const std::size_t before = out_.problems.size();
    const double x = read_cell(cells[u.index], u.column, number);
    row[static_cast<std::size_t>(u.column.field)] = x;
    const bool is_time = static_cast<std::size_t>(u.column.field) < kTimeFields ||
                         (u.column.field == Field::longitude && !has(Field::sol) && !has(Field::time));
    if (is_time && std::isnan(x) && out_.problems.size() == before) {
      problem(number, cells[u.index].column, u.column.name, "this row has no time");
    }
  }
  const auto value = [&row](Field f) { return row[static_cast<std::size_t>(f)]; };
  if (value(Field::coldest) > value(Field::warmest)) {
    problem(number, cells[where(Field::coldest)->index].column, "min_temp", "is above max_temp");
  }
  double minor = 0.0;
  for (const Field f : {Field::co, Field::o2, Field::n2, Field::ar})
    minor += std::isnan(value(f)) ? 0.0 : value(f);
  const double total = minor + value(Field::co2);
  if (minor > 1.0 || total > 1.05) problem(number, 1, "file", "mole fractions add up to more than 1");
  if (total <= 0.0) problem(number, 1, "file", "mole fractions are all 0");
  if (lines_.size() == kMostRows) problem(number, 1, "file", "more than 4000000 rows");
  if (!out_.problems.empty()) return;
  for (Used& u : used_) u.values.push_back(row[static_cast<std::size_t>(u.column.field)]);
  lines_.push_back(static_cast<std::uint32_t>(number));
  sols_.push_back(sols_of(row));
}

double Reader::sols_of(const Row& row) const {
  const auto value = [&row](Field f) { return row[static_cast<std::size_t>(f)]; };
  const double hour = has(Field::local_time) ? value(Field::local_time) : 0.0;
  if (has(Field::time)) return value(Field::time) / kSolSeconds;
  if (has(Field::sol))
    return has(Field::local_time) ? std::floor(value(Field::sol)) + hour : value(Field::sol);
  if (!has(Field::longitude)) return hour;
  const double sols = sols_since_equinox(value(Field::longitude));
  return std::floor(sols) + hour;
}

void Reader::sort_rows() {
  if (!std::is_sorted(sols_.begin(), sols_.end())) {
    std::vector<std::uint32_t> order(sols_.size());
    std::iota(order.begin(), order.end(), 0U);
    std::stable_sort(order.begin(), order.end(),
                     [this](std::uint32_t a, std::uint32_t b) { return sols_[a] < sols_[b]; });
    const auto arrange = [&order](auto& values) {
      auto sorted = values;
      for (std::size_t i = 0; i < order.size(); ++i) sorted[i] = values[order[i]];
      values = std::move(sorted);
    };
    for (Used& u : used_) arrange(u.values);
    arrange(lines_);
    arrange(sols_);
  }
  for (std::size_t i = 1; i < sols_.size(); ++i) {
    if (sols_[i] - sols_[i - 1] >= 1e-9) continue;
    const auto [first, second] = std::minmax(lines_[i - 1], lines_[i]);
    problem(second, 1, "file", "is at the same time as line " + std::to_string(first));
  }
}

void Reader::note_gaps(const WeatherChannel& channel, std::string_view name, double shift) {
  for (const WeatherChannel::Gap& gap : channel.gaps()) {
    if (out_.notes.size() >= 1000) return;
    out_.notes.push_back(
        std::string(name) + ": nothing between sol " + number(gap.after - shift) + " and sol " +
        number(gap.before - shift) + "; filled " +
        (gap.long_gap ? "from the sols on both sides at the same local hour" : "by interpolation"));
  }
}

void Reader::build_series() {
  WeatherSeries series;
  series.from_start = has(Field::time);
  series.by_season = !has(Field::time) && !has(Field::sol) && has(Field::longitude);
  if (series.by_season) {
    series.repeat = std::ceil(kSolsPerYear);
  } else if (!has(Field::time) && !has(Field::sol)) {
    series.repeat = 1.0;
  }
  series.first_sol = sols_.front();
  series.last_sol = sols_.back();
  for (Used& u : used_) {
    const auto field = static_cast<std::size_t>(u.column.field);
    const std::vector<double> all = std::exchange(u.values, {});  // given back when the column is done
    if (field < kTimeFields) continue;
    if (series.by_season && u.column.field == Field::longitude) continue;
    std::vector<double> sols, values;
    for (std::size_t i = 0; i < all.size(); ++i) {
      double x = all[i];
      if (std::isnan(x)) continue;
      // A season is unwrapped to be continuous from row to row.
      if (u.column.field == Field::longitude && !values.empty()) {
        const double expected = values.back() + (sols_[i] - sols.back()) * kTurn / kSolsPerYear;
        x += kTurn * std::round((expected - x) / kTurn);
      }
      sols.push_back(sols_[i]);
      values.push_back(x);
    }
    if (values.empty()) {
      out_.notes.push_back("column '" + u.column.name + "' holds no value; the model's own is used");
      continue;
    }
    // Daily extremes belong to the cold hour before sunrise and the warm one of the afternoon, daily means to
    // noon.
    const double at_hour = u.column.field == Field::coldest   ? 5.5 / 24.0
                           : u.column.field == Field::warmest ? 14.8 / 24.0
                                                              : 0.5;
    WeatherChannel& channel = series.channels[field - kTimeFields];
    const bool whole_sols =
        std::all_of(sols.begin(), sols.end(), [](double s) { return s == std::floor(s); });
    if (whole_sols) {
      for (double& s : sols) s += at_hour;
    }
    const bool by_hour = u.column.field < Field::optical_depth;  // the rest changes from sol to sol only
    channel.assign(std::move(sols), std::move(values), series.repeat, by_hour);
    note_gaps(channel, u.column.name, whole_sols ? at_hour : 0.0);
  }
  const bool any = std::any_of(series.channels.begin(), series.channels.end(),
                               [](const WeatherChannel& c) { return !c.empty(); });
  if (!any) {
    problem(header_line_, 1, "file", "not one value of weather in the whole file");
    return;
  }
  out_.series = std::move(series);
}

WeatherFile Reader::read() {
  if (text_.substr(0, 3) == "\xEF\xBB\xBF") text_.remove_prefix(3);
  std::size_t line_number = 0;
  for (std::size_t begin = 0; begin < text_.size() && !full();) {
    ++line_number;
    const std::size_t end = std::min(text_.find('\n', begin), text_.size());
    const std::string_view line = text_.substr(begin, end - begin);
    begin = end + 1;
    if (line.size() > kLongestLine) {
      problem(line_number, 1, "file", "a line of more than 4096 bytes; is this a table?");
      break;
    }
    if (const std::size_t nul = line.find('\0'); nul != std::string_view::npos) {
      problem(line_number, nul + 1, "file", "a byte 0; this is not a text file");
      break;
    }
    const Cell whole = trimmed(line, 0, line.size());
    if (whole.text.empty() || whole.text.front() == '#') continue;
    if (header_line_ == 0) {
      read_header(line, line_number);
      if (!out_.problems.empty()) break;  // nothing below can be trusted
    } else {
      read_row(line, line_number);
    }
  }
  if (header_line_ == 0 && out_.problems.empty()) problem(1, 1, "file", "is empty: no header row");
  if (header_line_ != 0 && lines_.empty() && out_.problems.empty()) {
    problem(header_line_, 1, "file", "has a header row but no data");
  }
  if (out_.problems.empty()) sort_rows();
  if (out_.problems.empty()) build_series();
  return std::move(out_);
}

}  // namespace

std::string WeatherProblem::text() const {
  return file + ":" + std::to_string(line) + ":" + std::to_string(column) + ": " + name + ": " + message;
}

WeatherFile parse_weather(std::string_view text, std::string_view file) {
  return Reader(text, file).read();
}

WeatherFile read_weather_file(const std::string& path) {
  const auto failure = [&path](const char* message) {
    WeatherFile out;
    out.problems.push_back({path, 1, 1, "file", message});
    return out;
  };
  std::error_code error;
  const auto status = std::filesystem::status(path, error);
  if (std::filesystem::exists(status) && !std::filesystem::is_regular_file(status))
    return failure("is not a regular file");
  std::ifstream in(path, std::ios::binary);
  if (!in) return failure("cannot be opened");
  std::string text;
  std::array<char, 1 << 16> buffer{};
  while (in.read(buffer.data(), static_cast<std::streamsize>(buffer.size())) || in.gcount() > 0) {
    text.append(buffer.data(), static_cast<std::size_t>(in.gcount()));
    if (text.size() > kMostBytes) return failure("is larger than 64 MB");
  }
  if (in.bad()) return failure("cannot be read");
  return parse_weather(text, path);
}

}  // namespace duskline::plant
