#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/logfile/cause.hpp"
#include "daemon/logfile/layout.hpp"
#include "daemon/logfile/recipe.hpp"
#include "daemon/logfile/row.hpp"
#include "daemon/logfile/zone_clock.hpp"

namespace oxherd::daemon::logfile {

/// One input of one row: a value, or why there is none.
struct FieldValue {
  double si = 0.0;
  bool ok = false;
  Trouble trouble = Trouble::missing; ///< when not ok
};

/// The time of one row, and what is wrong with it: both when it is doubtful, only the time when it is sound.
struct RowTime {
  std::optional<FileTime> time;
  std::optional<Cause> trouble;
};

/// Takes the inputs out of the rows of one file. Works without allocating, once its scratch has grown.
class FieldReader {
public:
  FieldReader(const Layout& layout, const Format& format, const std::optional<TimeColumns>& time,
              const std::array<std::optional<Source>, quantity_count>& sources);
  [[nodiscard]] bool has(Quantity quantity) const { return columns_[static_cast<std::size_t>(quantity)].index >= 0; }
  /// Whether times without an offset were taken as UTC because the recipe states no zone.
  [[nodiscard]] bool took_utc() const { return time_ && !time_->zone_stated && time_->format.took_offset(); }
  [[nodiscard]] bool has_time() const { return time_.has_value(); }
  /// The quantity must be one that this file has, and the row must have the field.
  [[nodiscard]] FieldValue value(const Row& row, Quantity quantity);
  /// Rows must come in the order of the file: a zone's doubled hour is told by it.
  [[nodiscard]] RowTime time(const Row& row);

private:
  /// A unit made ready: si = value / divisor + offset or value * factor + offset, rounded as compensation::to_si does.
  struct Column {
    int index = -1;
    bool divides = false;
    double factor = 1.0;
    double offset = 0.0;
    double low_si = 0.0;
    double high_si = 0.0;
  };
  [[nodiscard]] bool is_missing(std::string_view text) const;

  Dialect dialect_;
  std::vector<std::string> missing_;
  bool numeric_markers_ = false;
  std::vector<int> time_columns_;
  std::optional<TimeColumns> time_;
  std::optional<ZoneClock> clock_;
  std::array<Column, quantity_count> columns_;
  std::string scratch_;
  std::string joined_;
};

} // namespace oxherd::daemon::logfile
