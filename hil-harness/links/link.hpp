/// The wire between loop and controller; whatever stands behind it, the loop is the same.
#pragma once

#include <string>

#include "controller/include/controller.h"

namespace duskline::harness {

class Link {
 public:
  virtual ~Link() = default;
  /// One control period. Anything but CTL_OK ends the run.
  virtual ctl_status step(const ctl_inputs& in, ctl_outputs& out) = 0;
  /// Who it was that ended the run, and why if that is known.
  virtual std::string error() const { return "controller"; }
  /// The controller starts again from what its memory retained; `intact` false: that memory is corrupted.
  /// CTL_NOT_RETAINED: it began afresh, or has no memory. Anything but these two ends the run.
  virtual ctl_status restart(bool) { return CTL_NOT_RETAINED; }
  /// Requests that had to be sent again, because no answer came.
  virtual int repeated() const { return 0; }
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

 private:
  ctl_params params_;
  ctl_state state_{};
  ctl_status status_;
};

}  // namespace duskline::harness
