/// What it is   the Jacobian of modules that meet only at what they share (the border), and the solution of one step
///              with it.
/// Equation     J = [A_k, B_k; C_k, D]: with P_k = (I - s A_k)^-1, Q_k = s P_k B_k and the Schur complement
///              S = I - s D - sum s C_k Q_k the solution of (I - s J) k = r is k_0 = S^-1 (r_0 + sum s C_k P_k r_k),
///              k_k = P_k r_k + Q_k k_0; quadratures are more rows of C and D, which nothing depends on
/// Symbols      s = gamma h [s]; blocks in 1/s times units of state
/// Validity     as dense_matrix.hpp; without modules the border is the whole matrix, and all of this is the dense inverse
/// Source       block elimination (Golub, Van Loan, Matrix Computations, 4th ed., 2013, section 3.2.6, from memory)
/// Left out     borders within borders
#pragma once

#include <array>
#include <vector>

#include "plant-model/integrate/dense_matrix.hpp"
#include "plant-model/integrate/division.hpp"

namespace duskline::plant {

struct BorderedJacobian {
  BorderedJacobian() = default;
  /// One module alone is one block with what it shares.
  explicit BorderedJacobian(const Division& division);

  struct Module {
    DenseMatrix own;        ///< A_k
    DenseMatrix by_border;  ///< B_k
    DenseMatrix to_border;  ///< C_k, quadratures below
  };
  std::vector<Module> modules;
  DenseMatrix border;  ///< D, quadratures below

  void set_zero();
  /// All of it as one matrix.
  DenseMatrix whole() const;
};

/// (I - s J)^-1 in the form above.
class BorderedSolution {
 public:
  /// What a solution is worked out in; kept from one to the next to save the allocation.
  struct Room {
    struct alignas(64) CacheLine {
      std::array<double, kPack> row{};
    };
    using Lines = std::vector<CacheLine>;
    std::vector<Lines> products;
    Lines border, outer;
    std::vector<double> right;
  };

  /// False when it cannot be inverted.
  bool make(const BorderedJacobian& j, double s);
  /// k = (I - s J)^-1 right, both over implicit entries and quadratures; they may be the same.
  void solve(const double* right, double* k, Room& room) const;

 private:
  struct Module {
    PackedMatrix own;    ///< [P_k; s C_k P_k]
    PackedMatrix outer;  ///< Q_k
  };
  std::size_t border_ = 0, coupled_ = 0;  ///< entries
  std::vector<Module> modules_;
  PackedMatrix inner_;  ///< [S^-1; (rows of the quadratures) S^-1]
};

}  // namespace duskline::plant
