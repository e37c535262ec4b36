#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "hil-harness/falsify/falsify.hpp"
#include "hil-harness/report/svg.hpp"

namespace duskline::harness {
namespace {

// Colours that a colour-blind eye tells apart: Okabe and Ito, Color Universal Design (2008); lighter on a dark page.
constexpr const char* kStyle =
    "svg{background:#fff}text{fill:#222}.frame,.tick{fill:none;stroke:#666}.line{fill:none;stroke:#000}"
    ".drawn{fill:#999999}.chosen{fill:#0072B2}.broken{fill:#D55E00}"
    "@media(prefers-color-scheme:dark){svg{background:#161513}text{fill:#e8e4da}.frame,.tick{stroke:#8f8b82}"
    ".line{stroke:#e8e4da}.chosen{fill:#56B4E9}.broken{fill:#E69F00}}";
constexpr const char* kDrawn = "drawn";
constexpr const char* kChosen = "chosen";
constexpr const char* kBroken = "broken";
constexpr int kWide = 880, kHigh = 260, kSmallWide = 280, kSmallHigh = 200, kColumns = 3;
constexpr int kLeft = 64, kRight = 12, kTop = 26, kBottom = 40;

struct Axis {
  double from, to;
  bool logarithmic;
  double share(double v) const {
    return logarithmic ? std::log(v / from) / std::log(to / from) : (v - from) / (to - from);
  }
};

/// One panel: a frame, its axes, and the attempts as points.
class Panel {
 public:
  Panel(std::string& out, int left, int top, int wide, int high, Axis x, Axis y)
      : out_(out), left_(left), top_(top), wide_(wide), high_(high), x_(x), y_(y) {}

  void frame(const std::string& title, const std::string& x_unit, const std::string& y_title) {
    const int bottom = top_ + high_;
    out_ += fmt::format("<rect x='{}' y='{}' width='{}' height='{}' class='frame'/>\n", left_, top_, wide_,
                        high_);
    text(left_, top_ - 8, "start", title);
    text(left_, bottom + 16, "start", fmt::format("{:.4g}", x_.from));
    text(left_ + wide_, bottom + 16, "end",
         fmt::format("{:.4g}{}{}", x_.to, x_unit.empty() ? "" : " ", x_unit));
    if (x_.logarithmic) text(left_ + wide_ / 2, bottom + 16, "middle", "(log)");
    for (const double v : ticks(y_.from, y_.to, 4)) {
      text(left_ - 6, static_cast<int>(std::lround(down(v))) + 4, "end", fmt::format("{:.4g}", v));
      out_ += fmt::format("<line x1='{}' x2='{}' y1='{:.1f}' y2='{:.1f}' class='tick'/>\n", left_, left_ + 4,
                          down(v), down(v));
    }
    if (!y_title.empty())
      out_ += fmt::format("<text transform='translate({},{}) rotate(-90)' text-anchor='middle'>{}</text>\n",
                          left_ - 46, top_ + high_ / 2, escaped_text(y_title));
    if (y_.from < 0.0 && y_.to > 0.0)
      out_ +=
          fmt::format("<line x1='{}' x2='{}' y1='{:.1f}' y2='{:.1f}' class='line' stroke-dasharray='4 3'/>\n",
                      left_, left_ + wide_, down(0.0), down(0.0));
  }

  void point(double x, double y, const Attempt& attempt) {
    out_ += fmt::format("<circle cx='{:.1f}' cy='{:.1f}' r='2' class='{}'/>\n", right(x), down(y),
                        attempt.broken() ? kBroken
                        : attempt.drawn  ? kDrawn
                                         : kChosen);
  }

  double right(double x) const { return left_ + x_.share(x) * wide_; }
  double down(double y) const { return top_ + (1.0 - std::clamp(y_.share(y), 0.0, 1.0)) * high_; }

 private:
  void text(int x, int y, const char* anchor, const std::string& words) {
    out_ +=
        fmt::format("<text x='{}' y='{}' text-anchor='{}'>{}</text>\n", x, y, anchor, escaped_text(words));
  }

