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
#include "scenarios/reader/suggest.hpp"
#include "scenarios/reader/text.hpp"
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
  static bool unit_letter(char c) { return letter(c) || static_cast<unsigned char>(c) >= 0x80; }

  std::string_view peek_word() {
    skip();
    std::size_t end = at_;
    if (end < text_.size() && letter(text_[end]))
      while (end < text_.size() && (letter(text_[end]) || digit(text_[end]))) ++end;
    return text_.substr(at_, end - at_);
  }
  std::string next_word() {
    const auto word = peek_word();
    if (!word.empty() || at_ == text_.size()) return std::string(word);
    return std::string(text_.substr(at_, std::max<std::size_t>(utf8_length(text_, at_), 1)));
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
      if (unit_letter(c)) {
        std::size_t stop = end;
        while (stop < text_.size() && unit_letter(text_[stop])) ++stop;
        if (is_keyword(text_.substr(end, stop - end))) break;
        // exponents belong to the unit: m2, s-1
        if (stop + 1 < text_.size() && text_[stop] == '-' && digit(text_[stop + 1])) ++stop;
        while (stop < text_.size() && digit(text_[stop])) ++stop;
        end = stop;
        continue;
      }
      if (c == '%' || c == '/' || c == '^') {
        ++end;
        if (c == '^' && end < text_.size() && text_[end] == '-') ++end;
        continue;
      }
      const std::size_t close =
          c == '(' && end > begin && text_[end - 1] == '/' ? text_.find(')', end) : kNowhere;
      if (close != kNowhere) {  // J/(kg K)
        end = close + 1;
        continue;
      }
      if (c == ',' && end > begin && digit(text_[end - 1]) && end + 1 < text_.size() && digit(text_[end + 1]))
        fail(begin, "the decimal sign is a point, not a comma");
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

  /// A whole number; `what` it counts.
  std::size_t count(std::string_view what) {
    skip();
    const std::size_t begin = at_;
    std::size_t number = 0;
    while (at_ < text_.size() && digit(text_[at_]) && at_ < begin + 6)
      number = number * 10 + static_cast<std::size_t>(text_[at_++] - '0');
    if (at_ == begin) fail(at_, fmt::format("expected the number of a {}, counted from 1", what));
    return number;
  }

  /// The longest word of a list that stands here, with quotes or without.
  std::size_t listed(const std::vector<std::string>& words, std::string_view what) {
    skip();
    const bool quoted = accept("\"");
    const std::size_t best = longest(words);
    if (best == words.size()) {
      std::size_t end = at_;
      while (end < text_.size() && (letter(text_[end]) || digit(text_[end]) || text_[end] == '-')) ++end;
      const std::string given(text_.substr(at_, end - at_));
      fail(at_, fmt::format("there is no {} '{}'{}", what, given, did_you_mean(given, words)));
    }
    at_ += words[best].size();
    if (quoted) expect("\"", "to close the word");
    return best;
  }

  /// Which of these words stands here, the longest; their number when none does.
  std::size_t longest(const std::vector<std::string>& words) const {
    std::size_t best = words.size();
    for (std::size_t i = 0; i < words.size(); ++i) {
      const std::string& w = words[i];
      if (text_.substr(at_, w.size()) != w) continue;
      const char after = at_ + w.size() < text_.size() ? text_[at_ + w.size()] : ' ';
      if (letter(after) || digit(after) || after == '-') continue;
      if (best == words.size() || w.size() > words[best].size()) best = i;
    }
    return best;
  }

  static constexpr std::size_t kNowhere = std::string_view::npos;
  std::string_view text_;
  std::size_t at_ = 0;
  std::vector<RequirementProblem> problems_;
};

}  // namespace duskline::scenarios
