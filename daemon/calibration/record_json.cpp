#include "daemon/calibration/record_json.hpp"

#include "daemon/calibration/calibration_json.hpp"
#include "daemon/calibration/record_pieces.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

std::string gas_json(const ReferenceGas& gas) {
  return JsonObject{}
      .text("kind", name_of(gas.kind))
      .json("oxygen", uncertain_json(gas.oxygen))
      .text("cylinder", gas.cylinder)
      .text("certificate", gas.certificate)
      .json("expires", or_null(gas.expires, [](WallTime t) { return json_string(rfc3339(t)); }))
      .str();
}

std::string stability_json(const StabilityEvidence& evidence) {
  return JsonObject{}
      .json("seconds", exact(evidence.seconds))
      .integer("samples", evidence.samples)
      .json("slope_per_minute", exact(evidence.slope_per_minute))
      .json("u_slope_per_minute", exact(evidence.u_slope_per_minute))
      .json("scatter", exact(evidence.scatter))
      .json("temperature_slope_K_per_minute", exact(evidence.temperature_slope_K_per_minute))
      .flag("stable", evidence.stable)
      .str();
}

std::string point_json(const TakenPoint& point) {
  return JsonObject{}
      .json("gas", gas_json(point.gas))
      .json("values", values_json(point.values))
      .json("stability", stability_json(point.stability))
      .text("temperature_from", point.temperature_from)
      .text("humidity_from", point.humidity_from)
      .text("pressure_from", point.pressure_from)
      .json("as_found", or_null(point.as_found))
      .json("as_left", or_null(point.as_left))
      .str();
}

std::string characteristic_json(const compensation::CellCharacteristic& cell) {
  return JsonObject{}
      .json("sensitivity", exact(cell.sensitivity))
      .json("u_sensitivity", exact(cell.u_sensitivity))
      .text("sensitivity_unit", cell.sensitivity_unit)
      .json("zero_V", uncertain_json(cell.zero))
      .str();
}

} // namespace

std::string to_json(const CalibrationRecord& record) {
  std::vector<std::string> points;
  for (const auto& point : record.points) points.push_back(point_json(point));
  std::vector<std::string> warnings;
  for (const auto& warning : record.warnings) warnings.push_back(json_string(warning));
  return JsonObject{}
      .integer("version", record_json_version)
      .integer("number", record.number)
      .text("act", name_of(record.act))
      .text("performed", rfc3339(record.performed))
      .text("recorded", rfc3339(record.recorded))
      .text("room", record.room)
      .text("sensor", record.sensor)
      .text("serial", record.serial)
      .text("model", record.model)
      .text("author", record.author)
      .text("reason", record.reason)
      .json("points", json_array(points))
      .json("calibration", or_null(record.calibration, calibration_json))
      .json("characteristic", or_null(record.characteristic, characteristic_json))
      .json("supersedes", or_null(record.supersedes, [](std::int64_t number) { return std::to_string(number); }))
      .json("warnings", json_array(warnings))
      .str();
}

} // namespace oxherd::daemon
