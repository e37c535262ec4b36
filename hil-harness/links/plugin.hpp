/// A controller of the user's own: a shared object with the functions of controller/include/controller.h, or those of
/// plant_controller.h.
///
/// What it is   starts a process of its own for the file, and asks it once a tick, as the loop asks ours
/// Symbols      C: which controller; the rest as in those headers
/// Validity     lockstep; an answer that takes longer than `late` ends the run, and so does none within `none`, a crash,
///              or a status; each by its own name
/// Source       POSIX.1-2017, fork, socketpair
/// Left out     protection against a plug-in that means harm: it runs with the privileges of the user
#pragma once

#include <sys/types.h>

#include <memory>
#include <span>
#include <string>

#include "hil-harness/links/link.hpp"
#include "scenarios/reader/problem.hpp"

namespace duskline::harness {

struct PluginLimits {
  double late = 3.0, none = 10.0;                  ///< s, generous: a loaded machine is slow
  std::uint64_t memory = std::uint64_t{2} << 30U;  ///< bytes
};

template <class C>
class PluginOf final : public LinkOf<C> {
 public:
  using typename LinkOf<C>::Params, typename LinkOf<C>::Inputs, typename LinkOf<C>::Outputs,
      typename LinkOf<C>::State;

  /// Starts the process; start() says whether the controller runs.
  PluginOf(const std::string& path, const Params& params, const PluginLimits& limits);
  ~PluginOf() override;
  PluginOf(const PluginOf&) = delete;
  PluginOf& operator=(const PluginOf&) = delete;

  /// Waits for the controller to start; what is wrong, or nothing.
  std::string start();
  /// What it does not write among its outputs is NaN in the trace.
  ctl_status step(const Inputs& in, Outputs& out) override;
  /// Without the functions that retain and restart the controller starts from its initial state.
  ctl_status restart(bool intact) override;
  std::string name() const override { return name_; }
  std::string error() const override { return error_; }
  plant::RunEnd end() const override { return end_; }
  /// A copy of what it is now; null when the process has ended.
  const State* memory() const override;
  /// Empty without ctl_state_layout, which only a module controller may have.
  std::span<const ctl_field> layout() const override;
  ctl_status step_from(State& state, const Params& params, const Inputs& in, Outputs& out) const override;

 private:
  enum class Got { answer, nothing, closed };
  // looking into the controller does not move it, and needs the socket all the same
  Got receive(void* answer, std::size_t size) const;
  bool ask(const void* request, std::size_t bytes, void* answer, std::size_t size) const;
  bool look(std::uint32_t kind, std::uint32_t number) const;
  void fail(plant::RunEnd end, const std::string& what) const;
  std::string how_it_ended() const;

  std::string name_;
  PluginLimits limits_;
  int socket_ = -1;
  mutable std::string error_;
  mutable plant::RunEnd end_ = plant::RunEnd::controller_failed;
  mutable pid_t child_ = -1;
  struct Messages;
  std::unique_ptr<Messages> messages_;
};

using Plugin = PluginOf<ModuleController>;

/// Starts the controller of the file with the parameters, or says what is wrong with it.
template <class C = ModuleController>
scenarios::Result<std::shared_ptr<PluginOf<C>>> open_plugin(const std::string& path,
                                                            const typename C::Params& params,
                                                            const PluginLimits& limits = {});

/// "status 1, bad argument".
std::string status_words(ctl_status status);

}  // namespace duskline::harness
