#include "daemon/calibration/record_json.hpp"
#include "daemon/cli/calibrations_text.hpp"
#include "daemon/json_text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

/// A time, or null.
JsonObject& put_time(JsonObject& object, std::string_view key, const std::optional<WallTime>& at) {
  return at ? object.text(key, rfc3339(*at)) : object.json(key, "null");
}

std::string forecast_json(const Forecast& forecast) {
  JsonObject object;
  put_time(object, "expected", forecast.expected);
  put_time(object, "earliest", forecast.earliest);
  put_time(object, "latest", forecast.latest);
  return object.text("unknown", forecast.unknown).str();
}

std::string drift_json(const CellLife& life) {
  if (!life.drift) return JsonObject{}.text("unknown", life.drift_unknown).str();
  return JsonObject{}
      .number("per_month", life.drift->per_month)
      .number("low", life.drift->per_month_interval.low)
      .number("high", life.drift->per_month_interval.high)
      .flag("significant", life.drift->significant)
      .str();
}

std::string in_force_json(const CellView& view) {
  if (!view.in_force) return "null";
  JsonObject object;
  object.integer("number", view.in_force->number);
  return put_time(object, "performed", view.in_force->at).str();
}

std::string cell_view_json(const CellView& view) {
  const auto& life = view.life;
  std::vector<std::string> points, reasons;
  for (const auto& point : life.sensitivities)
    points.push_back(JsonObject{}
                         .integer("number", point.number)
                         .text("performed", rfc3339(point.performed))
                         .number("share", point.share)
                         .number("u_share", point.u_share)
                         .str());
  for (const auto& reason : life.reasons)
    reasons.push_back(JsonObject{}.text("status", alarms::name_of(reason.status)).text("text", reason.text).str());
  JsonObject object;
  object.text("room", view.cell.room)
      .text("sensor", view.cell.sensor)
      .text("serial", view.cell.cell.serial)
      .text("status", alarms::name_of(view.status))
      .flag("calibrated", view.in_force.has_value())
      .json("in_force", in_force_json(view));
  put_time(object, "first_use", life.first_use)
      .number("age_months", life.age ? std::optional{life.age->count()} : std::nullopt)
      .json("sensitivities", json_array(points))
      .json("drift", drift_json(life))
      .json("worn", forecast_json(life.maintenance))
      .json("spent", forecast_json(life.failure));
  put_time(object, "replace_by", life.replace_by);
  put_time(object, "next_check", life.next_check).flag("check_overdue", life.check_overdue);
  put_time(object, "next_calibration", life.next_calibration).flag("calibration_overdue", life.calibration_overdue);
  return object.flag("failed_check", life.failed_check).json("reasons", json_array(reasons)).str();
}

std::string_view standing_word(Standing::Kind kind) {
  switch (kind) { // no default: a new kind must not compile until it is named here
  case Standing::Kind::stands: return "stands";
  case Standing::Kind::replaced: return "superseded";
  case Standing::Kind::withdrawn: return "withdrawn";
  }
  return "";
}

} // namespace

std::string all_cells_json(const std::vector<CellView>& views, WallTime now) {
  std::vector<std::string> cells;
  for (const auto& view : views) cells.push_back(cell_view_json(view));
  return JsonObject{}.text("now", rfc3339(now)).json("cells", json_array(cells)).str() + '\n';
}

std::string one_cell_json(const CellView& view, const std::vector<CalibrationRecord>& records, WallTime now) {
  std::vector<std::string> own;
  for (const auto& record : every_record_of(view.cell, records)) {
    const auto standing = standing_of(records, record.number);
    JsonObject object;
    object.text("standing", standing_word(standing.kind));
    if (standing.by != 0)
      object.integer("by", standing.by);
    else
      object.json("by", "null");
    own.push_back(object.json("record", to_json(record)).str());
  }
  return JsonObject{}
             .text("now", rfc3339(now))
             .json("cell", cell_view_json(view))
             .json("records", json_array(own))
             .str() +
         '\n';
}

} // namespace oxherd::daemon::cli
