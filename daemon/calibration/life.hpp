#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "alarms/quality.hpp"
#include "compensation/regression.hpp"
#include "daemon/calibration/check.hpp"
#include "daemon/calibration/in_force.hpp"
#include "daemon/months.hpp"

namespace oxherd::daemon {

/// How often a cell is looked after and how far it may age. Trade practice of this project, no published source: the
/// intervals are those of an occupied room, the life that of a galvanic cell in air.
struct LifePlan {
  std::optional<std::chrono::days> check_every = std::chrono::days{30}; ///< empty: not asked for
  std::optional<std::chrono::days> calibrate_every = std::chrono::days{90};
  std::optional<Months> permitted_age = Months{24.0}; ///< since first use: at its end a cell holds, then collapses
  double maintenance_share = 0.70;                    ///< of the first sensitivity: below it order a new cell
  double failure_share = 0.50;                        ///< of the first sensitivity: below it the cell is spent
  double level = 0.95;                                ///< of every interval, two-sided
  std::chrono::days notice{30};                       ///< how long before its replace-by date a cell is announced
  CheckTolerance tolerance;
  std::optional<WallTime> first_use; ///< when it is known; else the first standing record
};

/// The sensitivity of one adjustment, as a share of the first one.
struct SensitivityPoint {
  std::int64_t number = 0; ///< of the record
  WallTime performed;
  double share = 1.0;
  double u_share = 0.0; ///< from this adjustment's own u; the first one's is common to all and left out
};

/// The straight line through the shares.
struct SensitivityDrift {
  double per_month = 0.0; ///< negative: it loses; 0.01 is 1 % of the first sensitivity
  compensation::Interval per_month_interval;
  bool significant = false; ///< the interval leaves zero out
};

/// When the line leaves its permitted range. Either `expected` with its interval, or `unknown` says why not.
struct Forecast {
  std::optional<WallTime> expected, earliest;
  std::optional<WallTime> latest; ///< empty although `expected` is given: later than ten years from now
  std::string unknown;
};

/// All that the records of one cell say about its life.
struct CellLife {
  std::string serial;
  std::optional<WallTime> first_use;
  std::optional<Months> age;
  std::vector<SensitivityPoint> sensitivities; ///< of standing adjustments with the first one's unit, oldest first
  std::optional<SensitivityDrift> drift;
  std::string drift_unknown; ///< why there is no drift
  Forecast maintenance, failure;
  std::optional<WallTime> end_of_permitted_age;
  /// The earlier of the end of its permitted age and the earliest day on which it may be spent.
  std::optional<WallTime> replace_by;
  std::optional<WallTime> next_check, next_calibration;
  bool check_overdue = false;
  bool calibration_overdue = false;
  bool failed_check = false;           ///< the last check failed and no adjustment has followed
  std::vector<alarms::Reason> reasons; ///< what now speaks against the cell, for the quality of its readings
};

/// Everything performed by `now` on the cell of that serial. A cell without any adjustment has no due dates, and
/// no reason here but a failed check: that it is not calibrated is for the reading to say.
/// @checked tests/daemon/calibration/life_test.cpp
[[nodiscard]] CellLife life_of(const std::vector<CalibrationRecord>& records, std::string_view serial,
                               const LifePlan& plan, WallTime now);

} // namespace oxherd::daemon
