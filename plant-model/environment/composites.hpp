/// Tables of what landers measured, averaged over many sols: the backbone of the smooth climate.
/// Rows are seasons (middle of the Ls bin, deg), columns local true solar hours; splines join them.
/// temperature: K at about 1.5 m; tides: % of the daily mean, local hour of maximum; optical depth: 880 nm.
/// Valid near the equator outside great storms; sensors on a deck may read 5-15 K warm around noon.
/// Source: open archive of a lander at 4.5 N, -2614 m (Banfield et al. 2020, from memory), averaged here.
/// Left out: scatter from sol to sol (synoptic.hpp).
#pragma once

#include <array>

namespace duskline::plant {

inline constexpr std::array<double, 12> kCompositeHours{1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23};
inline constexpr std::array<double, 7> kCompositeSeasons{15, 75, 105, 165, 225, 285, 345};

/// K, mean air temperature by season and local hour.
inline constexpr std::array<std::array<double, 12>, 7> kCompositeTemperature{{
    {183, 179, 176, 180, 211, 228, 243, 249, 248, 203, 193, 187},
    {181, 177, 174, 189, 212, 232, 246, 248, 232, 195, 189, 184},
    {181, 177, 174, 193, 216, 237, 248, 251, 231, 195, 189, 185},
    {185, 182, 181, 204, 229, 245, 257, 264, 225, 202, 194, 189},
    {190, 187, 184, 202, 227, 249, 263, 257, 223, 206, 201, 194},
    {188, 184, 182, 183, 208, 231, 249, 253, 238, 206, 200, 194},
    {187, 184, 180, 180, 207, 228, 245, 253, 245, 209, 199, 193},
}};

/// K from the daily mean, by local hour with sunrise at 6 and sunset at 18: the summer day of middle latitudes,
/// drawn for the daily range of 78 K that the rows above have on average. A curve through two sols at 47.7 N,
/// Ls 128-131 (192-246 K), held to the mean of their steepest hours, 11.4 K/h by morning and -9.5 K/h by evening.
inline constexpr std::array<double, 12> kMiddleLatitudeDay{-21.7, -29.0, -31.5, -31.5, -1.5, 29.1,
                                                           40.4,  43.5,  23.5,  0.6,   -7.4, -14.5};

/// Pressure tides of one season and the optical depth in which they were seen.
struct TideSeason {
  struct Wave {
    double percent, hour_of_maximum;
  };
  std::array<Wave, 3> waves;  ///< periods of 24, 12 and 8 local hours
  double optical_depth;
};

/// Twelve seasons; the middle of bin i is Ls = 15 + 30 i deg.
inline constexpr std::array<TideSeason, 12> kTideSeasons{{
    {{{{1.93, 4.6}, {1.13, 10.0}, {.10, 6.6}}}, .29},
    {{{{2.02, 4.0}, {.82, 9.8}, {.33, 6.8}}}, .30},
    {{{{2.10, 2.9}, {.40, 9.5}, {.26, 0.4}}}, .21},
    {{{{2.07, 2.5}, {.44, 9.0}, {.25, 0.7}}}, .23},
    {{{{2.08, 2.8}, {.80, 9.3}, {.15, 6.7}}}, .21},
    {{{{2.87, 3.5}, {1.27, 8.4}, {.12, 4.8}}}, .31},
    {{{{2.14, 3.6}, {1.13, 8.6}, {.09, 5.1}}}, .42},
    {{{{2.76, 3.4}, {1.33, 9.2}, {.22, 4.9}}}, .72},
    {{{{2.73, 3.6}, {1.55, 9.6}, {.25, 5.6}}}, .86},
    {{{{2.30, 4.2}, {1.07, 10.1}, {.32, 6.4}}}, .66},
    {{{{3.09, 5.0}, {1.34, 10.6}, {.43, 7.2}}}, .59},
    {{{{2.46, 4.4}, {1.34, 10.6}, {.27, 7.2}}}, .51},
}};

/// m/s, mean wind by local hour: night 1-2, noon 4.4, 17 h 6.9 as measured at 18 N; the hours between are
/// drawn in.
inline constexpr std::array<double, 12> kCompositeWind{1.6, 1.5, 1.5, 1.8, 2.8, 3.9,
                                                       5.0, 6.2, 6.9, 4.6, 2.6, 1.9};

/// K, scatter from sol to sol at a fixed hour (standard deviation), same origin as the temperatures.
inline constexpr std::array<double, 12> kCompositeScatter{1.2, 1.1, 1.1, 1.5, 2.1, 3.8,
                                                          5.4, 4.6, 2.3, 1.4, 1.4, 1.4};

}  // namespace duskline::plant
