/// A wire to the controller that loses, delays and corrupts frames, and a plant's side that knows when it is blind.
///
/// What it is   around any link: readings and commands travel as real frames (controller/port/frame.hpp) through two
///              directions with faults; the controller is stepped by what arrives, the plant moves by what comes back
/// Equation     an answer is valid when its frame is whole, newer than the last one, and at most kBlindTicks old;
///              without one the commands are held; after more than kBlindTicks of that the outputs are off and disarmed
/// Symbols      age of the commands in ticks
/// Validity     outputs that are disarmed stay off until a valid answer has come and the controller has then started
///              again from its retained memory, as after a loss of power: it takes over the plant as it finds it;
///              until then it is asked whether it is there, and not stepped
/// Source       5 ticks are an estimate: at a period of 1 s well within the minute that a hot stack stands without gas
/// Left out     what bytes cost in time
#pragma once

#include <algorithm>
#include <cstdint>
#include <deque>
#include <string>
#include <vector>

#include "controller/port/frame.hpp"
#include "hil-harness/links/link.hpp"
#include "plant-model/random/noise.hpp"
#include "scenarios/requirements/keeper.hpp"

namespace duskline::harness {

inline constexpr int kBlindTicks = 5;

/// What is wrong at a tick; as it stands here, nothing.
struct WireState {
  bool cut = false;                                                    ///< nothing passes
  bool one_way = false;                                                ///< no answer passes
  bool board_off = false;                                              ///< nobody is there
  double delay = 0.0;                                                  ///< ticks, each way
  double duplicate = 0.0, reorder = 0.0, corrupt = 0.0, babble = 0.0;  ///< share of frames
  double slow = 1.0;                                                   ///< frames that are read in a tick
  double drift = 0.0;  ///< relative error of the controller's period; above 0: its clock is slow

  bool operator==(const WireState&) const = default;
};

/// One direction.
class Wire {
 public:
  Wire(std::uint64_t seed, const std::string& name);
  void send(std::int64_t tick, const controller::Frame& frame, const WireState& state, bool passes);
  /// Calls f(frame) for every whole frame that is read at this tick.
  template <class F>
  void read(std::int64_t tick, const WireState& state, F f) {
    credit_ = state.slow < 1.0 ? std::min(1.0, credit_ + state.slow) : 1e9;
    while (!in_transit_.empty() && in_transit_.front().due <= tick && credit_ >= 1.0) {
      for (const std::uint8_t byte : in_transit_.front().bytes)
        if (take_byte(decoder_, byte, frame_)) f(frame_);
      in_transit_.pop_front();
      credit_ -= 1.0;
    }
  }
  void clear() { in_transit_.clear(); }
  void keep(scenarios::Keeper& k) {
    auto& [chance, bytes_chance, in_transit, decoder, frame, credit] = *this;
    k(in_transit, decoder, frame, credit);
  }

 private:
  struct InTransit {
    std::int64_t due;
    std::vector<std::uint8_t> bytes;
    void keep(scenarios::Keeper& k) { k(due, bytes); }
  };
  void put(InTransit frame);

  plant::NoiseStream chance_, bytes_chance_;
  std::deque<InTransit> in_transit_;  ///< in order of arrival
  controller::FrameDecoder decoder_{};
  controller::Frame frame_{};
  double credit_ = 0.0;
};

class FaultyWire final : public Link {
 public:
  FaultyWire(Link& controller, std::uint64_t seed);

  /// From tick `tick` on, with the commands that are in force, as if all before had passed the wire; tick 0 without it.
  void begin(std::int64_t tick, const ctl_outputs& in_force);
  /// What is wrong from this tick on.
  void set(const WireState& state) { state_ = state; }
  ctl_status step(const ctl_inputs& in, ctl_outputs& out) override;
  ctl_status restart(bool intact) override { return controller_.restart(intact); }
  std::string name() const override { return controller_.name(); }
  std::string error() const override { return controller_.error(); }
  plant::RunEnd end() const override { return controller_.end(); }

  int age() const { return age_; }  ///< ticks since the answer that is in force was made for its readings
  bool armed() const { return armed_; }
  void keep(scenarios::Keeper& k) {
    auto& [controller, down, up, state, frame, tick, taken, answered, armed_from, read, answer, held, looks,
           age, rebooted, armed] = *this;
    k(down, up, state, frame, tick, taken, answered, armed_from, read, answer, held, looks, age, rebooted,
      armed);
  }

 private:
  ctl_status serve_controller();
  bool take_answers();
  ctl_status arm();

  Link& controller_;
  Wire down_, up_;
  WireState state_{};
  controller::Frame frame_{};
  std::int64_t tick_ = 0;
  std::uint32_t taken_ = 0, answered_ = 0, armed_from_ = 0;  ///< sequences; 0: none
  ctl_inputs read_{};
  ctl_outputs answer_{}, held_{};
  double looks_ = 0.5;  ///< of the controller at its wire, by its own clock; the first is in mid-period
  int age_ = 0;
  bool rebooted_ = false;
  bool armed_ = true;  ///< opening the link was the arm step of its start
};

}  // namespace duskline::harness
