/// What it is   a Jacobian that serves many steps, with the inverse of I - gamma h J kept for the step sizes used last.
/// Equation     as in bordered.hpp
/// Symbols      J in 1/s times units of state; h step in s.
/// Validity     as long as the owner says so: it asks for a new Jacobian by age, use, rejection or request.
/// Source       block elimination; docs/models/integrate.md.
/// Left out     updating M for a changed h without a new inverse.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

#include "plant-model/integrate/bordered.hpp"

namespace duskline::plant {

class FrozenJacobian {
 public:
  explicit FrozenJacobian(const Division& division) : jacobian_(division) {}

  bool valid() const { return valid_; }
  double taken_at() const { return taken_at_; }  // s

  /// Zeroed storage for a new Jacobian taken at time t; what was inverted before is forgotten.
  BorderedJacobian& renew(double t) {
    for (Entry& entry : entries_) entry.filled = false;
    jacobian_.set_zero();
    valid_ = true;
    taken_at_ = t;
    return jacobian_;
  }
  void invalidate() { valid_ = false; }

  /// The inverse for s = gamma h if it is kept, else null.
  const BorderedSolution* find(double s) const {
    for (const Entry& entry : entries_) {
      if (entry.filled && entry.s == s) return &entry.inverse;
    }
    return nullptr;
  }

  /// The inverse for s = gamma h, from the cache or new (then `factorisations` is counted up); null when singular.
  const BorderedSolution* iteration_matrix(double s, std::uint64_t& factorisations) {
    Entry* oldest = &entries_[0];
    for (Entry& entry : entries_) {
      if (entry.filled && entry.s == s) {
        entry.used = ++clock_;
        return &entry.inverse;
      }
      if (!entry.filled) {
        if (oldest->filled) oldest = &entry;
      } else if (oldest->filled && entry.used < oldest->used) {
        oldest = &entry;
      }
    }
    ++factorisations;
    oldest->filled = oldest->inverse.make(jacobian_, s);
    oldest->s = s;
    oldest->used = ++clock_;
    return oldest->filled ? &oldest->inverse : nullptr;
  }

 private:
  struct Entry {
    double s = 0;
    std::uint64_t used = 0;
    bool filled = false;
    BorderedSolution inverse;
  };
  static constexpr std::size_t kEntries = 8;  // a tick and its seven halvings

  BorderedJacobian jacobian_;
  std::array<Entry, kEntries> entries_;
  bool valid_ = false;
  double taken_at_ = 0;
  std::uint64_t clock_ = 0;
};

}  // namespace duskline::plant
