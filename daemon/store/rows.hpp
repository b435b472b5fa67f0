#pragma once

#include <optional>
#include <string>
#include <variant>

#include "daemon/records.hpp"

namespace oxherd::daemon::store {

/// One line of the journal with the alarm's state after it: they are written in one transaction.
struct AlarmRow {
  AlarmRecord record;
  AlarmSnapshot snapshot;
};

/// A reading as it is stored: flat and SI, a third of the size of ReadingRecord, because thousands may wait in memory.
struct ReadingRow {
  WallTime at;
  std::string room, sensor;
  alarms::Status status = alarms::Status::ok;
  std::optional<double> oxygen, u_oxygen, oxygen_wet, u_oxygen_wet, po2_Pa, u_po2_Pa, raw_V;
  std::optional<double> temperature_K, u_temperature_K, humidity, u_humidity, pressure_Pa, u_pressure_Pa;
  std::optional<double> carbon_dioxide, u_carbon_dioxide, over_pressure_Pa, u_over_pressure_Pa;
  std::string reasons; ///< "; " between them; empty when there is none
  SharedInputs inputs; ///< of oxygen, null for other readings
  SharedBasis basis;
};
[[nodiscard]] ReadingRow flattened(const ReadingRecord& reading);

using MeasurementRow = std::variant<SampleRecord, ReadingRow>;

} // namespace oxherd::daemon::store
