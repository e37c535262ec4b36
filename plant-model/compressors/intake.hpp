/// The kinds of compressor, each a part that takes air through the filter and gas from the suction to the discharge.
///
/// What it is   the table of kinds; a new kind is its file in this folder, a row here and its section in a plant file
/// Validity     the part reads what flows into the suction terminal, so it stands behind all that recycle there
/// Left out     kinds other than these
#pragma once

#include <memory>

#include "plant-model/network/part.hpp"

namespace duskline::plant {

/// Where an intake train is connected.
struct IntakeTerminals {
  GasTerminal suction;    ///< a node without volume
  GasTerminal discharge;  ///< a gas volume
  HeatTerminal frame;     ///< takes the heat of the shell
};

std::unique_ptr<Part> scroll_train(Layout& layout, const IntakeTerminals& terminals);
std::unique_ptr<Part> turbo_intake(Layout& layout, const IntakeTerminals& terminals);
std::unique_ptr<Part> scroll_bank(Layout& layout, const IntakeTerminals& terminals);
std::unique_ptr<Part> lobe_train(Layout& layout, const IntakeTerminals& terminals);
std::unique_ptr<Part> freezer(Layout& layout, const IntakeTerminals& terminals);

struct CompressorKind {
  Intake intake;
  std::unique_ptr<Part> (*make)(Layout& layout, const IntakeTerminals& terminals);
};
inline constexpr CompressorKind kCompressorKinds[] = {
    {kScroll, scroll_train},    {kCentrifugal, turbo_intake}, {kAxial, turbo_intake},
    {kScrollBank, scroll_bank}, {kLobe, lobe_train},          {kFreezer, freezer},
};

}  // namespace duskline::plant
