/// The map of a turbo machine for the report: speed lines between surge and choke, and where a run went in it.
///
/// What it is   the train of the plant file in its steady state at the suction of its design point, with coolers that are
///              50 K warmer than that; the path of a run as flow, suction and pressure ratio, which the page corrects
/// Equation     m_c = m sqrt(T/T_0) p_0/p; r = p_2/p_1; surge and choke: margin of the nearest stage 0 (by halving)
/// Symbols      m [kg/s], p [Pa], T [K] of the suction, 0: of the map; r [1]
/// Validity     machines with a surge line; similarity holds for the first stage alone, the others follow their coolers
/// Left out     the map of a fouled machine, of another gas
#pragma once

#include <string>

#include "hil-harness/report/grid.hpp"
#include "hil-harness/trace/trace_reader.hpp"
#include "plant-model/parameters.hpp"

namespace duskline::harness {

/// JSON; empty for a plant without a turbo machine.
std::string machine_text(const plant::PlantParameters& p);

/// JSON of the path; empty when the trace lacks one of its signals.
std::string machine_path_text(const TraceReader& trace, const Grid& grid);

}  // namespace duskline::harness
