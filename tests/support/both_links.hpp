/// The same controller twice: in this program and on a board.
#pragma once

#include <cstring>
#include <memory>
#include <string>

#include "hil-harness/links/framed.hpp"

namespace duskline::tests {

/// Steps both controllers with the same inputs and counts the ticks on which an output differs in any bit.
class BothLinks final : public harness::Link {
 public:
  BothLinks(const ctl_params& params, std::shared_ptr<harness::FramedLink> board)
      : ours_(params), board_(std::move(board)) {}

  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override {
    std::memset(&out, 0, sizeof out);
    ctl_outputs other;
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
  harness::FramedLink& board() const { return *board_; }

  int ticks = 0, differ = 0;

 private:
  harness::InProcess ours_;
  std::shared_ptr<harness::FramedLink> board_;
};

}  // namespace duskline::tests
