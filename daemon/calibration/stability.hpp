#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/calibration/record.hpp"

namespace oxherd::daemon {

/// One good sample of a cell while it settles. Conditions are absent where no probe tells them.
struct StabilitySample {
  double seconds = 0.0; ///< monotonic, from any fixed start; grows from sample to sample
  double signal_V = 0.0;
  std::optional<double> temperature_K, pressure_Pa;
  std::optional<double> humidity; ///< ratio
};

/// When a signal counts as stable. The three limits are trade practice of this project, no published source.
struct StabilityRules {
  double seconds = 120.0; ///< the window: what lies farther back than this from the newest sample is not judged, unless
  double seconds_max = 300.0;      ///< the noise asks for more: the window then grows up to this, by its noise alone
  int samples_min = 30;            ///< so that scatter is known to a tenth or so
  double slope_per_minute = 0.001; ///< of the signal; the whole confidence interval must lie within
  double scatter = 0.002;          ///< of the signal, one standard deviation about the line
  double temperature_K_per_minute = 0.2; ///< the fitted slope; a thermometer's steps make no fair interval
  /// Two-sided level of the slope's confidence interval. At a slope just at the limit, 2.5 % of windows pass by luck.
  double level = 0.95;
  /// Fewer independent samples than this carry no verdict: with 4 degrees of freedom Student's factor is 2.8.
  double effective_samples_min = 6.0;
  /// A signal below this share of the scale is judged relative to this share: in nitrogen a signal of 0.3 mV could not
  /// hold 0.1 % of itself. Half the signal in air makes the slope's limit 0.01 % O2 a minute, a thirtieth of what a
  /// check at zero may miss.
  double floor_of_scale = 0.5;
  double gap_seconds_max = 15.0; ///< a longer hole between samples could hide anything; eight polls of 2 s
};

/// The signal to compare with, and what the instrument can show.
struct SignalScale {
  double scale_V = 0.0;      ///< of the last calibration's span, or nominal in air; positive
  double resolution_V = 0.0; ///< smallest step of the input; 0 when it is finer than the noise
};

/// What the window shows, and what is still missing.
struct StabilityVerdict {
  StabilityEvidence evidence;           ///< evidence.stable is the verdict
  std::vector<std::string> waiting_for; ///< "the signal still falls 0.42 %/min (at most 0.1 %/min)"; empty when stable
  std::vector<std::string> cautions;    ///< what the verdict could not look at, and suspicious quiet
  std::optional<double> seconds_left;   ///< until it may be stable, where that can be told
  std::optional<double> pressure_range_Pa; ///< highest minus lowest in the window
  std::optional<double> humidity_range;    ///< likewise, ratio
  std::optional<double> effective_samples; ///< how many independent samples the window is worth
};

/// Judges the trailing window. An equivalence test: stable means shown to be level, so a signal that is only too noisy
/// to show its slope goes on waiting, and its window grows. Residuals that follow each other (a cell filters its own
/// noise) count for less. A signal that settles is asked again and again; giving up after a time is the caller's.
/// @source Schuirmann 1987 (J. Pharmacokinet. Biopharm. 15, 657), two one-sided tests, from memory
/// @checked tests/daemon/calibration/stability_test.cpp: simulated white and correlated noise, with and without slope
[[nodiscard]] StabilityVerdict judge_stability(std::span<const StabilitySample> samples, SignalScale scale,
                                               const StabilityRules& rules = {});

} // namespace oxherd::daemon
