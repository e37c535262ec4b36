/// The side of a plug-in: the process in which its code runs.
///
/// What it is   opens the shared object, looks for its functions, asks for its version, starts it, then answers one
///              request after another until the other side closes the socket
/// Symbols      as in controller.h
/// Validity     called in a child process that has just been forked; it never returns. The process ends with the run,
///              cannot write to its files, and takes no more memory than the limit
/// Source       POSIX.1-2017, dlopen, setrlimit
/// Left out     protection against a plug-in that means harm: it runs with the privileges of the user
#pragma once

#include <cstdint>
#include <string>

#include "controller/include/controller.h"

namespace duskline::harness {

/// Between the two processes, one message each way; both sides are the same program.
struct PluginRequest {
  enum Kind : std::uint32_t { step, restart, memory, field, step_from } kind;
  std::uint32_t number;  ///< of a restart: 1, memory is intact; of a field: which
  ctl_inputs in;
};
/// A period from any state, for those who look into the controller.
struct PluginProbe {
  PluginRequest request;
  ctl_state state;
  ctl_params params;
};
struct PluginAnswer {
  ctl_status status;
  char problem[1020];  ///< of the start: why it is refused; empty: it runs
  ctl_outputs out;
};
/// The answer to `memory`, `field` and `step_from`.
struct PluginView {
  PluginAnswer answer;
  ctl_state state;
  std::uint32_t fields;  ///< how many there are
  ctl_field field;       ///< its words are the next two
  char name[128], unit[32];
};

/// `socket` keeps messages apart; `memory` in bytes, 0: no limit.
[[noreturn]] void serve_plugin(int socket, const std::string& path, const ctl_params& params,
                               std::uint64_t memory);

}  // namespace duskline::harness
