// The colours of the pages are distinguished by every reader. Simulation: Machado, Oliveira and Fernandes, "A
// physiologically-based model for simulation of color vision deficiency" (2009), severity 1.0, on linear sRGB. Distance:
// CIE 1976 (CIE 15); a just noticeable difference is about 2.3 (Mahy et al., 1994), 15 is more than six of them.
// Contrast: WCAG 2.1, 1.4.3 (text, 4.5) and 1.4.11 (graphical objects, 3).
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <iterator>
#include <map>
#include <regex>
#include <string>
#include <vector>

namespace {

using Triple = std::array<double, 3>;
using Palette = std::map<std::string, Triple>;  // linear sRGB
using Matrix = std::array<Triple, 3>;

constexpr double kDistinct = 15.0;

// rows of the published matrices
const std::map<std::string, Matrix> kVision{
    {"normal", {{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}}},
    {"protanopia",
     {{{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}}}},
    {"deuteranopia",
     {{{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}}}}};

// sRGB: IEC 61966-2-1, D65
double linear(int byte) {
  const double c = byte / 255.0;
  return c <= 0.04045 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
}

Triple seen(const Matrix& m, const Triple& colour) {
  Triple out{};
  for (std::size_t i = 0; i < 3; ++i) {
    for (std::size_t j = 0; j < 3; ++j) out[i] += m[i][j] * colour[j];
    out[i] = std::clamp(out[i], 0.0, 1.0);
  }
  return out;
}

double luminance(const Triple& c) {
  return 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2];
}

Triple lab(const Triple& c) {
  const auto f = [](double t) {
    constexpr double kEdge = 6.0 / 29.0;
    return t > kEdge * kEdge * kEdge ? std::cbrt(t) : t / (3.0 * kEdge * kEdge) + 4.0 / 29.0;
  };
  const double x = f((0.4124564 * c[0] + 0.3575761 * c[1] + 0.1804375 * c[2]) / 0.95047);
  const double y = f(0.2126729 * c[0] + 0.7151522 * c[1] + 0.0721750 * c[2]);
  const double z = f((0.0193339 * c[0] + 0.1191920 * c[1] + 0.9503041 * c[2]) / 1.08883);
  return {116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)};
}

double distance(const Triple& a, const Triple& b) {
  const Triple p = lab(a), q = lab(b);
  return std::hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);
}

double contrast(const Triple& a, const Triple& b) {
  const double high = std::max(luminance(a), luminance(b)), low = std::min(luminance(a), luminance(b));
  return (high + 0.05) / (low + 0.05);
}

/// The light and the dark palette, as the style sheet of the pages defines them.
std::array<Palette, 2> palettes() {
  std::ifstream in(DUSKLINE_SOURCE_DIR "/hil-harness/report/page/src/palette.css");
  const std::string css{std::istreambuf_iterator<char>(in), {}};
  const std::size_t dark = css.find("@media");
  std::array<Palette, 2> both;
  const std::regex entry("--([a-z0-9-]+): #([0-9a-f]{6});");
  for (std::sregex_iterator at(css.begin(), css.end(), entry), end; at != end; ++at) {
    Triple colour{};
    for (std::size_t i = 0; i < 3; ++i)
      colour[i] = linear(std::stoi((*at)[2].str().substr(2 * i, 2), nullptr, 16));
    both[static_cast<std::size_t>(at->position()) < dark ? 0 : 1][(*at)[1]] = colour;
  }
  return both;
}

}  // namespace

TEST_CASE("The simulation leaves grey alone and the measures agree with published values") {
  const Triple grey{0.5, 0.5, 0.5};
  for (const auto& [name, m] : kVision) CHECK(distance(seen(m, grey), grey) < 0.01);
  // black on white: 21 to 1 (WCAG 2.1); sRGB red: L* 53.24, a* 80.09, b* 67.20 (D65)
  CHECK(contrast({0, 0, 0}, {1, 1, 1}) == Approx(21.0));
  CHECK(lab({1, 0, 0})[0] == Approx(53.24).margin(0.01));
  CHECK(lab({1, 0, 0})[1] == Approx(80.09).margin(0.01));
  CHECK(lab({1, 0, 0})[2] == Approx(67.20).margin(0.01));
}

TEST_CASE("Colours of one group are distinguished with and without red and green cones, light and dark") {
  const std::vector<std::vector<std::string>> groups{
      {"line1", "line2", "line3", "line4", "limit", "target", "other"},
      {"good", "warn", "bad"},
      {"tone-rest", "tone-change", "tone-run", "tone-warn", "tone-bad", "tone-cause"}};
  for (const Palette& palette : palettes())
    for (const auto& group : groups)
      for (std::size_t i = 0; i < group.size(); ++i)
        for (std::size_t j = i + 1; j < group.size(); ++j)
          for (const auto& [vision, m] : kVision) {
            INFO(group[i] << " and " << group[j] << " with " << vision);
            CHECK(distance(seen(m, palette.at(group[i])), seen(m, palette.at(group[j]))) > kDistinct);
          }
}

TEST_CASE("Words and lines stand out from the paper, light and dark") {
  for (const Palette& palette : palettes()) {
    for (const char* text : {"ink", "soft", "accent", "limit", "good", "warn", "bad"}) {
      INFO(text);
      CHECK(contrast(palette.at(text), palette.at("paper")) >= 4.5);
    }
    for (const char* line : {"line1", "line2", "line3", "line4", "target", "other"}) {
      INFO(line);
      CHECK(contrast(palette.at(line), palette.at("paper")) >= 3.0);
    }
    for (const char* tone : {"tone-rest", "tone-change", "tone-run", "tone-warn", "tone-bad"}) {
      INFO(tone);
      CHECK(contrast(palette.at("ink"), palette.at(tone)) >= 4.5);
    }
    for (const char* tone : {"tone-cause", "tone-act"}) {
      INFO(tone);
      CHECK(contrast(palette.at("paper"), palette.at(tone)) >= 4.5);
    }
  }
}
