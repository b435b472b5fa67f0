#include "daemon/payloads.hpp"

#include <cmath>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"

namespace oxherd::daemon::payloads_test {

using nlohmann::json;
using namespace std::chrono_literals;

WallTime at(std::int64_t unix_ms) { return WallTime{std::chrono::milliseconds{unix_ms}}; }

/// 2026-03-01T08:15:30.250Z
constexpr std::int64_t morning_ms = 1772352930250;

ReadingRecord reading_of_cell_a() {
  ReadingRecord r;
  r.at = at(morning_ms);
  r.room = "cryo-annexe";
  r.sensor = "cell-a";
  compensation::OxygenReading oxygen;
  oxygen.dry = DryFraction::from_si(0.2089);
  oxygen.wet = WetFraction::from_si(0.2064);
  oxygen.po2 = OxygenPartialPressure::from_si(20598.75);
  oxygen.uncorrected = 0.2051;
  oxygen.u_dry = 0.0012;
  r.oxygen = oxygen;
  r.raw_V = 0.0119;
  r.temperature_K = 294.15;
  r.humidity = 0.57;
  r.pressure_Pa = 99800.0;
  r.carbon_dioxide = 0.00042;
  r.status = alarms::Status::out_of_specification;
  return r;
}

AlarmStatus low_oxygen() {
  AlarmStatus a;
  a.room = "cryo-annexe";
  a.alarm = "low-oxygen";
  a.quantity = "oxygen";
  a.out_of_service_at_most = std::chrono::hours{168};
  a.state = alarms::State::returned_to_normal_unacknowledged;
  a.priority = alarms::Priority::critical;
  a.sounding = true;
  a.since = at(morning_ms);
  a.value = 0.1921;
  a.expanded = 0.0024;
  a.limit = 0.195;
  a.unit = "/";
  a.text = "cryo-annexe: oxygen 19.2 %";
  return a;
}

RoomStatus cryo_annexe() {
  RoomStatus room;
  room.at = at(morning_ms);
  room.room = "cryo-annexe";
  room.regime.regime = alarms::Regime::occupied;
  room.monitored = true;
  room.oxygen = 0.2089;
  room.expanded_oxygen = 0.0024;
  room.relay_energised = false;
  room.alarms = {low_oxygen()};
  SensorStatus cell;
  cell.name = "cell-a";
  cell.measures = {"oxygen"};
  cell.status = alarms::Status::out_of_specification;
  cell.reasons = {{alarms::Status::out_of_specification, "pressure probe lost: standard atmosphere used"}};
  cell.age_ms = 1250;
  cell.last = reading_of_cell_a();
  SensorStatus air;
  air.name = "air";
  air.measures = {"temperature", "humidity"};
  room.sensors = {cell, air};
  return room;
}

TEST(AlarmPayload, IsWrittenAsAgreed) {
  EXPECT_EQ(json::parse(alarm_payload(low_oxygen())),
            json::parse(R"({"room":"cryo-annexe","alarm":"low-oxygen","quantity":"oxygen",
    "shelve_at_most_s":0,"out_of_service_at_most_s":604800,
    "state":"returned_to_normal_unacknowledged","priority":"critical","safety":true,"sounding":true,"present":false,
    "first_out":false,"chattering":false,"test":false,"in_force":true,"suppression":null,
    "since":"2026-03-01T08:15:30.250Z","value":0.1921,"expanded":0.0024,"coverage_factor":2,"limit":0.195,"unit":"/",
    "text":"cryo-annexe: oxygen 19.2 %","caution":)" +
                        json(alarms::caution_short()).dump() + "}"));
  auto hidden = low_oxygen();
  hidden.suppressed_until = at(morning_ms);
  hidden.suppressed_by = "R. Okafor";
  hidden.suppressed_because = "cell C";
  EXPECT_EQ(json::parse(alarm_payload(hidden)).at("suppression"),
            json::parse(R"({"until":"2026-03-01T08:15:30.250Z","by":"R. Okafor","reason":"cell C"})"));
  auto unmeasured = low_oxygen();
  unmeasured.value.reset();
  unmeasured.expanded = std::nan("");
  const auto object = json::parse(alarm_payload(unmeasured));
  EXPECT_TRUE(object.at("value").is_null());
  EXPECT_TRUE(object.at("expanded").is_null());
}

