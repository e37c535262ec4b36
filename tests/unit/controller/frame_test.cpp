// Frames on a wire: stuffing against the published examples, checksums, damage, repetition.
#include <catch2/catch.hpp>
#include <cstring>
#include <random>
#include <vector>

#include "controller/port/board.hpp"
#include "tests/support/controller_rig.hpp"

using namespace duskline::controller;

namespace {

std::vector<std::uint8_t> wire_of(const Frame& frame) {
  std::vector<std::uint8_t> wire(kFrameBytes);
  wire.resize(encode_frame(frame, wire.data()));
  return wire;
}

/// Frames found in the bytes, in order.
std::vector<Frame> frames_in(const std::vector<std::uint8_t>& bytes, FrameDecoder& decoder) {
  std::vector<Frame> found;
  Frame frame{};
  for (const std::uint8_t byte : bytes)
    if (take_byte(decoder, byte, frame)) found.push_back(frame);
  return found;
}

Frame random_frame(std::mt19937& random) {
  Frame frame{};
  frame.kind = static_cast<std::uint8_t>(random());
  frame.sequence = static_cast<std::uint32_t>(random());
  frame.bytes = static_cast<std::uint32_t>(random() % (kFrameContent + 1));
  const bool zeros = random() % 3 == 0;
  for (std::uint32_t i = 0; i < frame.bytes; ++i)
    frame.content[i] = zeros ? std::uint8_t{0} : static_cast<std::uint8_t>(random());
  return frame;
}

bool same(const Frame& a, const Frame& b) {
  return a.kind == b.kind && a.sequence == b.sequence && a.bytes == b.bytes &&
         std::memcmp(a.content, b.content, a.bytes) == 0;
}

}  // namespace

TEST_CASE("Unstuffing gives the published examples") {
  // Cheshire and Baker 1999 and its usual table of examples, without the final zero (from memory)
  struct Example {
    std::vector<std::uint8_t> stuffed, plain;
  };
  const std::vector<Example> examples{
      {{0x01, 0x01}, {0x00}},
      {{0x01, 0x01, 0x01}, {0x00, 0x00}},
      {{0x03, 0x11, 0x22, 0x02, 0x33}, {0x11, 0x22, 0x00, 0x33}},
      {{0x05, 0x11, 0x22, 0x33, 0x44}, {0x11, 0x22, 0x33, 0x44}},
      {{0x02, 0x11, 0x01, 0x01, 0x01}, {0x11, 0x00, 0x00, 0x00}},
  };
  for (const Example& e : examples) {
    std::vector<std::uint8_t> bytes = e.stuffed;
    bytes.resize(unstuff(bytes.data(), static_cast<std::uint32_t>(bytes.size())));
    CHECK(bytes == e.plain);
  }
  std::vector<std::uint8_t> run(255), plain;  // 254 bytes that are not zero, behind 0xff
  run[0] = 0xff;
  for (std::size_t i = 1; i < run.size(); ++i) run[i] = static_cast<std::uint8_t>(i);
  plain.assign(run.begin() + 1, run.end());
  run.resize(unstuff(run.data(), 255));
  CHECK(run == plain);
}

TEST_CASE("A frame comes back as it was sent, and holds no zero but its last byte") {
  std::mt19937 random(7);
  FrameDecoder decoder{};
  for (int i = 0; i < 2000; ++i) {
    const Frame sent = random_frame(random);
    const auto wire = wire_of(sent);
    REQUIRE(std::count(wire.begin(), wire.end(), std::uint8_t{0}) == 1);
    REQUIRE(wire.back() == 0);
    const auto found = frames_in(wire, decoder);
    REQUIRE(found.size() == 1);
    REQUIRE(same(found[0], sent));
  }
  CHECK(decoder.dropped == 0);
}

