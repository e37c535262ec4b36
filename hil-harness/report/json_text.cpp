#include "hil-harness/report/json_text.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

namespace duskline::harness::json_text {

std::string in_quotes(std::string_view text) {
  const std::string dumped =
      nlohmann::json(std::string(text)).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  std::string safe;
  for (const char letter : dumped) letter == '<' ? safe += "\\u003c" : safe += letter;
  return safe;
}

std::string number(std::optional<double> value, int digits) {
  if (!value || !std::isfinite(*value)) return "null";
  if (*value == 0.0) return "0";
  std::array<char, 40> text{};
  const auto end =
      std::to_chars(text.data(), text.data() + text.size(), *value, std::chars_format::general, digits);
  return {text.data(), end.ptr};
}

std::string value(const std::optional<double>& read, std::string_view words) {
  return read || words.empty() ? number(read, kFigureDigits) : in_quotes(words);
}

std::string numbers(std::span<const double> values, int digits) {
  std::string text = "[";
  for (const double value : values) {
    if (text.size() > 1) text += ',';
    text += number(value, digits);
  }
  return text + "]";
}

}  // namespace duskline::harness::json_text
