#include "hil-harness/report/svg.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace duskline::harness {
namespace {

constexpr double kWidth = 560.0, kHeight = 300.0, kLeft = 76.0, kRight = 12.0, kTop = 12.0, kBottom = 44.0;

struct Range {
  double low = std::numeric_limits<double>::infinity(), high = -std::numeric_limits<double>::infinity();
  void take(std::span<const double> values) {
    for (const double v : values)
      if (std::isfinite(v)) low = std::min(low, v), high = std::max(high, v);
  }
  void settle() {
    if (!(high >= low)) low = 0.0, high = 1.0;
    const double size = std::max(std::abs(low), std::abs(high));
    // values that differ in their last bits alone still get room for the steps of an axis
    const double room = high > low ? std::max(0.05 * (high - low), 1e-9 * size) : std::max(0.05 * size, 1e-9);
    low -= room, high += room;
  }
};

/// With the digits that tell a tick from the next.
std::string tick_text(double v, double step) {
  if (step < 1e-4 || step >= 1e5) {
    const double steps = std::max(1.0, std::abs(v) / step);
    return fmt::format("{:.{}g}", v, static_cast<int>(std::floor(std::log10(steps) + 1e-9)) + 2);
  }
  const int digits = std::clamp(static_cast<int>(-std::floor(std::log10(step) + 1e-9)), 0, 9);
  return fmt::format("{:.{}f}", v, digits);
}

/// 1, 2 and 5 times the powers of ten between two logarithms.
std::vector<double> log_ticks(double low, double high) {
  std::vector<double> all;
  for (int ten = static_cast<int>(std::floor(low)); ten <= static_cast<int>(std::ceil(high)); ++ten)
    for (const double times : {1.0, 2.0, 5.0})
      if (const double v = times * std::pow(10.0, ten); std::log10(v) >= low && std::log10(v) <= high)
        all.push_back(v);
  return all;
}

std::string mark_text(const Series& s, double x, double y, const std::string& note) {
  const std::string title = note.empty() ? "" : fmt::format("<title>{}</title>", escaped_text(note));
  switch (s.mark) {
    case Mark::ring:
      return fmt::format(
          "<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"3\" fill=\"none\" stroke=\"{}\">{}</circle>\n", x, y,
          s.colour, title);
    case Mark::diamond:
      return fmt::format("<path d=\"M{:.1f} {:.1f}l7 7l-7 7l-7 -7z\" fill=\"{}\">{}</path>\n", x, y - 7.0,
                         s.colour, title);
    case Mark::square:
      return fmt::format("<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"11\" height=\"11\" fill=\"{}\">{}</rect>\n",
                         x - 5.5, y - 5.5, s.colour, title);
    default:
      return fmt::format("<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"3.5\" fill=\"{}\">{}</circle>\n", x, y,
                         s.colour, title);
  }
}

}  // namespace

std::vector<double> ticks(double low, double high, int wanted) {
  const double raw = (high - low) / std::max(wanted, 1);
  const double ten = std::pow(10.0, std::floor(std::log10(raw)));
  const double share = raw / ten;
  const double step = ten * (share < 1.5 ? 1.0 : share < 3.5 ? 2.0 : share < 7.5 ? 5.0 : 10.0);
  std::vector<double> all;
  const double first = std::ceil(low / step), last = std::floor(high / step + 1e-9);
  for (double n = first; n <= last && all.size() < 100; n += 1.0) all.push_back(n * step + 0.0);  // no -0
  return all;
}

