#include "daemon/collect/message.hpp"

#include <gtest/gtest.h>

#include "daemon/senml.hpp"

namespace oxherd::daemon::collect::message_test {

using namespace std::chrono_literals;

constexpr SampleTime now{std::chrono::seconds{1'800'000'000}};

Told told(std::string_view topic, const std::string& payload) {
  auto message = take_apart("oxherd", topic, payload, now);
  EXPECT_TRUE(message) << topic << ": " << (message ? "" : message.error());
  return message.value_or(Told{});
}

std::string refusal_of(std::string_view topic, const std::string& payload) {
  const auto message = take_apart("oxherd", topic, payload, now);
  return message ? std::string{} : message.error();
}

TEST(AMessage, OfADaemonIsTakenApartIntoSamples) {
  ReadingRecord reading;
  reading.at = WallTime{1'799'999'999'250ms};
  reading.room = "cryo-annexe";
  reading.sensor = "air";
  reading.temperature_K = 294.25;
  reading.status = alarms::Status::out_of_specification;
  const auto samples =
      std::get<Samples>(told("oxherd/larkfield/cryo-annexe/air", senml_pack("larkfield", reading)).what).all;
  ASSERT_EQ(samples.size(), 2U);
  EXPECT_EQ(samples[0].room, "cryo-annexe");
  EXPECT_EQ(samples[0].sensor, "air");
  EXPECT_EQ(samples[0].quantity, "temperature");
  EXPECT_EQ(samples[0].unit, "Cel");
  EXPECT_EQ(samples[0].at, SampleTime{reading.at});
  EXPECT_DOUBLE_EQ(samples[0].value.value_or(0), 21.1);
  EXPECT_EQ(samples[0].quality, 2) << "uncertain";
  EXPECT_EQ(samples[1].quantity, "quality");
  EXPECT_EQ(samples[1].words, "uncertain");
}

TEST(AMessage, MayCarryManySensorsAndTimesOnAnyTopicOfTheSite) {
  const auto samples =
      std::get<Samples>(told("oxherd/larkfield/measurements",
                             R"([{"bn":"larkfield/bay-3/co2/","bt":1799999990,"n":"co2","u":"/","v":0.0008},
      {"n":"quality","vs":"good"},{"n":"co2","u":"/","v":0.0009,"t":1},{"n":"quality","vs":"bad","t":1},
      {"bn":"larkfield/bay-3/door/","n":"door","vb":true}])")
                            .what)
          .all;
  ASSERT_EQ(samples.size(), 5U);
  EXPECT_EQ(samples[0].quality, 1);
  EXPECT_EQ(samples[2].quality, 3);
  EXPECT_EQ(samples[4].sensor, "door");
  EXPECT_EQ(samples[4].value, 1.0);
  EXPECT_FALSE(samples[4].quality);
}

TEST(AMessage, WhoseNamesSayNoSensorIsOfTheSensorOfItsTopic) {
  const auto samples = std::get<Samples>(told("oxherd/larkfield/bay-3/meter",
                                              R"([{"n":"urn:dev:ow:10e2073a01080063","v":1,"s":5},
      {"n":"otherfield/bay-3/co2/co2","v":1}])")
                                             .what)
                           .all;
  ASSERT_EQ(samples.size(), 3U);
  EXPECT_EQ(samples[0].quantity, "urn:dev:ow:10e2073a01080063.sum");
  EXPECT_EQ(samples[0].value, 5.0);
  EXPECT_EQ(samples[1].sensor, "meter");
  EXPECT_EQ(samples[2].room, "bay-3") << "another site cannot be spoken for";
  EXPECT_EQ(samples[2].quantity, "otherfield/bay-3/co2/co2");
}

TEST(AMessage, LeavesOutTimesThatNobodyCanHaveMeasuredAt) {
  const auto samples =
      std::get<Samples>(told("oxherd/larkfield/bay-3/co2",
                             R"([{"n":"a","v":1,"t":900000000},{"n":"a","v":1,"t":1800090000},{"n":"a","v":1}])")
                            .what);
  EXPECT_EQ(samples.all.size(), 1U);
  EXPECT_EQ(samples.without_use, 2U);
}

TEST(AMessage, TellsOfTheSiteItsRoomsAndItsAlarms) {
  EXPECT_TRUE(std::get<Standing>(told("oxherd/larkfield/status", "online").what).online);
  EXPECT_FALSE(std::get<Standing>(told("oxherd/larkfield/status", "offline").what).online);
  const auto beat =
      std::get<Beat>(told("oxherd/larkfield/heartbeat", R"({"evaluations":12,"at":"2026-03-01T08:00:00Z"})").what);
  EXPECT_EQ(beat.evaluations, 12);
  EXPECT_EQ(beat.at, SampleTime{1772352000s});
  EXPECT_EQ(std::get<RoomNow>(told("oxherd/larkfield/bay-3/state", R"({"monitored":true})").what).room, "bay-3");
  EXPECT_EQ(std::get<RoomNow>(told("oxherd/larkfield/bay-3/state", "").what).json, "");
  const auto alarm = std::get<AlarmNow>(told("oxherd/larkfield/bay-3/alarms/low-co2", R"({"state":"normal"})").what);
  EXPECT_EQ(alarm.alarm, "low-co2");
  EXPECT_EQ(
      std::get<JournalLine>(told("oxherd/larkfield/journal", R"({"sequence":3,"at":"2026-03-01T08:00:00Z"})").what)
          .json.substr(0, 12),
      R"({"sequence":)");
  EXPECT_TRUE(std::holds_alternative<NotOurs>(told("oxherd/larkfield/messages/okafor", "{}").what));
}

TEST(AMessage, ThatCannotBeUnderstoodIsRefusedInWords) {
  for (const auto& [topic, payload] : std::initializer_list<std::pair<const char*, const char*>>{
           {"oxherd/larkfield/status", "maybe"},
           {"oxherd/larkfield/heartbeat", "{}"},
           {"oxherd/larkfield/heartbeat", R"({"evaluations":"x","at":"2026-03-01T08:00:00Z"})"},
           {"oxherd/larkfield/journal", R"({"sequence":1})"},
           {"oxherd/larkfield/journal", "[]"},
           {"oxherd/larkfield/bay-3/state", "[]"},
           {"oxherd/larkfield/bay-3/state", R"({"reason":"\u0000"})"},
           {"oxherd/larkfield/bay-3/alarms/low-co2", "no"},
           {"oxherd/larkfield/bay-3/co2", "{}"},
           {"oxherd//status", "online"},
           {"other/larkfield/status", "online"},
           {"oxherd", "online"}})
    EXPECT_NE(refusal_of(topic, payload), "") << topic << ' ' << payload;
}

} // namespace oxherd::daemon::collect::message_test
