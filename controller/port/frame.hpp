/// Frames on a serial wire, the same code on both sides.
///
/// What it is   a message as a frame: header, content and checksum, stuffed so that a zero byte ends a frame and
///              occurs nowhere else; and the decoder that finds frames in a stream of bytes
/// Equation     frame = COBS(version, kind, sequence, content, CRC-32) 0x00; COBS writes each run of up to 254 bytes
///              that are not zero behind its length plus one
/// Symbols      numbers of more than one byte stand least significant byte first
/// Validity     contents up to kFrameContent bytes; a frame that is damaged, too long or of another version is
///              dropped and counted, and decoding goes on at the next zero byte
/// Source       Cheshire and Baker 1999, Consistent overhead byte stuffing, IEEE/ACM Trans. Networking 7(2) (from
///              memory); crc32.hpp
/// Left out     repetition of lost frames: the side that asks repeats its request with the same sequence
#pragma once

#include "controller/crc32.hpp"
#include "controller/port/interface.hpp"

namespace duskline::controller {

inline constexpr uint8_t kFrameVersion = 1;

/// What a frame is; an answer has the kind of its request with kFrameAnswer added.
enum class FrameKind : uint8_t {
  hello = 1,    // content Greeting of the side that asks; answer Greeting
  start = 2,    // content parameters; answer Answer
  step = 3,     // content inputs; answer Answer, then outputs
  restart = 4,  // content one word, 1: memory is intact; answer Answer
  stop = 5,     // content none; no answer: the other side ends
  report = 6,   // content none; answer BoardReport; moves nothing
  arm = 7,      // content none; answer Answer: outputs follow the steps from now on
};
inline constexpr uint8_t kFrameAnswer = 0x80;

/// Who answers: two sides work together only if all of it agrees.
struct Greeting {
  uint32_t abi_version, params_bytes, inputs_bytes, outputs_bytes, state_bytes;
};
template <class C>
inline constexpr Greeting kGreeting{C::kVersion, sizeof(typename C::Params), sizeof(typename C::Inputs),
                                    sizeof(typename C::Outputs), sizeof(typename C::State)};

struct Answer {
  uint32_t status;  // ctl_status, or kDisarmed
};
inline constexpr uint32_t kDisarmed =
    256;  // a step was refused: the board's outputs are off, and wait to be armed

/// What a board says of itself.
template <class C>
struct BoardReportOf {
  uint32_t armed;              // 1: its outputs follow the steps
  uint32_t expired;            // times that it switched them off because no step came
  uint32_t steps;              // of the controller since the board started
  uint32_t counts;             // of its counter in the last step
  uint32_t max_counts;         // in any step
  uint32_t max_tick;           // tick of that step
  uint32_t max_answer_counts;  // in any answer to a step, its frame included
  typename C::Outputs driven;  // what its outputs are set to
};
using BoardReport = BoardReportOf<ModuleController>;

constexpr uint32_t greater(uint32_t a, uint32_t b) {
  return a < b ? b : a;
}
inline constexpr uint32_t kFrameHeader = 6;  // bytes: version, kind, sequence
template <class C>
inline constexpr uint32_t kContentOf =
    greater(greater(sizeof(typename C::Params), sizeof(typename C::Inputs)), sizeof(BoardReportOf<C>));
inline constexpr uint32_t kFrameContent = greater(kContentOf<ModuleController>, kContentOf<PlantController>);
inline constexpr uint32_t kFrameRaw = kFrameHeader + kFrameContent + 4;
inline constexpr uint32_t kFrameBytes = kFrameRaw + kFrameRaw / 254 + 2;  // on the wire, with the zero

struct Frame {
  uint8_t kind;
  uint32_t sequence;
  uint32_t bytes;  // of the content
  uint8_t content[kFrameContent];
};

inline void copy_bytes(uint8_t* to, const void* from, uint32_t count) {
  __builtin_memcpy(to, from, count);
}

/// A frame whose content is a plain struct.
template <class T>
void fill_frame(Frame& frame, uint8_t kind, uint32_t sequence, const T& content) {
  static_assert(sizeof(T) <= kFrameContent);
  frame.kind = kind;
  frame.sequence = sequence;
  frame.bytes = sizeof(T);
  copy_bytes(frame.content, &content, sizeof(T));
}

/// Content of a frame as a plain struct; false when its size is another one.
template <class T>
bool take_content(const Frame& frame, T& content) {
  if (frame.bytes != sizeof(T)) return false;
  __builtin_memcpy(&content, frame.content, sizeof(T));
  return true;
}

/// Writes the frame to `wire` (kFrameBytes at most) and returns its number of bytes.
inline uint32_t encode_frame(const Frame& frame, uint8_t* wire) {
  uint8_t raw[kFrameRaw];
  raw[0] = kFrameVersion;
  raw[1] = frame.kind;
  for (uint32_t k = 0; k < 4; ++k) raw[2 + k] = static_cast<uint8_t>(frame.sequence >> (8 * k));
  copy_bytes(raw + kFrameHeader, frame.content, frame.bytes);
  const uint32_t checked = kFrameHeader + frame.bytes;
  const uint32_t sum = crc32(raw, checked);
  for (uint32_t k = 0; k < 4; ++k) raw[checked + k] = static_cast<uint8_t>(sum >> (8 * k));
  uint32_t at = 1, length_at = 0;
  uint8_t length = 1;
  for (uint32_t i = 0; i < checked + 4; ++i) {
    if (raw[i] != 0) {
      wire[at++] = raw[i];
      ++length;
    }
    if (raw[i] == 0 || length == 255) {
      wire[length_at] = length;
      length_at = at++;
      length = 1;
    }
  }
  wire[length_at] = length;
  wire[at++] = 0;
  return at;
}

/// Finds frames in a stream of bytes.
struct FrameDecoder {
  uint8_t wire[kFrameBytes];
  uint32_t count;    // bytes since the last zero
  uint32_t dropped;  // frames that were damaged, too long or of another version
};

/// Takes the stuffing away in place; 0 when the bytes are not a stuffed message.
inline uint32_t unstuff(uint8_t* bytes, uint32_t count) {
  uint32_t from = 0, to = 0;
  while (from < count) {
    const uint32_t length = bytes[from++];
    if (length == 0 || from + length - 1 > count) return 0;
    for (uint32_t k = 1; k < length; ++k) bytes[to++] = bytes[from++];
    if (length != 255 && from < count) bytes[to++] = 0;
  }
  return to;
}

/// The frame that `count` stuffed bytes are; false when they are none.
inline bool parse_frame(uint8_t* bytes, uint32_t count, Frame& frame) {
  const uint32_t raw = unstuff(bytes, count);
  if (raw < kFrameHeader + 4 || raw > kFrameRaw || bytes[0] != kFrameVersion) return false;
  uint32_t sum = 0, sequence = 0;
  for (uint32_t k = 0; k < 4; ++k) {
    sum |= static_cast<uint32_t>(bytes[raw - 4 + k]) << (8 * k);
    sequence |= static_cast<uint32_t>(bytes[2 + k]) << (8 * k);
  }
  if (crc32(bytes, raw - 4) != sum) return false;
  frame.kind = bytes[1];
  frame.sequence = sequence;
  frame.bytes = raw - 4 - kFrameHeader;
  copy_bytes(frame.content, bytes + kFrameHeader, frame.bytes);
  return true;
}

/// One byte of the stream; true when it completes a frame.
inline bool take_byte(FrameDecoder& d, uint8_t byte, Frame& frame) {
  if (byte != 0) {
    if (d.count < kFrameBytes) d.wire[d.count] = byte;
    if (d.count <= kFrameBytes) ++d.count;
    return false;
  }
  const uint32_t count = d.count;
  d.count = 0;
  if (count == 0) return false;  // zeros between frames
  if (count <= kFrameBytes && parse_frame(d.wire, count, frame)) return true;
  ++d.dropped;
  return false;
}

}  // namespace duskline::controller
