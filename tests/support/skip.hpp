/// A check that this machine cannot make, because a tool is missing: counted as skipped, never as passed.
#pragma once

#include <string>

namespace duskline::tests {

/// The exit code of a test program in which nothing failed and something was skipped; ctest counts it.
inline constexpr int kSkipped = 77;

/// Says why; the rest of the case goes on where the caller lets it.
void skip(const std::string& reason);

}  // namespace duskline::tests