TEST_CASE("A damaged frame is dropped, and the next one is found") {
  std::mt19937 random(11);
  FrameDecoder decoder{};
  std::uint32_t damaged = 0;
  for (int i = 0; i < 10000; ++i) {
    auto wire = wire_of(random_frame(random));
    const std::size_t at = random() % (wire.size() - 1);
    switch (random() % 4) {
      case 0:  // a flipped bit; a byte that becomes zero cuts the frame in two
        wire[at] ^= static_cast<std::uint8_t>(1u << (random() % 8));
        break;
      case 1:
        wire.erase(wire.begin() + static_cast<long>(at));
        break;
      case 2:
        wire.insert(wire.begin() + static_cast<long>(at), static_cast<std::uint8_t>(1 + random() % 255));
        break;
      default:  // noise that is longer than any frame
        wire.insert(wire.begin(), 2 * kFrameBytes, static_cast<std::uint8_t>(1 + random() % 255));
    }
    const auto before = decoder.dropped;
    REQUIRE(frames_in(wire, decoder).empty());
    damaged += decoder.dropped > before ? 1u : 0u;
    const Frame next = random_frame(random);
    const auto found = frames_in(wire_of(next), decoder);
    REQUIRE(found.size() == 1);
    REQUIRE(same(found[0], next));
  }
  CHECK(damaged == 10000);
}

TEST_CASE("Any bytes leave the decoder whole") {
  std::mt19937 random(13);
  FrameDecoder decoder{};
  Frame frame{};
  std::uint32_t found = 0;
  for (int i = 0; i < 3000000; ++i)
    found +=
        take_byte(decoder, static_cast<std::uint8_t>(random() % (i % 2 == 0 ? 256 : 4)), frame) ? 1u : 0u;
  CHECK(found == 0);  // a chance of 2^-32 a frame
  CHECK(decoder.count <= kFrameBytes + 1);
}

namespace {

/// A board with a counter of 1000 a second that the test moves, and another side that asks it.
class AskedBoard {
 public:
  template <class T>
  std::vector<std::uint8_t> ask(FrameKind kind, std::uint32_t sequence, const T& content) {
    fill_frame(request_, static_cast<std::uint8_t>(kind), sequence, content);
    return send();
  }
  std::vector<std::uint8_t> ask(FrameKind kind, std::uint32_t sequence) {
    request_.kind = static_cast<std::uint8_t>(kind);
    request_.sequence = sequence;
    request_.bytes = 0;
    return send();
  }
  /// Status in the answer; 9999: there is none.
  std::uint32_t status(const std::vector<std::uint8_t>& wire) {
    const auto found = frames_in(wire, decoder_);
    Answer answer{9999};
    if (found.size() == 1) std::memcpy(&answer, found[0].content, sizeof answer);
    return answer.status;
  }
  /// Readings of the stand-in plant, warming up from 900 K under the outputs that the board drives.
  ctl_inputs warm_up(std::uint32_t tick) {
    plant_.move(board.now.driven);
    return plant_.sense(tick, CTL_WARM_UP, 0.0);
  }
  void wait(std::uint32_t counts) {
    for (std::uint32_t k = 0; k < counts; ++k) watch_silence(board, ++counter, 1000);
  }

  Board board{};
  ctl_params params = duskline::test::default_params();
  std::uint32_t counter = 0xFFFFF000u;  // about to overflow

 private:
  duskline::test::StandIn plant_ = duskline::test::Rig(900.0).plant;
  std::vector<std::uint8_t> send() {
    const std::uint32_t count = answer_request(board, request_, [this] { return counter; });
    return {board.answer, board.answer + count};
  }
  Frame request_{};
  FrameDecoder decoder_{};
};

bool all_off(const ctl_outputs& out) {
  bool off = true;
#define ONE(name, ...) off = off && out.name == 0.0f;
#define EACH(name, ...) \
  for (const float x : out.name) off = off && x == 0.0f;
  CTL_OUTPUT_LIST(ONE, EACH)
#undef ONE
#undef EACH
  return off;
}

}  // namespace

