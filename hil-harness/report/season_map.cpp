#include "hil-harness/report/season_map.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "hil-harness/report/svg.hpp"

namespace duskline::harness {
namespace {

constexpr double kWidth = 900.0, kLeft = 44.0, kRight = 8.0, kTop = 22.0, kHour = 12.0, kBottom = 36.0;

std::string note_of(const SeasonMap& map, std::size_t column, std::size_t hour) {
  return map.notes.empty() ? std::string{} : map.notes[column][hour];
}

/// Ticks of the season, every 30 deg, above the map.
std::string season_ticks(const SeasonMap& map, double cell) {
  std::string out;
  double before = -1e9;  // px of the tick before
  if (!map.seasons.empty())
    out += fmt::format("<text x=\"{}\" y=\"{}\">{:.0f}&#176;</text>\n", kLeft, kTop - 8, map.seasons[0]),
        before = kLeft;
  for (std::size_t i = 1; i < map.seasons.size(); ++i) {
    const int from = static_cast<int>(map.seasons[i - 1] / 30.0),
              to = static_cast<int>(map.seasons[i] / 30.0);
    const double x = kLeft + cell * static_cast<double>(i);
    if (from == to || x - before < 40.0) continue;
    before = x;
    out += fmt::format("<text x=\"{:.1f}\" y=\"{}\" text-anchor=\"middle\">{}&#176;</text>\n", x, kTop - 8,
                       30 * to % 360);
  }
  return out;
}

}  // namespace

std::string svg_of(const SeasonMap& map) {
  const std::size_t columns = map.cells.size(), hours = columns == 0 ? 0 : map.cells.front().size();
  const double cell = (kWidth - kLeft - kRight) / std::max<double>(1.0, static_cast<double>(columns));
  const double height = kTop + kHour * static_cast<double>(hours) + kBottom;
  std::string out = fmt::format(
      "<figure class=\"wide\"><figcaption>{}</figcaption>\n<svg viewBox=\"0 0 {} {}\" role=\"img\" "
      "shape-rendering=\"crispEdges\" "
      "aria-label=\"{}, hours of the sol upwards, sols to the right\">\n",
      escaped_text(map.title), kWidth, height, escaped_text(map.title));
  std::vector<std::size_t> count(map.classes.size());
  std::size_t all = 0;
  for (std::size_t h = 0; h < hours; ++h) {
    const double y = kTop + kHour * static_cast<double>(hours - 1 - h);
    for (std::size_t from = 0, to = 0; from < columns; from = to) {
      const int now = map.cells[from][h];
      const std::string note = note_of(map, from, h);
      for (to = from; to < columns && map.cells[to][h] == now && note_of(map, to, h) == note;) ++to;
      if (now < 0) continue;
      const MapClass& shown = map.classes[static_cast<std::size_t>(now)];
      count[static_cast<std::size_t>(now)] += to - from;
      all += to - from;
      out += fmt::format(
          "<rect x=\"{:.2f}\" y=\"{:.0f}\" width=\"{:.2f}\" height=\"{:.0f}\" fill=\"{}\"{}><title>sol "
          "{:.0f} "
          "to {:.0f}, {} to {} h: {}{}{}</title></rect>\n",
          kLeft + cell * static_cast<double>(from), y, cell * static_cast<double>(to - from), kHour,
          shown.colour, shown.opacity < 1.0 ? fmt::format(" opacity=\"{:.2f}\"", shown.opacity) : "",
          map.sols[from], map.sols[to - 1], h, h + 1, escaped_text(shown.label), note.empty() ? "" : ": ",
          escaped_text(note));
    }
  }
  for (std::size_t h = 0; h <= hours; h += 6)
    out += fmt::format("<text x=\"{}\" y=\"{:.0f}\" text-anchor=\"end\">{}</text>\n", kLeft - 6,
                       kTop + kHour * static_cast<double>(hours - h) + 4, h);
  out += fmt::format(
      "<text transform=\"translate(12 {:.0f}) rotate(-90)\" text-anchor=\"middle\">local solar time, "
      "h</text>\n",
      kTop + 0.5 * kHour * static_cast<double>(hours));
  const double base = kTop + kHour * static_cast<double>(hours);
  if (columns > 0)
    for (const double v : ticks(map.sols.front(), map.sols.back() + 1.0, 10))
      if (v >= map.sols.front())
        out += fmt::format("<text x=\"{:.1f}\" y=\"{:.0f}\" text-anchor=\"middle\">{:g}</text>\n",
                           kLeft + cell * (v - map.sols.front()), base + 15, v);
  out += fmt::format(
      "<text x=\"{:.0f}\" y=\"{:.0f}\" text-anchor=\"middle\">sol of the run; above: season, "
      "areocentric longitude</text>\n",
      0.5 * (kLeft + kWidth - kRight), base + 31);
  out += season_ticks(map, cell) + "</svg>\n<p class=\"legend\">";
  for (std::size_t k = 0; k < map.classes.size(); ++k)
    if (count[k] > 0)
      out += fmt::format(
          "<span><svg viewBox=\"0 0 14 14\" style=\"width:.9em;height:.9em\" aria-hidden=\"true\"><rect "
          "width=\"14\" height=\"14\" fill=\"{}\" opacity=\"{:.2f}\"/></svg> {} {:.1f} %</span> ",
          map.classes[k].colour, map.classes[k].opacity, escaped_text(map.classes[k].label),
          100.0 * static_cast<double>(count[k]) / static_cast<double>(all));
  return out + "</p></figure>\n";
}

}  // namespace duskline::harness
