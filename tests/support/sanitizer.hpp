/// CI also runs tests with the program under sanitizers (DUSKLINE_PROGRAM); so is then the unit that it exports.
#pragma once

#include <string>

#include "tests/support/child.hpp"
#include "tests/support/toolchain.hpp"

namespace duskline::tests {

/// The address sanitizer's library that the program was linked with; empty when it was built without.
inline std::string sanitizer_library() {
  const std::string text = test::run_command("ldd '" + kProgram + "' | awk '/libasan/ { print $3 }'").text;
  return text.substr(0, text.find('\n'));
}

/// Precedes the command line of a program of others that loads the exported unit: what the unit needs loaded first.
inline std::string with_sanitizer() {
  const std::string library = sanitizer_library();
  return library.empty() ? "" : "LD_PRELOAD=" + library + " ASAN_OPTIONS=detect_leaks=0 ";
}

}  // namespace duskline::tests
