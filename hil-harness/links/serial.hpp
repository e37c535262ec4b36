/// A controller at the other end of a serial line, of a pseudo-terminal or of a TCP connection.
///
/// What it is   opens the device raw at 8 data bits, no parity, one stop bit, and speaks frames over it
/// Equation     an address is DEVICE, DEVICE@BAUD (115200 without one) or tcp:HOST:PORT
/// Validity     lockstep; a request is sent three times at most, 1 s apart
/// Source       POSIX.1-2017, termios
/// Left out     real time; flow control by wires
#pragma once

#include <memory>
#include <string>

#include "hil-harness/links/framed.hpp"

namespace duskline::harness {

inline constexpr AnswerLimit kSerialLimit{1.0, 3};

/// Opens the line and starts the controller behind it, or says what is wrong.
template <class C = ModuleController>
scenarios::Result<std::shared_ptr<FramedLinkOf<C>>> open_serial(const std::string& address,
                                                                const typename C::Params& params,
                                                                AnswerLimit limit = kSerialLimit);

}  // namespace duskline::harness
