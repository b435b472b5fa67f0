#include <gtest/gtest.h>

#include "config/alarm_defaults.hpp"
#include "tests/config/sample.hpp"

namespace oxherd::defaults_test {

using namespace std::chrono_literals;
using config::AlarmQuantity;
using config::Regime;
using config_test::settings_of;
using config_test::sound;
using config_test::with;

TEST(Defaults, OfAnAlarmFollowItsQuantityClassAndRoom) {
  using enum alarms::Direction;
  constexpr auto critical = alarms::Priority::critical;
  struct Row {
    config::AlarmKind kind;
    double deadband;
    std::chrono::milliseconds on, off;
    alarms::Priority priority;
  };
  const Row rows[] = {
      {{AlarmQuantity::oxygen, true, Regime::occupied, low}, 0.002, 3s, 10s, critical},
      {{AlarmQuantity::oxygen, true, Regime::occupied, high}, 0.002, 3s, 10s, alarms::Priority::high},
      {{AlarmQuantity::oxygen, true, Regime::sealed_low_oxygen, low}, 0.002, 3s, 10s, critical},
      {{AlarmQuantity::oxygen, false, Regime::sealed_low_oxygen, high}, 0.002, 120s, 600s, alarms::Priority::high},
      {{AlarmQuantity::oxygen_partial_pressure, true, Regime::occupied, low}, 200.0, 3s, 10s, critical},
      {{AlarmQuantity::carbon_dioxide, true, Regime::occupied, high}, 250e-6, 5s, 30s, critical},
      {{AlarmQuantity::carbon_dioxide, true, Regime::enriched, high}, 250e-6, 5s, 30s, alarms::Priority::high},
      {{AlarmQuantity::carbon_dioxide, false, Regime::enriched, high}, 100e-6, 60s, 60s, alarms::Priority::high},
      {{AlarmQuantity::carbon_dioxide, false, Regime::sealed_low_oxygen, high},
       0.002,
       300s,
       300s,
       alarms::Priority::high},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(&row - rows);
    const auto defaults = config::defaults_of(row.kind);
    EXPECT_DOUBLE_EQ(defaults.deadband, row.deadband);
    EXPECT_EQ(defaults.on_delay, row.on);
    EXPECT_EQ(defaults.off_delay, row.off);
    EXPECT_EQ(defaults.priority, row.priority);
  }
}

TEST(Defaults, MakeASafetyAlarmLatchAndAProcessAlarmNot) {
  const auto safety = settings_of(sound).rooms.at(0).alarms.at(0).alarm.annunciation;
  EXPECT_TRUE(safety.safety);
  EXPECT_TRUE(safety.latching);
  EXPECT_EQ(safety.reannounce_after, 15min);
  const auto process =
      settings_of(with("below = \"19.5 %\"", "above = \"23 %\"\nclass = \"process\"")).rooms.at(0).alarms.at(0);
  EXPECT_FALSE(process.alarm.annunciation.safety);
  EXPECT_FALSE(process.alarm.annunciation.latching);
  EXPECT_EQ(process.alarm.annunciation.reannounce_after, 60min);
  EXPECT_EQ(std::get<alarms::Limit>(process.alarm.rule).on_delay, 120s);
}

TEST(Defaults, GiveEveryRoomTheAlarmThatItIsNotMonitored) {
  struct Row {
    std::string_view regime;
    std::optional<std::chrono::milliseconds> unattended;
  };
  for (const auto& row :
       {Row{"occupied", {}}, Row{"sealed-low-oxygen", 60s}, Row{"ventilated-before-entry", 60s}, Row{"enriched", {}}}) {
    SCOPED_TRACE(row.regime);
    const auto settings = settings_of(with("\"occupied\"", '"' + std::string{row.regime} + '"'));
    const auto& alarm = settings.rooms.at(0).alarms.back();
    EXPECT_EQ(alarm.name, "not-monitored");
    EXPECT_EQ(alarm.quantity, AlarmQuantity::monitoring);
    const auto& rule = std::get<alarms::NotMonitored>(alarm.alarm.rule);
    EXPECT_EQ(rule.on_delay, 10s);
    EXPECT_EQ(rule.on_delay_unattended, row.unattended);
    EXPECT_EQ(rule.off_delay, 5s);
    EXPECT_EQ(alarm.alarm.annunciation.priority, alarms::Priority::high);
    EXPECT_TRUE(alarm.alarm.annunciation.safety);
  }
}

TEST(NotMonitored, TakesOtherDelaysAndPriorityFromATableOfItsName) {
  const auto settings = settings_of(with("[output.beacon]", "[room.annexe.alarm.not-monitored]\non_delay = \"4 s\"\n"
                                                            "off_delay = \"2 s\"\npriority = \"critical\"\n\n"
                                                            "[output.beacon]"));
  const auto& alarms_of_room = settings.rooms.at(0).alarms;
  ASSERT_EQ(alarms_of_room.size(), 3U); // with that of a lost output; not a second one beside it
  const auto& rule = std::get<alarms::NotMonitored>(alarms_of_room.back().alarm.rule);
  EXPECT_EQ(rule.on_delay, 4s);
  EXPECT_EQ(rule.off_delay, 2s);
  EXPECT_EQ(alarms_of_room.back().alarm.annunciation.priority, alarms::Priority::critical);
}

TEST(Defaults, OfASensorComeFromItsBusThenItsProfile) {
  const auto plain = settings_of(sound).rooms.at(0).sensors.at(0);
  EXPECT_EQ(plain.every, 1s);
  EXPECT_EQ(plain.timeout, 500ms);
  EXPECT_EQ(plain.retries, 1);
  EXPECT_EQ(plain.limits.gap_max, 8);
  EXPECT_EQ(std::get<drivers::TcpAddress>(settings_of(sound).buses.at(0).address).requests_at_once, 1);
  const auto by_bus =
      settings_of(with("address = \"127.0.0.1:1502\"", "address = \"127.0.0.1\"\ntimeout = \"300 ms\"\n"
                                                       "retries = 3\ngap_max = 0\nrequests_at_once = 8"));
  EXPECT_EQ(std::get<drivers::TcpAddress>(by_bus.buses.at(0).address).requests_at_once, 8);
  EXPECT_EQ(std::get<drivers::TcpAddress>(by_bus.buses.at(0).address).port, 502);
  EXPECT_EQ(by_bus.rooms.at(0).sensors.at(0).timeout, 300ms);
  EXPECT_EQ(by_bus.rooms.at(0).sensors.at(0).retries, 3);
  EXPECT_EQ(by_bus.rooms.at(0).sensors.at(0).limits.gap_max, 0);
  const auto own = settings_of(with("unit = 11", "unit = 11\nretries = 0\ngap_max = 2\nlength_max = 10"));
  EXPECT_EQ(own.rooms.at(0).sensors.at(0).retries, 0);
  EXPECT_EQ(own.rooms.at(0).sensors.at(0).limits.gap_max, 2);
  EXPECT_EQ(own.rooms.at(0).sensors.at(0).limits.length_max, 10);
}

TEST(Sensor, TakesUncertaintiesOverThoseOfItsProfileAndOnlyThePointsItMeasures) {
  const auto settings =
      settings_of(with("measures = [\"temperature\", \"humidity\", \"pressure\"]",
                       "measures = [\"pressure\", \"temperature\"]\nu = { temperature = \"0.9 °F\" }"));
  const auto& air = settings.rooms.at(0).sensors.at(1);
  ASSERT_EQ(air.points.size(), 2U);
  ASSERT_EQ(air.map.points.size(), 2U);
  EXPECT_EQ(air.points[0].measurand, config::Measurand::pressure);
  EXPECT_EQ(air.map.points[0].address, 2);
  EXPECT_DOUBLE_EQ(air.points[0].u_si, 50.0);
  EXPECT_NEAR(air.points[1].u_si, 0.5, 1e-12); // a difference: 0.9 °F is half a kelvin
}

TEST(Room, IsOccupiedWhenTheFileDoesNotSay) {
  const auto room = settings_of(with("regime = \"occupied\"", "assumed_temperature = \"4 °C\"")).rooms.at(0);
  EXPECT_EQ(room.regime, Regime::occupied);
  EXPECT_DOUBLE_EQ(room.assumed_temperature.value.si(), 277.15);
  EXPECT_DOUBLE_EQ(room.coverage_factor, 2.0);
  EXPECT_EQ(room.oxygen_vote, alarms::Scheme::one_of_one);
}

TEST(Broker, GetsTheRegisteredPortOfItsScheme) {
  const auto broker = [](std::string_view text) {
    return settings_of(with("[bus.plant]", "[mqtt]\nbroker = \"" + std::string{text} + "\"\n[bus.plant]")).mqtt->broker;
  };
  EXPECT_EQ(broker("mqtt://10.0.0.2"), "mqtt://10.0.0.2:1883");
  EXPECT_EQ(broker("mqtts://broker.example"), "mqtts://broker.example:8883");
  EXPECT_EQ(broker("mqtts://[2001:db8::1]:9000"), "mqtts://[2001:db8::1]:9000");
}

TEST(Broker, GetsSparkplugOnlyWhereTheFileAsksForIt) {
  const auto sparkplug = [](std::string_view text) {
    return settings_of(
               with("[bus.plant]", "[mqtt]\nbroker = \"mqtt://127.0.0.1\"\n" + std::string{text} + "[bus.plant]"))
        .mqtt->sparkplug;
  };
  EXPECT_FALSE(sparkplug(""));
  ASSERT_TRUE(sparkplug("[mqtt.sparkplug]\ngroup = \"north farms\"\n"));
  EXPECT_EQ(sparkplug("[mqtt.sparkplug]\ngroup = \"north farms\"\n")->group, "north farms");
}

} // namespace oxherd::defaults_test
