/// The values of a requirement: numbers, signals and what is made of them, each with its unit.
///
/// What it is   the part of the parser that knows units; truths are in parser.cpp
/// Validity     a number has the unit of what it is compared with or added to; degC is for temperatures alone
/// Left out     products and shares of signals
#pragma once

#include <fmt/format.h>

#include <algorithm>

#include "scenarios/reader/units.hpp"
#include "scenarios/requirements/cursor.hpp"

namespace duskline::scenarios {

class ValueParser : protected Cursor {
 public:
  ValueParser(std::string_view text, std::span<const TraceSignal> signals)
      : Cursor(text), signals_(signals) {}

 protected:
  using Kind = logic::Kind;
  using Node = logic::Node;
  static constexpr int kDeepest = 60;
  static constexpr std::size_t kMostNodes = 1000;  ///< parts of a sentence

  int add(Node node, std::size_t begin) {
    if (nodes_.size() == kMostNodes)
      fail(begin, fmt::format("the sentence has more than {} parts", kMostNodes));
    node.begin = static_cast<int>(begin) + 1;
    node.end = static_cast<int>(at_) + 1;
    nodes_.push_back(std::move(node));
    return static_cast<int>(nodes_.size()) - 1;
  }
  Node& node(int i) { return nodes_[static_cast<std::size_t>(i)]; }

  /// Counts what stands within each other, for as long as it lives.
  class Level {
   public:
    explicit Level(ValueParser& parser) : parser_(parser) {
      if (++parser_.depth_ > kDeepest) parser_.fail(parser_.at_, "too many things within each other");
    }
    Level(const Level&) = delete;
    Level& operator=(const Level&) = delete;
    ~Level() { --parser_.depth_; }

   private:
    ValueParser& parser_;
  };

  int value() {
    const Level level(*this);
    skip();
    const std::size_t begin = at_;
    int left = term();
    for (;;) {
      const bool plus = accept("+");
      if (!plus && !accept("-")) return left;
      const int right = term();
      check_number(left), check_number(right);
      agree(left, right, true);
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
        check_number(of);
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
        if (signals_[node(of).signal].masks) check_number(of);
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
      if (node(of).kind == Kind::number) fail(begin, "a number needs no magnitude: write the result");
      check_number(of);
      return add({.kind = Kind::magnitude, .a = of, .unit = node(of).unit}, begin);
    }
    if (accept_word("rate")) {
      expect_word("of");
      const int of = signal_value(false);
      check_number(of);
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
      const std::size_t place = count("place");
      expect("]", "after the place");
      if (place < 1 || place > s.width) fail(place_at, fmt::format("{} has places 1 to {}", s.name, s.width));
      if (all_places)
        fail(begin,
             fmt::format("{} is one place: leave out the word before it", text_.substr(begin, at_ - begin)));
      node(result).item = place - 1;
    } else if (s.width > 1 && !all_places) {
      fail(begin, fmt::format("{0} has {1} places: write {0}[1]{2}", s.name, s.width,
                              s.masks ? fmt::format(" to {}[{}]", s.name, s.width)
                                      : fmt::format(", least {0}, greatest {0} or mean {0}", s.name)));
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

  /// A signal of words is compared alone, with one of them.
  void check_number(int value) {
    const Node& n = node(value);
    if (n.kind != Kind::signal || signals_[n.signal].words.empty()) return;
    const TraceSignal& s = signals_[n.signal];
    fail(static_cast<std::size_t>(n.begin) - 1,
         fmt::format("{0} holds words and is no number: write '{0}{1} {2} ...' alone", s.name,
                     s.width > 1 ? "[1]" : "", s.masks ? "includes" : "is"));
  }

  /// What a thermometer shows, and no difference.
  bool is_temperature(int value) {
    const Node& n = node(value);
    const bool plain =
        n.kind == Kind::signal || n.kind == Kind::least || n.kind == Kind::greatest || n.kind == Kind::mean;
    return plain && !signals_[n.signal].name.ends_with("_gradient");
  }

  /// Gives a number the unit of what it is compared with, or added to; refuses sides of different dimension.
  void agree(int left, int right, bool terms = false) {
    const auto settle = [&](int number, int other, const std::string& unit) {
      Node& n = node(number);
      if (n.kind != Kind::number || !n.unit.empty()) return;
      const std::string& raw = raws_[static_cast<std::size_t>(number)];
      constexpr double kColdest = 100.0;  // K: from it on a number in degC is no difference
      const bool degrees = conversion(unit_text(raw), unit).offset != 0.0;
      n.number = read(raw, unit, degrees && !terms && is_temperature(other) ? kColdest : -kEndless,
                      static_cast<std::size_t>(n.begin) - 1);
      n.unit = unit;
    };
    const std::string l = node(left).unit, r = node(right).unit;
    if (l.empty() && r.empty())
      fail(static_cast<std::size_t>(node(left).begin) - 1, "two numbers are no comparison of signals");
    settle(left, right, r);
    settle(right, left, l);
    if (!same_unit(node(left).unit, node(right).unit))
      fail(static_cast<std::size_t>(node(right).begin) - 1,
           fmt::format("{} cannot be compared with {}", node(right).unit, node(left).unit));
  }
  /// One unit, in whatever spelling: kg/s and kg s-1.
  static bool same_unit(const std::string& a, const std::string& b) {
    if (a == b) return true;
    const Conversion how = conversion(a, b);
    return how.fit == UnitFit::fits && how.scale == 1.0 && how.offset == 0.0;
  }

  std::span<const TraceSignal> signals_;
  int depth_ = 0;
  std::vector<Node> nodes_;
  std::vector<std::string> raws_;  ///< of numbers, by their node
  std::vector<std::size_t> used_;
};

}  // namespace duskline::scenarios