std::string svg_of(const Plot& plot) {
  Range x, y;
  const auto along = [&](double v) { return plot.log_x ? std::log10(v) : v; };
  for (const Series& s : plot.series) {
    std::vector<double> places(s.x);
    for (double& v : places) v = along(v);
    x.take(places);
    y.take(s.y);
  }
  x.settle();
  y.settle();
  const auto px = [&](double v) {
    return kLeft + (along(v) - x.low) / (x.high - x.low) * (kWidth - kLeft - kRight);
  };
  const auto py = [&](double v) {
    return kHeight - kBottom - (v - y.low) / (y.high - y.low) * (kHeight - kTop - kBottom);
  };
  std::string out = fmt::format(
      "<figure><figcaption>{}</figcaption>\n<svg viewBox=\"0 0 {} {}\" role=\"img\" "
      "aria-label=\"{}\">\n",
      escaped_text(plot.title), kWidth, kHeight,
      escaped_text(fmt::format("{}{}{} over {}", plot.title, plot.title.empty() ? "" : ": ", plot.y_label,
                               plot.x_label)));
  const auto xs = plot.log_x ? log_ticks(x.low, x.high) : ticks(x.low, x.high, 5);
  const auto ys = ticks(y.low, y.high, 5);
  const double x_step = xs.size() > 1 ? xs[1] - xs[0] : 1.0, y_step = ys.size() > 1 ? ys[1] - ys[0] : 1.0;
  for (const double v : xs)
    out += fmt::format(
        "<line class=\"grid\" x1=\"{0:.1f}\" x2=\"{0:.1f}\" y1=\"{1}\" y2=\"{2}\"/><text x=\"{0:.1f}\" "
        "y=\"{3}\" "
        "text-anchor=\"middle\">{4}</text>\n",
        px(v), kTop, kHeight - kBottom, kHeight - kBottom + 16,
        plot.log_x ? fmt::format("{:g}", v) : tick_text(v, x_step));
  for (const double v : ys)
    out += fmt::format(
        "<line class=\"grid\" x1=\"{1}\" x2=\"{2}\" y1=\"{0:.1f}\" y2=\"{0:.1f}\"/><text x=\"{3}\" "
        "y=\"{4:.1f}\" "
        "text-anchor=\"end\">{5}</text>\n",
        py(v), kLeft, kWidth - kRight, kLeft - 6, py(v) + 4, tick_text(v, y_step));
  out += fmt::format("<text x=\"{:.0f}\" y=\"{:.0f}\" text-anchor=\"middle\">{}</text>\n",
                     0.5 * (kLeft + kWidth - kRight), kHeight - 8, escaped_text(plot.x_label));
  out +=
      fmt::format("<text transform=\"translate(14 {:.0f}) rotate(-90)\" text-anchor=\"middle\">{}</text>\n",
                  0.5 * (kTop + kHeight - kBottom), escaped_text(plot.y_label));
  for (const Series& s : plot.series) {
    if (s.mark == Mark::line || s.mark == Mark::dashes) {
      // where there is no value the line begins anew, and a point between two gaps is a dot
      const auto known = [&](std::size_t i) {
        return i < s.x.size() && std::isfinite(s.x[i]) && std::isfinite(s.y[i]);
      };
      std::string path, dots;
      for (std::size_t i = 0; i < s.x.size(); ++i) {
        if (!known(i)) continue;
        const bool first = i == 0 || !known(i - 1);
        path += fmt::format("{}{:.1f} {:.1f}", first ? "M" : "L", px(s.x[i]), py(s.y[i]));
        if (first && !known(i + 1))
          dots += fmt::format("<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"2\" fill=\"{}\"/>\n", px(s.x[i]),
                              py(s.y[i]), s.colour);
      }
      out += fmt::format("<path d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"1.5\"{}/>\n", path,
                         s.colour, s.mark == Mark::dashes ? " stroke-dasharray=\"5 3\"" : "") +
             dots;
      continue;
    }
    for (std::size_t i = 0; i < s.x.size(); ++i)
      if (std::isfinite(s.x[i]) && std::isfinite(s.y[i]))
        out += mark_text(s, px(s.x[i]), py(s.y[i]), i < s.notes.size() ? s.notes[i] : "");
  }
  out += "</svg>\n<p class=\"legend\">";
  for (const Series& s : plot.series) {
    const char* sign = s.mark == Mark::diamond  ? "&#9670;"
                       : s.mark == Mark::square ? "&#9632;"
                       : s.mark == Mark::ring   ? "&#9675;"
                       : s.mark == Mark::dashes ? "- - -"
                       : s.mark == Mark::line   ? "&#9472;&#9472;"
                                                : "&#9679;";
    out += fmt::format("<span><b aria-hidden=\"true\" style=\"color:{}\">{}</b> {}</span> ", s.colour, sign,
                       escaped_text(s.label));
  }
  return out + "</p></figure>\n";
}

}  // namespace duskline::harness
