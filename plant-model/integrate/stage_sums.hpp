/// What it is   the sums over all states in one step, compiled once with the vector registers of the machine.
/// Equation     x1 = x + h k1; r = f1 - 2 k1; x' = x + h (3 k1 + k2) / 2; e = h (k1 + k2) / 2; scaled error.
/// Symbols      n states; h in s; k, f in unit of the state per s; the scaled error has no unit.
/// Validity     every state is summed by itself in a fixed order: the vector width does not change the bits.
/// Source       linearly_implicit.hpp for the formulae, step_control.hpp for the scaled error.
/// Left out     products with matrices (dense_matrix.hpp).
#pragma once

#include <cstddef>

namespace duskline::plant {

/// x1 = x + h k1
void first_stage(std::size_t n, const double* x, double h, const double* k1, double* x1);

/// f1 -= 2 k1
void second_right_side(std::size_t n, const double* k1, double* f1);

/// next = x + h (3 k1 + k2) / 2, and k2 becomes the error estimate h (k1 + k2) / 2
void combine_stages(std::size_t n, const double* x, double h, const double* k1, double* k2, double* next);

/// ratio_i = |e_i| / (absolute_i + relative max(|x0_i|, |x1_i|)); returns the largest, or a value that is not
/// finite when any ratio is not.
double scaled_error(std::size_t n, const double* absolute, double relative, const double* x0,
                    const double* x1, const double* error, double* ratio);

}  // namespace duskline::plant
