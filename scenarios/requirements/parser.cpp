#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "controller/include/controller.h"
#include "controller/include/plant_controller.h"
#include "scenarios/requirements/values.hpp"

namespace duskline::scenarios {
namespace {

constexpr std::size_t kLongest = 4000;  // characters

#define DUSKLINE_ALARM(identifier, number, word, severity, minutes, priority, latched, on, off, source, \
                       argument, limit, dead_band, suppressed, consequence, cause, action)              \
  word,
const std::vector<std::string> kAlarmWords{CTL_ALARM_LIST(DUSKLINE_ALARM)};
const std::vector<std::string> kPlantAlarmWords{CTL_PLANT_ALARM_LIST(DUSKLINE_ALARM)};
#undef DUSKLINE_ALARM
#define DUSKLINE_WORD(identifier, value, word, meaning) word,
const std::vector<std::string> kAlarmStates{CTL_ALARM_STATE_LIST(DUSKLINE_WORD)};
#undef DUSKLINE_WORD

class Parser : private ValueParser {
 public:
  using ValueParser::ValueParser;

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
  // ---- truths ----
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

  /// Stands alone: up to a colon, a parenthesis or the end.
  int formula() {
    const std::size_t outer = std::exchange(window_at_, kNowhere);
    const int all = implication();
    window_at_ = outer;
    return all;
  }
  int implication() {
    const Level level(*this);
    skip();
    const std::size_t begin = at_;
    int left = disjunction();
    if (accept_word("implies")) {
      const int not_left = add({.kind = Kind::negation, .a = left}, begin);
      const int right = implication();
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
    window_at_ = kNowhere;
    int body = unary();
    window_at_ = begin;
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
  /// `always A and B` would ask B of the first sample alone.
  void check_reach(std::size_t begin) {
    if (window_at_ == kNowhere) return;
    const std::string_view from = text_.substr(window_at_);
    fail(begin, fmt::format("'{0}' in column {1} does not reach as far as this; put parentheses: "
                            "'{0} ... (A and B)', or '({0} ... A) and B'",
                            from.substr(0, from.find_first_of(" (")),
                            count_characters(text_.substr(0, window_at_)) + 1));
  }

  int comparison() {
    skip();
    const std::size_t begin = at_;
    check_reach(begin);
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
    check_number(right);
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
    const std::size_t modules = signals_[node(state).signal].width / kAlarmWords.size();
    if (modules > 1) check_plant_alarm();
    std::size_t place = listed(kAlarmWords, "alarm");
    skip();
    const std::size_t at = at_;
    const bool of_module = accept_word("of");
    if (of_module && modules < 2) fail(at, "this plant has one module, which is not named");
    if (!of_module && modules > 1)
      fail(at, fmt::format("say of which of the {} modules: 'of module 1'", modules));
    if (of_module) {
      expect_word("module");
      const std::size_t number = count("module");
      if (number < 1 || number > modules)
        fail(at, fmt::format("there is no module {}; this plant has {}, counted from 1", number, modules));
      place += (number - 1) * kAlarmWords.size();
    }
    node(state).item = place;
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

  void check_plant_alarm() {
    const std::size_t begin = at_;
    skip();
    accept("\"");
    const std::size_t which = longest(kPlantAlarmWords);
    if (which < kPlantAlarmWords.size() && longest(kAlarmWords) == kAlarmWords.size())
      fail(at_, fmt::format("'{}' is an alarm of the plant controller, which cannot be named here yet; "
                            "plant_alarms_active counts those that stand",
                            kPlantAlarmWords[which]));
    at_ = begin;
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
    check_number(right);
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
  std::size_t window_at_ = kNowhere;  ///< of a word such as `always` before, without parentheses around it
  bool conditional_ = false;
};

}  // namespace

std::string message_of(const RequirementProblem& problem, std::string_view sentence) {
  const auto before = sentence.substr(0, static_cast<std::size_t>(std::max(problem.column, 1)) - 1);
  return fmt::format("{} (column {} of the sentence)", problem.message, count_characters(before) + 1);
}

ParsedRequirement parse_requirement(std::string_view text, std::span<const TraceSignal> signals) {
  return Parser(text, signals).parse();
}

}  // namespace duskline::scenarios
