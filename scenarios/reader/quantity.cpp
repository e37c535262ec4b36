#include "scenarios/reader/quantity.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>
#include <vector>

#include "scenarios/reader/units.hpp"

namespace duskline::scenarios {
namespace {

constexpr double kLeastAbsoluteTemperature = 100.0;  // K; a range that reaches below holds differences
constexpr std::size_t kLongestQuantity = 200;        // bytes
constexpr std::string_view kLocalTime = "h";         // hours are the unit of local time and of nothing else

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}
bool is_space(char c) {
  return c == ' ';
}

std::string_view trim(std::string_view text) {
  while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
  return text;
}

// One number and its unit; several make up a duration.
struct Part {
  std::string number, unit;
};

std::size_t digits_from(std::string_view text, std::size_t at) {
  while (at < text.size() && is_digit(text[at])) ++at;
  return at;
}

// The length of the decimal number that `text` begins with, 0 if it does not.
std::size_t number_length(std::string_view text) {
  std::size_t at = !text.empty() && (text[0] == '-' || text[0] == '+') ? 1 : 0;
  const std::size_t whole = digits_from(text, at);
  std::size_t digits = whole - at;
  at = whole;
  if (at < text.size() && text[at] == '.') {
    const std::size_t end = digits_from(text, at + 1);
    digits += end - at - 1;
    at = end;
  }
  if (digits == 0) return 0;
  if (at < text.size() && (text[at] == 'e' || text[at] == 'E')) {
    std::size_t power = at + 1;
    if (power < text.size() && (text[power] == '-' || text[power] == '+')) ++power;
    const std::size_t end = digits_from(text, power);
    if (end > power) at = end;
  }
  return at;
}

std::string expected(std::string_view wanted) {
  return wanted == "1" ? "expected a plain number or %"
                       : fmt::format("expected a number with a unit that fits {}", wanted);
}

// Words that programs write for numbers that are none, with or without sign and dot.
bool is_not_finite_word(std::string_view text) {
  while (!text.empty() && (text[0] == '-' || text[0] == '+' || text[0] == '.')) text.remove_prefix(1);
  std::string word;
  for (char c : text) word += static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
  return word == "nan" || word == "inf" || word == "infinity";
}

bool has_sign(const Part& part) {
  return part.number[0] == '-' || part.number[0] == '+';
}

// Why the digits of a number are refused; empty when they are fine.
std::string error_with_number(std::string_view number) {
  if (number[0] == '-' || number[0] == '+') number.remove_prefix(1);
  if (number.size() > 1 && number[0] == '0' && is_digit(number[1]))
    return "a number does not begin with 0 (in some programs that means base 8)";
  return {};
}

// Splits "2 h 30 min" into its parts; the unit of a part ends before a blank that a digit follows.
std::optional<std::vector<Part>> split(std::string_view text, bool several) {
  std::vector<Part> parts;
  while (!text.empty()) {
    const std::size_t length = number_length(text);
    if (length == 0) return std::nullopt;
    Part part{std::string{text.substr(0, length)}, {}};
    text = trim(text.substr(length));
    std::size_t end = text.size();
    if (several)
      for (std::size_t i = 0; i + 1 < text.size(); ++i)
        if (is_space(text[i]) && number_length(text.substr(i + 1)) > 0) {
          end = i;
          break;
        }
    part.unit = std::string{trim(text.substr(0, end))};
    text = trim(text.substr(end));
    parts.push_back(std::move(part));
  }
  return parts;
}

// The decimal number with its point shifted: "0.7" by 5 is exactly the double nearest to 70000.
double parse_shifted(std::string number, int power_of_ten) {
  if (!number.empty() && number[0] == '+') number.erase(0, 1);
  std::size_t at = number.find_first_of("eE");
  int power = power_of_ten;
  if (at != number.npos) {
    const std::string written = number.substr(at + (number[at + 1] == '+' ? 2 : 1));
    int given = 0;
    const auto [end, error] = std::from_chars(written.data(), written.data() + written.size(), given);
    if (error != std::errc{}) given = written[0] == '-' ? -100000 : 100000;
    power += std::clamp(given, -100000, 100000);
    number.erase(at);
  }
  number += "e" + std::to_string(power);
  double value = 0.0;
  const auto [end, error] = std::from_chars(number.data(), number.data() + number.size(), value);
  if (error == std::errc::result_out_of_range) return power < 0 ? 0.0 : INFINITY;
  return value;
}

std::string range_in(const Quantity& quantity, std::string_view unit, const Conversion& how) {
  const auto edge = [&](double value) { return fmt::format("{:.6g}", convert_back(value, how)); };
  const std::string shown = unit.empty() || unit == "1" ? "" : " " + std::string{unit};
  return fmt::format("[{}, {}]{}", edge(quantity.lower), edge(quantity.upper), shown);
}

Reading error(std::string text) {
  return {0.0, std::move(text)};
}

// What is wrong with the unit of a part, empty when nothing is.
std::string error_with_unit(const Part& part, const Quantity& quantity, const Conversion& how) {
  if (part.unit.empty() && how.fit == UnitFit::fits) return {};
  if (part.unit.empty()) return fmt::format("a unit is missing; {}", expected(quantity.unit));
  if (part.unit[0] == ',') return "the decimal sign is a point, not a comma";
  if (how.fit == UnitFit::fits) {
    if (how.offset != 0.0 && quantity.lower < kLeastAbsoluteTemperature)
      return fmt::format("a difference of temperatures is given in K, not in {}", part.unit);
    if (quantity.unit == kLocalTime && part.unit != "h" && part.unit != "min")
      return "a local time is given in h or min, 24 h to a sol, or as 15:30";
    return {};
  }
  const std::string near = nearest_unit(part.unit, quantity.unit);
  const std::string hint =
      near.empty() ? "; " + expected(quantity.unit) : fmt::format("; did you mean '{}'?", near);
  if (how.fit == UnitFit::unknown) return fmt::format("unknown unit '{}'{}", part.unit, hint);
  if (quantity.unit == "1")
    return fmt::format("unit '{}' does not belong here; {}", part.unit, expected("1"));
  return fmt::format("unit '{}' does not fit {}{}", part.unit, quantity.unit, near.empty() ? "" : hint);
}

bool outside(double value, const Quantity& quantity) {
  if (!quantity.single) return !(value >= quantity.lower && value <= quantity.upper);
  const float rounded = static_cast<float>(value);
  return !(rounded >= static_cast<float>(quantity.lower) && rounded <= static_cast<float>(quantity.upper));
}

template <class Float>
std::string shortest(Float value) {
  char text[64];
  const auto [end, error] = std::to_chars(text, text + sizeof text, value);
  return {text, end};
}

std::string with_unit(const std::string& number, std::string_view unit) {
  return unit.empty() || unit == "1" ? number : number + " " + std::string{unit};
}

/// Hours of a time of day such as `15:30`; nothing when the text is none.
std::optional<double> time_of_day(std::string_view text) {
  const std::size_t colon = text.find(':');
  if (colon == std::string_view::npos || colon == 0 || colon > 2 || text.size() != colon + 3)
    return std::nullopt;
  unsigned hours = 0, minutes = 0;
  const char *begin = text.data(), *end = begin + text.size();
  if (std::from_chars(begin, begin + colon, hours).ptr != begin + colon) return std::nullopt;
  if (std::from_chars(begin + colon + 1, end, minutes).ptr != end) return std::nullopt;
  if (hours > 23 || minutes > 59) return std::nullopt;
  return hours + minutes / 60.0;
}

}  // namespace

