#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "controller/include/controller.h"
#include "scenarios/reader/suggest.hpp"
#include "scenarios/requirements/cursor.hpp"

namespace duskline::scenarios {
namespace {

using logic::Kind;
using logic::Node;

constexpr int kDeepest = 60;
constexpr std::size_t kLongest = 4000;    // characters
constexpr std::size_t kMostNodes = 1000;  // parts of a sentence

#define DUSKLINE_ALARM(identifier, number, word, severity, minutes, priority, latched, on, off, source, \
                       argument, limit, dead_band, suppressed, consequence, cause, action)              \
  word,
const std::vector<std::string> kAlarmWords{CTL_ALARM_LIST(DUSKLINE_ALARM)};
#undef DUSKLINE_ALARM
#define DUSKLINE_WORD(identifier, value, word, meaning) word,
const std::vector<std::string> kAlarmStates{CTL_ALARM_STATE_LIST(DUSKLINE_WORD)};
#undef DUSKLINE_WORD

class Parser : private Cursor {
 public:
  Parser(std::string_view text, std::span<const TraceSignal> signals) : Cursor(text), signals_(signals) {}

  ParsedRequirement parse() {
    ParsedRequirement out;
    try {
      if (text_.size() > kLongest)
        fail(kLongest, fmt::format("the sentence is longer than {} characters", kLongest));
      whole();
      skip();
      if (at_ < text_.size()) fail(at_, fmt::format("'{}' is not expected here", next_word()));
    } catch (const Refused&) {
    }
    out.problems = problems_;
    if (!problems_.empty()) return out;
    out.requirement = {std::string(text_), std::move(nodes_), std::move(used_), conditional_};
    return out;
  }

 private:
  int add(Node node, std::size_t begin) {
    if (nodes_.size() == kMostNodes)
      fail(begin, fmt::format("the sentence has more than {} parts", kMostNodes));
    node.begin = static_cast<int>(begin) + 1;
    node.end = static_cast<int>(at_) + 1;
    nodes_.push_back(std::move(node));
    return static_cast<int>(nodes_.size()) - 1;
  }
  Node& node(int i) { return nodes_[static_cast<std::size_t>(i)]; }

  // ---- truths ----
  /// Counts what stands within each other, for as long as it lives.
  class Level {
   public:
    explicit Level(Parser& parser) : parser_(parser) {
      if (++parser_.depth_ > kDeepest) parser_.fail(parser_.at_, "too many things within each other");
    }
    Level(const Level&) = delete;
    Level& operator=(const Level&) = delete;
    ~Level() { --parser_.depth_; }

   private:
    Parser& parser_;
  };

  int whole() {
    const Level level(*this);
    skip();
    const std::size_t begin = at_;
    if (accept_word("whenever")) {
      conditional_ = true;
      const int condition = formula();
      expect(":", "after the condition");
      const int body = whole();
      return add({.kind = Kind::stretch, .a = condition, .b = body}, begin);
    }
    if (accept_word("after")) {
      skip();
      if (at_ < text_.size() && digit(text_[at_])) {
        const double time = duration();
        expect(":", "after the time");
        return add({.kind = Kind::always, .a = whole(), .from = time, .to = time}, begin);
      }
      conditional_ = true;
      int event = formula();
      if (node(event).kind != Kind::becomes) event = add({.kind = Kind::becomes, .a = event}, begin);
      expect(":", "after the event");
      const int not_event = add({.kind = Kind::negation, .a = event}, begin);
      const int body = whole();
      const int each = add({.kind = Kind::either, .a = not_event, .b = body}, begin);
      return add({.kind = Kind::always, .a = each, .to = kEndless}, begin);
    }
    return formula();
  }

  int formula() {
    const Level level(*this);
    skip();
    const std::size_t begin = at_;
    int left = disjunction();
    if (accept_word("implies")) {
      const int not_left = add({.kind = Kind::negation, .a = left}, begin);
      const int right = formula();
      left = add({.kind = Kind::either, .a = not_left, .b = right}, begin);
    }
    return left;
  }
  int disjunction() {
    skip();
    const std::size_t begin = at_;
    int left = conjunction();
    while (accept_word("or")) {
      const int right = conjunction();
      left = add({.kind = Kind::either, .a = left, .b = right}, begin);
    }
    return left;
  }
  int conjunction() {
    skip();
    const std::size_t begin = at_;
    int left = binary();
    while (accept_word("and")) {
      const int right = binary();
      left = add({.kind = Kind::both, .a = left, .b = right}, begin);
    }
    return left;
  }
  int binary() {
    skip();
    const std::size_t begin = at_;
    const int left = unary();
    for (const auto& [word, kind] : {std::pair{"until", Kind::until}, std::pair{"since", Kind::since}}) {
      if (!accept_word(word)) continue;
      const int right = unary();
      const double most = accept_word("within") ? duration() : kEndless;
      return add({.kind = kind, .a = left, .b = right, .to = most}, begin);
    }
    return left;
  }

