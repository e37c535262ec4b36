/// The kinds of compressor, each a part that takes air through the filter and gas from the suction to the discharge.
///
/// What it is   the table of kinds; a new kind is its file in this folder, a row here and its section in a plant file
/// Validity     the part reads what flows into the suction terminal, so it stands behind all that recycle there
/// Left out     kinds other than scroll
#pragma once

#include <memory>
#include <string_view>

#include "plant-model/network/part.hpp"

namespace duskline::plant {

/// Where an intake train is connected.
struct IntakeTerminals {
  GasTerminal suction;    ///< a node without volume
  GasTerminal discharge;  ///< a gas volume
  HeatTerminal frame;     ///< takes the heat of the shell
};

std::unique_ptr<Part> scroll_train(Layout& layout, const IntakeTerminals& terminals);

struct CompressorKind {
  std::string_view word;
  std::unique_ptr<Part> (*make)(Layout& layout, const IntakeTerminals& terminals);
};
inline constexpr CompressorKind kCompressorKinds[] = {
    {"scroll", scroll_train},
};

}  // namespace duskline::plant
