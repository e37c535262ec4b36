// The verbs that read a recorded run: export and show.
#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>

#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/trace_part.hpp"
#include "hil-harness/cli/verbs.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

/// The characters of frames and bars exist in the encoding of the terminal.
bool has_utf8() {
  for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"})
    if (const char* value = std::getenv(name); value != nullptr && *value != '\0') {
      const std::string_view locale{value};
      return locale.find("UTF-8") != std::string_view::npos || locale.find("utf8") != std::string_view::npos;
    }
  return false;
}

std::size_t terminal_width() {
  winsize size{};
  return ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col : 80;
}

int refuse(const std::vector<scenarios::Problem>& problems) {
  print_error(scenarios::to_text(problems));
  return kBadInput;
}

}  // namespace

int export_verb(const ExportRequest& request) {
  std::error_code error;
  if (!request.out.empty() && !request.force && fs::exists(request.out, error) &&
      fs::is_regular_file(request.out))
    return refuse({{"--out", 1, 1, request.out, "exists already; --force overwrites it"}});
  const auto part =
      read_part({request.run, request.signals, request.units, request.from, request.to, request.every});
  if (!part) return refuse(part.problems);
  const std::string csv = csv_of(*part.value);
  if (request.out.empty()) return print_text(csv);
  return write_whole(request.out, csv) ? kSuccess : kNotCompleted;
}

int show_verb(const ShowRequest& request) {
  const auto part = read_part({request.run, request.signals, request.units, request.from, request.to, ""});
  if (!part) return refuse(part.problems);
  const ChartSize size{request.width > 0 ? request.width : terminal_width(),
                       request.height > 0 ? request.height : 16, request.ascii || !has_utf8()};
  for (const TraceColumn& column : part.value->columns) print(chart_of(*part.value, column, size));
  return kSuccess;
}

}  // namespace duskline::harness
