/// The wire between loop and controller; whatever stands behind it, the loop is the same.
#pragma once

#include <span>
#include <string>

#include "controller/include/controller.h"
#include "plant-model/integrate/run_end.hpp"

namespace duskline::harness {

class Link {
 public:
  virtual ~Link() = default;
  /// One control period. Anything but CTL_OK ends the run.
  virtual ctl_status step(const ctl_inputs& in, ctl_outputs& out) = 0;
  /// Who it is, for messages.
  virtual std::string name() const { return "controller"; }
  /// Who it was that ended the run, and why if that is known.
  virtual std::string error() const { return name(); }
  /// What the run ends as when step or restart fails.
  virtual plant::RunEnd end() const { return plant::RunEnd::controller_failed; }
  /// The controller starts again from what its memory retained; `intact` false: that memory is corrupted.
  /// CTL_NOT_RETAINED: it started again from nothing, or has no memory. Anything but these two ends the run.
  virtual ctl_status restart(bool) { return CTL_NOT_RETAINED; }
  /// Requests that had to be sent again, because no answer came.
  virtual int repeated() const { return 0; }

  // For those who look into the controller (linear models), where it runs in this program:
  /// Its state before the next step; null: nobody can look into it.
  virtual const ctl_state* memory() const { return nullptr; }
  /// The same where the run goes on with it: written to checkpoints and read back.
  virtual ctl_state* own_memory() { return nullptr; }
  /// What the state consists of; empty: not known.
  virtual std::span<const ctl_field> layout() const { return {}; }
  /// One control period from any state under any parameters; the link itself does not move.
  virtual ctl_status step_from(ctl_state&, const ctl_params&, const ctl_inputs&, ctl_outputs&) const {
    return CTL_BAD_ARGUMENT;
  }
};

/// The controller compiled into this program.
class InProcess final : public Link {
 public:
  explicit InProcess(const ctl_params& params) : params_(params), status_(ctl_init(&state_, &params_)) {}

  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    if (status_ != CTL_OK) return status_;
    return ctl_step(&state_, &params_, &in, &out);
  }

  /// What it would answer to these inputs; it remembers nothing of it.
  ctl_status try_step(const ctl_inputs& in, ctl_outputs& out) const {
    if (status_ != CTL_OK) return status_;
    ctl_state copy = state_;
    return ctl_step(&copy, &params_, &in, &out);
  }

  ctl_status restart(bool intact) override {
    ctl_retained memory;
    ctl_retain(&state_, &memory);
    if (!intact) memory.checksum ^= 1u;
    return ctl_restart(&state_, &params_, &memory);
  }

  const ctl_state* memory() const override { return &state_; }
  ctl_state* own_memory() override { return &state_; }
  std::span<const ctl_field> layout() const override {
    const ctl_field* fields = nullptr;
    const std::uint32_t count = ctl_state_layout(&fields);
    return {fields, count};
  }
  ctl_status step_from(ctl_state& state, const ctl_params& params, const ctl_inputs& in,
                       ctl_outputs& out) const override {
    return ctl_step(&state, &params, &in, &out);
  }

 private:
  ctl_params params_;
  ctl_state state_{};
  ctl_status status_;
};

}  // namespace duskline::harness
