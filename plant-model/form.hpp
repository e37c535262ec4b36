/// The form of a plant: how many modules, what takes the air in, and how its gas lines are connected.
///
/// What it is   what a plant file says by one word or number each, and what its network is made from
/// Validity     1 to kMostModules modules; one intake
/// Left out     forms other than the words below
#pragma once

#include <cstddef>
#include <string_view>

namespace duskline::plant {

inline constexpr std::size_t kMostModules = 12;

enum Intake : int { kScroll, kCentrifugal, kScrollBank, kLobe, kAxial, kFreezer };
enum Piping : int { kApertures, kHeaders };
enum Outlet : int { kOpenOutlet, kBackPressure };

struct PlantForm {
  std::size_t modules = 1;
  int intake = kScroll;
  int piping = kApertures;
  int outlet = kOpenOutlet;
};

struct FormWord {
  int value;
  std::string_view word, meaning;
};
inline constexpr FormWord kIntakeWords[] = {
    {kScroll, "scroll", "a scroll compressor"},
    {kCentrifugal, "centrifugal", "geared centrifugal stages with coolers between them, anti-surge valve"},
    {kScrollBank, "scroll bank", "scroll compressors in parallel, some of them running"},
    {kLobe, "lobe", "lobe blowers in series with coolers between them"},
    {kAxial, "axial", "a group of axial stages before geared centrifugal ones, anti-surge valve"},
    {kFreezer, "freezer", "two beds on which carbon dioxide freezes and sublimes in turn"},
};
inline constexpr FormWord kPipingWords[] = {
    {kApertures, "apertures", "each module lets its exhaust and product out by apertures of its own"},
    {kHeaders, "headers", "control valves between modules and headers for feed, exhaust and product"},
};

inline constexpr FormWord kOutletWords[] = {
    {kOpenOutlet, "aperture", "an aperture of fixed size, or the line to the product header"},
    {kBackPressure, "back-pressure valve",
     "a self-acting valve holds the product a little below the cathode"},
};

constexpr bool has_headers(const PlantForm& f) {
  return f.piping == kHeaders;
}

constexpr bool has_scrolls(const PlantForm& f) {
  return f.intake == kScroll || f.intake == kScrollBank;
}

constexpr bool has_turbo(const PlantForm& f) {
  return f.intake == kCentrifugal || f.intake == kAxial;
}

/// Why the parts of a form do not go together; empty when they do. The machines of the outpost end in its feed header; the
/// anti-surge valve of a turbo train stands with the valves of the headers.
constexpr std::string_view form_problem(const PlantForm& f) {
  if (f.outlet == kBackPressure && has_headers(f))
    return "a back-pressure valve at the stack needs 'piping: apertures'; headers have a product valve";
  if (f.intake != kScroll && !has_headers(f)) return "every intake but a scroll needs 'piping: headers'";
  return {};
}

}  // namespace duskline::plant