TEST(RoomPayload, IsTheSummaryWithTheStateOfEachAlarmAndTheCaution) {
  EXPECT_EQ(json::parse(room_payload(cryo_annexe())), json::parse(R"({"at":"2026-03-01T08:15:30.250Z",
    "room":"cryo-annexe","regime":"occupied","regime_since":"1970-01-01T00:00:00.000Z","regime_by":"",
    "regime_because":"","seal_broken":false,"door":null,"entry_lock":null,"monitored":true,"reason":"","dry_fraction":0.2089,"u_expanded":0.0024,"coverage_factor":2,
    "co2_fraction":null,"relay_energised":false,"alarms":{"low-oxygen":"returned_to_normal_unacknowledged"},
    "caution":)" + json(alarms::caution_short()).dump() + "}"));
  RoomStatus lost;
  lost.at = at(morning_ms);
  lost.room = "pear-store-2";
  lost.regime.regime = alarms::Regime::sealed_low_oxygen;
  lost.reason = "cell: no answer since 08:14";
  const auto object = json::parse(room_payload(lost));
  EXPECT_EQ(object.at("monitored"), false);
  EXPECT_EQ(object.at("reason"), "cell: no answer since 08:14");
  EXPECT_TRUE(object.at("dry_fraction").is_null());
  EXPECT_TRUE(object.at("relay_energised").is_null());
  EXPECT_EQ(object.at("alarms"), json::object());
}

TEST(RoomPayload, SaysHowARoomIsUsedAndWhyItsLockIsWithheld) {
  RoomStatus store = cryo_annexe();
  store.regime = {"cryo-annexe", alarms::Regime::ventilated_before_entry, at(morning_ms), "R. Okafor", "unloading"};
  store.door = "closed";
  store.entry_lock =
      EntryLockStatus{true, {"the room is not monitored"}, std::chrono::seconds{90}, std::chrono::minutes{15}};
  const auto object = json::parse(room_payload(store));
  EXPECT_EQ(object.at("regime"), "ventilated-before-entry");
  EXPECT_EQ(object.at("regime_since"), "2026-03-01T08:15:30.250Z");
  EXPECT_EQ(object.at("regime_by"), "R. Okafor");
  EXPECT_EQ(object.at("regime_because"), "unloading");
  EXPECT_EQ(object.at("door"), "closed");
  EXPECT_EQ(object.at("entry_lock"),
            json::parse(R"({"withheld":true,"reasons":["the room is not monitored"],"fresh_for_s":90,"hold_s":900})"));
}

TEST(RoomAnswer, HasEverySensorAndAlarmInFull) {
  const auto object = json::parse(room_answer(cryo_annexe()));
  const auto summary = json::parse(room_payload(cryo_annexe()));
  for (const auto& [key, value] : summary.items()) EXPECT_TRUE(key == "alarms" || object.at(key) == value) << key;
  EXPECT_EQ(object.at("alarms"), json::array({json::parse(alarm_payload(low_oxygen()))}));
  EXPECT_EQ(object.at("sensors"), json::parse(R"([{"sensor":"cell-a","measures":["oxygen"],
    "status":"out_of_specification","quality":"uncertain","reasons":[{"status":"out_of_specification",
    "text":"pressure probe lost: standard atmosphere used"}],"age_s":1.25,"last":{"at":"2026-03-01T08:15:30.250Z",
    "dry_fraction":0.2089,"u_dry_fraction":0.0012,"wet_fraction":0.2064,"po2_kpa":20.59875,
    "uncorrected_fraction":0.2051,"raw_mv":11.9,"temperature_c":21.0,"humidity_percent":57.0,"pressure_kpa":99.8,
    "co2_fraction":0.00042,"over_pressure_pa":null,"door_open":null,"people_in":null,"lights_on":null,"air_flowing":null,"relief_isolated":null}},{"sensor":"air","measures":["temperature","humidity"],"status":"failure","quality":"bad",
    "reasons":[],"age_s":null,"last":null}])"));
}

TEST(RoomAnswer, WritesTheValuesAReadingLacksAsNull) {
  auto room = cryo_annexe();
  ReadingRecord bare;
  bare.at = at(morning_ms);
  bare.pressure_Pa = std::nan("");
  room.sensors[0].last = bare;
  const auto last = json::parse(room_answer(room)).at("sensors")[0].at("last");
  EXPECT_EQ(last.size(), 17U);
  for (const auto& [key, value] : last.items()) EXPECT_EQ(value.is_null(), key != "at") << key;
}

TEST(AlarmRecordPayload, IsFlat) {
  AlarmRecord record;
  record.at = at(morning_ms);
  record.sequence = 8123456789;
  record.room = "cryo-annexe";
  record.alarm = "low-oxygen";
  record.event = "transition";
  record.from = alarms::State::unacknowledged;
  record.to = alarms::State::acknowledged;
  record.cause = "acknowledge";
  record.author = "m.larkin";
  record.comment = "door was \"open\"";
  record.priority = alarms::Priority::critical;
  record.value = 0.193;
  record.unit = "/";
  record.text = "oxygen low";
  EXPECT_EQ(json::parse(alarm_record_payload(record)), json::parse(R"({"at":"2026-03-01T08:15:30.250Z",
    "sequence":8123456789,"room":"cryo-annexe","alarm":"low-oxygen","event":"transition","from":"unacknowledged",
    "to":"acknowledged","cause":"acknowledge","author":"m.larkin","comment":"door was \"open\"","priority":"critical",
    "value":0.193,"expanded":null,"limit":null,"unit":"/","text":"oxygen low"})"));
}

} // namespace oxherd::daemon::payloads_test
