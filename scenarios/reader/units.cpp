#include "scenarios/reader/units.hpp"

#include <udunits2.h>

#include <array>
#include <cctype>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <memory>
#include <mutex>
#include <stdexcept>
#include <vector>

#include "scenarios/reader/suggest.hpp"

namespace duskline::scenarios {
namespace {

constexpr double kSol = 88775.244;             // s
constexpr double kMarsYear = 668.5921 * kSol;  // s, tropical, as plant-model/environment/sol_clock.hpp

// Units that a plant engineer writes; what a misspelt unit is compared with.
constexpr const char* kEverydayUnits[] = {
    "s",   "min",   "h",     "day",     "sol",    "Mars year", "ms",    "Pa",       "hPa",     "kPa",
    "bar", "mbar",  "K",     "degC",    "g/h",    "kg/h",      "mg/s",  "g/s",      "kg/s",    "g",
    "kg",  "mg",    "m",     "cm",      "mm",     "um",        "nm",    "m2",       "cm2",     "mm2",
    "m3",  "cm3",   "mm3",   "L",       "mL",     "rpm",       "rad/s", "deg",      "rad",     "%",
    "ppm", "A",     "mA",    "V",       "mV",     "W",         "kW",    "mW",       "J",       "kJ",
    "W/K", "J/K",   "ohm",   "ohm cm2", "ohm m2", "A/cm2",     "A/m2",  "J/(kg K)", "W/(m K)", "W/(m2 K)",
    "m/s", "kg/m3", "mol/s", "kJ/mol",  "J/mol",  "1/s",       "1/h",   "S/m",      "N m",     "kg m2"};

// Units that exist but are seldom what was meant.
struct Mistaken {
  const char *given, *meant;
};
constexpr Mistaken kMistaken[] = {{"m", "min"}, {"C", "degC"}, {"Hz", "rpm"}, {"M", "min"}, {"k", "K"}};

struct FreeUnit {
  void operator()(ut_unit* unit) const { ut_free(unit); }
};
using Unit = std::unique_ptr<ut_unit, FreeUnit>;

// UDUNITS-2 keeps its status in a global and so is used under this lock only.
std::mutex& lock() {
  static std::mutex mutex;
  return mutex;
}

ut_system* load() {
  ut_set_error_message_handler(ut_ignore);
  ut_system* system = ut_read_xml(nullptr);
  if (system == nullptr) throw std::runtime_error("the unit database of UDUNITS-2 cannot be read");
  const Unit second{ut_get_unit_by_name(system, "second")};
  const Unit sol{ut_scale(kSol, second.get())};
  ut_map_name_to_unit("sol", UT_ASCII, sol.get());
  ut_map_name_to_unit("sols", UT_ASCII, sol.get());
  const Unit year{ut_scale(kMarsYear, second.get())};
  ut_map_name_to_unit("Mars_year", UT_ASCII, year.get());
  const Unit degree{ut_parse(system, "arc_degree", UT_ASCII)};
  ut_map_name_to_unit("deg", UT_ASCII, degree.get());
  return system;
}

ut_system* units() {
  static ut_system* const system = load();
  return system;
}

// A product of named units with whole powers up to 9: `J/(kg K)`, `mol s-1`, `m^2`, `1/h`. No factors, no origins,
// no logarithms; no unit that stands both above and below the line, no share of a share.
bool is_product(std::string_view text) {
  if (text == "1" || text.empty()) return true;
  const auto is_digit = [](char c) { return c >= '0' && c <= '9'; };
  const auto is_letter = [](char c) {
    return static_cast<unsigned char>(c) >= 0x80 || std::isalpha(static_cast<unsigned char>(c)) != 0 ||
           c == '_' || c == '%';
  };
  std::map<std::string, int> signs;
  std::size_t at = text.starts_with("1/") ? 1 : 0;
  int depth = 0, sign = 1, outer = 1;
  bool wanted = at == 0;  // a unit must follow
  while (at < text.size()) {
    const char c = text[at];
    if (c == ' ' || c == '.' || c == '*' || c == '/') {
      if (c != ' ' && wanted) return false;
      if (!wanted) sign = c == '/' ? -outer : outer;
      if (c != ' ') wanted = true;
      ++at;
    } else if (c == '(') {
      if (++depth > 1) return false;
      outer = sign;
      wanted = true;
      ++at;
    } else if (c == ')') {
      if (--depth < 0 || wanted) return false;
      outer = 1;
      ++at;
    } else if (is_letter(c)) {
      std::size_t end = at, last = at;
      for (; end < text.size() && (is_letter(text[end]) || is_digit(text[end])); ++end)
        if (is_letter(text[end])) last = end;
      const std::string name{text.substr(at, last + 1 - at)};
      at = last + 1;
      if (at < text.size() && text[at] == '^') ++at;
      const bool below = at < text.size() && text[at] == '-';
      at += below ? 1 : 0;
      const std::size_t power = at;
      while (at < text.size() && is_digit(text[at])) ++at;
      if (at > power + 1 || (at == power && (below || text[power - 1] == '^'))) return false;
      if (at > power && text[power] == '0') return false;
      const int direction = below ? -sign : sign;
      const auto [place, first] = signs.emplace(name, direction);
      if (!first && (place->second != direction || name == "%" || name == "ppm")) return false;
      wanted = false;
    } else {
      return false;
    }
  }
  return depth == 0 && !wanted;
}

bool is_plain(std::string_view text) {
  if (text.size() > 60 || !is_product(text)) return false;
  for (std::string_view word : {"since", "from", "after", "ref", " re "})
    if (text.find(word) != text.npos) return false;
  return true;
}

Unit parse(std::string_view text) {
  if (text == "Mars year" || text == "Mars years") text = "Mars_year";  // a name of two words
  if (!is_plain(text)) return {};
  return Unit{ut_parse(units(), std::string{text}.c_str(), UT_UTF8)};
}

// The power of radians in a unit, as UDUNITS-2 spells it ("s-1.rad"); it treats them as pure numbers.
std::string radians(const ut_unit* unit) {
  std::array<char, 256> text{};
  const int size = ut_format(unit, text.data(), text.size() - 1, UT_ASCII | UT_DEFINITION);
  if (size < 0 || static_cast<std::size_t>(size) >= text.size()) return "?";
  const std::string spelt{text.data()};
  const std::size_t at = spelt.find("rad");
  if (at == spelt.npos) return "0";
  std::string power;
  for (std::size_t i = at + 3; i < spelt.size() && (spelt[i] == '-' || std::isdigit(spelt[i])); ++i)
    power += spelt[i];
  return power.empty() ? "1" : power;
}

// The short decimal that a computed factor stands for, if it is within rounding of one.
std::optional<double> short_decimal(double factor, double tolerance) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%.12g", factor);
  const double rounded = std::strtod(text.data(), nullptr);
  if (std::abs(rounded - factor) <= tolerance * std::abs(factor)) return rounded;
  return std::nullopt;
}

std::optional<int> power_of_ten(double scale) {
  for (int power = -18; power <= 18; ++power) {
    const std::string text = "1e" + std::to_string(power);
    if (std::strtod(text.c_str(), nullptr) == scale) return power;
  }
  return std::nullopt;
}

Conversion compute(std::string_view unit_text, std::string_view wanted_text) {
  Conversion how;
  const Unit unit = parse(unit_text), wanted = parse(wanted_text);
  if (!unit || !wanted) return how;
  how.fit = UnitFit::other_dimension;
  if (!ut_are_convertible(unit.get(), wanted.get()) || radians(unit.get()) != radians(wanted.get()))
    return how;
  cv_converter* converter = ut_get_converter(unit.get(), wanted.get());
  if (converter == nullptr) return how;
  const double zero = cv_convert_double(converter, 0.0), one = cv_convert_double(converter, 1.0);
  // A converter that is no straight line (a logarithm) or runs backwards (a period for a rate) does not fit.
  const double two = cv_convert_double(converter, 2.0);
  cv_free(converter);
  const double slope = one - zero;
  if (!std::isfinite(slope) || slope <= 0.0 || std::abs(two - one - slope) > 1e-9 * std::abs(slope))
    return how;
  const double tolerance = zero == 0.0 ? 4e-15 : 1e-12;
  how.fit = UnitFit::fits;
  how.scale = slope;
  how.offset = zero == 0.0 ? 0.0 : short_decimal(zero, tolerance).value_or(zero);
  if (const auto times = short_decimal(slope, tolerance)) {
    how.scale = *times;
    if (how.offset == 0.0) how.power_of_ten = power_of_ten(*times);
  } else if (const auto over = short_decimal(1.0 / slope, tolerance)) {
    how.scale = *over;
    how.divides = true;
  }
  return how;
}

}  // namespace

