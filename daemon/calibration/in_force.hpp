#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "daemon/calibration/record.hpp"

namespace oxherd::daemon {

/// The records that stand, in the order in which they were performed (recorded, where that is equal). Left out are
/// withdrawals themselves, what they withdraw, and what a correction replaces. A record that is withdrawn counts as
/// never entered: what it had replaced or withdrawn stands again. One that is only replaced passes its place on, so a
/// correction of a correction does not bring the first version back.
/// @checked tests/daemon/calibration/in_force_test.cpp
[[nodiscard]] std::vector<CalibrationRecord> effective(const std::vector<CalibrationRecord>& records);

/// What later records have made of one.
struct Standing {
  enum class Kind { stands, replaced, withdrawn };
  Kind kind = Kind::stands;
  std::int64_t by = 0; ///< number of the record that replaced or withdrew it; 0 while it stands
};
/// A record that no list holds stands: nothing speaks against it.
[[nodiscard]] Standing standing_of(const std::vector<CalibrationRecord>& records, std::int64_t number);

/// Those of `effective` that belong to one cell.
[[nodiscard]] std::vector<CalibrationRecord> effective_of(const std::vector<CalibrationRecord>& records,
                                                          std::string_view serial);

/// The adjustment on which readings of this cell at time t rest: the last one performed by then. An entry made late
/// counts from when it was performed. Empty: none was, and the cell was not calibrated.
[[nodiscard]] std::optional<CalibrationRecord> in_force_at(const std::vector<CalibrationRecord>& records,
                                                           std::string_view serial, WallTime t);

} // namespace oxherd::daemon
