#pragma once

#include <optional>
#include <span>
#include <string>

#include <tl/expected.hpp>

#include "alarms/time.hpp"
#include "control/aids/estimate.hpp"

namespace oxherd::control {

/// One reading of the gas that tells how fast outdoor air comes in: oxygen that rises again after a purge, or carbon
/// dioxide that was let in as a tracer and decays.
struct TracerSample {
  alarms::Monotonic at{0};
  Estimate fraction{}; ///< ratio; the uncertainty of a single reading, independent of the others
};

/// What is known besides the readings.
struct AirChangeTest {
  Estimate outside{};      ///< fraction of that gas outdoors; its uncertainty is common to all readings
  Estimate source_per_s{}; ///< by which goods or people raise the fraction in the shut room; negative where they use it
  int points_least = 8;
  alarms::Monotonic gap_most{900'000};
};

enum class AirChangeFault { too_few, not_finite, not_in_order, gap, no_difference, not_approaching, no_fit };
struct AirChangeRefusal {
  AirChangeFault fault{};
  std::string what; ///< to a person, with what to do
};

/// Outdoor air that comes in, in volumes of the room. Intervals are 95 %.
struct AirChange {
  Estimate per_h{};
  Span per_h_95{};
  std::optional<double> without_source_per_h{}; ///< what would be said if respiration were left out; empty: nothing
  double end_fraction = 0;                      ///< where the room would come to rest
  double chi_squared = 0;
  int degrees_of_freedom = 0;
  bool explained = false; ///< whether the stated uncertainties explain the scatter; it widens the result if not
};

/// Fits C = Ce + (C0 - Ce) exp(-N t), Ce = Ca + source / N, to the whole series, with weights from the stated
/// uncertainties. The fractions themselves are fitted: logarithms would give most weight to what is nearly outdoor
/// air. The room must be mixed (fans on); an air change that changes meanwhile shows as scatter that is not explained.
/// @source tracer decay as in ASTM E741 (from memory, not opened)
/// @checked tests/control/aids/air_change_test.cpp: two-point formula, Monte Carlo coverage, known source
[[nodiscard]] tl::expected<AirChange, AirChangeRefusal> measure_air_change(std::span<const TracerSample> samples,
                                                                           const AirChangeTest& test);

/// Two readings and the outdoor fraction; ratios.
struct TwoPoints {
  double first = 0;
  double second = 0;
  double outside = 0;
  double apart_s = 0;
};
/// N = ln((C1 - Ca) / (C2 - Ca)) / dt, per hour. Needs both on the same side of the outdoor fraction and a time above
/// 0; a refusal otherwise.
[[nodiscard]] tl::expected<double, AirChangeRefusal> air_change_per_h(const TwoPoints& points);

} // namespace oxherd::control
