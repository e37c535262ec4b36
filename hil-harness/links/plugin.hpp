/// A controller of the user's own: a shared object with the functions of controller/include/controller.h.
///
/// What it is   opens the file, looks for ctl_abi_version, ctl_init and ctl_step (ctl_retain, ctl_restart
///              and ctl_state_layout if they are there), asks for the version, and steps the controller as the loop does with ours
/// Symbols      as in controller.h
/// Validity     a file that the user trusts: it runs in this process, with the privileges of the program
/// Source       POSIX.1-2017, dlopen
/// Left out     isolation: a plug-in that writes where it should not, or never returns, takes the run with it
#pragma once

#include <memory>
#include <string>

#include "hil-harness/links/link.hpp"
#include "scenarios/reader/problem.hpp"

namespace duskline::harness {

/// The opened file; closed with the last link that uses it.
class ControllerLibrary;

/// Steps a controller of another file. What it does not write among its outputs is NaN in the trace.
class Plugin final : public Link {
 public:
  Plugin(std::shared_ptr<const ControllerLibrary> library, const ctl_params& params);

  ctl_status status() const { return status_; }  ///< of the start
  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override;
  /// Without ctl_retain and ctl_restart the controller starts from its initial state.
  ctl_status restart(bool intact) override;
  std::string error() const override { return error_; }
  const ctl_state* memory() const override { return &state_; }
  /// Empty without ctl_state_layout.
  std::span<const ctl_field> layout() const override;
  ctl_status step_from(ctl_state& state, const ctl_params& params, const ctl_inputs& in,
                       ctl_outputs& out) const override;

 private:
  ctl_status answer(ctl_status status);

  std::shared_ptr<const ControllerLibrary> library_;
  ctl_params params_;
  ctl_state state_{};
  ctl_status status_;
  std::string error_;
};

/// Opens the file and starts its controller with the parameters, or says what is wrong with it.
scenarios::Result<std::shared_ptr<Plugin>> open_plugin(const std::string& path, const ctl_params& params);

/// What makes outputs unusable: a command that is no number, a word outside its list. Empty when all is well.
std::string unusable(const ctl_outputs& out);

}  // namespace duskline::harness
