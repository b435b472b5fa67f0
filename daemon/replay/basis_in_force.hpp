#pragma once

#include <map>
#include <vector>

#include "daemon/calibration/record.hpp"
#include "daemon/replay/rederive.hpp"

namespace oxherd::daemon {

/// The adjustment that the records give for a cell at a time, if any. It counts for the input it was made at only: a
/// cell moved to another input has another load and amplifier.
[[nodiscard]] std::optional<ActiveCalibration> recorded_calibration(const std::vector<CalibrationRecord>& records,
                                                                    const std::string& room, const std::string& sensor,
                                                                    const std::string& serial, WallTime at);

/// Chooses, for each recorded reading, the basis it should rest on by all that is recorded now: the calibration in
/// force when it was taken, late entries and corrections included. The configuration's calibration stands where none
/// is recorded; the cell itself stays as it was set up then.
class BasisInForce {
public:
  explicit BasisInForce(std::vector<CalibrationRecord> records) : records_{std::move(records)} {}
  [[nodiscard]] SharedBasis operator()(const RecordedOxygen& recorded);

private:
  using Line = std::vector<ActiveCalibration>; ///< one cell's adjustments that stand, oldest first
  const Line& line_of(const std::string& room, const std::string& sensor, const std::string& serial);

  std::vector<CalibrationRecord> records_;
  std::map<std::string, Line> lines_; ///< by room, sensor and serial
  /// The configuration's own calibration of a cell, as readings before have shown it, by serial.
  std::map<std::string, ActiveCalibration> configured_;
  std::map<std::pair<const ReadingBasis*, std::int64_t>, std::pair<SharedBasis, SharedBasis>> made_; ///< from, to
};

} // namespace oxherd::daemon
