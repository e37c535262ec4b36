#include "plant-model/integrate/dense_matrix.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace duskline::plant {
namespace {

// One vector register of the target, written with the compiler's portable vector type. Every lane is one
// row of the matrix, so the width changes the speed and never the result.
#if defined(__AVX512F__)
constexpr std::size_t kWidth = 8;
#elif defined(__AVX__)
constexpr std::size_t kWidth = 4;
#else
constexpr std::size_t kWidth = 2;
#endif
typedef double Vector __attribute__((vector_size(kWidth * sizeof(double)), may_alias));
constexpr std::size_t kVectorsPerBlock = kPack / kWidth;
constexpr std::size_t kBlocksAtOnce = 12 / kVectorsPerBlock;  // twelve running sums stay in registers

template <std::size_t Blocks>
void multiply_blocks(const double* matrix, std::size_t columns, const double* x, double* y) {
  constexpr std::size_t kSums = Blocks * kVectorsPerBlock;
  Vector sum[kSums] = {};
  for (std::size_t column = 0; column < columns; ++column) {
    const Vector factor = x[column] - Vector{};
#pragma GCC unroll 12
    for (std::size_t k = 0; k < kSums; ++k) {
      const std::size_t offset =
          (k / kVectorsPerBlock * columns + column) * kPack + k % kVectorsPerBlock * kWidth;
      sum[k] += *reinterpret_cast<const Vector*>(matrix + offset) * factor;
    }
  }
#pragma GCC unroll 12
  for (std::size_t k = 0; k < kSums; ++k) *reinterpret_cast<Vector*>(y + k * kWidth) = sum[k];
}

template <std::size_t Blocks>
void multiply_rest(std::size_t blocks, const double* matrix, std::size_t columns, const double* x,
                   double* y) {
  if (blocks == Blocks) return multiply_blocks<Blocks>(matrix, columns, x, y);
  if constexpr (Blocks > 1) multiply_rest<Blocks - 1>(blocks, matrix, columns, x, y);
}

// target -= factor * source
void subtract_multiple(double* __restrict target, double factor, const double* __restrict source,
                       std::size_t n) {
  for (std::size_t i = 0; i < n; ++i) target[i] -= factor * source[i];
}

}  // namespace

void multiply(const PackedMatrix& matrix, const double* x, double* y) {
  const std::size_t columns = matrix.columns();
  const double* entries = matrix.data();
  std::size_t blocks = matrix.blocks();
  for (; blocks >= kBlocksAtOnce; blocks -= kBlocksAtOnce) {
    multiply_blocks<kBlocksAtOnce>(entries, columns, x, y);
    entries += kBlocksAtOnce * columns * kPack;
    y += kBlocksAtOnce * kPack;
  }
  if (blocks > 0) multiply_rest<kBlocksAtOnce - 1>(blocks, entries, columns, x, y);
}

bool invert(std::size_t n, std::vector<double>& a, std::vector<double>& inverse) {
  // P A = L U, then L Y = I, then U Z = Y, and A^-1 = Z P: each column solves its own system, so the
  // residual A A^-1 - I stays small, which is what keeps linear invariants.
  std::vector<std::size_t> exchange(n);
  inverse.assign(n * n, 0.0);
  for (std::size_t k = 0; k < n; ++k) {
    std::size_t pivot = k;
    for (std::size_t row = k + 1; row < n; ++row) {
      if (std::abs(a[row * n + k]) > std::abs(a[pivot * n + k])) pivot = row;
    }
    exchange[k] = pivot;
    if (pivot != k) std::swap_ranges(&a[pivot * n], &a[pivot * n] + n, &a[k * n]);
    const double diagonal = a[k * n + k];
    if (!std::isfinite(diagonal) || diagonal == 0) return false;
    for (std::size_t row = k + 1; row < n; ++row) {
      const double factor = a[row * n + k] / diagonal;
      a[row * n + k] = factor;
      if (factor != 0) subtract_multiple(&a[row * n + k] + 1, factor, &a[k * n + k] + 1, n - k - 1);
    }
  }
  for (std::size_t row = 0; row < n; ++row) {
    inverse[row * n + row] = 1;
    for (std::size_t k = 0; k < row; ++k) {
      const double factor = a[row * n + k];
      if (factor != 0) subtract_multiple(&inverse[row * n], factor, &inverse[k * n], k + 1);
    }
  }
  for (std::size_t row = n; row-- > 0;) {
    for (std::size_t k = row + 1; k < n; ++k) {
      const double factor = a[row * n + k];
      if (factor != 0) subtract_multiple(&inverse[row * n], factor, &inverse[k * n], n);
    }
    const double diagonal = a[row * n + row];
    for (std::size_t column = 0; column < n; ++column) inverse[row * n + column] /= diagonal;
  }
  for (std::size_t k = n; k-- > 0;) {
    if (exchange[k] == k) continue;
    for (std::size_t row = 0; row < n; ++row) std::swap(inverse[row * n + k], inverse[row * n + exchange[k]]);
  }
  return std::isfinite(std::accumulate(inverse.begin(), inverse.end(), 0.0));
}

bool pack_iteration_matrix(const DenseMatrix& jacobian, double s, PackedMatrix& packed) {
  const std::size_t n = jacobian.columns();
  const std::size_t rows = jacobian.rows();
  std::vector<double> matrix(n * n);
  std::vector<double> inverse;
  for (std::size_t row = 0; row < n; ++row) {
    for (std::size_t column = 0; column < n; ++column) {
      matrix[row * n + column] = (row == column ? 1.0 : 0.0) - s * jacobian(row, column);
    }
  }
  if (!invert(n, matrix, inverse)) return false;
  if (packed.rows() != rows || packed.columns() != n) packed = PackedMatrix(rows, n);
  for (std::size_t row = 0; row < n; ++row) {
    for (std::size_t column = 0; column < n; ++column) packed(row, column) = inverse[row * n + column];
  }
  std::vector<double> coupled(n);
  for (std::size_t row = n; row < rows; ++row) {
    std::fill(coupled.begin(), coupled.end(), 0.0);
    for (std::size_t k = 0; k < n; ++k) {
      const double factor = s * jacobian(row, k);
      if (factor != 0) subtract_multiple(coupled.data(), -factor, &inverse[k * n], n);
    }
    for (std::size_t column = 0; column < n; ++column) packed(row, column) = coupled[column];
  }
  return true;
}

}  // namespace duskline::plant
