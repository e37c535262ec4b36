// Where the entries of the demo plant stand in the state, as constants that tests can write; places_test holds them to the
// layout that the plant makes.
#pragma once

#include "plant-model/network/layout.hpp"
#include "plant-model/state.hpp"

namespace duskline::plant {

namespace at {
inline constexpr std::size_t plenum = module_end;
inline constexpr std::size_t plenum_wall = plenum + kSpecies;
inline constexpr std::size_t speed = plenum_wall + 1;
inline constexpr std::size_t shell = speed + 1;
inline constexpr std::size_t housing = shell + 1;
inline constexpr std::size_t implicit_end = housing + 1;
inline constexpr std::size_t dust = module_slow_end;
inline constexpr std::size_t slow_end = dust + 1;
}  // namespace at

inline constexpr std::size_t kImplicit = at::implicit_end;
inline constexpr std::size_t kQuadratures = at::quadrature_end;
inline constexpr std::size_t kSlow = at::slow_end;
inline constexpr std::size_t kStates = kImplicit + kQuadratures + kSlow;

}  // namespace duskline::plant
