/// Measured weather as a function of local time, with its gaps filled.
/// In a stretch of data: monotone cubic. In a long gap: the sols on both sides, hour by hour, blended.
/// Time: local true solar time counted in sols; values: K, Pa, m/s, rad, mole fraction.
/// Valid for finite samples; beside a stretch shorter than 0.9 sol a long gap is bridged by a straight line.
/// Source: Fritsch & Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300, for the slopes.
/// Left out: quality flags, averaging.
#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

namespace duskline::plant {

enum class WeatherQuantity : std::size_t {
  temperature,  ///< K
  coldest,      ///< K, minimum of the sol
  warmest,      ///< K, maximum of the sol
  pressure,     ///< Pa
  wind_speed,   ///< m/s
  optical_depth,
  longitude,  ///< rad, Ls, unwrapped
  co2,
  co,
  o2,
  n2,
  ar,
  count
};
inline constexpr std::size_t kWeatherQuantities = static_cast<std::size_t>(WeatherQuantity::count);
inline constexpr std::array<std::string_view, kWeatherQuantities> kWeatherNames{
    "temperature", "min_temp", "max_temp", "pressure", "wind_speed", "optical_depth",
    "ls",          "CO2",      "CO",       "O2",       "N2",         "Ar"};

/// One quantity. Samples closer than kLongGap form a stretch.
class WeatherChannel {
 public:
  static constexpr double kLongGap = 0.3;        ///< sols, for data finer than daily
  static constexpr double kDailySpacing = 0.75;  ///< sols, median spacing from which data count as daily

  struct Gap {
    double after, before;  ///< sols of the samples on both sides
    bool long_gap;         ///< filled from neighbouring sols, not by a curve across it
  };

  /// `sols` ascending and distinct, same length as `values`. With `repeat` > 0 the series starts again after
  /// so many whole sols. `by_hour`: the quantity follows the hour of the day, so that a long gap is filled
  /// from the sols on both sides of it.
  void assign(std::vector<double> sols, std::vector<double> values, double repeat, bool by_hour = true);

  bool empty() const { return sols_.empty(); }
  /// One value a sol (or fewer): a daily mean or extreme, to which the daily curve is still to be added.
  bool daily() const { return daily_; }
  double at(double sol) const;
  std::span<const Gap> gaps() const { return gaps_; }

 private:
  struct Stretch {
    std::size_t first, last;
  };
  double inside(double sol, std::size_t left) const;
  double slope(std::size_t i) const;
  bool joined(std::size_t left) const;  ///< no long gap between sample left and the next
  double fill(double sol, const Stretch* before, const Stretch* after) const;
  double repeated(double sol, const Stretch& stretch, bool stretch_is_before) const;
  double within(double sol) const;
  void find_stretches();

  std::vector<double> sols_, values_;
  std::vector<Stretch> stretches_;
  std::vector<Gap> gaps_;
  double spacing_ = 0.0;
  bool daily_ = false;    ///< one value a sol
  bool by_hour_ = false;  ///< long gaps end a stretch
};

struct WeatherSeries {
  std::array<WeatherChannel, kWeatherQuantities> channels;
  double first_sol = 0.0, last_sol = 0.0;
  double repeat = 0.0;      ///< whole sols after which the series starts again; 0: never
  bool by_season = false;   ///< sols are counted from the northern spring equinox
  bool from_start = false;  ///< sols are counted from the start of the run

  const WeatherChannel& operator[](WeatherQuantity q) const { return channels[static_cast<std::size_t>(q)]; }
  bool has(WeatherQuantity q) const { return !(*this)[q].empty(); }
  double at(WeatherQuantity q, double sol) const;
};

}  // namespace duskline::plant
