/// The parts of the page that are built from hil-harness/report/page and embedded in the library.
#pragma once

#include <string_view>

namespace duskline::harness::assets {

std::string_view page_html();
std::string_view page_css();
std::string_view page_js();     ///< of the report of a run
std::string_view linear_js();   ///< of the page of linear models
std::string_view compare_js();  ///< of the comparison of two runs
std::string_view plot_licence();

}  // namespace duskline::harness::assets
