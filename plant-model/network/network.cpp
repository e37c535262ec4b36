#include "plant-model/network/network.hpp"

#include "plant-model/compressors/intake.hpp"
#include "plant-model/parts/frame.hpp"
#include "plant-model/parts/gas_volume.hpp"
#include "plant-model/parts/header_valves.hpp"
#include "plant-model/parts/stack_module.hpp"

namespace duskline::plant {

namespace {

std::unique_ptr<const Part> stack_module(Layout& layout, int division, std::size_t number,
                                         const std::string& prefix, const ModuleTerminals& t) {
  if (division == kCoarseDivision)
    return std::make_unique<StackModule<kCoarseSegments>>(layout, number, prefix, t);
  if (division == kFineDivision)
    return std::make_unique<StackModule<kFineSegments>>(layout, number, prefix, t);
  return std::make_unique<StackModule<kSegments>>(layout, number, prefix, t);
}

GasVolumeParameters plenum(const PlantParameters& p) {
  return {p.flow.plenum_volume, p.heat.plenum_heat_capacity, p.heat.plenum_conductance};
}
GasVolumeParameters feed_header(const PlantParameters& p) {
  return {p.headers.feed_volume, p.headers.feed_heat_capacity, p.headers.feed_conductance};
}
GasVolumeParameters exhaust_header(const PlantParameters& p) {
  return {p.headers.exhaust_volume, p.headers.exhaust_heat_capacity, p.headers.exhaust_conductance};
}
GasVolumeParameters product_header(const PlantParameters& p) {
  return {p.headers.product_volume, p.headers.product_heat_capacity, p.headers.product_conductance};
}

}  // namespace

Network::Network(const PlantForm& form, int division) : modules_(form.modules) {
  const bool headers = has_headers(form);
  const GasTerminal feed = gas_terminal(), suction = gas_terminal();
  const HeatTerminal housing = heat_terminal();
  ModuleTerminals ends{feed, suction, housing, headers};
  if (headers) {
    ends.exhaust = gas_terminal();
    ends.product = gas_terminal();
  }
  for (std::size_t n = 0; n < modules_; ++n) {
    const std::string prefix = modules_ == 1 ? "" : "module[" + std::to_string(n + 1) + "].";
    parts_.push_back(stack_module(layout_, division, n, prefix, ends));
  }
  if (headers) {
    const auto add = [&](Volume volume, const char* name, GasVolume::Read read, GasTerminal here) {
      parts_.push_back(std::make_unique<GasVolume>(layout_, volume, name, 1e-5, read, here, housing));
    };
    add(Volume::feed, "feed_header", feed_header, feed);
    add(Volume::exhaust, "exhaust_header", exhaust_header, ends.exhaust);
    add(Volume::product, "product_header", product_header, ends.product);
    parts_.push_back(std::make_unique<HeaderValves>(
        layout_, HeaderTerminals{feed, ends.exhaust, ends.product, suction, housing}));
  } else {
    parts_.push_back(
        std::make_unique<GasVolume>(layout_, Volume::feed, "plenum", 1e-5, plenum, feed, housing));
  }
  for (const CompressorKind& kind : kCompressorKinds)
    if (kind.intake == form.intake) parts_.push_back(kind.make(layout_, {suction, feed, housing}));
  parts_.push_back(std::make_unique<Frame>(layout_, housing));
}

template <class S>
Board<S> Network::board() const {
  Board<S> b;
  b.module_commands.resize(modules_);
  b.gas.resize(gas_terminals_);
  b.temperature.resize(heat_terminals_);
  b.sums.gas.resize(gas_terminals_);
  b.sums.heat.resize(heat_terminals_);
  return b;
}

template <class S>
void Network::evaluate(Board<S>& b) const {
  b.sums.clear();
  for (const auto& part : parts_) part->show(b);
  for (const auto& part : parts_) part->flow(b);
  for (const auto& part : parts_) part->settle(b);
  cross(b);
}

template <class S>
void Network::cross(Board<S>& b) {
  const auto atoms = atoms_in(b.sums.surroundings.amount);
  for (std::size_t e = 0; e < kElements; ++e) b.dq[at::atoms + e] = atoms[e];
  b.dq[at::energy] = b.sums.bus + b.sums.surroundings.enthalpy;
  b.dq[at::oxygen] = b.sums.oxygen;
  b.dq[at::product] = b.sums.product;
  b.dq[at::bus_energy] = b.sums.bus;
}

template Board<double> Network::board() const;
template Board<PlantDual> Network::board() const;
template void Network::cross(Board<double>&);
template void Network::cross(Board<PlantDual>&);
template void Network::evaluate(Board<double>&) const;
template void Network::evaluate(Board<PlantDual>&) const;

void Network::command(Board<double>& b) const {
  for (const auto& part : parts_) part->command(b);
}

Holdings Network::holdings(const ParameterView& p, const State& x) const {
  Holdings h;
  for (const auto& part : parts_) part->hold(p, x.data(), x.data() + layout_.first_slow(), h);
  return h;
}

State Network::start(const ParameterView& p, const Start& s) const {
  State x(layout_.states());
  for (const auto& part : parts_) part->start(p, s, x.data(), x.data() + layout_.first_slow());
  return x;
}

}  // namespace duskline::plant