  struct Window {
    double from = 0.0, to = kEndless;
  };
  Window window(std::string_view single) {
    Window w;
    skip();
    const std::size_t begin = at_;
    if (accept_word(single)) {
      w.to = duration();
    } else if (accept_word("from")) {
      w.from = duration();
      expect_word("to");
      w.to = duration();
      if (w.to < w.from) fail(begin, "the window ends before it begins");
    }
    return w;
  }
  int temporal(Kind kind, bool negated, const Window& w, std::size_t begin) {
    int body = unary();
    if (negated) body = add({.kind = Kind::negation, .a = body}, begin);
    return add({.kind = kind, .a = body, .from = w.from, .to = w.to}, begin);
  }

  int unary() {
    const Level level(*this);
    skip();
    const std::size_t begin = at_;
    if (accept_word("not")) {
      const int body = unary();
      return add({.kind = Kind::negation, .a = body}, begin);
    }
    if (accept_word("becomes")) {
      const int body = unary();
      return add({.kind = Kind::becomes, .a = body}, begin);
    }
    if (accept_word("always")) return temporal(Kind::always, false, window("for"), begin);
    if (accept_word("never")) return temporal(Kind::always, true, window("for"), begin);
    if (accept_word("eventually")) return temporal(Kind::eventually, false, window("within"), begin);
    if (accept_word("within")) return temporal(Kind::eventually, false, {0.0, duration()}, begin);
    if (accept_word("for")) return temporal(Kind::always, false, {0.0, duration()}, begin);
    if (peek_word() == "from") {
      const Window w = window("");
      if (accept_word("eventually")) return temporal(Kind::eventually, false, w, begin);
      const bool never = accept_word("never");
      if (!never) accept_word("always");
      return temporal(Kind::always, never, w, begin);
    }
    if (accept_word("past")) return past({0.0, kEndless}, begin);
    if (accept_word("in")) {
      expect_word("the");
      expect_word("last");
      return past({0.0, duration()}, begin);
    }
    if (accept("(")) {
      const int body = formula();
      expect(")", "to close the parenthesis");
      return body;
    }
    return comparison();
  }
  int past(const Window& w, std::size_t begin) {
    if (accept_word("once")) return temporal(Kind::past_once, false, w, begin);
    const bool never = accept_word("never");
    if (!never && !accept_word("always"))
      fail(at_, "expected 'always', 'never' or 'once' after a look into the past");
    return temporal(Kind::past_always, never, w, begin);
  }

  // ---- comparisons ----
  int comparison() {
    skip();
    const std::size_t begin = at_;
    for (const auto& [word, sign] : {std::pair{"sunrise", 1.0}, std::pair{"sunset", -1.0}})
      if (accept_word(word)) return sun(sign, begin);
    if (accept_word("alarm")) return alarm(begin);
    const int left = value();
    const Node& l = node(left);
    const TraceSignal* of_words =
        l.kind == Kind::signal && !signals_[l.signal].words.empty() ? &signals_[l.signal] : nullptr;
    skip();
    const std::size_t sign_at = at_;
    if (of_words != nullptr) return words(left, *of_words, begin);
    if (accept_word("within")) return near(left, begin);
    bool greater = true;
    if (accept(">=") || accept(">") || accept_word("above")) {
    } else if (accept("<=") || accept("<") || accept_word("below")) {
      greater = false;
    } else {
      fail(sign_at,
           at_ < text_.size()
               ? fmt::format("expected a comparison such as '> 10 mV' or 'within 5 % of', found '{}'",
                             next_word())
               : std::string("expected a comparison such as '> 10 mV' before the end"));
    }
    const int right = value();
    agree(left, right);
    const Node& bound = node(greater ? right : left).kind == Kind::number ? node(greater ? right : left)
                                                                          : node(greater ? left : right);
    const bool by_number = bound.kind == Kind::number;
    const auto raw = static_cast<std::size_t>(&bound - nodes_.data());
    const double size = by_number ? std::abs(bound.number) : 0.0;
    return add({.kind = Kind::above,
                .a = greater ? left : right,
                .b = greater ? right : left,
                .relative = !by_number,
                .scale = size > 0.0 ? size : 1.0,
                .unit = node(left).unit,
                .typed = by_number ? unit_text(raws_[raw]) : ""},
               begin);
  }

