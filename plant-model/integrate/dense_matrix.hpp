/// What it is   the two matrices of the steppers: plain row-major, and packed for a fast product with a
///              vector.
/// Equation     y = M x summed column by column, and A^-1 by L U with row exchanges.
/// Symbols      rows and columns are counts; entries carry the unit of the caller.
/// Validity     sums run in a fixed order inside each row, so the bits do not depend on the vector width.
/// Source       Golub, Van Loan, Matrix Computations, 4th ed., 2013, sections 1.1.7 and 3.4 (from memory).
/// Left out     sparsity, blocking beyond a few hundred rows, and fused multiply-add (off everywhere).
#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

namespace duskline::plant {

/// Row-major dense matrix; `data()` may be wrapped in an Eigen::Map.
class DenseMatrix {
 public:
  DenseMatrix() = default;
  DenseMatrix(std::size_t rows, std::size_t columns)
      : rows_(rows), columns_(columns), entries_(rows * columns, 0.0) {}

  double& operator()(std::size_t row, std::size_t column) { return entries_[row * columns_ + column]; }
  double operator()(std::size_t row, std::size_t column) const { return entries_[row * columns_ + column]; }
  std::size_t rows() const { return rows_; }
  std::size_t columns() const { return columns_; }
  double* data() { return entries_.data(); }
  const double* data() const { return entries_.data(); }
  void set_zero() { entries_.assign(entries_.size(), 0.0); }

 private:
  std::size_t rows_ = 0;
  std::size_t columns_ = 0;
  std::vector<double> entries_;
};

inline constexpr std::size_t kPack = 8;  // rows in a block: one cache line of doubles

constexpr std::size_t padded(std::size_t rows) {
  return (rows + kPack - 1) / kPack * kPack;
}

/// Blocks of eight rows, each block column by column; rows are padded with zeros.
class PackedMatrix {
 public:
  PackedMatrix() = default;
  PackedMatrix(std::size_t rows, std::size_t columns)
      : rows_(rows), columns_(columns), blocks_(padded(rows) / kPack * columns) {}

  double& operator()(std::size_t row, std::size_t column) {
    return blocks_[row / kPack * columns_ + column].row[row % kPack];
  }
  double operator()(std::size_t row, std::size_t column) const {
    return blocks_[row / kPack * columns_ + column].row[row % kPack];
  }
  std::size_t rows() const { return rows_; }
  std::size_t columns() const { return columns_; }
  std::size_t blocks() const { return padded(rows_) / kPack; }
  const double* data() const { return blocks_.empty() ? nullptr : blocks_.front().row.data(); }

 private:
  struct alignas(64) Block {
    std::array<double, kPack> row{};
  };
  std::size_t rows_ = 0;
  std::size_t columns_ = 0;
  std::vector<Block> blocks_;
};

/// y = M x. `x` holds columns() values; `y` is 64-byte aligned and holds padded(rows()) values.
void multiply(const PackedMatrix& matrix, const double* x, double* y);

/// Inverse of the n x n matrix `a` (row-major, destroyed) into `inverse`; false when it is singular or not
/// finite.
bool invert(std::size_t n, std::vector<double>& a, std::vector<double>& inverse);

/// Packs the matrix [M; B] with M = (I - s J11)^-1 and B = s J21 M, where `jacobian` is [J11; J21] with
/// `implicit` columns; false when I - s J11 cannot be inverted.
bool pack_iteration_matrix(const DenseMatrix& jacobian, double s, PackedMatrix& packed);

}  // namespace duskline::plant
