/// Lanes: how cells are laid into a scalar; eight at once in a Pack for double, one at a time for duals.
#pragma once

#include "plant-model/scalar.hpp"

namespace duskline::plant {

template <class S>
struct Lane {
  using type = S;
  static constexpr std::size_t width = 1;
};
template <>
struct Lane<double> {
  using type = Pack;
  static constexpr std::size_t width = Pack::kLanes;
};

inline void set_lane(Pack& a, std::size_t lane, double v) {
  a.set(lane, v);
}
template <std::size_t N>
void set_lane(Dual<N>& a, std::size_t, const Dual<N>& v) {
  a = v;
}
template <std::size_t N>
void set_lane(Dual<N>& a, std::size_t, double v) {
  a = Dual<N>(v);
}

inline double get_lane(const Pack& a, std::size_t lane) {
  return a[lane];
}
template <std::size_t N>
const Dual<N>& get_lane(const Dual<N>& a, std::size_t) {
  return a;
}

}  // namespace duskline::plant
