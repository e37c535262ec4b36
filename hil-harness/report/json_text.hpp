/// JSON text made by hand where the numbers are many: short, and the same on every machine.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace duskline::harness::json_text {

/// A quoted and escaped string that may also stand inside a script element.
std::string in_quotes(std::string_view text);

inline constexpr int kTimeDigits = 9;    ///< of a time in s
inline constexpr int kValueDigits = 5;   ///< of a value that is drawn
inline constexpr int kFigureDigits = 7;  ///< of a value that is read

/// A number with `digits` significant digits; null when it is absent or not finite.
std::string number(std::optional<double> value, int digits);

/// A number that is read, else its words, else null.
std::string value(const std::optional<double>& number, std::string_view words);

inline std::string truth(bool value) {
  return value ? "true" : "false";
}

/// An array of such numbers.
std::string numbers(std::span<const double> values, int digits);

/// Members of an object or elements of an array, separated by commas.
class List {
 public:
  void add(std::string_view element) { text_.append(text_.empty() ? "" : ",").append(element); }
  void member(std::string_view name, std::string_view value) {
    add(in_quotes(name).append(":").append(value));
  }
  std::string array() const { return enclosed('[', ']'); }
  std::string object() const { return enclosed('{', '}'); }
  const std::string& members() const { return text_; }
  bool empty() const { return text_.empty(); }

 private:
  std::string enclosed(char open, char close) const {
    std::string text(1, open);
    text += text_;
    text += close;
    return text;
  }

  std::string text_;
};

}  // namespace duskline::harness::json_text
