#include "plant-model/network/layout.hpp"

#include <numeric>
#include <stdexcept>

namespace duskline::plant {

Layout::Layout() {
  for (const auto element : kElementNames)
    quadratures_.push_back({"boundary." + std::string(element), "mol", 1e-3, -1e9, 1e9});
  quadratures_.push_back({"boundary.energy", "J", 10, -1e15, 1e15});
  quadratures_.push_back({"boundary.oxygen", "mol", 1e-3, -1e9, 1e9});
  quadratures_.push_back({"boundary.product", "mol", 1e-3, -1e9, 1e9});
  quadratures_.push_back({"boundary.bus_energy", "J", 10, -1e15, 1e15});
  division_.coupled = quadratures_.size();
}

std::size_t Layout::add(std::vector<StateInfo>& kind, const StateInfo& info) {
  kind.push_back(info);
  division_.implicit = implicit_.size();
  division_.slow = slow_.size();
  return kind.size() - 1;
}

namespace {

StateInfo item(StateInfo info, std::size_t i) {
  info.name += '[';
  info.name += std::to_string(i + 1);
  info.name += ']';
  return info;
}

}  // namespace

std::size_t Layout::implicit_each(std::size_t n, const StateInfo& info) {
  const std::size_t first = implicit_.size();
  for (std::size_t i = 0; i < n; ++i) implicit(item(info, i));
  return first;
}

std::size_t Layout::slow_each(std::size_t n, const StateInfo& info) {
  const std::size_t first = slow_.size();
  for (std::size_t i = 0; i < n; ++i) slow(item(info, i));
  return first;
}

std::size_t Layout::gas(const std::string& store, double tolerance) {
  const std::size_t first = implicit_.size();
  for (const auto species : kSpeciesNames)
    implicit({store + "." + std::string(species), "mol", tolerance, -1e-4, 1e3});
  return first;
}

void Layout::end_module() {
  const auto& m = division_.modules;
  const std::size_t before = std::accumulate(m.begin(), m.end(), std::size_t{0});
  division_.modules.push_back(implicit_.size() - before);
}

std::vector<StateInfo> Layout::table() const {
  std::vector<StateInfo> all = implicit_;
  all.insert(all.end(), quadratures_.begin(), quadratures_.end());
  all.insert(all.end(), slow_.begin(), slow_.end());
  return all;
}

std::size_t Layout::index(std::string_view name) const {
  std::size_t i = 0;
  for (const auto* kind : {&implicit_, &quadratures_, &slow_})
    for (const StateInfo& info : *kind) {
      if (info.name == name) return i;
      ++i;
    }
  throw std::out_of_range("no state is named " + std::string(name));
}

}  // namespace duskline::plant
