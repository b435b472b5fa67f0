#include "daemon/payloads.hpp"

#include "alarms/texts.hpp"
#include "config/measurands.hpp"
#include "daemon/control_payload.hpp"
#include "daemon/json_text.hpp"
#include "daemon/si_scale.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

std::string reasons_array(const std::vector<alarms::Reason>& reasons) {
  std::vector<std::string> objects;
  for (const auto& reason : reasons)
    objects.push_back(JsonObject{}.text("status", name_of(reason.status)).text("text", reason.text).str());
  return json_array(objects);
}

std::optional<bool> state_of(const ReadingRecord& r, config::Measurand contact) {
  for (const auto& [measurand, is] : r.contacts)
    if (measurand == contact) return is;
  return std::nullopt;
}

void add_reading(const ReadingRecord& r, JsonObject& to) {
  std::optional<double> dry, u_dry, wet, po2_Pa, uncorrected;
  if (r.oxygen) {
    dry = r.oxygen->dry.si();
    u_dry = r.oxygen->u_dry;
    wet = r.oxygen->wet.si();
    po2_Pa = r.oxygen->po2.si();
    uncorrected = r.oxygen->uncorrected;
  }
  to.text("at", rfc3339(r.at))
      .number("dry_fraction", dry)
      .number("u_dry_fraction", u_dry)
      .number("wet_fraction", wet)
      .number("po2_kpa", scaled(po2_Pa, 1e-3))
      .number("uncorrected_fraction", uncorrected)
      .number("raw_mv", scaled(r.raw_V, 1e3))
      .number("temperature_c", in_celsius(r.temperature_K))
      .number("humidity_percent", scaled(r.humidity, 100.0))
      .number("pressure_kpa", scaled(r.pressure_Pa, 1e-3))
      .number("co2_fraction", r.carbon_dioxide)
      .number("over_pressure_pa", r.over_pressure_Pa);
  for (const auto& contact : config::contacts()) to.flag(contact.key, state_of(r, contact.measurand));
}

std::string reading_object(const ReadingRecord& r) {
  JsonObject object;
  add_reading(r, object);
  return object.str();
}

std::string sensor_object(const SensorStatus& sensor) {
  std::vector<std::string> measures;
  for (const auto& measurand : sensor.measures) measures.push_back(json_string(measurand));
  std::optional<double> age_s;
  if (sensor.age_ms) age_s = static_cast<double>(*sensor.age_ms) / 1000.0;
  return JsonObject{}
      .text("sensor", sensor.name)
      .json("measures", json_array(measures))
      .text("status", name_of(sensor.status))
      .text("quality", name_of(alarms::quality_of(sensor.status)))
      .json("reasons", reasons_array(sensor.reasons))
      .number("age_s", age_s)
      .json("last", sensor.last ? reading_object(*sensor.last) : "null")
      .str();
}

/// Until when, by whom and why an alarm is hidden; null when it is not, or by design.
std::string suppression_object(const AlarmStatus& alarm) {
  if (alarm.suppressed_by.empty() && !alarm.suppressed_until) return "null";
  JsonObject object;
  if (alarm.suppressed_until) object.text("until", rfc3339(*alarm.suppressed_until));
  return object.text("by", alarm.suppressed_by).text("reason", alarm.suppressed_because).str();
}

std::optional<double> seconds_of(const std::optional<alarms::Monotonic>& t) {
  return t ? std::optional{alarms::seconds_of(*t)} : std::nullopt;
}

/// Null for a room without an entry lock.
std::string entry_lock_object(const RoomStatus& room) {
  if (!room.entry_lock) return "null";
  std::vector<std::string> reasons;
  for (const auto& reason : room.entry_lock->reasons) reasons.push_back(json_string(reason));
  return JsonObject{}
      .flag("withheld", room.entry_lock->withheld)
      .json("reasons", json_array(reasons))
      .number("fresh_for_s", seconds_of(room.entry_lock->fresh_for))
      .number("hold_s", seconds_of(room.entry_lock->hold))
      .str();
}

/// What the retained summary and the whole answer begin with.
JsonObject room_head(const RoomStatus& room) {
  JsonObject object;
  object.text("at", rfc3339(room.at))
      .text("room", room.room)
      .text("regime", name_of(room.regime.regime))
      .text("regime_since", rfc3339(room.regime.since))
      .text("regime_by", room.regime.by)
      .text("regime_because", room.regime.comment)
      .flag("seal_broken", room.regime.broken)
      .json("door", room.door ? json_string(*room.door) : "null")
      .json("entry_lock", entry_lock_object(room))
      .flag("monitored", room.monitored)
      .text("reason", room.reason)
      .number("dry_fraction", room.oxygen)
      .number("u_expanded", room.expanded_oxygen)
      .number("coverage_factor", room.coverage_factor)
      .number("co2_fraction", room.carbon_dioxide)
      .flag("relay_energised", room.relay_energised);
  return object;
}

} // namespace

std::string alarm_payload(const AlarmStatus& alarm) {
  return JsonObject{}
      .text("room", alarm.room)
      .text("alarm", alarm.alarm)
      .text("quantity", alarm.quantity)
      .text("state", name_of(alarm.state))
      .text("priority", name_of(alarm.priority))
      .flag("safety", alarm.safety)
      .flag("sounding", alarm.sounding)
      .flag("present", alarm.present)
      .flag("first_out", alarm.first_out)
      .flag("chattering", alarm.chattering)
      .flag("test", alarm.test)
      .flag("in_force", alarm.in_force)
      .text("since", rfc3339(alarm.since))
      .number("value", alarm.value)
      .number("expanded", alarm.expanded)
      .number("coverage_factor", alarm.coverage_factor)
      .number("limit", alarm.limit)
      .text("unit", alarm.unit)
      .json("suppression", suppression_object(alarm))
      .number("shelve_at_most_s", alarms::seconds_of(alarm.shelve_at_most))
      .number("out_of_service_at_most_s", alarms::seconds_of(alarm.out_of_service_at_most))
      .text("text", alarm.text)
      .text("caution", alarms::caution_short())
      .str();
}

