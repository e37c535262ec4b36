// A chart of text.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "hil-harness/cli/trace_part.hpp"
#include "hil-harness/report/svg.hpp"

namespace duskline::harness {
namespace {

struct Span {
  double low = std::numeric_limits<double>::infinity(), high = -std::numeric_limits<double>::infinity();
  void add(double v) {
    if (std::isfinite(v)) low = std::min(low, v), high = std::max(high, v);
  }
  bool empty() const { return !(low <= high); }
};

/// Columns that a text in UTF-8 takes: its characters.
std::size_t columns_of(const std::string& text) {
  return static_cast<std::size_t>(std::count_if(
      text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

std::string clock(double s) {
  const auto minutes = static_cast<long long>(std::llround(s / 60.0));
  return fmt::format("{}:{:02} h", minutes / 60, minutes % 60);
}

/// Least and greatest value of each place in each column of the chart.
std::vector<std::vector<Span>> spans_of(const TracePart& part, const TraceColumn& c, std::size_t wide) {
  std::vector<std::vector<Span>> spans(c.info.width, std::vector<Span>(wide));
  const double first = part.times.front(), length = std::max(part.times.back() - first, 1e-9);
  for (std::size_t row = 0; row < part.times.size(); ++row) {
    const double share = (part.times[row] - first) / length;
    const auto x = std::min(wide - 1, static_cast<std::size_t>(share * static_cast<double>(wide)));
    for (std::size_t k = 0; k < c.info.width; ++k) spans[k][x].add(c.values[row * c.info.width + k]);
  }
  return spans;
}

}  // namespace

std::string chart_of(const TracePart& part, const TraceColumn& c, const ChartSize& size) {
  const std::string unit = c.info.flags.empty() && c.unit != "1" ? c.unit : "";
  std::string text =
      c.info.name + (unit.empty() ? "" : fmt::format(" ({})", unit)) + "  " + c.info.meaning + "\n";
  Span whole;
  for (const double v : c.values) whole.add(v);
  if (whole.empty()) return text + "  no value in this part of the run\n";
  const bool words = !c.info.flags.empty() && !c.info.masks;
  std::size_t high = std::clamp<std::size_t>(size.height, 4, 200);
  if (words) high = static_cast<std::size_t>(whole.high - whole.low) + 1;
  const double pad = whole.high > whole.low ? 0.0 : std::max(1e-9, 0.1 * std::abs(whole.low));
  const double low = words ? whole.low : whole.low - pad, top = words ? whole.high : whole.high + pad;
  const auto line_of = [&](double v) {  // counted from below
    const double share = top > low ? (v - low) / (top - low) : 0.0;
    return static_cast<std::size_t>(std::lround(share * static_cast<double>(high - 1)));
  };

  std::vector<std::string> labels(high);
  if (words)
    for (std::size_t n = 0; n < high; ++n) labels[n] = cell_text(c, whole.low + static_cast<double>(n));
  else
    for (const double v : ticks(low, top, std::max(2, static_cast<int>(high) / 4)))
      labels[line_of(v)] = fmt::format("{:.5g}", v);
  std::size_t label = 1;
  for (const std::string& l : labels) label = std::max(label, columns_of(l));
  const std::size_t wide = std::max<std::size_t>(8, std::clamp<std::size_t>(size.width, 20, 400) - label - 3);

  const auto spans = spans_of(part, c, wide);
  std::vector<std::vector<std::string>> cells(high, std::vector<std::string>(wide, " "));
  const std::string full = size.ascii ? "*" : "\u2588";
  for (std::size_t k = 0; k < spans.size(); ++k)
    for (std::size_t x = 0; x < wide; ++x)
      if (!spans[k][x].empty())
        for (std::size_t y = line_of(spans[k][x].low); y <= line_of(spans[k][x].high); ++y)
          cells[y][x] =
              spans.size() > 1 ? std::string(1, "123456789abcdefghijklmnopqrstuvwxyz"[k % 35]) : full;
  for (std::size_t y = high; y-- > 0;) {
    text += std::string(label - columns_of(labels[y]) + 1, ' ') + labels[y];
    text += labels[y].empty() ? (size.ascii ? " |" : " \u2502") : (size.ascii ? " +" : " \u2524");
    std::string line;
    for (const std::string& cell : cells[y]) line += cell;
    while (line.ends_with(' ')) line.pop_back();
    text += line + "\n";
  }
  text += std::string(label + 2, ' ') + (size.ascii ? "+" : "\u2514");
  for (std::size_t x = 0; x < wide; ++x) text += size.ascii ? "-" : "\u2500";
  const std::string from = clock(part.times.front()), to = clock(part.times.back());
  const std::size_t room = wide + 1 > from.size() + to.size() ? wide + 1 - from.size() - to.size() : 1;
  text += "\n" + std::string(label + 2, ' ') + from + std::string(room, ' ') + to + "\n";
  if (spans.size() > 1) text += fmt::format("  1 to {}: places along {}\n", spans.size(), c.info.axis);
  return text;
}

}  // namespace duskline::harness
