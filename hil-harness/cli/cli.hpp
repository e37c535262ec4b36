/// The command line: one entry, exit codes 0 well, 1 requirement violated, 2 bad input, 3 run not completed.
#pragma once

namespace duskline::harness {

int command_line(int argc, const char* const* argv);

}  // namespace duskline::harness
