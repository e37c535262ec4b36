// Frames on a wire: stuffing against the published examples, checksums, damage, repetition.
#include <catch2/catch.hpp>
#include <cstring>
#include <random>
#include <vector>

#include "controller/port/board.hpp"

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

TEST_CASE("A request that is repeated moves the controller once") {
  Board board{};
  Frame request{};
  FrameDecoder decoder{};
  ctl_params params;
  ctl_default_params(&params);
  const auto ask = [&](FrameKind kind, std::uint32_t sequence, const auto& content) {
    fill_frame(request, static_cast<std::uint8_t>(kind), sequence, content);
    const std::uint32_t count = answer_request(board, request);
    return std::vector<std::uint8_t>(board.answer, board.answer + count);
  };
  ctl_inputs in{};
  in.requested_mode = CTL_WARM_UP;
  for (float& x : in.zone_temperature) x = 300.0f;
  const auto early = frames_in(ask(FrameKind::step, 1, in), decoder);
  REQUIRE(early.size() == 1);  // not started: an answer with a status, and safe outputs
  Answer answer{};
  std::memcpy(&answer, early[0].content, sizeof answer);
  CHECK(answer.status == CTL_BAD_VERSION);

  CHECK(frames_in(ask(FrameKind::start, 2, params), decoder).size() == 1);
  const auto first = ask(FrameKind::step, 3, in);
  const ctl_state after = board.state;
  CHECK(ask(FrameKind::step, 3, in) == first);
  CHECK(std::memcmp(&after, &board.state, sizeof after) == 0);
  ask(FrameKind::step, 4, in);
  CHECK(std::memcmp(&after, &board.state, sizeof after) != 0);
  CHECK(ask(FrameKind::restart, 5, std::uint8_t{1}).size() > 4);  // wrong size: a status, no restart
  CHECK(ask(static_cast<FrameKind>(99), 6, in).empty());
}