  /// `alarm "cell-weak" is active`: stands, acknowledged or not; or a state of the dictionary.
  int alarm(std::size_t begin) {
    const int state = signal_named("alarm_state", begin);
    node(state).item = listed(kAlarmWords, "alarm");
    expect_word("is");
    const bool negated = accept_word("not");
    const auto is = [&](std::size_t word) {
      return add({.kind = Kind::is_word, .a = state, .item = word, .unit = "1"}, begin);
    };
    int result = 0;
    if (accept_word("active")) {
      const int unseen = is(CTL_ALARM_UNACKNOWLEDGED), seen = is(CTL_ALARM_ACKNOWLEDGED);
      result = add({.kind = Kind::either, .a = unseen, .b = seen}, begin);
    } else {
      result = is(listed(kAlarmStates, "state of an alarm"));
    }
    return negated ? add({.kind = Kind::negation, .a = result}, begin) : result;
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

  int sun(double sign, std::size_t begin) {
    const int elevation = signal_named("solar_elevation", begin);
    const int scaled =
        add({.kind = Kind::scaled, .a = elevation, .number = sign, .unit = node(elevation).unit}, begin);
    const int zero = add({.kind = Kind::number, .unit = node(elevation).unit}, begin);
    const int up = add({.kind = Kind::above, .a = scaled, .b = zero, .unit = node(elevation).unit}, begin);
    return add({.kind = Kind::becomes, .a = up}, begin);
  }

  int near(int left, std::size_t begin) {
    skip();
    const std::size_t tolerance_at = at_;
    const std::string raw = quantity_text();
    expect_word("of");
    const int right = value();
    const bool share = raw.ends_with('%');
    agree(left, right);
    Node n{.kind = Kind::near, .a = left, .b = right, .relative = share, .unit = node(left).unit};
    n.number = read(raw, share ? "1" : node(left).unit, 0.0, tolerance_at);
    if (!share) n.typed = unit_text(raw);
    n.scale = n.number;
    if (!(n.scale > 0.0)) fail(tolerance_at, "the tolerance must be above zero");
    return add(std::move(n), begin);
  }

  int words(int left, const TraceSignal& signal, std::size_t begin) {
    const bool mask = signal.masks;
    if (mask ? !accept_word("includes") : !(accept_word("is") || accept("=")))
      fail(at_, fmt::format("{} holds words: expected '{}'", signal.name, mask ? "includes" : "is"));
    const bool negated = !mask && accept_word("not");
    skip();
    const bool quoted = accept("\"");
    const std::size_t best = longest(signal.words);
    if (best == signal.words.size())
      fail(at_, fmt::format("{} is never '{}'{}", signal.name, next_word(), [&] {
             std::string hint = did_you_mean(next_word(), signal.words);
             return hint.empty() ? fmt::format("; it is {}", fmt::join(signal.words, " | ")) : hint;
           }()));
    at_ += signal.words[best].size();
    if (quoted) expect("\"", "to close the word");
    const int is =
        add({.kind = mask ? Kind::has_word : Kind::is_word, .a = left, .item = best, .unit = "1"}, begin);
    return negated ? add({.kind = Kind::negation, .a = is}, begin) : is;
  }

  // ---- values ----
  int value() {
    const Level level(*this);
    skip();
    const std::size_t begin = at_;
    int left = term();
    for (;;) {
      const bool plus = accept("+");
      if (!plus && !accept("-")) return left;
      const int right = term();
      agree(left, right);
      left =
          add({.kind = plus ? Kind::sum : Kind::difference, .a = left, .b = right, .unit = node(left).unit},
              begin);
    }
  }

  int term() {
    const Level level(*this);
    skip();
    const std::size_t begin = at_;
    if (at_ < text_.size() && (digit(text_[at_]) || text_[at_] == '-' || text_[at_] == '.')) {
      std::string raw = quantity_text();
      if (accept("*")) {
        const double factor = read(raw, "1", -kEndless, begin);
        const int of = term();
        if (node(of).kind == Kind::number) fail(begin, "two numbers need no product: write the result");
        return add({.kind = Kind::scaled, .a = of, .number = factor, .unit = node(of).unit}, begin);
      }
      const int n = add({.kind = Kind::number}, begin);
      raws_.resize(nodes_.size());
      raws_[static_cast<std::size_t>(n)] = std::move(raw);
      return n;
    }
    for (const auto& [word, kind] : {std::pair{"least", Kind::least}, std::pair{"greatest", Kind::greatest},
                                     std::pair{"mean", Kind::mean}})
      if (accept_word(word)) {
        const int of = signal_value(true);
        Node& n = node(of);
        n.kind = kind;
        n.begin = static_cast<int>(begin) + 1;
        return of;
      }
    if (accept_word("magnitude")) {
      expect_word("of");
      const bool open = accept("(");
      const int of = open ? value() : term();
      if (open) expect(")", "to close the parenthesis");
      return add({.kind = Kind::magnitude, .a = of, .unit = node(of).unit}, begin);
    }
    if (accept_word("rate")) {
      expect_word("of");
      const int of = signal_value(false);
      const std::string unit = node(of).unit == "1" ? "s-1" : node(of).unit + " s-1";
      return add({.kind = Kind::rate, .a = of, .unit = unit}, begin);
    }
    return signal_value(false);
  }

  int signal_value(bool all_places) {
    skip();
    const std::size_t begin = at_;
    const std::string name(peek_word());
    if (name.empty() || is_keyword(name))
      fail(at_, at_ < text_.size() ? fmt::format("expected a signal or a number, found '{}'", next_word())
                                   : std::string("expected a signal or a number before the end"));
    at_ += name.size();
    const int result = signal_named(name, begin);
    const TraceSignal& s = signals_[node(result).signal];
    if (accept("[")) {
      skip();
      const std::size_t place_at = at_;
      std::size_t place = 0, digits = 0;
      while (at_ < text_.size() && digit(text_[at_]) && digits < 6)
        place = place * 10 + static_cast<std::size_t>(text_[at_++] - '0'), ++digits;
      if (digits == 0) fail(place_at, "expected the number of a place, counted from 1");
      expect("]", "after the place");
      if (place < 1 || place > s.width) fail(place_at, fmt::format("{} has places 1 to {}", s.name, s.width));
      if (all_places)
        fail(begin,
             fmt::format("{} is one place: leave out the word before it", text_.substr(begin, at_ - begin)));
      node(result).item = place - 1;
    } else if (s.width > 1 && !all_places) {
      fail(begin, fmt::format("{0} has {1} places: write {0}[1], least {0}, greatest {0} or mean {0}", s.name,
                              s.width));
    }
    return result;
  }

  int signal_named(const std::string& name, std::size_t begin) {
    const auto found =
        std::find_if(signals_.begin(), signals_.end(), [&](const auto& s) { return s.name == name; });
    if (found == signals_.end()) {
      std::vector<std::string> names;
      for (const auto& s : signals_) names.push_back(s.name);
      fail(begin, fmt::format("there is no signal '{}'{}", name, did_you_mean(name, names)));
    }
    const auto index = static_cast<std::size_t>(found - signals_.begin());
    if (std::find(used_.begin(), used_.end(), index) == used_.end()) used_.push_back(index);
    return add({.kind = Kind::signal, .signal = index, .unit = found->unit.empty() ? "1" : found->unit},
               begin);
  }

  /// Gives a number the unit of what it is compared with; refuses sides of different dimension.
  void agree(int left, int right) {
    const auto settle = [&](int number, const std::string& unit) {
      Node& n = node(number);
      if (n.kind != Kind::number || !n.unit.empty()) return;
      const std::string& raw = raws_[static_cast<std::size_t>(number)];
      constexpr double kColdest = 100.0;  // K: below it a number in degC could be a difference
      n.number = read(raw, unit, raw.ends_with("degC") ? kColdest : -kEndless,
                      static_cast<std::size_t>(n.begin) - 1);
      n.unit = unit;
    };
    const std::string l = node(left).unit, r = node(right).unit;
    if (l.empty() && r.empty())
      fail(static_cast<std::size_t>(node(left).begin) - 1, "two numbers are no comparison of signals");
    settle(left, r);
    settle(right, l);
    if (node(left).unit != node(right).unit)
      fail(static_cast<std::size_t>(node(right).begin) - 1,
           fmt::format("{} cannot be compared with {}", node(right).unit, node(left).unit));
  }

  std::span<const TraceSignal> signals_;
  int depth_ = 0;
  bool conditional_ = false;
  std::vector<Node> nodes_;
  std::vector<std::string> raws_;
  std::vector<std::size_t> used_;
};

}  // namespace

ParsedRequirement parse_requirement(std::string_view text, std::span<const TraceSignal> signals) {
  return Parser(text, signals).parse();
}

}  // namespace duskline::scenarios
