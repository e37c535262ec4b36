/// The clock and the sun of Mars: areocentric longitude, true solar time, declination, sunrise and sunset.
/// Ls = fictitious mean sun + equation of centre + seven planetary terms; LTST = LMST + equation of time.
/// d: days of 86 400 s since J2000 (terrestrial time); angles: rad, east; times of day: fraction of a sol.
/// Valid 1874-2127 to 0.01 deg of Ls (the source's claim); at latitudes below 64 deg the sun rises every sol.
/// Source: Allison & McEwen, Planet. Space Sci. 48 (2000) 215, terms as their solar time page has them.
/// Left out: leap seconds (callers give terrestrial time), refraction, twilight, hills on the horizon.
#pragma once

#include <numbers>

namespace duskline::plant {

inline constexpr double kSolSeconds = 88775.244;             ///< s, mean solar day
inline constexpr double kDaySeconds = 86400.0;               ///< s
inline constexpr double kSolsPerYear = 668.5921;             ///< sols, tropical year
inline constexpr double kAstronomicalUnit = 1.495978707e11;  ///< m, IAU 2012 resolution B2
inline constexpr double kDegree = std::numbers::pi / 180.0;  ///< rad
inline constexpr double kTurn = 2.0 * std::numbers::pi;      ///< rad

/// x mod period, in [0, period).
double wrap(double x, double period);

// --- The sun as a function of days since J2000
// ---------------------------------------------------------------
double mean_anomaly(double d);           ///< rad, unwrapped
double fictitious_mean_sun(double d);    ///< rad, unwrapped
double planetary_terms(double d);        ///< rad
double equation_of_centre(double d);     ///< rad, true minus mean anomaly, planetary terms included
double unwrapped_longitude(double d);    ///< rad, Ls that grows without bound
double areocentric_longitude(double d);  ///< rad, Ls in [0, 2 pi)
double equation_of_time(double d);       ///< rad, true minus mean solar time as an angle
double heliocentric_distance(double d);  ///< m

// --- Times of day, fraction of a sol in [0, 1)
// ---------------------------------------------------------------
double mars_sol_date(double d);          ///< sols
double coordinated_mars_time(double d);  ///< mean solar time at longitude 0
double local_mean_solar_time(double d, double east_longitude);
double local_true_solar_time(double d, double east_longitude);

// --- The sun in the sky
// --------------------------------------------------------------------------------------
double solar_declination(double ls);                                            ///< rad, planetographic
double solar_elevation(double latitude, double declination, double true_time);  ///< rad
/// Half of the time between sunrise and sunset as a fraction of a sol: 0 in polar night, 0.5 in polar day.
double half_day(double latitude, double ls);
double sunrise(double latitude, double ls);  ///< true solar time of the upper limb's rise
double sunset(double latitude, double ls);

// --- Season and sols
// -----------------------------------------------------------------------------------------
/// The day on which the unwrapped longitude has this value (inverse of unwrapped_longitude).
double days_at_longitude(double unwrapped_ls);
/// Sols since the northern spring equinox of the reference year (the equinox of 2000), ls in [0, 2 pi).
double sols_since_equinox(double ls);
/// Inverse of sols_since_equinox; any number of sols, Ls in [0, 2 pi).
double longitude_after_sols(double sols);

}  // namespace duskline::plant
