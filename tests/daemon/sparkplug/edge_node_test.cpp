#include "daemon/sparkplug/edge_node.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "alarms/texts.hpp"
#include "tests/daemon/sparkplug/read_payload.hpp"

namespace oxherd::daemon::sparkplug_test {

using sparkplug::EdgeNode;
using sparkplug::Message;
using testing::ElementsAre;
using testing::IsEmpty;

ReadingRecord air(int second, double degrees, alarms::Status status = alarms::Status::ok,
                  const std::string& room = "annexe") {
  ReadingRecord r;
  r.at = at_second(second);
  r.room = room;
  r.sensor = "air";
  r.temperature_K = degrees + 273.15;
  r.status = status;
  return r;
}

AlarmStatus low_oxygen(alarms::State state) {
  AlarmStatus alarm;
  alarm.room = "annexe";
  alarm.alarm = "low-oxygen";
  alarm.state = state;
  return alarm;
}

std::string command(const std::string& name, bool value) {
  sparkplug_b::Payload payload;
  auto& metric = *payload.add_metrics();
  metric.set_name(name);
  metric.set_boolean_value(value);
  return payload.SerializeAsString();
}

/// An edge node of two rooms on a clock of its own.
class Node {
public:
  static sparkplug::Plan plan() {
    using enum sparkplug::Datatype;
    return {{"annexe",
             {{"state/monitored", boolean, {}},
              {"alarms/low-oxygen/state", text, {}},
              {"air/temperature", float64, "Cel"},
              {"air/quality", text, {}}}},
            {"bay", {{"air/temperature", float64, "Cel"}, {"air/quality", text, {}}}}};
  }

  void pass(std::chrono::milliseconds span) { now += span; }
  [[nodiscard]] WallTime wall() const { return at_second(0) + now; }
  /// Everything that goes out now.
  std::vector<Message> come() {
    std::vector<Message> list;
    while (auto message = node.next(now, wall())) list.push_back(std::move(*message));
    return list;
  }
  /// As "TOPIC SEQ".
  std::vector<std::string> come_topics() {
    std::vector<std::string> list;
    for (const auto& message : come()) list.push_back(fmt::format("{} {}", message.topic, read(message.payload).seq()));
    return list;
  }
  void take(const ReadingRecord& reading) { node.take(reading, now); }
  void begin(std::uint8_t number) {
    node.begin(number);
    come();
  }