TEST_CASE("A request that is repeated moves the controller once") {
  AskedBoard side;
  const ctl_inputs in = side.warm_up(0);
  // not started: an answer with a status, and safe outputs
  CHECK(side.status(side.ask(FrameKind::step, 1, in)) == CTL_BAD_VERSION);
  CHECK(side.status(side.ask(FrameKind::arm, 2)) == CTL_BAD_VERSION);
  CHECK(side.status(side.ask(FrameKind::start, 3, side.params)) == CTL_OK);
  CHECK(side.status(side.ask(FrameKind::step, 4, in)) == kDisarmed);
  CHECK(side.status(side.ask(FrameKind::arm, 5)) == CTL_OK);
  const auto first = side.ask(FrameKind::step, 6, in);
  const ctl_state after = side.board.state;
  CHECK(side.ask(FrameKind::step, 6, in) == first);
  CHECK(std::memcmp(&after, &side.board.state, sizeof after) == 0);
  side.ask(FrameKind::step, 7, in);
  CHECK(std::memcmp(&after, &side.board.state, sizeof after) != 0);
  CHECK(side.ask(FrameKind::restart, 8, std::uint8_t{1}).size() > 4);  // wrong size: a status, no restart
  CHECK(side.ask(static_cast<FrameKind>(99), 9).empty());
}

TEST_CASE("The board's outputs are off until armed, and again after five periods without a new step") {
  AskedBoard side;
  const Board& board = side.board;
  side.ask(FrameKind::start, 1, side.params);  // a control period of 1 s, 1000 counts
  std::uint32_t sequence = 1, tick = 0;
  REQUIRE(side.status(side.ask(FrameKind::arm, ++sequence)) == CTL_OK);
  for (; tick < 300; ++tick) {
    side.wait(1000);
    REQUIRE(side.status(side.ask(FrameKind::step, ++sequence, side.warm_up(tick))) == CTL_OK);
  }
  CHECK_FALSE(all_off(board.now.driven));
  side.wait(5000);
  CHECK_FALSE(all_off(board.now.driven));
  CHECK(side.status(side.ask(FrameKind::step, sequence, side.warm_up(tick - 1))) == CTL_OK);  // no new step
  CHECK_FALSE(side.ask(FrameKind::hello, ++sequence).empty());                                // nor is this
  CHECK_FALSE(side.ask(FrameKind::report, ++sequence).empty());
  side.wait(1);
  CHECK(all_off(board.now.driven));
  CHECK(board.now.driven.mode == CTL_SAFE);
  CHECK(board.now.armed == 0);
  CHECK(board.now.expired == 1);
  side.wait(20000);
  CHECK(board.now.expired == 1);
  const ctl_state before = board.state;
  CHECK(side.status(side.ask(FrameKind::step, ++sequence, side.warm_up(tick))) == kDisarmed);
  CHECK(std::memcmp(&before, &board.state, sizeof before) == 0);
  CHECK(all_off(board.now.driven));
  // arming restarts the controller, as after a loss of power
  ctl_retained memory;
  ctl_state restarted;
  ctl_retain(&before, &memory);
  REQUIRE(ctl_restart(&restarted, &side.params, &memory) == CTL_OK);
  CHECK(side.status(side.ask(FrameKind::arm, ++sequence)) == CTL_OK);
  CHECK(std::memcmp(&restarted, &board.state, sizeof restarted) == 0);
  CHECK(all_off(board.now.driven));
  for (const std::uint32_t end = tick + 300; tick < end; ++tick)
    REQUIRE(side.status(side.ask(FrameKind::step, ++sequence, side.warm_up(tick))) == CTL_OK);
  CHECK_FALSE(all_off(board.now.driven));
  CHECK(board.now.steps == 600);
  // a restart and the end of a run leave them off
  CHECK(side.status(side.ask(FrameKind::restart, ++sequence, std::uint32_t{1})) == CTL_OK);
  CHECK(all_off(board.now.driven));
  CHECK(side.status(side.ask(FrameKind::step, ++sequence, side.warm_up(tick))) == kDisarmed);
  CHECK(side.status(side.ask(FrameKind::arm, ++sequence)) == CTL_OK);
  side.ask(FrameKind::stop, ++sequence);
  CHECK(all_off(board.now.driven));
}

