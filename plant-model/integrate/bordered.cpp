#include "plant-model/integrate/bordered.hpp"

#include <algorithm>
#include <numeric>

namespace duskline::plant {
namespace {

/// Room for `rows` values of a product.
double* sized(BorderedSolution::Room::Lines& lines, std::size_t rows) {
  lines.resize(std::max(lines.size(), padded(rows) / kPack));
  return lines.front().row.data();
}

/// to += factor a b
void add_product(double factor, const DenseMatrix& a, const DenseMatrix& b, DenseMatrix& to) {
  for (std::size_t row = 0; row < a.rows(); ++row)
    for (std::size_t k = 0; k < a.columns(); ++k) {
      const double by = factor * a(row, k);
      if (by == 0) continue;
      const double* source = b.data() + k * b.columns();
      double* target = to.data() + row * to.columns();
      for (std::size_t column = 0; column < b.columns(); ++column) target[column] += by * source[column];
    }
}

void copy(const DenseMatrix& from, std::size_t first_row, PackedMatrix& to) {
  for (std::size_t row = 0; row < from.rows(); ++row)
    for (std::size_t column = 0; column < from.columns(); ++column)
      to(first_row + row, column) = from(row, column);
}

}  // namespace

BorderedJacobian::BorderedJacobian(const Division& d) {
  std::size_t shared = d.implicit;
  if (d.modules.size() > 1) shared -= std::accumulate(d.modules.begin(), d.modules.end(), std::size_t{0});
  const std::size_t rows = shared + d.coupled;
  if (d.modules.size() > 1)
    for (const std::size_t n : d.modules)
      modules.push_back({DenseMatrix(n, n), DenseMatrix(n, shared), DenseMatrix(rows, n)});
  border = DenseMatrix(rows, shared);
}

void BorderedJacobian::set_zero() {
  for (Module& m : modules)
    for (DenseMatrix* part : {&m.own, &m.by_border, &m.to_border}) part->set_zero();
  border.set_zero();
}

DenseMatrix BorderedJacobian::whole() const {
  std::size_t before = 0;  // the border's first row and column
  for (const Module& m : modules) before += m.own.rows();
  DenseMatrix all(before + border.rows(), before + border.columns());
  const auto place = [&all](const DenseMatrix& part, std::size_t row, std::size_t column) {
    for (std::size_t r = 0; r < part.rows(); ++r)
      for (std::size_t c = 0; c < part.columns(); ++c) all(row + r, column + c) = part(r, c);
  };
  std::size_t first = 0;
  for (const Module& m : modules) {
    place(m.own, first, first);
    place(m.by_border, first, before);
    place(m.to_border, before, first);
    first += m.own.rows();
  }
  place(border, before, before);
  return all;
}

bool BorderedSolution::make(const BorderedJacobian& j, double s) {
  border_ = j.border.columns();
  coupled_ = j.border.rows() - border_;
  modules_.resize(j.modules.size());
  // D and what comes back to the border through the modules
  DenseMatrix shared = j.border;
  for (std::size_t k = 0; k < modules_.size(); ++k) {
    const BorderedJacobian::Module& from = j.modules[k];
    Module& m = modules_[k];
    const std::size_t n = from.own.rows();
    std::vector<double> matrix(n * n), inverse;
    for (std::size_t row = 0; row < n; ++row)
      for (std::size_t column = 0; column < n; ++column)
        matrix[row * n + column] = (row == column ? 1.0 : 0.0) - s * from.own(row, column);
    if (!invert(n, matrix, inverse)) return false;
    DenseMatrix p(n, n), q(n, border_), back(from.to_border.rows(), n);
    std::copy(inverse.begin(), inverse.end(), p.data());
    add_product(s, p, from.by_border, q);
    add_product(s, from.to_border, p, back);
    add_product(1.0, from.to_border, q, shared);
    m.own = PackedMatrix(n + back.rows(), n);
    copy(p, 0, m.own);
    copy(back, n, m.own);
    m.outer = PackedMatrix(n, border_);
    copy(q, 0, m.outer);
  }
  return pack_iteration_matrix(shared, s, inner_);
}

void BorderedSolution::solve(const double* right, double* k, Room& room) const {
  std::size_t before = 0;
  for (const Module& m : modules_) before += m.own.columns();
  const double* shared = right + before;
  double* sums = sized(room.border, border_ + coupled_);
  if (!modules_.empty()) {
    room.products.resize(modules_.size());
    room.right.assign(shared, shared + border_);
    std::size_t first = 0;
    for (std::size_t n = 0; n < modules_.size(); ++n) {
      const Module& m = modules_[n];
      double* product = sized(room.products[n], m.own.rows());
      multiply(m.own, right + first, product);
      first += m.own.columns();
      for (std::size_t i = 0; i < border_; ++i) room.right[i] += product[m.own.columns() + i];
    }
    shared = room.right.data();
  }
  multiply(inner_, shared, sums);
  for (std::size_t i = 0; i < coupled_; ++i) sums[border_ + i] += right[before + border_ + i];
  std::size_t first = 0;
  for (std::size_t n = 0; n < modules_.size(); ++n) {
    const Module& m = modules_[n];
    const std::size_t size = m.own.columns();
    const double* product = room.products[n].front().row.data();
    double* by_border = sized(room.outer, size);
    multiply(m.outer, sums, by_border);
    for (std::size_t i = 0; i < coupled_; ++i) sums[border_ + i] += product[size + border_ + i];
    for (std::size_t i = 0; i < size; ++i) k[first + i] = product[i] + by_border[i];
    first += size;
  }
  std::copy_n(sums, border_ + coupled_, k + before);
}

}  // namespace duskline::plant