std::string room_payload(const RoomStatus& room) {
  JsonObject states;
  for (const auto& alarm : room.alarms) states.text(alarm.alarm, name_of(alarm.state));
  return room_head(room).json("alarms", states.str()).text("caution", alarms::caution_short()).str();
}

std::string room_answer(const RoomStatus& room) {
  std::vector<std::string> sensors, alarm_objects;
  for (const auto& sensor : room.sensors) sensors.push_back(sensor_object(sensor));
  for (const auto& alarm : room.alarms) alarm_objects.push_back(alarm_payload(alarm));
  return room_head(room)
      .json("sensors", json_array(sensors))
      .json("control", actuators_payload(room.actuators))
      .json("alarms", json_array(alarm_objects))
      .text("caution", alarms::caution_short())
      .str();
}

std::string live_reading_payload(const ReadingRecord& reading) {
  JsonObject object;
  object.text("room", reading.room)
      .text("sensor", reading.sensor)
      .text("status", name_of(reading.status))
      .text("quality", name_of(alarms::quality_of(reading.status)))
      .json("reasons", reasons_array(reading.reasons));
  add_reading(reading, object);
  return object.str();
}

std::string alarm_record_payload(const AlarmRecord& record) {
  return JsonObject{}
      .text("at", rfc3339(record.at))
      .integer("sequence", record.sequence)
      .text("room", record.room)
      .text("alarm", record.alarm)
      .text("event", record.event)
      .text("from", name_of(record.from))
      .text("to", name_of(record.to))
      .text("cause", record.cause)
      .text("author", record.author)
      .text("comment", record.comment)
      .text("priority", name_of(record.priority))
      .number("value", record.value)
      .number("expanded", record.expanded)
      .number("limit", record.limit)
      .text("unit", record.unit)
      .text("text", record.text)
      .str();
}

std::string stored_reading_payload(const StoredReading& r) {
  return JsonObject{}
      .text("at", rfc3339(r.at))
      .text("room", r.room)
      .text("sensor", r.sensor)
      .text("quality", r.quality)
      .text("status", r.status)
      .text("reasons", r.reasons)
      .number("dry_fraction", r.oxygen)
      .number("u_dry_fraction", r.u_oxygen)
      .number("wet_fraction", r.oxygen_wet)
      .number("po2_kpa", scaled(r.po2_Pa, 1e-3))
      .number("raw_mv", scaled(r.raw_V, 1e3))
      .number("temperature_c", in_celsius(r.temperature_K))
      .number("humidity_percent", scaled(r.humidity, 100.0))
      .number("pressure_kpa", scaled(r.pressure_Pa, 1e-3))
      .number("co2_fraction", r.carbon_dioxide)
      .number("over_pressure_pa", r.over_pressure_Pa)
      .number("u_temperature_c", r.u_temperature_K)
      .number("u_pressure_kpa", scaled(r.u_pressure_Pa, 1e-3))
      .number("u_co2_fraction", r.u_carbon_dioxide)
      .number("u_over_pressure_pa", r.u_over_pressure_Pa)
      .number("derivation", r.derivation ? std::optional{static_cast<double>(*r.derivation)} : std::nullopt)
      .str();
}

std::string room_level_payload(const RoomLevel& level) {
  return JsonObject{}
      .text("at", rfc3339(level.at))
      .text("room", level.room)
      .number("dry_fraction", level.oxygen)
      .number("u_expanded", level.expanded_oxygen)
      .number("coverage_factor", level.coverage_factor)
      .number("co2_fraction", level.carbon_dioxide)
      .str();
}

namespace {

std::string number_or_null(const std::optional<std::int64_t>& number) {
  return number ? std::to_string(*number) : "null";
}

} // namespace

std::string history_payload(const ReadingHistory& history) {
  std::vector<std::string> readings;
  for (const auto& reading : history.readings) readings.push_back(stored_reading_payload(reading));
  return JsonObject{}
      .flag("truncated", history.truncated)
      .json("next", number_or_null(history.next))
      .json("readings", json_array(readings))
      .str();
}

std::string history_payload(const AlarmHistory& history) {
  std::vector<std::string> records;
  for (const auto& record : history.records) records.push_back(alarm_record_payload(record));
  return JsonObject{}
      .flag("truncated", history.truncated)
      .json("next", number_or_null(history.next))
      .json("alarms", json_array(records))
      .str();
}

std::string trend_payload(const Trend& trend) {
  std::vector<std::string> at, mean, least, greatest, bad;
  const auto number = [](const std::optional<double>& value) { return value ? json_number(*value) : "null"; };
  for (const auto& step : trend.steps) {
    at.push_back(std::to_string(step.middle.time_since_epoch().count()));
    mean.push_back(number(step.mean));
    least.push_back(number(step.least));
    greatest.push_back(number(step.greatest));
    bad.push_back(std::to_string(step.bad));
  }
  return JsonObject{}
      .integer("from_ms", trend.from.time_since_epoch().count())
      .integer("to_ms", trend.to.time_since_epoch().count())
      .integer("step_ms", trend.step.count())
      .json("at_ms", json_array(at))
      .json("mean", json_array(mean))
      .json("min", json_array(least))
      .json("max", json_array(greatest))
      .json("bad", json_array(bad))
      .str();
}

} // namespace oxherd::daemon