  std::string& out_;
  int left_, top_, wide_, high_;
  Axis x_, y_;
};

}  // namespace

std::string falsified_svg(const scenarios::Case& base, const Falsified& found) {
  const auto& vary = base.scenario.falsify.vary;
  // one requirement is shown in its unit, several in shares of their scales
  std::string unit;
  const bool one = !base.scenario.falsify.requirement.empty();
  // what only words decide is endlessly far: it lies on the edge of the frame
  const auto height = [&](const Attempt& a) {
    return one ? shown_margin(a.verdict).value : a.verdict.relative;
  };
  double least = 0.0, most = 0.0;
  for (const Attempt& a : found.attempts) {
    if (!std::isfinite(height(a))) continue;
    if (one) unit = shown_margin(a.verdict).unit;
    least = std::min(least, height(a));
    most = std::max(most, height(a));
  }
  if (!(least < most)) most = least + 1.0;
  const Axis y{least - 0.04 * (most - least), most + 0.04 * (most - least), false};
  const std::string y_title =
      one ? "margin" + (unit.empty() ? "" : " (" + unit + ")") : "margin over its scale";

  const int rows = (static_cast<int>(vary.size()) + kColumns - 1) / kColumns;
  const int high = kHigh + 40 + rows * kSmallHigh;
  std::string out = fmt::format(
      "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {} {}' role='img' aria-labelledby='title' "
      "font-family='sans-serif' font-size='12'>\n<title id='title'>{}</title>\n<style>{}</style>\n",
      kWide, high,
      escaped_text(base.scenario.title + ": every run of the search, and the smallest margin so far"),
      kStyle);
  const double last = std::max<double>(2.0, static_cast<double>(found.attempts.size()));
  Panel all(out, kLeft, kTop, kWide - kLeft - kRight, kHigh - kTop - kBottom, {1.0, last, false}, y);
  all.frame(base.scenario.title + ": every run of the search, and the smallest margin so far", "runs",
            y_title);
  std::string line;
  double so_far = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < found.attempts.size(); ++i) {
    const double h = height(found.attempts[i]);
    if (std::isnan(h)) continue;
    const double x = static_cast<double>(i + 1);
    all.point(x, h, found.attempts[i]);
    const double before = so_far;
    so_far = std::min(so_far, h);
    if (std::isfinite(before)) line += fmt::format("{:.1f},{:.1f} ", all.right(x), all.down(before));
    line += fmt::format("{:.1f},{:.1f} ", all.right(x), all.down(so_far));
  }
  out += fmt::format("<polyline points='{}' class='line'/>\n", line);
  int x = kLeft;
  for (const auto& [colour, words] :
       {std::pair{kDrawn, "drawn at random"}, std::pair{kChosen, "chosen by the search"},
        std::pair{kBroken, "violated"}}) {
    out += fmt::format("<circle cx='{}' cy='{}' r='4' class='{}'/><text x='{}' y='{}'>{}</text>\n", x + 4,
                       kHigh + 8, colour, x + 14, kHigh + 12, words);
    x += 170;
  }
  const auto stroke = [&](const char* dashes, const char* words) {
    out +=
        fmt::format("<line x1='{}' x2='{}' y1='{}' y2='{}' class='line'{}/><text x='{}' y='{}'>{}</text>\n",
                    x, x + 22, kHigh + 8, kHigh + 8, dashes, x + 28, kHigh + 12, words);
    x += 130;
  };
  stroke("", "smallest so far");
  if (y.from < 0.0 && y.to > 0.0) stroke(" stroke-dasharray='4 3'", "violated below");
  for (std::size_t k = 0; k < vary.size(); ++k) {
    const int column = static_cast<int>(k) % kColumns, row = static_cast<int>(k) / kColumns;
    const ReadUnit as = readable(vary[k]);
    const bool logarithmic = vary[k].scale == scenarios::Spacing::logarithmic;
    Panel panel(out, kLeft + column * (kSmallWide + 5), kHigh + 40 + row * kSmallHigh + kTop,
                kSmallWide - kLeft - kRight + 10, kSmallHigh - kTop - kBottom,
                {vary[k].from * as.factor, vary[k].to * as.factor, logarithmic}, y);
    panel.frame(label_of(base, vary[k]), as.unit, column == 0 ? y_title : "");
    for (const Attempt& a : found.attempts)
      if (!std::isnan(height(a))) panel.point(a.values[k] * as.factor, height(a), a);
  }
  return out + "</svg>\n";
}

}  // namespace duskline::harness
