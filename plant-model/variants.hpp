/// Variants: parts of the plant for which more than one law is in use, and which of them a plant has.
///
/// What it is   one number a part; one dictionary of all variants, whose first row of each part is the usual one
/// Validity     the usual variants give exactly the plant without variants; where they meet, all variants may be combined
/// Source       each row names its own; sizes that stand behind a variant are constants of its header
#pragma once

#include <string_view>

namespace duskline::plant {

enum Transport : int { kFreeGas, kRibs };
enum Drift : int { kOhmicDrift, kKineticDrift, kContactLoss };
enum Exhaust : int { kCooledExhaust, kHotExhaust };
enum Friction : int { kSteadyFriction, kLoadFriction };
enum Insulation : int { kOpacified, kConducting, kRadiating };
enum ColumnDivision : int { kUsualDivision, kCoarseDivision, kFineDivision };

struct Variants {
  int transport{kFreeGas};
  int drift{kOhmicDrift};
  int exhaust{kCooledExhaust};
  int friction{kSteadyFriction};
  int insulation{kOpacified};
  int division{kUsualDivision};
};

/// A part that has variants.
struct VariantPart {
  std::string_view name, meaning;
  int Variants::*choice;
};
inline constexpr VariantPart kVariantParts[] = {
    {"transport", "how gas reaches the reaction at the cathode", &Variants::transport},
    {"drift", "what hours of production change in a cell", &Variants::drift},
    {"exhaust", "how warm the exhaust reaches its aperture and the recycle valve", &Variants::exhaust},
    {"friction", "what the friction of the compressor depends on", &Variants::friction},
    {"insulation", "how heat passes the insulation", &Variants::insulation},
    {"division", "how finely each cell is divided along its flow, for gas, current and temperature",
     &Variants::division},
};

struct Variant {
  int Variants::*part;
  int value;
  std::string_view word, what, equation, source, left_out;
};
inline constexpr Variant kVariants[] = {
    {&Variants::transport, kFreeGas, "free", "one diffusion length for the whole cell",
     "u = x_CO + i d, w = x_CO2 - i d", "cell.hpp", "ribs and contact islands"},
    {&Variants::transport, kRibs, "ribs",
     "gas under ribs comes from the side: the voltage sees the mean of a cell, carbon the middle of a rib",
     "d_mean = d (1 + c b^2/(3 h L)); at the middle of a rib w = w_e^2/(w_e + i d b^2/(2 h L)), what w loses "
     "u gains",
     "one-dimensional diffusion with a sink (Bird, Stewart, Lightfoot); sizes are estimates (stack/ribs.hpp)",
     "spread of current between rib and channel"},
    {&Variants::drift, kOhmicDrift, "ohmic", "the resistance of a cell rises", "r = r_0 + a", "limits.hpp",
     "everything else that ages"},
    {&Variants::drift, kKineticDrift, "kinetic", "the exchange currents of both electrodes fall",
     "i_0 = i_00/g, g = 1 + a/a_k, so that the voltage at 3000 A/m2 rises as with ohmic drift",
     "Butler-Volmer, linear in g; coarsening of nickel lowers the exchange current (common practice)",
     "different ageing of the two electrodes"},
    {&Variants::drift, kContactLoss, "contact",
     "a share of the area loses contact, the rest carries its current",
     "i' = g i: r = g r_0, i_0 = i_00/g, d = g d_0, g = 1 + a/a_c, voltage at 3000 A/m2 as with ohmic drift",
     "the same current through less area", "islands of current at the edge of what is left"},
    {&Variants::exhaust, kCooledExhaust, "cooled",
     "an ideal cooler: exhaust and recycle at housing temperature", "T = T_housing", "module_flows.hpp",
     "size of the cooler"},
    {&Variants::exhaust, kHotExhaust, "hot", "no cooler: exhaust and recycle as the recuperator leaves them",
     "T = T_recuperator, by repeated substitution", "ISO 9300: p grows with sqrt(T) at the same molar flow",
     "heat that the line loses, warmer gas in the compressor's suction"},
    {&Variants::friction, kSteadyFriction, "steady", "friction torque independent of the load", "tau = tau_c",
     "scroll.hpp", "load and temperature"},
    {&Variants::friction, kLoadFriction, "load",
     "part of the friction torque follows the axial load of the scroll",
     "tau = tau_c (1 - f + f (p_d - p_s)/p_0), f = 0.6, p_0 = 41 kPa",
     "estimate: Coulomb friction of a thrust bearing, whose load is pressure difference times area",
     "lubrication, temperature"},
    {&Variants::insulation, kOpacified, "opacified", "conduction with a radiative part",
     "G = G_0 (1 + b T^3)", "housing.hpp, Rosseland limit", "gas pressure in the pores"},
    {&Variants::insulation, kConducting, "conducting",
     "conduction alone, the same heat at working temperatures", "G = G_0 (1 + b T_w^3)", "Fourier's law",
     "radiation"},
    {&Variants::insulation, kRadiating, "radiating",
     "radiation between shields alone, the same at working temperatures", "q = k (T_a^4 - T_b^4)",
     "Stefan-Boltzmann", "conduction"},
    {&Variants::division, kUsualDivision, "usual", "six segments", "V(i_k, x_k) = V, k = 1..6", "column.hpp",
     "error of the division: the margin is 4 to 6 mV lower than of many segments"},
    {&Variants::division, kCoarseDivision, "coarse", "three segments", "V(i_k, x_k) = V, k = 1..3",
     "first order in the length of a segment", "the margin is 7 to 12 mV lower than of many segments"},
    {&Variants::division, kFineDivision, "fine", "twelve segments", "V(i_k, x_k) = V, k = 1..12",
     "first order in the length of a segment", "the margin is 2 to 3 mV lower than of many segments"},
};

/// The row of what is chosen for a part.
constexpr const Variant& chosen(const Variants& variants, const VariantPart& part) {
  for (const Variant& v : kVariants)
    if (v.part == part.choice && v.value == variants.*part.choice) return v;
  throw "there is no such variant";
}

/// Number of variants of a part.
constexpr int variants_of(int Variants::*part) {
  int n = 0;
  for (const Variant& v : kVariants) n += v.part == part ? 1 : 0;
  return n;
}
/// Each part has at least two, numbered in the order of their rows.
constexpr bool variants_in_order() {
  for (const VariantPart& part : kVariantParts) {
    int next = 0;
    for (const Variant& v : kVariants)
      if (v.part == part.choice && v.value != next++) return false;
    if (next < 2) return false;
  }
  return true;
}
static_assert(variants_in_order());
static_assert(sizeof(Variants) == sizeof(kVariantParts) / sizeof(VariantPart) * sizeof(int),
              "a part has no row");

}  // namespace duskline::plant
