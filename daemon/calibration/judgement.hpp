#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/calibration/check.hpp"
#include "daemon/calibration/record.hpp"

namespace oxherd::daemon {

/// The limits of the judgement, ratios and SI. All are trade practice of this project, no published source; the
/// nominal fraction of air in `neighbour_air` is the trade's 20.9 %.
struct JudgementRules {
  double carbon_dioxide_max = 1000e-6; ///< more means people or dosing: the air is not fresh
  double neighbour_air = 0.209;        ///< what another cell of the room reads in fresh air, dry
  double neighbour_tolerance = 0.003;
  double quiet_seconds = 3600.0; ///< since a purge or dosing ended
  double change_warned = 0.10;   ///< of the sensitivity, against the previous and the first one
  double change_refused = 0.20;
  double maintenance_share = 0.70; ///< of the first sensitivity
  double failure_share = 0.50;
  double pressure_range_Pa = 200.0; ///< within the window: about 0.04 % O2
  double humidity_warned = 0.95;    ///< membranes may be wet
  double humidity_jump = 0.05;      ///< within the window: breath is near saturation
  double carbon_dioxide_jump = 200e-6;
  double nitrogen_oxygen_max = 0.001; ///< more is a span gas
  double zero_warned = 0.10;          ///< share of the span signal; 0.1 to 0.5 mV of 8 to 15 mV are ordinary
  double zero_refused = 0.25;
  double span_over_u_min = 10.0;       ///< net span signal in its standard uncertainties: below, sensitivity is a guess
  double u_sensitivity_warned = 0.012; ///< relative; twice this is 0.5 % O2 in air, all that a check permits
  CheckTolerance tolerance;
};

/// Relative humidity above which water may stand on the membrane: the film holds oxygen back, so the cell reads low and
/// slowly. Not 1, because a probe is uncertain by 3 % and the membrane may be colder than the air at the probe. Trade
/// practice of this project, no published source.
inline constexpr double condensing_humidity = 0.97;

/// Another cell of the room at the same time.
struct NeighbourReading {
  std::string sensor;
  DryFraction dry;
};

/// A permitted span of the signal in air, as the cell's data sheet gives it.
struct SignalInAir {
  Signal low, high;
};

/// What went on around the cell when the points were taken. What is absent is not known.
struct Circumstances {
  std::vector<std::string> active_alarms{}; ///< of the room, by name
  std::optional<double> carbon_dioxide;     ///< mole fraction
  std::vector<NeighbourReading> neighbours{};
  std::optional<double> seconds_since_purge, seconds_since_dosing; ///< 0 while it runs
  std::optional<double> pressure_range_Pa;                         ///< highest minus lowest in the window
  std::optional<double> humidity_range, carbon_dioxide_range;      ///< likewise, ratios
  bool condensing = false;                                         ///< a point was taken above `condensing_humidity`
  bool conditions_typed = false; ///< temperature, humidity or pressure were typed, not measured
  bool sealed_room = false;      ///< of a regime whose air is never fresh
  std::optional<SignalInAir> signal_in_air;
  std::string equation_error{}; ///< what compensation::characterise answered; empty when it gave a characteristic
};

/// One thing that speaks against a record so strongly that it is not taken as it is.
struct Refusal {
  std::string text;               ///< what is wrong, with figures, and what to do
  bool can_be_overridden = false; ///< by a person who gives a reason
};

struct Judgement {
  std::vector<Refusal> refusals;
  std::vector<std::string> warnings; ///< kept with the record
  /// Whether the record may be stored: nothing is refused, or everything refused is overridden by a reason.
  [[nodiscard]] bool permits(bool reason_given) const;
};

/// Judges a record before it is stored. `life_of_this_serial` may hold records of other cells too; only what stands of
/// this serial, performed before the proposed record, is compared with it. A check that failed is no refusal: it is
/// recorded, and a warning says that a full calibration is due.
/// @checked tests/daemon/calibration/judgement_test.cpp
[[nodiscard]] Judgement judge_calibration(const CalibrationRecord& proposed,
                                          const std::vector<CalibrationRecord>& life_of_this_serial,
                                          const Circumstances& circumstances, const JudgementRules& rules = {});

} // namespace oxherd::daemon
