#pragma once

#include <string>
#include <vector>

#include "daemon/calibration/record.hpp"

namespace oxherd::daemon {

/// How far a reading may lie from the gas before a full calibration is due. Trade practice of this project, no
/// published source; the limits of an instrument standard or of a site go in their place.
struct CheckTolerance {
  double at_span = 0.005; ///< in air and span gas, oxygen as a ratio
  double at_zero = 0.003; ///< in nitrogen
  [[nodiscard]] double at(GasKind gas) const { return gas == GasKind::nitrogen ? at_zero : at_span; }
};

/// One gas of a check.
struct CheckedPoint {
  GasKind gas = GasKind::fresh_air;
  double reference = 0.0; ///< dry oxygen of the gas
  double error = 0.0;     ///< reading minus gas
  double expanded = 0.0;  ///< of the error, k = 2: reading and gas together
  double tolerance = 0.0;
  bool passed = false; ///< |error| is at most the tolerance: simple acceptance, the uncertainty takes no part
  /// The error is nearer to the tolerance than its expanded uncertainty: another check might well decide otherwise.
  [[nodiscard]] bool is_close_call() const;
};

/// What a check found. Without any reading in a gas nothing was checked, and it has not passed.
struct CheckOutcome {
  std::vector<CheckedPoint> points; ///< those with a reading as found
  bool passed = false;
};
[[nodiscard]] CheckOutcome outcome_of(const CalibrationRecord& check, const CheckTolerance& tolerance = {});

/// "in span gas of 20.90 % it reads 20.12 % (error -0.78 % O2, U 0.21 %, tolerance ± 0.5 % O2): failed".
[[nodiscard]] std::string describe(const CheckedPoint& point);

} // namespace oxherd::daemon
