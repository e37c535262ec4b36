/// A page without scripts: sentences, tables and the plots of svg.hpp, in the style of the report.
///
/// Same inputs, same bytes. Left out: shared time, zoom (page_data.hpp).
#pragma once

#include <string>
#include <vector>

namespace duskline::harness {

struct StaticPage {
  std::string title;    ///< of the window
  std::string kind;     ///< above the heading: what this page is
  std::string heading;  ///< these are plain text
  std::string purpose;
  std::string body;  ///< HTML
};

std::string text_of(const StaticPage& page);

/// A row of plain texts; all but the first are amounts.
std::string table_row(const std::vector<std::string>& cells);
std::string table_of(const std::vector<std::string>& heads, const std::string& rows);
/// Plots beside each other, as many as the width holds.
std::string plots_of(const std::string& plots);
/// The sentence that is read first.
std::string verdict_of(bool good, const std::string& text);

/// `12.3 mV`
std::string number_words(double v, const std::string& unit);

}  // namespace duskline::harness
