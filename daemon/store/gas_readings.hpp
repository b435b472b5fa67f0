#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/reading_basis.hpp"
#include "daemon/store/sqlite.hpp"
#include "daemon/store/store.hpp"

namespace oxherd::daemon {

/// A sensor of which readings are recorded in a time, and which gases it gave a value of.
struct RecordedSensor {
  std::int64_t id = 0; ///< in the store
  std::string room, name;
  bool oxygen = false, carbon_dioxide = false;
};

/// What alarms look at of one stored reading, as it was recorded first; SI, standard uncertainties.
struct GasReadingRow {
  WallTime at;
  std::int64_t sensor = 0;
  std::string status, reasons;
  std::optional<double> oxygen, u_oxygen, po2_Pa, u_po2_Pa, carbon_dioxide, u_carbon_dioxide;
};

/// The stored readings of a time, one after the other as they were recorded, in bounded memory. Read-only, on a
/// connection of its own; safe beside a running daemon and without one.
class GasReadings {
public:
  [[nodiscard]] static tl::expected<GasReadings, StoreError> open(const std::filesystem::path& state_dir, WallTime from,
                                                                  WallTime to);
  [[nodiscard]] const std::vector<RecordedSensor>& sensors() const { return sensors_; }
  /// False at the end, and from then on.
  [[nodiscard]] tl::expected<bool, StoreError> next(GasReadingRow& row);
  /// How much of the time has been read, from 0 to 1, by the rows' places in the file.
  [[nodiscard]] double part() const;

private:
  GasReadings(store::Database database, store::Statement rows)
      : database_{std::move(database)}, rows_{std::move(rows)} {}

  store::Database database_;
  store::Statement rows_;
  std::vector<RecordedSensor> sensors_;
  std::int64_t first_ = 0, last_ = -1, read_ = 0;
  bool at_end_ = false;
};

} // namespace oxherd::daemon
