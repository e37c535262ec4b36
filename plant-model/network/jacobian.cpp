// Exact Jacobians of a network: as one matrix, or block by block, where modules meet only at terminals.
#include <algorithm>

#include "plant-model/network/network.hpp"

namespace duskline::plant {
namespace {

constexpr std::size_t kWidth = PlantDual::kWidth;

/// x as numbers that depend on nothing.
std::vector<PlantDual> constants(const State& x, std::size_t n) {
  return {x.begin(), x.begin() + static_cast<std::ptrdiff_t>(n)};
}

/// Calls pass(first, last) for stretches of `seeds` that fit into a dual.
template <class Pass>
void in_passes(std::size_t seeds, Pass&& pass) {
  for (std::size_t first = 0; first < seeds; first += kWidth) pass(first, std::min(seeds, first + kWidth));
}

}  // namespace

void Network::jacobian(Board<PlantDual>& b, const State& x, DenseMatrix& j) const {
  const Division& division = layout_.division();
  std::vector<PlantDual> dual = constants(x, division.implicit), rates(division.solved());
  b.x = dual.data();
  b.dx = rates.data();
  b.dq = rates.data() + division.implicit;
  in_passes(division.implicit, [&](std::size_t first, std::size_t last) {
    for (std::size_t i = first; i < last; ++i) dual[i] = PlantDual(x[i], i - first);
    evaluate(b);
    for (std::size_t row = 0; row < rates.size(); ++row)
      for (std::size_t i = first; i < last; ++i) j(row, i) = rates[row].slope[i - first];
    for (std::size_t i = first; i < last; ++i) dual[i] = PlantDual(x[i]);
  });
}

void Network::jacobian(Board<PlantDual>& b, const State& x, BorderedJacobian& j) const {
  if (j.modules.empty()) return jacobian(b, x, j.border);
  const Division& division = layout_.division();
  const std::size_t shared = j.border.columns(), before = division.implicit - shared;
  std::vector<PlantDual> dual = constants(x, division.implicit), rates(division.solved());
  b.x = dual.data();
  b.dx = rates.data();
  b.dq = rates.data() + division.implicit;

  std::size_t sums = 0;
  b.sums.each([&sums](PlantDual&) { ++sums; });
  std::vector<double> value(sums);  // what all modules add up to
  DenseMatrix by_border(sums, shared);
  std::vector<DenseMatrix> by_module;

  // each module by its own states and those of the border, which it sees through what the terminals show
  std::size_t start = 0;
  for (std::size_t k = 0; k < modules_; ++k) {
    BorderedJacobian::Module& m = j.modules[k];
    const std::size_t own = m.own.rows();
    DenseMatrix& by_own = by_module.emplace_back(sums, own);
    const auto place = [&](std::size_t seed) { return seed < own ? start + seed : before + seed - own; };
    in_passes(own + shared, [&](std::size_t first, std::size_t last) {
      for (std::size_t s = first; s < last; ++s) dual[place(s)] = PlantDual(x[place(s)], s - first);
      b.sums.clear();
      for (std::size_t p = modules_; p < parts_.size(); ++p) parts_[p]->show(b);
      parts_[k]->flow(b);
      for (std::size_t s = first; s < last; ++s)
        for (std::size_t row = 0; row < own; ++row)
          (s < own ? m.own(row, s) : m.by_border(row, s - own)) = rates[start + row].slope[s - first];
      std::size_t n = 0;
      b.sums.each([&](PlantDual& sum) {
        if (first == 0) value[n] += sum.value;
        for (std::size_t s = first; s < last; ++s) {
          if (s < own)
            by_own(n, s) = sum.slope[s - first];
          else
            by_border(n, s - own) += sum.slope[s - first];
        }
        ++n;
      });
      for (std::size_t s = first; s < last; ++s) dual[place(s)] = PlantDual(x[place(s)]);
    });
    start += own;
  }

  // what is shared, by its own states and by the sums
  DenseMatrix by_sum(j.border.rows(), sums);
  in_passes(shared + sums, [&](std::size_t first, std::size_t last) {
    const auto seeded = [&](double v, std::size_t seed) {
      return seed >= first && seed < last ? PlantDual(v, seed - first) : PlantDual(v);
    };
    for (std::size_t i = 0; i < shared; ++i) dual[before + i] = seeded(x[before + i], i);
    std::size_t n = 0;
    b.sums.each([&](PlantDual& sum) {
      sum = seeded(value[n], shared + n);
      ++n;
    });
    for (std::size_t p = modules_; p < parts_.size(); ++p) parts_[p]->show(b);
    for (std::size_t p = modules_; p < parts_.size(); ++p) parts_[p]->flow(b);
    for (std::size_t p = modules_; p < parts_.size(); ++p) parts_[p]->settle(b);
    cross(b);
    for (std::size_t row = 0; row < j.border.rows(); ++row)
      for (std::size_t s = first; s < last; ++s)
        (s < shared ? j.border(row, s) : by_sum(row, s - shared)) = rates[before + row].slope[s - first];
  });
  const auto chain = [&by_sum](const DenseMatrix& sum_by, DenseMatrix& to) {
    for (std::size_t row = 0; row < to.rows(); ++row)
      for (std::size_t n = 0; n < sum_by.rows(); ++n) {
        if (by_sum(row, n) == 0.0) continue;
        for (std::size_t column = 0; column < to.columns(); ++column)
          to(row, column) += by_sum(row, n) * sum_by(n, column);
      }
  };
  chain(by_border, j.border);
  for (std::size_t k = 0; k < modules_; ++k) chain(by_module[k], j.modules[k].to_border);
}

}  // namespace duskline::plant
