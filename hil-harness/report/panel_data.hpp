/// The panels of a page (panels.hpp) with their values, as JSON text: of one run, or of two over each other.
#pragma once

#include <string>

#include "hil-harness/report/grid.hpp"
#include "hil-harness/trace/trace_reader.hpp"

namespace duskline::harness {

struct PanelRuns {
  const TraceReader& run;
  const TraceReader* other = nullptr;  ///< null: one run
  std::string run_name, other_name;    ///< as legends name them; used when there are two
  bool all_panels = false;             ///< the other run in every panel; else only in those that ask for it
};

std::string panels_text(const PanelRuns& runs, const Grid& grid);

}  // namespace duskline::harness