Reading read_quantity(std::string_view given, const Quantity& quantity) {
  const std::string_view text = trim(given);
  if (text.empty()) return error("has no value; " + expected(quantity.unit));
  if (text.size() > kLongestQuantity) return error("is too long for a number; " + expected(quantity.unit));
  if (is_not_finite_word(text)) return error(fmt::format("'{}' is not a finite number", text));
  if (quantity.unit == kLocalTime)
    if (const auto hours = time_of_day(text)) return {*hours, {}};
  const bool duration = quantity.unit == "s";
  const auto parts = split(text, duration);
  if (!parts) return error(fmt::format("'{}' is not a number; {}", text, expected(quantity.unit)));

  double sum = 0.0, larger = INFINITY;
  Conversion last;
  for (const Part& part : *parts) {
    const std::string bad = error_with_number(part.number);
    if (!bad.empty()) return error(fmt::format("'{}': {}", text, bad));
    if (part.number == "0" && (part.unit.starts_with("x") || part.unit.starts_with("X")) &&
        part.unit.size() > 1)
      return error(fmt::format("'{}': a number is written in decimal digits", text));
    if (parts->size() > 1 && has_sign(part))
      return error(fmt::format("'{}': a duration of several parts has no signs", text));
    last = conversion(part.unit, quantity.unit);
    const std::string wrong = error_with_unit(part, quantity, last);
    if (!wrong.empty()) return error(fmt::format("'{}': {}", text, wrong));
    if (duration && !(convert(1.0, last) < larger))
      return error(
          fmt::format("'{}': the parts of a duration go from the largest unit to the smallest", text));
    larger = convert(1.0, last);
    const double value = last.power_of_ten ? parse_shifted(part.number, *last.power_of_ten)
                                           : convert(parse_shifted(part.number, 0), last);
    if (!std::isfinite(value)) return error(fmt::format("'{}' is too large for a number", text));
    sum += value;
  }
  if (outside(sum, quantity)) {
    const bool one = parts->size() == 1;
    const std::string range = one ? range_in(quantity, parts->front().unit, last)
                                  : write_range(quantity.lower, quantity.upper, quantity.unit);
    return error(fmt::format("{} is outside {}", text, range));
  }
  return {sum, {}};
}

std::string unit_text(std::string_view given) {
  const auto parts = split(trim(given), true);
  return parts && parts->size() == 1 ? parts->front().unit : std::string{};
}

WholeReading read_whole(std::string_view given, unsigned long long lower, unsigned long long upper) {
  const std::string_view text = trim(given);
  if (text.empty()) return {0, "has no value; expected a whole number"};
  if (text.size() > kLongestQuantity || text.find_first_not_of("0123456789") != text.npos)
    return {0, fmt::format("'{}' is not a whole number from {} to {}", text.substr(0, 40), lower, upper)};
  if (text.size() > 1 && text[0] == '0') return {0, fmt::format("'{}': {}", text, error_with_number(text))};
  unsigned long long value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || value < lower || value > upper)
    return {0, fmt::format("{} is outside [{}, {}]", text, lower, upper)};
  return {value, {}};
}

std::string write_quantity(double value, std::string_view unit) {
  return with_unit(shortest(value), unit);
}
std::string write_quantity(float value, std::string_view unit) {
  std::string number = shortest(value);
  // Read as double and rounded again the digits must give the same float; in rare ties they need to be more.
  if (static_cast<float>(parse_shifted(number, 0)) != value) number = shortest(static_cast<double>(value));
  return with_unit(number, unit);
}

std::string write_range(double lower, double upper, std::string_view unit) {
  return with_unit(fmt::format("[{:.6g}, {:.6g}]", lower, upper), unit);
}

}  // namespace duskline::scenarios
