/// Stopping a run from outside: Ctrl-C, a request to end, a terminal that closes.
#pragma once

#include <atomic>

namespace duskline::harness {

/// Turns SIGINT, SIGTERM and SIGHUP into a request to stop; a second Ctrl-C ends the program at once (a trace is
/// whole up to its last flush even then). A file at its size limit becomes an error of writing.
/// What whoever started us chose to ignore (nohup) stays ignored. A verb that calls another may call it again: a stop that
/// was asked for before stays asked for.
void listen_for_stop();

/// True from the first such signal on.
const std::atomic<bool>& stop_wanted();

}  // namespace duskline::harness
