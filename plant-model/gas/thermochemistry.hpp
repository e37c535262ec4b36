/// Thermochemistry of the gases and solids as ideal substances.
///
/// What it is   molar heat capacity, enthalpy, entropy and Gibbs energy of one species at a temperature
/// Equation     cp/R = a1 + a2 T + a3 T^2 + a4 T^3 + a5 T^4 and its integrals (seven-term NASA form)
/// Symbols      cp, s [J/mol/K], h, g [J/mol], T [K]; h includes the enthalpy of formation at 298.15 K; s, g
///              at 1 bar
/// Validity     gases 200-3500 K, held to a few per cent down to 150 K; C 200-1800 K; Ni 200-1700 K; NiO
///              298-1700 K
/// Source       coefficients: McBride, Gordon, Reno, NASA TM-4513 (1993); NiO fitted to heat capacities of
///              Hemingway, Am. Mineral. 75 (1990) 781 with formation data of the OECD-NEA TDB vol. 6 (2005)
/// Left out     real-gas terms (Z > 0.999 below 1 bar); the second nickel range of the 631 K lambda point
///              keeps its fit
#pragma once

#include "plant-model/gas/constants.hpp"
#include "plant-model/gas/species.hpp"
#include "plant-model/scalar.hpp"

namespace duskline::plant {

/// Coefficients of one temperature range, a1..a7.
using NasaRange = std::array<double, 7>;

/// Two ranges that join at `seam` (K).
struct NasaFit {
  double seam;
  NasaRange low, high;
};

inline constexpr NasaRange kArgonRange{2.5, 0, 0, 0, 0, -745.375, 4.37967491};

/// Fits of the gases in the order of Species.
inline constexpr std::array<NasaFit, kSpecies> kGasFits{{
    {1000.0,
     {2.35677352, 8.98459677e-03, -7.12356269e-06, 2.45919022e-09, -1.43699548e-13, -4.83719697e+04,
      9.90105222},
     {4.63659493, 2.74131991e-03, -9.95828531e-07, 1.60373011e-10, -9.16103468e-15, -4.90249341e+04,
      -1.93534855}},
    {1000.0,
     {3.57953347, -6.1035368e-04, 1.01681433e-06, 9.07005884e-10, -9.04424499e-13, -1.4344086e+04,
      3.50840928},
     {3.04848583, 1.35172818e-03, -4.85794075e-07, 7.88536486e-11, -4.69807489e-15, -1.42661171e+04,
      6.0170979}},
    {1000.0,
     {3.78245636, -2.99673415e-03, 9.847302e-06, -9.68129508e-09, 3.24372836e-12, -1063.94356, 3.65767573},
     {3.66096083, 6.56365523e-04, -1.41149485e-07, 2.05797658e-11, -1.29913248e-15, -1215.97725, 3.41536184}},
    {1000.0,
     {3.53100528, -1.23660987e-04, -5.02999437e-07, 2.43530612e-09, -1.40881235e-12, -1046.97628, 2.96747468},
     {2.95257626, 1.39690057e-03, -4.92631691e-07, 7.86010367e-11, -4.60755321e-15, -923.948645, 5.87189252}},
    {1000.0, kArgonRange, kArgonRange},
}};

inline constexpr NasaFit kCarbonFit{
    1000.0,
    {-0.310872072, 4.40353686e-03, 1.90394118e-06, -6.38546966e-09, 2.98964248e-12, -108.650794, 1.11382953},
    {1.45571829, 1.71702216e-03, -6.97562786e-07, 1.35277032e-10, -9.67590652e-15, -695.138814, -8.52583033}};
/// Nickel above its Curie point in two ranges; below 631 K use kNickelLowRange.
inline constexpr NasaFit kNickelFit{
    1000.0,
    {485.484877, -2.3039538, 4.10622634e-03, -3.23350101e-06, 9.49617381e-10, -8.11709085e+04, -2254.2896},
    {9.58208572, -0.0178945122, 1.97185112e-05, -9.11957952e-09, 1.58728609e-12, -2617.82185, -47.4612393}};
inline constexpr NasaRange kNickelLowRange{3.92097614,     -0.0234184719, 1.34230145e-04, -2.75971639e-07,
                                           1.98530861e-10, -862.387206,   -15.6856186};
inline constexpr NasaFit kNickelOxideFit{
    519.0,
    {-11.0888551, 0.104783193, -1.76233909e-04, -4.55861445e-08, 2.59979337e-10, -2.865591e+04, 44.2793319},
    {14.1104955, -0.0258460074, 3.09034425e-05, -1.55323209e-08, 2.90441034e-12, -3.240270e+04,
     -70.10284835}};

template <class S>
S heat_capacity(const NasaRange& a, const S& T) {
  return kGasConstant * (a[0] + T * (a[1] + T * (a[2] + T * (a[3] + T * a[4]))));
}
template <class S>
S enthalpy(const NasaRange& a, const S& T) {
  return kGasConstant *
         (a[5] + T * (a[0] + T * (a[1] / 2 + T * (a[2] / 3 + T * (a[3] / 4 + T * (a[4] / 5))))));
}
/// `log_T` is ln(T / K), given so that several species share it.
template <class S>
S entropy(const NasaRange& a, const S& T, const S& log_T) {
  return kGasConstant * (a[0] * log_T + T * (a[1] + T * (a[2] / 2 + T * (a[3] / 3 + T * (a[4] / 4)))) + a[6]);
}

/// f of the range that holds at T; lanes on both sides of the seam take both.
template <class S, class F>
S in_range(const NasaFit& fit, const S& T, F&& f) {
  const auto cold = less(T, fit.seam);
  if (none(cold)) return f(fit.high);
  if (all(cold)) return f(fit.low);
  return pick(cold, f(fit.low), f(fit.high));
}

/// Molar heat capacity at constant pressure, J/mol/K.
template <class S>
S heat_capacity(const NasaFit& fit, const S& T) {
  return in_range(fit, T, [&T](const NasaRange& a) { return heat_capacity(a, T); });
}
/// Molar enthalpy with formation, J/mol.
template <class S>
S enthalpy(const NasaFit& fit, const S& T) {
  return in_range(fit, T, [&T](const NasaRange& a) { return enthalpy(a, T); });
}
/// Molar entropy at 1 bar, J/mol/K.
template <class S>
S entropy(const NasaFit& fit, const S& T, const S& log_T) {
  return in_range(fit, T, [&](const NasaRange& a) { return entropy(a, T, log_T); });
}
/// Molar Gibbs energy at 1 bar, J/mol.
template <class S>
S gibbs_energy(const NasaFit& fit, const S& T, const S& log_T) {
  return in_range(fit, T, [&](const NasaRange& a) { return enthalpy(a, T) - T * entropy(a, T, log_T); });
}

/// Enthalpies of all gases at one temperature, J/mol.
template <class S>
Composition<S> gas_enthalpies(const S& T) {
  Composition<S> h;
  for (std::size_t i = 0; i < kSpecies; ++i) h[i] = enthalpy(kGasFits[i], T);
  return h;
}
/// Heat capacities at constant pressure of all gases at one temperature, J/mol/K.
template <class S>
Composition<S> gas_heat_capacities(const S& T) {
  Composition<S> cp;
  for (std::size_t i = 0; i < kSpecies; ++i) cp[i] = heat_capacity(kGasFits[i], T);
  return cp;
}

/// Sum over species of amount (or flow) times molar property.
template <class A, class B>
auto dot(const Composition<A>& a, const Composition<B>& b) {
  using S = std::conditional_t<std::is_same_v<A, double>, B, A>;
  S sum = a[0] * b[0];
  for (std::size_t i = 1; i < kSpecies; ++i) sum = sum + a[i] * b[i];
  return sum;
}
/// Temperature at which a mixture has this molar enthalpy, K; `guess` within some 100 K of it. With duals the
/// last step carries the exact derivatives (implicit function theorem).
template <class S>
S temperature_at(const Composition<S>& share, const S& molar_enthalpy, double guess) {
  NasaFit mixture{kGasFits[0].seam, {}, {}};  // the gases share their seam
  for (std::size_t i = 0; i < kSpecies; ++i)
    for (std::size_t k = 0; k < mixture.low.size(); ++k) {
      mixture.low[k] += value_of(share[i]) * kGasFits[i].low[k];
      mixture.high[k] += value_of(share[i]) * kGasFits[i].high[k];
    }
  double T = guess;
  for (int n = 0; n < 20; ++n) {
    const double step = (value_of(molar_enthalpy) - enthalpy(mixture, T)) / heat_capacity(mixture, T);
    T += step;
    if (!(std::abs(step) > 1e-6)) break;  // the error after a step of 1e-6 K is below 1e-12 K
  }
  if constexpr (std::is_same_v<S, double>) {
    return T;
  } else {
    Composition<double> h;
    for (std::size_t i = 0; i < kSpecies; ++i) h[i] = enthalpy(kGasFits[i], T);
    return T + (molar_enthalpy - dot(share, h)) * (1.0 / heat_capacity(mixture, T));
  }
}

template <class S>
S total(const Composition<S>& n) {
  return n[CO2] + n[CO] + n[O2] + n[N2] + n[Ar];
}
/// Mole fractions; `floor` (mol or mol/s) keeps an empty store defined.
template <class S>
Composition<S> fractions(const Composition<S>& n, double floor) {
  const S scale = 1.0 / (total(n) + floor);
  Composition<S> x;
  for (std::size_t i = 0; i < kSpecies; ++i) x[i] = n[i] * scale;
  return x;
}

}  // namespace duskline::plant
