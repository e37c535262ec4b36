#include "plant-model/instruments/fault_table.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "plant-model/instruments/fault_rows_headers.hpp"
#include "plant-model/instruments/fault_rows_instruments.hpp"
#include "plant-model/instruments/fault_rows_other.hpp"
#include "plant-model/instruments/fault_rows_plant.hpp"

namespace duskline::plant {

std::span<const FaultRow> fault_table() {
  static const auto table = [] {
    std::vector<FaultRow> rows(std::begin(kPlantFaults), std::end(kPlantFaults));
    rows.insert(rows.end(), std::begin(kInstrumentFaults), std::end(kInstrumentFaults));
    rows.insert(rows.end(), std::begin(kHeaderFaults), std::end(kHeaderFaults));
    rows.insert(rows.end(), std::begin(kOtherFaults), std::end(kOtherFaults));
    return rows;
  }();
  return table;
}

const FaultRow* find_fault(std::string_view name) {
  const auto table = fault_table();
  const auto found =
      std::find_if(table.begin(), table.end(), [&](const FaultRow& row) { return row.name == name; });
  return found == table.end() ? nullptr : &*found;
}

FaultEvent usual_fault(const FaultRow& row, double at) {
  return {at, std::string(row.name), row.size, row.item, row.shape, row.rise, row.length, {}};
}

bool fault_acts(const FaultEvent& e, double t) {
  return t >= e.at && !(t >= e.at + e.length);
}

double fault_share(const FaultEvent& e, double t) {
  if (!fault_acts(e, t)) return 0.0;
  double share = 1.0;
  if (e.shape != FaultShape::step) share = std::min(share, (t - e.at) / e.rise);
  if (e.shape == FaultShape::pulse && !std::isnan(e.length))
    share = std::min(share, (e.at + e.length - t) / e.rise);
  return share;
}

}  // namespace duskline::plant
