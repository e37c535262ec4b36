/// The same controller twice: in this program and on a board.
#pragma once

#include <cstring>
#include <memory>
#include <string>

#include "hil-harness/links/framed.hpp"

namespace duskline::tests {

/// Steps both controllers with the same inputs and counts the ticks on which an output differs in any bit.
template <class C = harness::ModuleController>
class BothLinks final : public harness::LinkOf<C> {
 public:
  using typename harness::LinkOf<C>::Params, typename harness::LinkOf<C>::Inputs,
      typename harness::LinkOf<C>::Outputs;

  BothLinks(const Params& params, std::shared_ptr<harness::FramedLinkOf<C>> board)
      : ours_(params), board_(std::move(board)) {}

  ctl_status step(const Inputs& in, Outputs& out) override {
    std::memset(&out, 0, sizeof out);
    Outputs other;
    std::memset(&other, 0, sizeof other);
    const ctl_status status = ours_.step(in, out);
    if (board_->step(in, other) != status) return CTL_BAD_ARGUMENT;
    ++ticks;
    differ += std::memcmp(&out, &other, sizeof out) == 0 ? 0 : 1;
    return status;
  }
  ctl_status restart(bool intact) override {
    const ctl_status status = ours_.restart(intact);
    return board_->restart(intact) == status ? status : CTL_BAD_ARGUMENT;
  }
  std::string error() const override { return "board: " + board_->error(); }
  harness::FramedLinkOf<C>& board() const { return *board_; }

  int ticks = 0, differ = 0;

 private:
  harness::InProcessOf<C> ours_;
  std::shared_ptr<harness::FramedLinkOf<C>> board_;
};

}  // namespace duskline::tests