  EdgeNode node{"farms", "larkfield", plan(), 2s};
  alarms::Monotonic now{1000};
};

TEST(SparkplugEdgeNode, IsBornBeforeItsRoomsAndTheseBeforeAnyData) {
  Node one;
  EXPECT_THAT(one.come_topics(), IsEmpty()) << "there is no connection";
  one.take(air(0, 21.0));
  one.node.begin(7);
  one.take(air(1, 22.0));
  EXPECT_THAT(one.come_topics(),
              ElementsAre("spBv1.0/farms/NBIRTH/larkfield 0", "spBv1.0/farms/DBIRTH/larkfield/annexe 1",
                          "spBv1.0/farms/DBIRTH/larkfield/bay 2"));
  one.take(air(2, 23.0));
  one.pass(2s);
  EXPECT_THAT(one.come_topics(), ElementsAre("spBv1.0/farms/DDATA/larkfield/annexe 3"));
}

TEST(SparkplugEdgeNode, SaysNothingOfARoomBetweenTheBirths) {
  Node one;
  one.node.begin(7);
  EXPECT_EQ(one.node.next(one.now, one.wall())->topic, "spBv1.0/farms/NBIRTH/larkfield");
  EXPECT_EQ(one.node.next(one.now, one.wall())->topic, "spBv1.0/farms/DBIRTH/larkfield/annexe");
  one.node.take(low_oxygen(alarms::State::unacknowledged), at_second(2), one.now);
  EXPECT_THAT(one.come_topics(),
              ElementsAre("spBv1.0/farms/DBIRTH/larkfield/bay 2", "spBv1.0/farms/DDATA/larkfield/annexe 3"));
}

TEST(SparkplugEdgeNode, IsBornWithItsNumberTheRebirthAndTheNotice) {
  Node one;
  one.node.begin(7);
  const auto birth = one.come().at(0);
  EXPECT_EQ(birth.qos, 0);
  const auto payload = read(birth.payload);
  EXPECT_TRUE(payload.has_seq());
  EXPECT_EQ(payload.timestamp(), 1772352931000U);
  const auto* number = find(payload, "bdSeq");
  ASSERT_NE(number, nullptr);
  EXPECT_EQ(number->datatype(), 4U);
  EXPECT_EQ(number->long_value(), 7U);
  const auto* rebirth = find(payload, "Node Control/Rebirth");
  ASSERT_NE(rebirth, nullptr);
  EXPECT_EQ(rebirth->datatype(), 11U);
  EXPECT_TRUE(rebirth->has_boolean_value());
  EXPECT_FALSE(rebirth->boolean_value());
  const auto* notice = find(payload, "notice");
  ASSERT_NE(notice, nullptr);
  EXPECT_EQ(notice->string_value(), alarms::caution_long());
}

TEST(SparkplugEdgeNode, GivesEveryMetricOfARoomWithTypeUnitAndTimeAndWhatIsNotKnownAsNull) {
  Node one;
  one.take(air(0, 21.0));
  one.node.begin(7);
  const auto births = one.come();
  EXPECT_THAT(words(births.at(1).payload), ElementsAre("state/monitored=null", "alarms/low-oxygen/state=null",
                                                       "air/temperature=21.00", "air/quality=good"));
  const auto payload = read(births.at(1).payload);
  const auto& temperature = payload.metrics(2);
  EXPECT_EQ(temperature.datatype(), 10U);
  EXPECT_EQ(temperature.timestamp(), 1772352930000U) << "when the sample was taken";
  EXPECT_THAT(temperature.properties().keys(), ElementsAre("Quality", "unit"));
  EXPECT_EQ(temperature.properties().values(1).type(), 12U);
  EXPECT_EQ(temperature.properties().values(1).string_value(), "Cel");
  EXPECT_EQ(quality(temperature), 192U);
  EXPECT_EQ(quality(payload.metrics(0)), 0U);
  EXPECT_EQ(payload.metrics(0).timestamp(), 1772352931000U) << "nothing was ever said of it: null now";
  EXPECT_EQ(payload.metrics(0).value_case(), sparkplug_b::Metric::VALUE_NOT_SET);
}

TEST(SparkplugEdgeNode, CountsItsMessagesTo255AndOnFrom0) {
  Node one;
  one.begin(0);
  std::vector<std::uint64_t> numbers;
  for (int i = 0; i < 512; ++i) {
    one.pass(2s);
    one.take(air(i, i));
    for (const auto& message : one.come()) numbers.push_back(read(message.payload).seq());
    one.pass(2s);
    for (const auto& message : one.come()) numbers.push_back(read(message.payload).seq());
  }
  ASSERT_EQ(numbers.size(), 512U);
  for (std::size_t i = 0; i < numbers.size(); ++i) EXPECT_EQ(numbers[i], (i + 3) % 256);
}

TEST(SparkplugEdgeNode, LetsValuesOfARoomWaitForEachOtherAndSaysEachOnlyWhenItDiffers) {
  Node one;
  one.begin(0);
  one.take(air(1, 21.0)); // the quality is new, and urgent
  one.come();
  one.take(air(2, 21.0));
  one.take(air(3, 21.5));
  one.pass(1999ms);
  EXPECT_THAT(one.come(), IsEmpty());
  one.take(air(4, 21.5));
  one.take(air(5, 22.0));
  one.pass(1ms);
  const auto data = one.come();
  ASSERT_EQ(data.size(), 1U);
  EXPECT_THAT(words(data[0].payload), ElementsAre("air/temperature=21.50", "air/temperature=22.00"));
  EXPECT_EQ(read(data[0].payload).metrics(0).timestamp(), 1772352933000U);
  EXPECT_EQ(read(data[0].payload).metrics(1).timestamp(), 1772352935000U);
  EXPECT_FALSE(read(data[0].payload).metrics(0).has_datatype()) << "a birth has said it";
}

TEST(SparkplugEdgeNode, LetsNoAlarmWait) {
  Node one;
  one.take(air(0, 21.0));
  one.begin(0);
  one.take(air(1, 21.5));
  one.node.take(low_oxygen(alarms::State::unacknowledged), at_second(2), one.now);
  const auto data = one.come();
  ASSERT_EQ(data.size(), 1U);
  EXPECT_THAT(words(data[0].payload), ElementsAre("air/temperature=21.50", "alarms/low-oxygen/state=unacknowledged"));
}

TEST(SparkplugEdgeNode, SaysNullAsSoonAsAReadingIsBadWhateverNumberItHas) {
  Node one;
  one.take(air(0, 21.0));
  one.begin(0);
  one.take(air(1, 21.0, alarms::Status::failure));
  const auto data = one.come();
  ASSERT_EQ(data.size(), 1U);
  EXPECT_THAT(words(data[0].payload), ElementsAre("air/temperature=null", "air/quality=bad"));
  EXPECT_EQ(quality(read(data[0].payload).metrics(0)), 0U);
  EXPECT_EQ(read(data[0].payload).metrics(0).value_case(), sparkplug_b::Metric::VALUE_NOT_SET);
}

TEST(SparkplugEdgeNode, SaysNullOfASensorThatIsSilent) {
  Node one;
  one.take(air(0, 21.0));
  one.begin(0);
  RoomStatus status;
  status.room = "annexe";
  status.at = at_second(30);
  status.sensors.push_back({"air", {}, {}, {}, alarms::Status::failure, {}});
  one.node.take(status, one.now);
  const auto data = one.come();
  ASSERT_EQ(data.size(), 1U);
  EXPECT_THAT(words(data[0].payload), ElementsAre("state/monitored=false", "air/temperature=null", "air/quality=bad"));
  one.node.end();
  one.node.begin(1);
  EXPECT_EQ(words(one.come().at(1).payload).at(2), "air/temperature=null") << "a birth tells no old number either";
}

TEST(SparkplugEdgeNode, MarksAnUncertainValueAsNotGoodAndKeepsIt) {
  Node one;
  one.take(air(0, 21.0));
  one.begin(0);
  one.take(air(1, 21.0, alarms::Status::out_of_specification));
  const auto data = one.come();
  ASSERT_EQ(data.size(), 1U);
  EXPECT_THAT(words(data[0].payload), ElementsAre("air/temperature=21.00", "air/quality=uncertain"));
  EXPECT_EQ(quality(read(data[0].payload).metrics(0)), 0U);
}

TEST(SparkplugEdgeNode, IsBornAgainWhenItIsAskedAndSaysNoDataBefore) {
  Node one;
  one.begin(9);
  one.take(air(1, 21.0));
  std::string told;
  EXPECT_EQ(one.node.hear(command("Node Control/Rebirth", true), told), EdgeNode::Heard::rebirth);
  EXPECT_EQ(told, "");
  one.pass(1s);
  const auto births = one.come();
  ASSERT_EQ(births.size(), 3U);
  EXPECT_EQ(births[0].topic, "spBv1.0/farms/NBIRTH/larkfield");
  EXPECT_EQ(read(births[0].payload).seq(), 0U);
  EXPECT_EQ(find(read(births[0].payload), "bdSeq")->long_value(), 9U) << "the will is the same";
  EXPECT_EQ(words(births[1].payload).at(2), "air/temperature=21.00");
  EXPECT_EQ(one.node.births(), 2U);
  EXPECT_EQ(one.node.commands_ignored(), 0U);
}

TEST(SparkplugEdgeNode, IsBornOnceASecondAtMostHoweverOftenItIsAsked) {
  Node one;
  one.begin(9);
  std::string told;
  for (int i = 0; i < 100; ++i) {
    one.node.hear(command("Node Control/Rebirth", true), told);
    one.take(air(1 + i, i));
    one.pass(9ms);
    EXPECT_THAT(one.come(), IsEmpty()) << "neither a birth nor data before it";
  }
  one.pass(100ms);
  EXPECT_EQ(one.come().size(), 3U);
  one.pass(2s);
  EXPECT_THAT(one.come(), IsEmpty());
}

TEST(SparkplugEdgeNode, IgnoresEveryOtherCommandAndCountsIt) {
  Node one;
  one.begin(9);
  one.pass(5s);
  std::string told;
  EXPECT_EQ(one.node.hear(command("Node Control/Rebirth", false), told), EdgeNode::Heard::nothing_to_do);
  EXPECT_EQ(one.node.hear(command("Node Control/Reboot", true), told), EdgeNode::Heard::nothing_to_do);
  EXPECT_EQ(told, "\"Node Control/Reboot\" is no command here");
  EXPECT_EQ(one.node.hear("no payload", told), EdgeNode::Heard::not_understood);
  sparkplug_b::Payload endless;
  endless.ParseFromString(command("Node Control/Rebirth", true));
  endless.set_body(std::string(65536, 'x'));
  EXPECT_EQ(one.node.hear(endless.SerializeAsString(), told), EdgeNode::Heard::not_understood);
  EXPECT_EQ(one.node.commands_ignored(), 4U);
  EXPECT_THAT(one.come(), IsEmpty());
}

TEST(SparkplugEdgeNode, KeepsNothingForABrokerThatIsAwayAndIsBornAnewWithWhatIs) {
  Node one;
  one.begin(9);
  one.take(air(1, 21.0));
  one.node.end();
  one.take(air(2, 22.0));
  one.pass(10s);
  EXPECT_THAT(one.come(), IsEmpty());
  one.node.begin(10);
  const auto births = one.come();
  ASSERT_EQ(births.size(), 3U);
  EXPECT_EQ(find(read(births[0].payload), "bdSeq")->long_value(), 10U);
  EXPECT_EQ(words(births[1].payload).at(2), "air/temperature=22.00");
  one.pass(10s);
  EXPECT_THAT(one.come(), IsEmpty());
}

TEST(SparkplugEdgeNode, GivesUpWhatWaitsWhenItIsTooMuchAndIsBornAnew) {
  Node one;
  one.begin(9);
  const auto most = static_cast<int>(EdgeNode::waiting_max);
  for (int i = 0; i < most + 5; ++i) one.take(air(1, i));
  one.pass(1s);
  const auto births = one.come();
  ASSERT_EQ(births.size(), 3U);
  EXPECT_EQ(words(births[1].payload).at(2), fmt::format("air/temperature={:.2f}", most + 4.0));
}

TEST(SparkplugEdgeNode, CutsLongMessages) {
  Node one;
  one.begin(9);
  for (int i = 0; i < 1200; ++i) one.take(air(1, i));
  std::vector<int> sizes;
  for (const auto& message : one.come()) sizes.push_back(read(message.payload).metrics_size());
  EXPECT_THAT(sizes, ElementsAre(500, 500, 201)); // 1200 and the quality
}

TEST(SparkplugEdgeNode, IsBornAnewWhenTheClockWasSetBackAndIgnoresWhatIsMerelyLate) {
  Node one;
  one.take(air(100, 21.0));
  one.begin(9);
  auto late = air(100, 20.0);
  late.at -= 1s;
  one.take(late);
  one.pass(2s);
  EXPECT_THAT(one.come(), IsEmpty());
  one.take(air(101, 22.0));
  one.take(air(50, 23.0));
  const auto births = one.come();
  ASSERT_EQ(births.size(), 3U);
  EXPECT_EQ(words(births[1].payload).at(2), "air/temperature=23.00");
}

TEST(SparkplugEdgeNode, PutsTheMetricsOfAMessageInTheOrderOfTheirTimes) {
  Node one;
  one.begin(9);
  one.node.take(low_oxygen(alarms::State::normal), at_second(5), one.now);
  one.take(air(3, 21.0));
  EXPECT_THAT(words(one.come().at(0).payload),
              ElementsAre("air/temperature=21.00", "air/quality=good", "alarms/low-oxygen/state=normal"));
}

TEST(SparkplugEdgeNode, GivesASignOfLifeEveryTenSeconds) {
  Node one;
  one.begin(9);
  std::vector<std::string> came;
  for (int i = 1; i <= 50; ++i) {
    one.pass(500ms);
    one.node.evaluated(static_cast<std::uint64_t>(i), one.now, one.wall());
    for (const auto& message : one.come()) came.push_back(message.topic + " " + words(message.payload).at(0));
  }
  EXPECT_THAT(came,
              ElementsAre("spBv1.0/farms/NDATA/larkfield evaluations=1", "spBv1.0/farms/NDATA/larkfield evaluations=21",
                          "spBv1.0/farms/NDATA/larkfield evaluations=41"));
}

} // namespace oxherd::daemon::sparkplug_test
