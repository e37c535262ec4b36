/// The controller's image for the board, run in an emulator of that board.
///
/// What it is   starts qemu-system-arm (machine mps2-an386, a Cortex-M4F) with the image; its standard input and
///              output are the stream of a FramedLink
/// Validity     lockstep: the emulator's clock counts instructions, which are those of the board; times are not
/// Source       Arm application note AN386; Arm, Semihosting for AArch32 and AArch64, 2.0
/// Left out     the board's serial port, its watchdog, cycles
#pragma once

#include <memory>
#include <string>

#include "hil-harness/links/framed.hpp"

namespace duskline::harness {

/// Starts the image and its controller, or says what is wrong (the emulator is not installed, no such image, ...).
template <class C = ModuleController>
scenarios::Result<std::shared_ptr<FramedLinkOf<C>>> open_emulator(const std::string& image,
                                                                  const typename C::Params& params);

/// Instructions of the emulated board in a count of its counter, which its reports are in.
inline constexpr double kInstructionsPerCount = 0.625;

}  // namespace duskline::harness
