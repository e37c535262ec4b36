/// A page in Debian's Chromium: what its scripts made of it, what they said, and what can be measured of it.
#pragma once

#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>

#include "tests/support/folder.hpp"

namespace duskline::tests {

inline bool has_browser() {
  return std::system("command -v chromium > /dev/null") == 0;
}

struct Visit {
  std::string page;     ///< the document after its scripts have run
  std::string console;  ///< what they had to say
};

inline Visit visit(const Folder& folder, const std::string& file, const std::string& options) {
  const std::string command =
      "timeout 120 chromium --headless --no-sandbox --disable-gpu --disable-background-networking "
      "--hide-scrollbars --enable-logging=stderr --user-data-dir=" +
      folder.file("profile") + " --virtual-time-budget=5000 " + options + " --dump-dom file://" + file +
      " > " + folder.file("page") + " 2> " + folder.file("log");
  REQUIRE(std::system(command.c_str()) == 0);
  std::string console;
  std::ifstream log(folder.file("log"));
  for (std::string line; std::getline(log, line);)
    if (line.find("CONSOLE") != std::string::npos) console += line + "\n";
  return {bytes_of(folder.file("page")), console};
}

/// What tests/support/page_measures.js finds on a page in a frame of that width.
inline nlohmann::json measured(const Folder& folder, const std::string& file, int width, bool dark) {
  std::ofstream(folder.file("measured.html"))
      << bytes_of(file) << "<script>" << bytes_of(DUSKLINE_SOURCE_DIR "/tests/support/page_measures.js")
      << "</script>";
  std::ofstream(folder.file("frame.html"))
      << "<!doctype html><script>onmessage = (e) => { document.documentElement.dataset.measures = e.data; }"
      << "</script><iframe src=\"measured.html\" style=\"border:0;width:" << width
      << "px;height:900px\"></iframe>";
  // blink's enumeration of schemes: 0 dark, 1 light
  const Visit seen =
      visit(folder, folder.file("frame.html"),
            "--window-size=1600,1000 --blink-settings=preferredColorScheme=" + std::string(dark ? "0" : "1"));
  REQUIRE(seen.console == "");
  const std::string mark = "data-measures=\"";
  const std::size_t begin = seen.page.find(mark);
  REQUIRE(begin != std::string::npos);
  std::string text =
      seen.page.substr(begin + mark.size(), seen.page.find('"', begin + mark.size()) - begin - mark.size());
  for (const auto& [from, to] : {std::pair{"&quot;", "\""}, {"&lt;", "<"}, {"&gt;", ">"}, {"&amp;", "&"}})
    for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; ++at)
      text.replace(at, std::string_view(from).size(), to);
  return nlohmann::json::parse(text);
}

}  // namespace duskline::tests
