#include "hil-harness/report/report.hpp"

#include <cstdio>
#include <fstream>

#include "hil-harness/report/page_assets.hpp"
#include "hil-harness/report/page_data.hpp"
#include "scenarios/reader/text.hpp"

namespace duskline::harness {
namespace {

/// Puts `text` where the page says {{name}}.
void fill(std::string& page, std::string_view name, std::string_view text) {
  const std::string mark = "{{" + std::string(name) + "}}";
  if (const std::size_t at = page.find(mark); at != std::string::npos) page.replace(at, mark.size(), text);
}

}  // namespace

Outcome write_page(const std::string& path, const std::string& text) {
  const std::string part = path + ".part";
  std::ofstream out(part, std::ios::binary);
  out << text;
  out.close();
  if (!out || std::rename(part.c_str(), path.c_str()) != 0) {
    std::remove(part.c_str());
    return {path + ": the report cannot be written"};
  }
  return {};
}

std::string whole_page(std::string_view title, std::string_view data, std::string_view script) {
  // The data and then the title come last: whatever text they hold is not searched for marks.
  std::string page(assets::page_html());
  fill(page, "licence", assets::plot_licence());
  fill(page, "style", assets::page_css());
  fill(page, "script", script);
  fill(page, "data", data);
  fill(page, "title", scenarios::escaped_text(title));
  return page;
}

Outcome write_report(const std::string& trace_path, std::string_view summary_json, const ReportInfo& info,
                     const std::string& out_path, const std::optional<std::string>& other_trace) {
  Outcome outcome;
  const auto trace = TraceReader::open(trace_path, outcome.problem);
  if (!trace) return outcome;
  if (trace->rows() == 0) return {trace_path + ": the trace has no rows"};
  std::optional<TraceReader> other;
  if (other_trace) {
    other = TraceReader::open(*other_trace, outcome.problem);
    if (!other) return outcome;
  }
  const auto summary = read_summary(summary_json, outcome.problem);
  if (!summary) return outcome;
  const std::string data = page_data(*trace, other ? &*other : nullptr, *summary, info);
  return write_page(out_path, whole_page(info.title, data, assets::page_js()));
}

}  // namespace duskline::harness