TEST_CASE("A clock of the board that drifts moves no output, it shifts the five periods of silence alone") {
  // 10 % is a thousand times the drift of a bad quartz (100 ppm, estimate): exactly the same outputs
  std::vector<std::vector<std::uint8_t>> answers[3];
  const std::uint32_t counts[3]{900, 1000, 1100};  // of the board, in a second of the other side
  for (std::size_t k = 0; k < 3; ++k) {
    AskedBoard side;
    side.ask(FrameKind::start, 1, side.params);
    side.ask(FrameKind::arm, 2);
    for (std::uint32_t tick = 0; tick < 300; ++tick) {
      side.wait(counts[k]);
      answers[k].push_back(side.ask(FrameKind::step, 3 + tick, side.warm_up(tick)));
    }
    CHECK(side.board.now.expired == 0);
    std::uint32_t silent = 0;  // s of the other side, until the outputs are off
    for (; side.board.now.armed != 0 && silent < 100; ++silent) side.wait(counts[k]);
    CHECK(silent == (counts[k] > 1000 ? 5u : 6u));  // more than 5000 counts: 5500, 6000, 5400
  }
  CHECK(answers[0] == answers[1]);
  CHECK(answers[2] == answers[1]);
}

TEST_CASE("Ten thousand wrong requests in whole frames move no output but by what was asked") {
  std::mt19937 random(17);
  AskedBoard side;
  side.ask(FrameKind::start, 1, side.params);
  side.ask(FrameKind::arm, 2);
  side.ask(FrameKind::step, 3, side.warm_up(0));
  Board& board = side.board;
  std::uint32_t answered = 0, any_inputs = 0;
  for (std::uint32_t i = 0; i < 10000; ++i) {
    Frame request = random_frame(random);
    if (i % 2 == 0) request.kind = static_cast<std::uint8_t>(1 + random() % 8);
    if (i % 4 == 0)  // a step of the right size, its numbers any bits
      request.kind = static_cast<std::uint8_t>(FrameKind::step), request.bytes = sizeof(ctl_inputs);
    const auto kind = static_cast<FrameKind>(request.kind);
    const bool any_step = kind == FrameKind::step && request.bytes == sizeof(ctl_inputs);  // some by chance
    const ctl_state state = board.state;
    const ctl_outputs driven = board.now.driven;
    const bool armed = board.now.armed != 0;
    const std::uint32_t count = answer_request(board, request, NoCounter{});
    REQUIRE(count <= kFrameBytes);
    answered += count != 0 ? 1u : 0u;
    any_inputs += any_step && armed ? 1u : 0u;
    const bool may_move = any_step || kind == FrameKind::arm || kind == FrameKind::start ||
                          (kind == FrameKind::restart && request.bytes == 4);
    if (!may_move) REQUIRE(std::memcmp(&state, &board.state, sizeof state) == 0);
    if (!(any_step && armed) && std::memcmp(&driven, &board.now.driven, sizeof driven) != 0)
      REQUIRE(all_off(board.now.driven));
    if (board.started == 0) REQUIRE(board.now.armed == 0);
    if (board.started == 0 || board.now.armed == 0) {  // go on from a board at work
      side.ask(FrameKind::start, 3 * i, side.params);
      side.ask(FrameKind::arm, 3 * i + 1);
    }
  }
  CHECK(answered > 4000);
  CHECK(any_inputs > 1000);
}