Conversion conversion(std::string_view unit, std::string_view wanted) {
  static std::map<std::pair<std::string, std::string>, Conversion> known;
  const std::lock_guard guard{lock()};
  const auto key = std::pair{std::string{unit}, std::string{wanted}};
  if (const auto found = known.find(key); found != known.end()) return found->second;
  const Conversion how = compute(unit, wanted);
  if (known.size() < 10000) known.emplace(key, how);
  return how;
}

std::string nearest_unit(std::string_view unit, std::string_view wanted) {
  for (const Mistaken& pair : kMistaken)
    if (unit == pair.given && conversion(pair.meant, wanted).fit == UnitFit::fits) return pair.meant;
  if (conversion(unit, wanted).fit != UnitFit::unknown) return {};  // another unit, not a misspelt one
  std::vector<std::string> fitting;
  for (const char* candidate : kEverydayUnits)
    if (conversion(candidate, wanted).fit == UnitFit::fits) fitting.emplace_back(candidate);
  return nearest(unit, fitting);
}

double convert(double value, const Conversion& how) {
  return (how.divides ? value / how.scale : value * how.scale) + how.offset;
}

double convert_back(double value, const Conversion& how) {
  const double shifted = value - how.offset;
  return how.divides ? shifted * how.scale : shifted / how.scale;
}

}  // namespace duskline::scenarios
