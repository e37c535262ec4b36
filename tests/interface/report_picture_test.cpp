// The report in a browser: it draws every panel and complains about nothing. Skipped aloud without a browser.
#include <sys/wait.h>

#include <catch2/catch.hpp>
#include <cstdlib>

#include "hil-harness/report/report.hpp"
#include "hil-harness/trace/trace_writer.hpp"
#include "tests/support/folder.hpp"
#include "tests/support/skip.hpp"
#include "tests/support/synthetic_trace.hpp"

using namespace duskline::harness;
using namespace duskline::tests;

namespace {

bool has_browser() {
  return std::system("command -v chromium > /dev/null") == 0;
}

struct Visit {
  std::string page;     ///< the document after its scripts have run
  std::string console;  ///< what they had to say
};

Visit visit(const Folder& folder, const std::string& file, const std::string& options) {
  const std::string command =
      "timeout 120 chromium --headless --no-sandbox --disable-gpu --enable-logging=stderr --user-data-dir=" +
      folder.file("profile") + " --virtual-time-budget=5000 " + options + " --dump-dom file://" + file +
      " > " + folder.file("page") + " 2> " + folder.file("log");
  REQUIRE(std::system(command.c_str()) == 0);
  std::string console;
  std::ifstream log(folder.file("log"));
  for (std::string line; std::getline(log, line);)
    if (line.find("CONSOLE") != std::string::npos) console += line + "\n";
  return {bytes_of(folder.file("page")), console};
}

std::size_t count(const std::string& text, const std::string& part) {
  std::size_t found = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++found;
  return found;
}

}  // namespace

TEST_CASE("A browser draws every panel of a report without complaint") {
  if (!has_browser()) {
    skip("chromium is not installed, so nobody has looked at the report");
    return;
  }
  const Folder folder("picture");
  REQUIRE(write_synthetic_trace(folder.file("trace.nc"), {}).empty());
  const std::string report = folder.file("report.html");
  const Outcome outcome =
      write_report(folder.file("trace.nc"), synthetic_summary(), {"A sol </script>", "Purpose."}, report);
  REQUIRE(outcome.problem == "");
  for (const char* window : {"--window-size=1280,900", "--window-size=390,844"}) {
    INFO(window);
    const Visit seen = visit(folder, report, window);
    CHECK(seen.console == "");
    CHECK(seen.page.find("data-error") == std::string::npos);
    const std::size_t figures = count(seen.page, "<figure class=\"panel\" id=\"figure-");
    CHECK(figures >= 20);
    CHECK(count(seen.page, "<div class=\"uplot") == figures);
    CHECK(seen.page.find("One requirement was violated") != std::string::npos);
    CHECK(seen.page.find("dust storm front arrives") != std::string::npos);
    CHECK(seen.page.find("0.00 to 10.00 g/h") != std::string::npos);  // range of the demand, 10 g/h at most
    // The alarm at 43560 s: (0.15 + 43560 / 88775.244) * 24 h = 15.376 h local, 12 h 6 min since the start.
    CHECK(seen.page.find("<td class=\"amount\">12 h 06 min</td><td class=\"amount\">15:22</td>") !=
          std::string::npos);
    CHECK(seen.page.find("A sol &lt;/script&gt;") != std::string::npos);
  }
}

TEST_CASE("A report of two rows without weather, words or summary draws too") {
  if (!has_browser()) {
    skip("chromium is not installed, so nobody has looked at the report");
    return;
  }
  const Folder folder("picture-small");
  TraceWriter writer(folder.file("trace.nc"), {{"oxygen_rate", "kg/s", "", "", 1, "", {}, false}});
  writer.append(0.0, std::vector<double>{0.0});
  writer.append(1.0, std::vector<double>{1e-6});
  REQUIRE(writer.close());
  REQUIRE(write_report(folder.file("trace.nc"), "{}", {"small", ""}, folder.file("report.html")));
  const Visit seen = visit(folder, folder.file("report.html"), "--window-size=1280,900");
  CHECK(seen.console == "");
  CHECK(seen.page.find("data-error") == std::string::npos);
  CHECK(count(seen.page, "<div class=\"uplot") == 1);
}
