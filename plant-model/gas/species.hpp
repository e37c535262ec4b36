/// The gases that the plant moves, and the solids that can form in it.
///
/// One order for every composition vector in the project: mole numbers, mole fractions and molar flows
/// are arrays of kSpecies in this order. Atomic make-up is given here and nowhere else.
/// Source of molar masses: IUPAC standard atomic weights 2021 (abridged).
#pragma once

#include <array>
#include <cstddef>
#include <string_view>

namespace duskline::plant {

enum Species : std::size_t { CO2, CO, O2, N2, Ar, kSpecies };

inline constexpr std::array<std::string_view, kSpecies> kSpeciesNames{"CO2", "CO", "O2", "N2", "Ar"};

/// Molar mass, kg/mol.
inline constexpr std::array<double, kSpecies> kMolarMass{44.009e-3, 28.010e-3, 31.998e-3, 28.014e-3,
                                                         39.95e-3};

/// The chemical elements whose atoms are audited at every step.
enum Element : std::size_t { kCarbon, kOxygen, kNitrogen, kArgon, kElements };

inline constexpr std::array<std::string_view, kElements> kElementNames{"C", "O", "N", "Ar"};

/// Atoms of each element in one molecule of each species.
inline constexpr std::array<std::array<double, kElements>, kSpecies> kAtoms{
    {{1, 2, 0, 0}, {1, 1, 0, 0}, {0, 2, 0, 0}, {0, 0, 2, 0}, {0, 0, 0, 1}}};

template <class S>
using Composition = std::array<S, kSpecies>;

}  // namespace duskline::plant
