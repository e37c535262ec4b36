#include "hil-harness/report/static_page.hpp"

#include <fmt/format.h>

#include "hil-harness/report/page_assets.hpp"
#include "hil-harness/report/svg.hpp"

namespace duskline::harness {
namespace {

constexpr const char* kStyle =
    ".legend{display:block;margin:0;font-size:.85rem;color:var(--soft)}"
    ".legend span{display:inline-block;margin-right:1rem}"
    ".plots{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(26rem,100%),1fr));gap:1.2rem}"
    "figure{margin:0}figcaption{font:400 1.05rem/1.3 var(--serif)}"
    "svg{width:100%;height:auto;font:12px var(--sans);fill:var(--soft)}.grid{stroke:var(--rule)}"
    "@media(max-width:30rem){svg{font-size:15px}}"
    ".wide{max-width:62rem;overflow-x:auto}";

}  // namespace

std::string text_of(const StaticPage& page) {
  return fmt::format(
      "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
      "content=\"width=device-width, initial-scale=1\"><meta name=\"color-scheme\" content=\"light dark\">"
      "<title>{}</title><link rel=\"icon\" href=\"data:,\"><style>{}{}</style></head>\n<body><main>\n"
      "<p class=\"kind\">{}</p>\n<h1>{}</h1>\n<p class=\"purpose\">{}</p>\n{}</main></body></html>\n",
      escaped_text(page.title), assets::page_css(), kStyle, escaped_text(page.kind),
      escaped_text(page.heading), escaped_text(page.purpose), page.body);
}

std::string table_row(const std::vector<std::string>& cells) {
  std::string out = "<tr>";
  for (std::size_t i = 0; i < cells.size(); ++i)
    out += i == 0 ? fmt::format("<th scope=\"row\">{}</th>", escaped_text(cells[i]))
                  : fmt::format("<td class=\"amount\">{}</td>", escaped_text(cells[i]));
  return out + "</tr>\n";
}

std::string table_of(const std::vector<std::string>& heads, const std::string& rows) {
  std::string out = "<div class=\"wide\"><table><thead><tr>";
  for (const std::string& head : heads) out += fmt::format("<th scope=\"col\">{}</th>", escaped_text(head));
  return out + "</tr></thead><tbody>\n" + rows + "</tbody></table></div>\n";
}

std::string plots_of(const std::string& plots) {
  return "<div class=\"plots\">\n" + plots + "</div>\n";
}

std::string verdict_of(bool good, const std::string& text) {
  return fmt::format("<p class=\"sentence {}\">{}</p>\n", good ? "good" : "bad", escaped_text(text));
}

std::string number_words(double v, const std::string& unit) {
  return fmt::format("{:.4g}{}{}", v, unit.empty() ? "" : " ", unit);
}

}  // namespace duskline::harness
