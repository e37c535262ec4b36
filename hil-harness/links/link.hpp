/// The wire between loop and controller; whatever stands behind it, the loop is the same.
///
/// Symbols      C: which controller (controller/port/interface.hpp), of a module or of the plant
#pragma once

#include <span>
#include <string>
#include <type_traits>

#include "controller/port/interface.hpp"
#include "plant-model/integrate/run_end.hpp"

namespace duskline::harness {

using controller::ModuleController, controller::PlantController;

template <class C>
class LinkOf {
 public:
  using Params = typename C::Params;
  using Inputs = typename C::Inputs;
  using Outputs = typename C::Outputs;
  using State = typename C::State;

  virtual ~LinkOf() = default;
  /// One control period. Anything but CTL_OK ends the run.
  virtual ctl_status step(const Inputs& in, Outputs& out) = 0;
  /// Who it is, for messages.
  virtual std::string name() const { return C::kName; }
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
  virtual const State* memory() const { return nullptr; }
  /// The same where the run goes on with it: written to checkpoints and read back.
  virtual State* own_memory() { return nullptr; }
  /// What the state consists of; empty: not known.
  virtual std::span<const ctl_field> layout() const { return {}; }
  /// One control period from any state under any parameters; the link itself does not move.
  virtual ctl_status step_from(State&, const Params&, const Inputs&, Outputs&) const {
    return CTL_BAD_ARGUMENT;
  }
};
using Link = LinkOf<ModuleController>;
using PlantLink = LinkOf<PlantController>;

/// The controller compiled into this program.
template <class C>
class InProcessOf final : public LinkOf<C> {
 public:
  using typename LinkOf<C>::Params, typename LinkOf<C>::Inputs, typename LinkOf<C>::Outputs,
      typename LinkOf<C>::State;

  explicit InProcessOf(const Params& params) : params_(params), status_(C::init(&state_, &params_)) {}

  ctl_status step(const Inputs& in, Outputs& out) override {
    if (status_ != CTL_OK) return status_;
    return C::step(&state_, &params_, &in, &out);
  }

  /// What it would answer to these inputs; it remembers nothing of it.
  ctl_status try_step(const Inputs& in, Outputs& out) const {
    if (status_ != CTL_OK) return status_;
    State copy = state_;
    return C::step(&copy, &params_, &in, &out);
  }

  ctl_status restart(bool intact) override {
    typename C::Retained memory;
    C::retain(&state_, &memory);
    if (!intact) memory.checksum ^= 1u;
    return C::restart(&state_, &params_, &memory);
  }

  const State* memory() const override { return &state_; }
  State* own_memory() override { return &state_; }
  std::span<const ctl_field> layout() const override {
    if constexpr (std::is_same_v<C, ModuleController>) {
      const ctl_field* fields = nullptr;
      const std::uint32_t count = ctl_state_layout(&fields);
      return {fields, count};
    }
    return {};
  }
  ctl_status step_from(State& state, const Params& params, const Inputs& in, Outputs& out) const override {
    return C::step(&state, &params, &in, &out);
  }

 private:
  Params params_;
  State state_{};
  ctl_status status_;
};
using InProcess = InProcessOf<ModuleController>;

}  // namespace duskline::harness
