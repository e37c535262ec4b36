/// A place in the text of a requirement: takes words, signs and quantities off it, and refuses with the column.
///
/// What it is   the part of the parser that knows letters and no grammar
/// Validity     text of one sentence; a refusal ends the parsing (Refused), its problem is kept
/// Left out     what the words mean: parser.cpp
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <limits>

#include "scenarios/reader/quantity.hpp"
#include "scenarios/requirements/requirement.hpp"

namespace duskline::scenarios {

inline constexpr double kEndless = std::numeric_limits<double>::infinity();

inline constexpr std::array<std::string_view, 34> kKeywords = {
    "after",     "whenever", "implies", "or",     "and",      "not",   "always", "never",    "eventually",
    "within",    "for",      "from",    "to",     "past",     "once",  "in",     "the",      "last",
    "becomes",   "until",    "since",   "is",     "includes", "of",    "least",  "greatest", "mean",
    "magnitude", "rate",     "sunrise", "sunset", "above",    "below", "alarm"};

inline bool is_keyword(std::string_view word) {
  return std::find(kKeywords.begin(), kKeywords.end(), word) != kKeywords.end();
}

/// Thrown when going on makes no sense; caught by the parser.
struct Refused {};

class Cursor {
 public:
  explicit Cursor(std::string_view text) : text_(text) {}

 protected:
  void skip() {
    while (at_ < text_.size() && std::isspace(static_cast<unsigned char>(text_[at_])) != 0) ++at_;
  }
  static bool letter(char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0 || c == '_'; }
  static bool digit(char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0; }

  std::string_view peek_word() {
    skip();
    std::size_t end = at_;
    if (end < text_.size() && letter(text_[end]))
      while (end < text_.size() && (letter(text_[end]) || digit(text_[end]))) ++end;
    return text_.substr(at_, end - at_);
  }
  std::string next_word() {
    const auto word = peek_word();
    return word.empty() ? std::string(text_.substr(at_, 1)) : std::string(word);
  }
  bool accept_word(std::string_view word) {
    if (peek_word() != word) return false;
    at_ += word.size();
    return true;
  }
  bool accept(std::string_view symbol) {
    skip();
    if (text_.substr(at_, symbol.size()) != symbol) return false;
    at_ += symbol.size();
    return true;
  }
  [[noreturn]] void fail(std::size_t at, std::string message) {
    problems_.push_back({static_cast<int>(at) + 1, std::move(message)});
    throw Refused{};
  }
  void expect(std::string_view symbol, std::string_view why) {
    skip();
    if (!accept(symbol))
      fail(at_, at_ < text_.size() ? fmt::format("expected '{}' {}, found '{}'", symbol, why, next_word())
                                   : fmt::format("expected '{}' {} before the end", symbol, why));
  }
  void expect_word(std::string_view word) {
    skip();
    if (!accept_word(word))
      fail(at_, at_ < text_.size() ? fmt::format("expected '{}', found '{}'", word, next_word())
                                   : fmt::format("expected '{}' before the end", word));
  }

  /// The text of a number with its unit, up to a keyword or a sign.
  std::string quantity_text() {
    skip();
    const std::size_t begin = at_;
    std::size_t end = at_;
    if (end < text_.size() && text_[end] == '-') ++end;
    while (end < text_.size()) {
      const char c = text_[end];
      if (std::isspace(static_cast<unsigned char>(c)) != 0) {
        ++end;
        continue;
      }
      if (digit(c) || c == '.') {
        // number, with an exponent
        while (end < text_.size() && (digit(text_[end]) || text_[end] == '.')) ++end;
        if (end + 1 < text_.size() && (text_[end] == 'e' || text_[end] == 'E') &&
            (digit(text_[end + 1]) ||
             (end + 2 < text_.size() && (text_[end + 1] == '-' || text_[end + 1] == '+') &&
              digit(text_[end + 2])))) {
          end += 2;
          while (end < text_.size() && digit(text_[end])) ++end;
        }
        continue;
      }
      if (letter(c)) {
        std::size_t stop = end;
        while (stop < text_.size() && letter(text_[stop])) ++stop;
        if (is_keyword(text_.substr(end, stop - end))) break;
        // exponents belong to the unit: m2, s-1
        if (stop + 1 < text_.size() && text_[stop] == '-' && digit(text_[stop + 1])) ++stop;
        while (stop < text_.size() && digit(text_[stop])) ++stop;
        end = stop;
        continue;
      }
      if (c == '%' || c == '/' || c == '^') {
        ++end;
        continue;
      }
      break;
    }
    at_ = end;
    while (end > begin && std::isspace(static_cast<unsigned char>(text_[end - 1])) != 0) --end;
    if (end == begin) fail(begin, "expected a number with its unit");
    return std::string(text_.substr(begin, end - begin));
  }

  double read(const std::string& raw, std::string_view unit, double lower, std::size_t at) {
    constexpr double kMost = 1e30;
    const Reading r = read_quantity(raw, {unit, std::max(lower, -kMost), kMost});
    if (!r.error.empty()) fail(at, r.error);
    return r.value;
  }
  double duration() {
    skip();
    const std::size_t at = at_;
    return read(quantity_text(), "s", 0.0, at);
  }

  std::string_view text_;
  std::size_t at_ = 0;
  std::vector<RequirementProblem> problems_;
};

}  // namespace duskline::scenarios
