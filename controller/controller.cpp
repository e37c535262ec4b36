/// The controller: one tick from measurements to commands, and the plain C interface around it.
///
/// What it is   six steps: measure, estimate, supervise, decide, limit, publish
/// Equation     (state', outputs) = f(state, parameters, inputs), a pure function
/// Symbols      as in controller/include/controller.h
/// Validity     any input; the work of a tick is bounded and has no data-dependent loop
/// Left out     start-up and I/O of a target (port/)
#include "controller/parameters.hpp"
#include "controller/retain.hpp"
#include "controller/tick/publish.hpp"

namespace duskline::controller {
namespace {

void tick(Memory& m, const ctl_params& p, const ctl_inputs& in, ctl_outputs& out) {
  const Measured measured = measure(m, p, in);
  const Estimates estimates = estimate(m, p, in, measured);
  const Supervised supervised = supervise(m, p, in, measured, estimates);
  const Decision decision = decide(m, p, in, measured, estimates, supervised);
  const Commands commands = limit(m, p, measured, estimates, supervised, decision);
  publish(out, m, p, in, estimates, supervised, commands);
}

void write_safe_outputs(ctl_outputs& out) {
  out = ctl_outputs{};
  out.mode = CTL_SAFE;
  out.limiter = CTL_BY_NOTHING;
}

}  // namespace
}  // namespace duskline::controller

extern "C" uint32_t ctl_abi_version(void) {
  return CTL_ABI_VERSION;
}

extern "C" ctl_status ctl_init(ctl_state* state, const ctl_params* params) {
  using namespace duskline::controller;
  if (state == nullptr || params == nullptr) return CTL_BAD_ARGUMENT;
  *state = ctl_state{};
  if (!valid_params(*params)) return CTL_BAD_PARAMETER;
  state->abi_version = CTL_ABI_VERSION;
  state->size = CTL_STATE_BYTES;
  store(*state, initial_memory());
  return CTL_OK;
}

extern "C" void ctl_retain(const ctl_state* state, ctl_retained* retained) {
  using namespace duskline::controller;
  if (state == nullptr || retained == nullptr) return;
  retained->state = *state;
  retained->checksum = checksum_of(*state);
}

namespace {

/// Not part of ctl_restart: the stack of the board holds the two states, or what ctl_init needs, never both.
[[gnu::noinline]] ctl_status carry_over(ctl_state& state, const ctl_state& retained,
                                        const ctl_params& params) {
  using namespace duskline::controller;
  const Memory before = load(retained);
  if (!plausible(before)) return CTL_NOT_RETAINED;
  store(state, warm_restart(before, params));
  return CTL_OK;
}

}  // namespace

extern "C" ctl_status ctl_restart(ctl_state* state, const ctl_params* params, const ctl_retained* retained) {
  using namespace duskline::controller;
  const ctl_status fresh = ctl_init(state, params);
  if (fresh != CTL_OK) return fresh;
  if (retained == nullptr || retained->checksum != checksum_of(retained->state) ||
      retained->state.abi_version != CTL_ABI_VERSION || retained->state.size != CTL_STATE_BYTES)
    return CTL_NOT_RETAINED;
  return carry_over(*state, retained->state, *params);
}

extern "C" ctl_status ctl_step(ctl_state* state, const ctl_params* params, const ctl_inputs* in,
                               ctl_outputs* out) {
  using namespace duskline::controller;
  if (out == nullptr) return CTL_BAD_ARGUMENT;
  write_safe_outputs(*out);
  if (state == nullptr || params == nullptr || in == nullptr) return CTL_BAD_ARGUMENT;
  if (state->abi_version != CTL_ABI_VERSION || state->size != CTL_STATE_BYTES) return CTL_BAD_VERSION;
  if (!valid_params(*params)) return CTL_BAD_PARAMETER;
  Memory m = load(*state);
  if (!plausible(m)) return CTL_BAD_VERSION;
  tick(m, *params, *in, *out);
  guard(*out, *params);
  store(*state, m);
  return CTL_OK;
}
