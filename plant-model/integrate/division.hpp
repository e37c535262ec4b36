/// How a state is divided: entries that are implicit, quadratures, and slow entries; known when it is laid out.
///
/// What it is   the sizes of the three kinds, and which of the implicit entries belong to modules
/// Symbols      counts; the implicit entries of module k are the next modules[k] ones, then come those shared by all
/// Validity     the entries of one module do not enter the derivatives of another's
#pragma once

#include <cstddef>
#include <vector>

namespace duskline::plant {

struct Division {
  std::size_t implicit = 0;
  std::size_t coupled = 0;  ///< quadratures: driven by the implicit part, driving nothing
  std::size_t slow = 0;     ///< explicit
  std::vector<std::size_t> modules{};

  std::size_t solved() const { return implicit + coupled; }
  std::size_t states() const { return implicit + coupled + slow; }
};

}  // namespace duskline::plant
