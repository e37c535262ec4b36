#include "hil-harness/cli/recorded_run.hpp"

#include <fmt/format.h>

#include "hil-harness/cli/command_line.hpp"
#include "hil-harness/cli/output.hpp"
#include "hil-harness/cli/progress.hpp"
#include "hil-harness/cli/run_files.hpp"
#include "hil-harness/cli/stop.hpp"
#include "hil-harness/loop/loop_run.hpp"
#include "hil-harness/loop/pacer.hpp"
#include "hil-harness/loop/recorder.hpp"
#include "hil-harness/loop/sols.hpp"
#include "plant-model/random/noise.hpp"

namespace duskline::harness {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view kFormat = "duskline-checkpoint/1\n";

std::string number_of(std::string_view bytes) {
  return fmt::format("{:016x}", plant::stream_hash(bytes));
}

/// What is written while the run goes on.
class Recording {
 public:
  Recording(const scenarios::Case& c, const RunFiles& files, Watcher* watcher)
      : files_(files), watcher_(watcher) {
    if (files.trace.empty()) return;
    const TraceAttributes attributes{
        {"title", c.scenario.title}, {"plant", c.plant.name}, {"seed", std::to_string(c.scenario.seed)}};
    const auto go_on = [&](RowsInFile Checkpoint::*rows) {
      return files.go_on == nullptr ? std::nullopt : std::optional(files.go_on->*rows);
    };
    const bool packed = !files.sols.empty(), kept = !files.checkpoint.empty();
    trace_.emplace(files.trace, attributes, c.scenario.record <= c.scenario.period,
                   TraceOptions{600, packed ? 1 : 0, go_on(&Checkpoint::trace), kept},
                   plant::has_headers(c.plant.parameters.form) ? c.plant.parameters.form.modules : 0);
    if (packed)
      sols_.emplace(files.sols, attributes, c.scenario.period,
                    TraceOptions{1, 1, go_on(&Checkpoint::sols), kept},
                    SolForm{c.scenario.fast_forward_sols > 0, plant::has_headers(c.plant.parameters.form)});
  }

  bool any() const { return trace_.has_value(); }
  void watch(const Snapshot& s) {
    if (watcher_ != nullptr) watcher_->watch(s);
    if (trace_) trace_->watch(s);
    if (sols_) sols_->watch(s);
  }
  bool row(const Snapshot& s) { return trace_->row(s) && (!sols_ || sols_->file().problem().empty()); }

  /// False: the bytes do not fit.
  bool go_on() {
    scenarios::Keeper k(files_.go_on->others);
    keep_others(k);
    return k.complete();
  }

  /// Everything so far is in the files, and the checkpoint names it.
  bool save(LoopRun& run) {
    Checkpoint c{std::string(version()), number_of(files_.inputs), trace_.has_value(), {}, {}, {}, {}};
    std::optional<std::string> state = run.checkpoint();
    if (!state) return false;
    c.run = std::move(*state);
    if ((trace_ && !trace_->trace().flush()) || (sols_ && !sols_->file().flush())) return false;
    if (trace_) c.trace = trace_->trace().in_file();
    if (sols_) c.sols = sols_->file().in_file();
    scenarios::Keeper others;
    keep_others(others);
    c.others = others.bytes();
    scenarios::Keeper k;
    k(c);
    return write_whole(files_.checkpoint, std::string(kFormat) + number_of(k.bytes()) + "\n" + k.bytes());
  }

  /// What could not be written is said, and ends the record as that. `goes_on`: the rows stay as they are.
  void close(RunRecord& record, bool goes_on) {
    if (sols_) sols_->end();
    for (TraceWriter* file : {trace_ ? &trace_->trace() : nullptr, sols_ ? &sols_->file() : nullptr}) {
      const bool stays = goes_on || record.end.reason == plant::RunEnd::disk_full;  // columns take more room
      if (file == nullptr || (stays ? file->leave() : file->close())) continue;
      print_error(file->problem() + "\n");
      record.end = {file->no_space() ? plant::RunEnd::disk_full : plant::RunEnd::trace_failed,
                    record.end.time, "trace"};
    }
  }

 private:
  void keep_others(scenarios::Keeper& k) {
    if (watcher_ != nullptr) k(*watcher_);
    if (trace_) k(*trace_);
    if (sols_) k(*sols_);
  }

  const RunFiles& files_;
  Watcher* watcher_;
  std::optional<Recorder> trace_;
  std::optional<SolRecorder> sols_;
};

}  // namespace

CheckpointRead read_checkpoint(const fs::path& path, const std::string& inputs, bool records) {
  const std::string bytes = content_of(path).value_or("");
  constexpr std::size_t kHead = kFormat.size() + 17;  // 16 digits and the end of their line
  if (!bytes.starts_with(kFormat) || bytes.size() < kHead ||
      bytes.substr(kFormat.size(), 16) != number_of(std::string_view(bytes).substr(kHead)))
    return {{}, "is damaged; start the run again with --force"};
  scenarios::Keeper k(bytes.substr(kHead));
  Checkpoint c;
  k(c);
  if (!k.complete()) return {{}, "is damaged; start the run again with --force"};
  if (c.program != version())
    return {{}, fmt::format("was made by version {}; this is {}", c.program, version())};
  if (c.inputs != number_of(inputs))
    return {
        {},
        "belongs to another run: scenario, plant, seed, --set and --span must be those of the first call"};
  if ((c.records != 0) != records) return {{}, "was made with --no-record on one of the two calls only"};
  return {std::move(c), {}};
}

RunRecord recorded_run(const scenarios::Case& c, const std::optional<scenarios::Acts>& acts,
                       const Controllers& controllers, const RunFiles& files, const RunLabel& label,
                       Watcher* watcher, Pacer* pacer) {
  LoopOptions options;
  options.pacer = pacer;
  if (acts) options.acts = &*acts;
  options.interrupted = &stop_wanted();
  Progress progress(label.text, label.quiet);
  options.progress = [&](double share) { progress.show(share); };
  if (files.go_on != nullptr)
    for (const std::string& path : {files.trace, files.sols}) {
      std::error_code error;  // the rows that an earlier call left beside its finished file
      if (fs::exists(path + ".rows", error)) fs::rename(path + ".rows", path, error);
    }
  Recording recording(c, files, watcher);
  if (recording.any()) options.record = [&](const Snapshot& s) { return recording.row(s); };
  if (recording.any() || watcher != nullptr) options.watch = [&](const Snapshot& s) { recording.watch(s); };
  std::optional<RealTimeThread> real_time;
  if (pacer != nullptr) real_time.emplace(pacer->timing());
  LoopRun run(c, controllers, options);
  bool keeps = !files.checkpoint.empty(), kept = files.go_on != nullptr;
  if (files.go_on != nullptr && (!run.go_on_from(files.go_on->run) || !recording.go_on())) {
    RunRecord record;
    record.end = {plant::RunEnd::trace_failed, 0.0, "checkpoint"};
    return record;
  }
  while (run.step())
    if (keeps && run.at_checkpoint()) {
      keeps = recording.save(run);
      kept = kept || keeps;
    }
  RunRecord record = run.result();
  real_time.reset();
  progress.clear();
  recording.close(record, kept && stopped_for_now(record.end.reason));
  return record;
}

}  // namespace duskline::harness
