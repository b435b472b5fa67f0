#pragma once

#include <optional>
#include <string>

#include <tl/expected.hpp>

#include "control/aids/dilution.hpp"
#include "control/aids/estimate.hpp"

namespace oxherd::control {

/// A dilution with what is uncertain in it; each quantity as in Dilution. The uncertainties are taken as independent.
struct UncertainDilution {
  Estimate volume_m3{};
  Estimate mixing{1, 0};
  Estimate supply_m3_s{};
  Estimate supply_fraction{};
  Estimate leak_m3_s{};
  Estimate outdoor_fraction{0.2095, 0};
  Estimate source_m3_s{};
  [[nodiscard]] Dilution values() const;
};

/// When a fraction will be reached.
struct PullDownForecast {
  Estimate time_s{};
  Estimate supply_m3{};
  double end_fraction = 0;
  double u_end_fraction = 0;
  bool doubtful =
      false; ///< the target lies within 3 u of the end value: it may never be reached, and u says too little
};

/// Propagates the uncertainties to the first order (GUM, JCGM 100:2008, 5.1.2; derivatives taken numerically).
/// @return why not, for a person: a fault of the room, or the end value is not beyond the target
/// @checked tests/control/aids/pull_down_test.cpp: closed forms, Monte Carlo
[[nodiscard]] tl::expected<PullDownForecast, std::string> forecast(const UncertainDilution& room, const Estimate& from,
                                                                   double target);

/// Oxygen at the start of a purge and now; ratios. The two uncertainties are taken as independent, although one
/// sensor gave both: what they share would make the judgement sharper, so that leaving it out refuses nothing wrongly.
struct Fall {
  Estimate start{};
  Estimate now{};
  double elapsed_s = 0;   ///< since the supply opened
  double dead_time_s = 0; ///< until the first gas can show: sampling line, mixing
};

enum class FallVerdict {
  as_forecast,      ///< it fell as was to be expected, or faster
  too_early,        ///< even no fall at all would not yet stand out from the uncertainties
  slower,           ///< significantly slower, at 99 %: a leak, an empty supply, the wrong cell, or an open door
  no_fall_forecast, ///< by this forecast nothing falls: the supply does not bring the room below where it is
  no_forecast       ///< the room or the readings do not allow one; the text says why
};

/// The verdict with its numbers, and what to say to a person.
struct FallJudgement {
  FallVerdict verdict = FallVerdict::no_forecast;
  double expected_now = 0;
  double expected_fall = 0;
  double measured_fall = 0;
  double u_difference = 0; ///< standard uncertainty of measured less expected now
  /// The time since the supply opened from which on no fall at all would stand out; empty when it never would.
  std::optional<double> tellable_after_s{};
  std::string words;
};

/// Whether the measured oxygen falls as the forecast says.
/// @source interlock "purge with no oxygen fall predicted": project rule; the 99 % are those of the rate-of-fall alarm
/// @checked tests/control/aids/pull_down_test.cpp: false alarms at most 1 %, over simulated purges
[[nodiscard]] FallJudgement falls_as_forecast(const UncertainDilution& room, const Fall& fall);

} // namespace oxherd::control
