// The host's side of frames, with the board's side in the same thread.
// Sources: controller/port/board.hpp for what a board does; by hand from the interface for safe outputs.
#include "hil-harness/links/framed.hpp"

#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstring>
#include <deque>

#include "controller/port/board.hpp"
#include "tests/support/bare_plant_controller.hpp"

using namespace duskline;

namespace {

/// A board that answers at once.
template <class C>
class BoardStream final : public harness::ByteStream {
 public:
  explicit BoardStream(controller::BoardOf<C>& board) : board_(board) {}
  bool write(std::span<const std::uint8_t> bytes, double) override {
    for (const std::uint8_t byte : bytes)
      if (take_byte(decoder_, byte, frame_)) {
        const std::uint32_t count = answer_request(board_, frame_);
        answers_.insert(answers_.end(), board_.answer, board_.answer + count);
      }
    return true;
  }
  long read(std::span<std::uint8_t> bytes, double) override {
    std::size_t n = 0;
    for (; n < bytes.size() && !answers_.empty(); ++n, answers_.pop_front()) bytes[n] = answers_.front();
    return static_cast<long>(n);
  }

 private:
  controller::BoardOf<C>& board_;
  controller::FrameDecoder decoder_{};
  controller::Frame frame_{};
  std::deque<std::uint8_t> answers_;
};

template <class C>
bool refusal_is_safe() {
  typename C::Outputs refused, safe = C::safe_outputs();
  std::memset(&refused, 0xFF, sizeof refused);
  CHECK(C::step(nullptr, nullptr, nullptr, &refused) == CTL_BAD_ARGUMENT);
  return std::memcmp(&refused, &safe, sizeof safe) == 0;
}

}  // namespace

TEST_CASE("Safe outputs are those of our controllers when they refuse") {
  CHECK(refusal_is_safe<controller::ModuleController>());
  CHECK(refusal_is_safe<controller::PlantController>());
}

TEST_CASE("A side that never stops sending is not waited for longer than one that is silent") {
  class Babble final : public harness::ByteStream {
   public:
    bool write(std::span<const std::uint8_t>, double) override { return true; }
    long read(std::span<std::uint8_t> bytes, double) override {
      usleep(1000);
      bytes[0] = 1;
      return ++reads_ < 5000 ? 1 : -1;  // an end for a link that waits for ever
    }

   private:
    int reads_ = 0;
  };
  harness::FramedLink link(std::make_unique<Babble>(), "line", {0.02, 2});
  ctl_params params;
  ctl_default_params(&params);
  CHECK(link.start(params) == "line: no answer within 0.02 s, asked 2 times");
}

// The orders of a plant controller whose board is silent would have moved every module to safe, where it stays.
TEST_CASE(
    "After a silence the board of the plant controller takes the step again, and no module is ordered to "
    "safe") {
  auto board = std::make_unique<controller::BoardOf<controller::PlantController>>();
  harness::FramedLinkOf<controller::PlantController> link(
      std::make_unique<BoardStream<controller::PlantController>>(*board), "board", {1.0, 1});
  REQUIRE(link.start(test::kParams).empty());
  test::Bare plant(6);
  plant.step(100);
  ctl_plant_outputs out;
  for (std::uint32_t n = 0; n < 100; ++n) {
    plant.in.tick = n;
    REQUIRE(link.step(plant.in, out) == CTL_OK);
  }
  REQUIRE(out.mode == CTL_PLANT_PRODUCTION);
  watch_silence(*board, 6000, 1000);  // six periods of 1 s
  CHECK(board->now.armed == 0);
  CHECK(board->now.driven.compressor_speed == 0.0F);
  CHECK(board->now.driven.exhaust_opening == 1.0F);
  CHECK(board->now.driven.order[0].requested_mode == CTL_SAFE);
  const std::uint32_t steps = board->now.steps;
  for (std::uint32_t n = 100; n < 110; ++n) {
    plant.in.tick = n;
    REQUIRE(link.step(plant.in, out) == CTL_OK);
    CHECK(board->now.armed == 1);
    CHECK(board->now.steps == steps + n - 99);
    CHECK(out.mode != CTL_PLANT_SAFE);
    for (int k = 0; k < 6; ++k) CHECK(out.order[k].requested_mode != CTL_SAFE);
  }
}
