/// One run with all that is written while it goes on: trace, statistics by sol, checkpoints.
///
/// Validity     a checkpoint names the rows of the files that belong to it; a run that goes on from it cuts off what
///              follows them and ends with the same bytes as one that was not stopped. It belongs to exactly one version
///              of the program and to exactly one set of inputs, and is refused by others
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "hil-harness/loop/loop.hpp"
#include "hil-harness/trace/row_file.hpp"
#include "hil-harness/verify/judge.hpp"

namespace duskline::harness {

inline bool is_long(const scenarios::Case& c) {
  return c.scenario.duration >= kLongRun;
}
/// A run that ended so may go on later.
inline bool stopped_for_now(plant::RunEnd reason) {
  return reason == plant::RunEnd::interrupted || reason == plant::RunEnd::disk_full ||
         reason == plant::RunEnd::trace_failed;
}

struct Checkpoint {
  std::string program, inputs;  ///< version, and a number that belongs to the inputs
  std::uint8_t records{};       ///< whether trace and statistics are written
  RowsInFile trace, sols;
  std::string run, others;  ///< what loop and recorders remember
  void keep(scenarios::Keeper& k) {
    auto& [version, of, written, rows, sol_rows, loop, recorders] = *this;
    k(version, of, written, rows, sol_rows, loop, recorders);
  }
};

struct CheckpointRead {
  std::optional<Checkpoint> checkpoint;
  std::string problem;
};
/// `inputs`: all that shapes the run, as text.
CheckpointRead read_checkpoint(const std::filesystem::path& path, const std::string& inputs, bool records);

struct RunFiles {
  std::string trace, sols;           ///< empty: not written
  std::filesystem::path checkpoint;  ///< empty: none is made
  std::string inputs;                ///< all that shapes the run, as text
  const Checkpoint* go_on = nullptr;
};

struct RunLabel {
  std::string text;
  bool quiet = false;
};

RunRecord recorded_run(const scenarios::Case& c, const std::optional<scenarios::Acts>& acts,
                       const Controllers& controllers, const RunFiles& files, const RunLabel& label,
                       Watcher* watcher = nullptr, Pacer* pacer = nullptr);

}  // namespace duskline::harness
