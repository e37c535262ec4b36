#include "plant-model/environment/weather_columns.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <span>
#include <vector>

#include "plant-model/environment/sol_clock.hpp"

namespace duskline::plant::weather {
namespace {

struct Unit {
  std::string_view name;
  double factor, offset;
};
constexpr std::array<Unit, 4> kTimes{{{"s", 1, 0}, {"min", 60, 0}, {"h", 3600, 0}, {"sol", kSolSeconds, 0}}};
constexpr std::array<Unit, 2> kSols{{{"1", 1, 0}, {"sol", 1, 0}}};
constexpr std::array<Unit, 3> kHours{{{"h", 1.0 / 24.0, 0}, {"1", 1, 0}, {"sol", 1, 0}}};
constexpr std::array<Unit, 3> kTemperatures{{{"K", 1, 0}, {"degC", 1, 273.15}, {"C", 1, 273.15}}};
constexpr std::array<Unit, 5> kPressures{
    {{"Pa", 1, 0}, {"hPa", 100, 0}, {"mbar", 100, 0}, {"mb", 100, 0}, {"kPa", 1000, 0}}};
constexpr std::array<Unit, 2> kSpeeds{{{"m/s", 1, 0}, {"m s-1", 1, 0}}};
constexpr std::array<Unit, 1> kPure{{{"1", 1, 0}}};
constexpr std::array<Unit, 3> kFractions{{{"1", 1, 0}, {"%", 0.01, 0}, {"ppm", 1e-6, 0}}};
constexpr std::array<Unit, 2> kAngles{{{"deg", kDegree, 0}, {"rad", 1, 0}}};

struct Definition {
  std::string_view names;  ///< accepted names, separated by spaces, the first one is ours
  std::span<const Unit> units;
  std::string_view default_unit;  ///< empty: a unit must be given
  Range range;
};

constexpr Range kAir{100, 350, "100 to 350 K"};
constexpr Range kFraction{0, 1, "0 to 1"};

/// The table, in the order of Field.
constexpr std::array<Definition, kFields> kWeatherColumns{{
    {"time elapsed", kTimes, "s", {-1e10, 1e10, "-1e10 to 1e10 s"}},
    {"sol", kSols, "1", {-1e6, 1e6, "-1e6 to 1e6"}},
    {"local_time ltst lmst hour local_hour", kHours, "", {0, 1, "0 to 24 h"}},
    {"temperature t air_temperature temp", kTemperatures, "", kAir},
    {"min_temp min_temperature", kTemperatures, "degC", kAir},
    {"max_temp max_temperature", kTemperatures, "degC", kAir},
    {"pressure p", kPressures, "Pa", {50, 2000, "50 to 2000 Pa"}},
    {"wind_speed wind", kSpeeds, "m/s", {0, 100, "0 to 100 m/s"}},
    {"optical_depth tau", kPure, "1", {0, 20, "0 to 20"}},
    {"ls solar_longitude areocentric_longitude", kAngles, "deg", {0, kTurn + 1e-9, "0 to 360 deg"}},
    {"co2", kFractions, "1", kFraction},
    {"co", kFractions, "1", kFraction},
    {"o2", kFractions, "1", kFraction},
    {"n2", kFractions, "1", kFraction},
    {"ar ar40", kFractions, "1", kFraction},
}};

const Definition& definition(Field field) {
  return kWeatherColumns[static_cast<std::size_t>(field)];
}

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

std::vector<std::string> words_of(std::string_view name) {
  std::vector<std::string> words(1);
  for (const char c : name) {
    if (c == '_' || c == ' ' || c == '-') {
      if (!words.back().empty()) words.emplace_back();
    } else {
      words.back().push_back(c);
    }
  }
  if (words.back().empty()) words.pop_back();
  return words;
}

std::string join(std::span<const std::string> words) {
  std::string out;
  for (const std::string& w : words) out += (out.empty() ? "" : "_") + w;
  return out;
}

std::optional<Field> field_named(std::string_view name) {
  for (std::size_t i = 0; i < kFields; ++i) {
    std::string_view names = kWeatherColumns[i].names;
    while (!names.empty()) {
      const std::size_t space = std::min(names.find(' '), names.size());
      if (names.substr(0, space) == name) return static_cast<Field>(i);
      names.remove_prefix(std::min(space + 1, names.size()));
    }
  }
  return std::nullopt;
}

const Unit* find_unit(const Definition& d, std::string_view unit) {
  const std::string wanted = lower(unit);
  for (const Unit& u : d.units) {
    if (lower(u.name) == wanted) return &u;
  }
  return nullptr;
}

struct Match {
  Field field;
  const Unit* unit;
};

/// The field that a bare name means, with the unit that its last words may be.
std::optional<Match> match_name(std::string_view name) {
  std::vector<std::string> words = words_of(lower(name));
  if (!words.empty() && words.back() == "computed") words.pop_back();
  const std::span<const std::string> all(words);
  if (const auto field = field_named(join(all))) return Match{*field, nullptr};
  for (std::size_t taken = 1; taken <= 2 && taken < words.size(); ++taken) {  // p_mb, wind_m_s
    const auto field = field_named(join(all.first(words.size() - taken)));
    if (!field) continue;
    const std::string unit = taken == 2 ? words[words.size() - 2] + "/" + words.back() : words.back();
    if (const Unit* u = find_unit(definition(*field), unit)) return Match{*field, u};
  }
  if (words.size() > 1 && words.back() == "sol")
    return Match{Field::sol, nullptr};  // whose sol does not matter
  return std::nullopt;
}

std::string list_units(const Definition& d) {
  std::string out;
  for (const Unit& u : d.units) out += (out.empty() ? "[" : ", [") + std::string(u.name) + "]";
  return out;
}

std::string_view trim(std::string_view s) {
  while (!s.empty() && std::isspace(static_cast<unsigned char>(s.front())) != 0) s.remove_prefix(1);
  while (!s.empty() && std::isspace(static_cast<unsigned char>(s.back())) != 0) s.remove_suffix(1);
  return s;
}

}  // namespace

HeaderCell read_header_cell(std::string_view cell) {
  std::string_view name = cell;
  std::optional<std::string_view> bracket;
  if (const std::size_t open = cell.find('['); open != std::string_view::npos) {
    const std::size_t close = cell.find(']', open);
    name = trim(cell.substr(0, open));
    bracket = trim(cell.substr(open + 1, close == std::string_view::npos ? close : close - open - 1));
  }
  const std::optional<Match> match = match_name(name);
  if (!match) return {};
  const Definition& d = definition(match->field);
  const Unit* unit = match->unit;
  if (bracket) {
    unit = find_unit(d, *bracket);
    if (unit == nullptr) {
      return {{}, "unknown unit [" + std::string(bracket->substr(0, 40)) + "]; give one of " + list_units(d)};
    }
  } else if (unit == nullptr) {
    if (d.default_unit.empty()) return {{}, "no unit; give one of " + list_units(d)};
    unit = find_unit(d, d.default_unit);
  }
  return {Column{match->field, std::string(name), unit->factor, unit->offset}, {}};
}

Range range_of(Field field) {
  return definition(field).range;
}

std::string_view name_of(Field field) {
  const std::string_view names = definition(field).names;
  return names.substr(0, names.find(' '));
}

}  // namespace duskline::plant::weather
