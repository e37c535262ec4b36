#include "scenarios/requirements/objective.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "scenarios/reader/quantity.hpp"
#include "scenarios/reader/units.hpp"

namespace duskline::scenarios {
namespace {

constexpr std::string_view kForm =
    "expected 'least' or 'most', then 'mean', 'greatest' or 'least' with 'over time of' a value 'per' a "
    "quantity, or 'robustness of' a requirement";
constexpr double kMostRobustness = 10.0;

/// Takes words off the front of a text and knows where it stands.
class Front {
 public:
  explicit Front(std::string_view text) : text_(text) { skip(); }
  bool accept(std::string_view word) {
    if (!text_.substr(at_).starts_with(word)) return false;
    const std::size_t end = at_ + word.size();
    if (end < text_.size() && text_[end] != ' ') return false;
    at_ = end;
    skip();
    return true;
  }
  std::size_t at() const { return at_; }
  std::string_view rest() const { return text_.substr(at_); }
  void move_to(std::size_t at) {
    at_ = std::min(at, text_.size());
    skip();
  }

 private:
  void skip() {
    while (at_ < text_.size() && text_[at_] == ' ') ++at_;
  }
  std::string_view text_;
  std::size_t at_ = 0;
};

RequirementProblem problem(std::size_t at, std::string message) {
  return {static_cast<int>(at) + 1, std::move(message)};
}

void parse_value(Front& front, std::string_view text, std::span<const TraceSignal> signals,
                 ParsedObjective& out) {
  constexpr std::string_view kPer = " per ";
  const std::size_t per = text.rfind(kPer);
  if (per == std::string_view::npos || per < front.at()) {
    out.problems.push_back(
        problem(text.size(), "expected 'per' and a quantity, such as 'per 0.1 g/h': what counts as 1"));
    return;
  }
  const std::string value(text.substr(front.at(), per - front.at()));
  const std::string quantity(text.substr(per + kPer.size()));
  // a comparison of the two gives the number the unit of the value
  constexpr std::string_view kSign = " > ";
  auto parsed = parse_requirement(value + std::string(kSign) + quantity, signals);
  for (auto& p : parsed.problems) {
    const auto column = static_cast<std::size_t>(p.column) - 1;
    const std::size_t at = column < value.size() + kSign.size()
                               ? front.at() + std::min(column, value.size())
                               : per + kPer.size() + column - value.size() - kSign.size();
    out.problems.push_back(problem(at, p.message));
  }
  if (!out.problems.empty()) return;
  const auto& nodes = parsed.requirement.nodes;
  const logic::Node& whole = nodes.back();
  if (whole.kind != logic::Kind::above ||
      nodes[static_cast<std::size_t>(whole.b)].kind != logic::Kind::number) {
    out.problems.push_back(problem(front.at(), "expected a value, found a requirement"));
    return;
  }
  Objective& o = out.objective;
  o.root = whole.a;
  o.unit = whole.unit;
  o.per = nodes[static_cast<std::size_t>(whole.b)].number;
  o.requirement = std::move(parsed.requirement);
  if (conversion(unit_text(quantity), o.unit).offset != 0.0)
    out.problems.push_back(
        problem(per + kPer.size(), "a difference of temperatures is given in K: so much counts as 1"));
  if (!(o.per > 0.0)) out.problems.push_back(problem(per + kPer.size(), "the quantity must be above zero"));
}

}  // namespace

ParsedObjective parse_objective(std::string_view text, std::span<const TraceSignal> signals) {
  ParsedObjective out;
  Objective& o = out.objective;
  o.text = text;
  Front front(text);
  const auto refuse = [&] {
    out.problems.push_back(problem(front.at(), std::string(kForm)));
    return out;
  };
  o.most = front.accept("most");
  if (!o.most && !front.accept("least")) return refuse();
  if (front.accept("robustness")) {
    if (!front.accept("of")) return refuse();
    o.statistic = Statistic::robustness;
    auto parsed = parse_requirement(front.rest(), signals);
    for (const auto& p : parsed.problems)
      out.problems.push_back(problem(front.at() + static_cast<std::size_t>(p.column) - 1, p.message));
    o.requirement = std::move(parsed.requirement);
    o.unit = "1";
    return out;
  }
  if (front.accept("mean"))
    o.statistic = Statistic::mean;
  else if (front.accept("greatest"))
    o.statistic = Statistic::greatest;
  else if (front.accept("least"))
    o.statistic = Statistic::least;
  else
    return refuse();
  if (!front.accept("over") || !front.accept("time")) return refuse();
  if (front.accept("after")) {
    const std::size_t of = text.find(" of ", front.at());
    if (of == std::string_view::npos) return refuse();
    const Reading time = read_quantity(text.substr(front.at(), of - front.at()), {"s", 0.0, 1e30});
    if (!time.error.empty()) {
      out.problems.push_back(problem(front.at(), time.error));
      return out;
    }
    o.after = time.value;
    front.move_to(of + 1);
  }
  if (!front.accept("of")) return refuse();
  parse_value(front, text, signals, out);
  return out;
}

double measure(const Objective& o, const TraceSamples& trace) {
  if (trace.times.empty()) return std::nan("");
  if (o.statistic == Statistic::robustness) return judge(o.requirement, trace).relative;
  const std::vector<double> values = value_of(o.requirement, o.root, trace);
  double sum = 0.0, most = std::nan(""), least = std::nan("");
  std::size_t count = 0;
  for (std::size_t k = 0; k < values.size(); ++k) {
    if (trace.times[k] < o.after || std::isnan(values[k])) continue;
    sum += values[k];
    ++count;
    if (!(values[k] <= most)) most = values[k];
    if (!(values[k] >= least)) least = values[k];
  }
  if (count == 0) return std::nan("");
  switch (o.statistic) {
    case Statistic::greatest:
      return most;
    case Statistic::least:
      return least;
    default:
      return sum / static_cast<double>(count);
  }
}

double cost(const Objective& o, double measured) {
  if (o.statistic == Statistic::robustness)
    measured = std::clamp(measured, -kMostRobustness, kMostRobustness);
  return (o.most ? -measured : measured) / o.per;
}

}  // namespace duskline::scenarios
