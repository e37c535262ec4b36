/// JSON text made by hand where the numbers are many: short, and the same on every machine.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace duskline::harness::json_text {

/// A quoted and escaped string that may also stand inside a script element.
std::string in_quotes(std::string_view text);

/// A number with `digits` significant digits; null when it is not finite.
std::string number(double value, int digits);

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
