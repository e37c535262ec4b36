#include "hil-harness/report/page_assets.hpp"

// Defined in the assembly that page.cmake generates: the bytes of each file, then a label behind them.
extern "C" {
extern const char duskline_page_html[], duskline_page_html_end[];
extern const char duskline_page_css[], duskline_page_css_end[];
extern const char duskline_page_js[], duskline_page_js_end[];
extern const char duskline_linear_js[], duskline_linear_js_end[];
extern const char duskline_compare_js[], duskline_compare_js_end[];
extern const char duskline_plot_licence[], duskline_plot_licence_end[];
}

namespace duskline::harness::assets {

std::string_view page_html() {
  return {duskline_page_html, duskline_page_html_end};
}
std::string_view page_css() {
  return {duskline_page_css, duskline_page_css_end};
}
std::string_view page_js() {
  return {duskline_page_js, duskline_page_js_end};
}
std::string_view linear_js() {
  return {duskline_linear_js, duskline_linear_js_end};
}
std::string_view compare_js() {
  return {duskline_compare_js, duskline_compare_js_end};
}
std::string_view plot_licence() {
  return {duskline_plot_licence, duskline_plot_licence_end};
}

}  // namespace duskline::harness::assets
