/// The side of a plug-in: the process in which its code runs.
///
/// What it is   opens the shared object, looks for its functions, asks for its version, starts it, then answers one
///              request after another until the other side closes the socket
/// Symbols      C: which controller (controller/port/interface.hpp); the rest as in controller.h and plant_controller.h
/// Validity     called in a child process that has just been forked; it never returns. The process ends with the run,
///              cannot write to its files, and takes no more memory than the limit
/// Source       POSIX.1-2017, dlopen, setrlimit
/// Left out     protection against a plug-in that means harm: it runs with the privileges of the user
#pragma once

#include <cstdint>
#include <string>

#include "controller/port/interface.hpp"

namespace duskline::harness {

/// Between the two processes, one message each way; both sides are the same program.
template <class C>
struct PluginRequest {
  enum Kind : std::uint32_t { step, restart, memory, field, step_from } kind;
  std::uint32_t number;  ///< of a restart: 1, memory is intact; of a field: which
  typename C::Inputs in;
};
/// A period from any state, for those who look into the controller.
template <class C>
struct PluginProbe {
  PluginRequest<C> request;
  typename C::State state;
  typename C::Params params;
};
template <class C>
struct PluginAnswer {
  ctl_status status;
  char problem[1020];  ///< of the start: why it is refused; empty: it runs
  typename C::Outputs out;
};
/// The answer to `memory`, `field` and `step_from`.
template <class C>
struct PluginView {
  PluginAnswer<C> answer;
  typename C::State state;
  std::uint32_t fields;  ///< how many there are
  ctl_field field;       ///< its words are the next two
  char name[128], unit[32];
};

/// `socket` keeps messages apart; `memory` in bytes, 0: no limit.
template <class C>
[[noreturn]] void serve_plugin(int socket, const std::string& path, const typename C::Params& params,
                               std::uint64_t memory);

}  // namespace duskline::harness
