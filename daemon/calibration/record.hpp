#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compensation/calibration.hpp"
#include "compensation/cell.hpp"
#include "daemon/records.hpp"

namespace oxherd::daemon {

/// What a person did to a cell.
enum class CalibrationAct {
  adjustment, ///< calibrated, and readings rest on the result from then on
  check,      ///< compared with a gas of known fraction, nothing adjusted
  bump_test,  ///< shown that gas reaches the cell and the alarm acts; no number
  withdrawal  ///< an earlier record is declared void; the one before it is in force again
};
[[nodiscard]] std::string_view name_of(CalibrationAct act); ///< "adjustment", "check", "bump-test", "withdrawal"

/// Where the oxygen of a calibration point comes from.
enum class GasKind { fresh_air, nitrogen, span_gas };
[[nodiscard]] std::string_view name_of(GasKind kind); ///< "fresh-air", "nitrogen", "span-gas"

/// The gas of a calibration point, with the papers that make it traceable.
struct ReferenceGas {
  GasKind kind = GasKind::fresh_air;
  Uncertain<DryFraction> oxygen{DryFraction::from_si(compensation::fresh_air_oxygen), 0.00006};
  std::string cylinder;            ///< number on the cylinder; empty for air
  std::string certificate;         ///< number of its certificate; empty for air
  std::optional<WallTime> expires; ///< of the certificate
};

/// How quiet the signal was when the point was taken.
struct StabilityEvidence {
  double seconds = 0.0; ///< span of the window
  int samples = 0;
  /// Of the signal, relative to its mean; a signal near zero is judged relative to a floor, see stability.hpp.
  double slope_per_minute = 0.0;
  double u_slope_per_minute = 0.0; ///< standard error of that slope, widened for what neighbouring samples share
  double scatter = 0.0;            ///< standard deviation about the fitted line, likewise relative
  double temperature_slope_K_per_minute = 0.0;
  bool stable = false; ///< by the criterion of stability.hpp
};

/// One point as it was taken.
struct TakenPoint {
  ReferenceGas gas;
  compensation::CalibrationPoint values; ///< signal and conditions, `oxygen` as in `gas`
  StabilityEvidence stability;
  std::string temperature_from, humidity_from, pressure_from; ///< "cryo-annexe/air", "typed", "elevation 212 m", ...
  /// What the cell read in this gas with the calibration before (as found) and with the new one (as left), dry.
  std::optional<Uncertain<DryFraction>> as_found, as_left;
};

/// Everything recorded of one act on one cell. Never changed afterwards: a correction is a record that supersedes it.
struct CalibrationRecord {
  std::int64_t number = 0; ///< unique in this state directory, in the order of recording; 0 before it is stored
  CalibrationAct act = CalibrationAct::adjustment;
  WallTime performed; ///< when the points were taken: from then on it is in force
  WallTime recorded;  ///< when it was entered
  std::string room, sensor;
  std::string serial; ///< of the cell; a calibration is never applied to another one
  std::string model;  ///< cell model: "concentration", ...
  std::string author, reason;
  std::vector<TakenPoint> points;                       ///< low point first; empty for a withdrawal
  std::optional<compensation::Calibration> calibration; ///< for an adjustment
  std::optional<compensation::CellCharacteristic> characteristic;
  std::optional<std::int64_t> supersedes; ///< number of the record that this one replaces or declares void
  std::vector<std::string> warnings;      ///< what spoke against it and was accepted, `reason` says why
};

} // namespace oxherd::daemon
