#pragma once

#include <optional>
#include <string>

#include <tl/expected.hpp>

#include "compensation/prepared_cell.hpp"
#include "config/settings.hpp"
#include "daemon/logfile/reading_block.hpp"
#include "daemon/logfile/time_format.hpp"

namespace oxherd::daemon::logfile {

/// A cell with its calibration, and what its signal may be wrong by at a time.
class CellReader {
public:
  CellReader(const config::CellSettings& cell, const config::CalibrationSettings& calibration);
  /// Counts the drift that the cell may have had by then, as the daemon does; the age is taken at the start of the UTC
  /// day, so that it is found once for a day of rows.
  void use_at(FileTime time);
  /// Whether use_at() would change what the signal may be wrong by: rows before and after are not read together.
  [[nodiscard]] bool changes_at(FileTime time) const;
  /// Forms the readings of the first `count` rows.
  void read(ReadingBlock& block, std::size_t count) const;
  /// Why a row of a block has no reading.
  [[nodiscard]] std::string why_none(const ReadingBlock& block, std::size_t i) const;
  /// Whether the signal is so near the zero that the cell may be dead.
  [[nodiscard]] bool is_near_zero(Signal signal) const { return near_zero_V_ && signal.si() <= *near_zero_V_; }

private:
  config::CellSettings cell_;
  tl::expected<compensation::PreparedCell, compensation::ReadingError> prepared_;
  compensation::SignalErrors errors_;
  std::optional<FileTime> calibrated_;
  std::optional<double> near_zero_V_; ///< a nernst cell has none
  std::optional<FileTime> day_;
};

} // namespace oxherd::daemon::logfile
