#include "hil-harness/train/page_files.hpp"

#include <array>

// Defined in the assembly that page.cmake generates: the bytes of each file, then a label behind them.
extern "C" {
extern const char duskline_console_html[], duskline_console_html_end[];
extern const char duskline_console_icon[], duskline_console_icon_end[];
extern const char duskline_console_js[], duskline_console_js_end[];
extern const char duskline_console_css[], duskline_console_css_end[];
extern const char duskline_console_licences[], duskline_console_licences_end[];
}

namespace duskline::harness {

std::span<const PageFile> page_files() {
  static const std::array<PageFile, 5> kFiles{{
      {"/", "text/html; charset=utf-8", {duskline_console_html, duskline_console_html_end}},
      {"/icon.svg", "image/svg+xml", {duskline_console_icon, duskline_console_icon_end}},
      {"/console.js", "text/javascript; charset=utf-8", {duskline_console_js, duskline_console_js_end}},
      {"/console.css", "text/css; charset=utf-8", {duskline_console_css, duskline_console_css_end}},
      {"/licences.txt",
       "text/plain; charset=utf-8",
       {duskline_console_licences, duskline_console_licences_end}},
  }};
  return kFiles;
}

}  // namespace duskline::harness
