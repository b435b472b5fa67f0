#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "alarms/time.hpp"
#include "control/aids/estimate.hpp"

namespace oxherd::control {

using alarms::Monotonic;

/// One look at a room that was pressurised and shut. Uncertainties are those of single readings, each independent of
/// the others; what is common to all readings of the gauge belongs into LeakTest::u_zero_Pa.
struct LeakSample {
  Monotonic at{0};
  Estimate over_pressure_Pa{}; ///< of the room against its surroundings
  Estimate room_K{};
  Estimate barometer_Pa{}; ///< outside, absolute
};

/// What is known of the room, and what a series must keep to.
struct LeakTest {
  Estimate volume_m3{};              ///< free volume: goods take 30 to 50 % of a store
  double stated_pressure_Pa = 200;   ///< at which the leak is told; such tests begin at 200 to 250 (common practice)
  double u_zero_Pa = 0;              ///< standard uncertainty of the gauge's zero, common to all readings
  double relief_Pa = 250;            ///< where the relief valve opens (common practice, no source)
  bool corrected = true;             ///< for changes of temperature and barometer
  double temperature_moved_K = 0.03; ///< without correction no more than this; 1 K is 368 Pa at 2 degrees Celsius
  double barometer_moved_Pa = 20;    ///< likewise
  double correction_share = 0.5;     ///< of the first over-pressure; a larger correction is refused (our proposal)
  int points_least = 8;
  Monotonic gap_most{120'000};
  double discharge = 0.61; ///< of a sharp-edged orifice (from memory)
};

enum class LeakFault {
  room_unknown, ///< volume or stated pressure is not above zero
  too_few,
  not_finite,
  not_in_order, ///< a sample that is not later than the one before
  gap,
  beyond_relief,
  temperature_moved,
  barometer_moved,
  correction_large,
  not_falling,
  no_fit
};
/// Why a series tells nothing of the leak; `what` says it to a person, with what to do.
struct LeakRefusal {
  LeakFault fault{};
  std::string what;
};

/// How fast the room loses its pressure. Intervals are 95 %.
struct LeakResult {
  Estimate rate_per_s{}; ///< 1 / tau, with p = p0 exp(-t / tau)
  Span rate_95_per_s{};
  Estimate tau_s{};
  Estimate half_life_s{};
  Span half_life_95_s{};
  Estimate leak_m3_s{};         ///< V p / (p_atm tau) at the stated pressure
  double air_changes_per_h = 0; ///< that flow over the volume
  double orifice_m2 = 0;        ///< a sharp-edged hole that lets the same flow through at that pressure
  double first_Pa = 0;          ///< the fitted curve at the first sample
  double chi_squared = 0;
  int degrees_of_freedom = 0;
  bool explained = false; ///< whether the stated uncertainties explain the scatter; it widens the result if not
  /// n of a leak that grows with p^n: 1 is the exponential (fine pores), 0.5 a plain hole. Empty: could not be told.
  std::optional<Estimate> exponent{};
  bool departs = false; ///< from 1 significantly, at 95 %: tau then changes with pressure, which widens the result
  double temperature_range_K = 0; ///< largest less smallest, noise included
  double barometer_range_Pa = 0;
  double correction_Pa = 0; ///< the largest
};

/// Fits the whole series. With D the pressure that temperature and barometer alone would have brought since the first
/// sample, the room follows dp/dt = -p / tau + dD/dt: what the weather adds leaks away as well, so that D is part of
/// the curve and not taken off the readings.
/// @source ideal gas law; the decay and its leak: trade practice of controlled-atmosphere stores, no source. Tests of
///         whole buildings (ISO 9972, ASTM E779; both from memory, not opened) hold a pressure by a fan instead
/// @checked tests/control/aids/leak_test_test.cpp: worked example, Monte Carlo coverage, drifting temperature
[[nodiscard]] tl::expected<LeakResult, LeakRefusal> measure_leak(std::span<const LeakSample> samples,
                                                                 const LeakTest& test);

/// The least time in which the pressure may fall from one value to another.
struct LeakCriterion {
  std::string_view name;
  double from_Pa = 2; ///< only the ratio counts, so 2 to 1 is a half-life
  double to_Pa = 1;
  double least_s = 0;
};
/// All of them common practice, no source; they differ from country to country.
inline constexpr std::array common_leak_criteria{
    LeakCriterion{"half-life, for oxygen of at most 2 %", 2, 1, 20 * 60},
    LeakCriterion{"half-life, for oxygen of at most 2 %, strict", 2, 1, 30 * 60},
    LeakCriterion{"187 to 125 Pa, ordinary", 187, 125, 7 * 60},
    LeakCriterion{"187 to 125 Pa, low oxygen", 187, 125, 10 * 60}};

enum class LeakVerdict { passed, failed, undecided };
struct LeakJudgement {
  LeakVerdict verdict = LeakVerdict::undecided;
  double fall_s = 0;
  Span fall_95_s{};
};
/// Undecided while the 95 % interval holds the least time.
[[nodiscard]] LeakJudgement judge(const LeakResult& result, const LeakCriterion& criterion);

} // namespace oxherd::control
