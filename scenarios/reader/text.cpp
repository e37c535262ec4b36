#include "scenarios/reader/text.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace duskline::scenarios {
namespace {

unsigned char byte(std::string_view text, std::size_t at) {
  return static_cast<unsigned char>(text[at]);
}

// The code of a control character that starts at `at`; -1: none does.
int control_at(std::string_view text, std::size_t at) {
  const unsigned char c = byte(text, at);
  if (c < 0x20 || c == 0x7F) return c;
  if (c == 0xC2 && at + 1 < text.size() && byte(text, at + 1) < 0xA0) return byte(text, at + 1);
  return -1;
}

}  // namespace

std::size_t utf8_length(std::string_view text, std::size_t at) {
  const unsigned char first = byte(text, at);
  const std::size_t length = first < 0x80                    ? 1
                             : first >= 0xC2 && first < 0xE0 ? 2
                             : first >= 0xE0 && first < 0xF0 ? 3
                             : first >= 0xF0 && first < 0xF5 ? 4
                                                             : 0;
  if (length == 0 || at + length > text.size()) return 0;
  for (std::size_t i = 1; i < length; ++i)
    if ((byte(text, at + i) & 0xC0U) != 0x80) return 0;
  if (first == 0xE0 && byte(text, at + 1) < 0xA0) return 0;  // overlong
  if (first == 0xED && byte(text, at + 1) > 0x9F) return 0;  // half of a surrogate pair
  if (first == 0xF0 && byte(text, at + 1) < 0x90) return 0;  // overlong
  if (first == 0xF4 && byte(text, at + 1) > 0x8F) return 0;  // beyond U+10FFFF
  return length;
}

int count_characters(std::string_view text) {
  return static_cast<int>(std::count_if(
      text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80; }));
}

std::size_t find_control(std::string_view text, bool lines) {
  for (std::size_t at = 0; at < text.size(); ++at)
    if (control_at(text, at) >= 0 && !(lines && (text[at] == '\n' || text[at] == '\t'))) return at;
  return std::string_view::npos;
}

std::string printable(std::string_view text) {
  std::string out;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t length = utf8_length(text, at);
    if (const int control = control_at(text, at); control >= 0 && length > 0)
      out += control == '\n' ? "\\n" : control == '\t' ? "\\t" : fmt::format("\\x{:02x}", control);
    else if (length == 0)
      out += "\xEF\xBF\xBD";
    else
      out += text.substr(at, length);
    at += std::max<std::size_t>(length, 1);
  }
  return out;
}

std::string escaped_text(std::string_view text) {
  std::string safe;
  for (const char c : text) {
    switch (c) {
      case '<':
        safe += "&lt;";
        break;
      case '>':
        safe += "&gt;";
        break;
      case '&':
        safe += "&amp;";
        break;
      case '"':
        safe += "&quot;";
        break;
      default:
        safe += c;
    }
  }
  return safe;
}

}  // namespace duskline::scenarios
