#include "daemon/mqtt/mqtt_sink.hpp"

#include <condition_variable>
#include <csignal>
#include <cstdlib>
#include <future>
#include <mutex>
#include <set>

#include <unistd.h>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "tests/daemon/mqtt/broker.hpp"

namespace oxherd::daemon::mqtt_sink_test {

using namespace mqtt_test;
using nlohmann::json;
using Clock = std::chrono::steady_clock;

config::Mqtt settings_for(const std::string& broker) {
  config::Mqtt settings;
  settings.broker = broker;
  settings.keep_alive = std::chrono::seconds{5};
  settings.pack = std::chrono::milliseconds{0}; // each reading is a message: what becomes of messages is tested here
  return settings;
}

/// Hears of every change of the connection and waits for one.
class Ear {
public:
  [[nodiscard]] std::function<void(const MqttHealth&)> hear() {
    return [this](const MqttHealth& health) {
      const std::lock_guard hold{lock_};
      ++heard_;
      last_ = health;
      wake_.notify_all();
    };
  }
  MqttHealth wait(const std::function<bool(const MqttHealth&)>& fits) {
    std::unique_lock hold{lock_};
    EXPECT_TRUE(wake_.wait_for(hold, patience, [&] { return heard_ > 0 && fits(last_); })) << last_.trouble;
    return last_;
  }
  MqttHealth wait_connected() {
    return wait([](const MqttHealth& health) { return health.connected; });
  }
  MqttHealth wait_trouble() {
    return wait([](const MqttHealth& health) { return !health.trouble.empty(); });
  }

private:
  std::mutex lock_;
  std::condition_variable wake_;
  int heard_ = 0;
  MqttHealth last_;
};

ReadingRecord reading(int number) {
  ReadingRecord r;
  r.at = WallTime{std::chrono::seconds{1772352930}};
  r.room = "cryo-annexe";
  r.sensor = "cell-a";
  r.raw_V = number;
  return r;
}

int number_of(const std::string& pack) { return pack.empty() ? -1 : json::parse(pack).at(0).at("v").get<int>(); }

AlarmStatus alarm_status(alarms::State state, int since_s) {
  AlarmStatus status;
  status.room = "cryo-annexe";
  status.alarm = "low-oxygen";
  status.state = state;
  status.since = WallTime{std::chrono::seconds{1772352930 + since_s}};
  return status;
}

RoomStatus room_status(const std::string& room, bool monitored) {
  RoomStatus status;
  status.at = WallTime{std::chrono::seconds{1772352930}};
  status.room = room;
  status.monitored = monitored;
  return status;
}

std::string state_of(const std::string& payload) {
  return payload.empty() ? "" : json::parse(payload).at("state").get<std::string>();
}

TEST(MqttSink, PublishesPacksAndRetainedStatesAndSaysGoodbye) {
  const StateDirectory place;
  Broker broker;
  broker.start();
  Reader live{broker};
  {
    const auto sink = MqttSink::start(settings_for(broker.url()), "larkfield", place.path());
    live.wait_for_status("online");
    sink->reading(reading(7));
    sink->alarm({}, {}, alarm_status(alarms::State::unacknowledged, 0));
    sink->room(room_status("cryo-annexe", true));
    EXPECT_EQ(number_of(live.payload("cryo-annexe/cell-a")), 7);
    EXPECT_EQ(state_of(live.payload("cryo-annexe/alarms/low-oxygen")), "unacknowledged");
    EXPECT_EQ(json::parse(live.payload("cryo-annexe/state")).at("monitored"), true);
    Reader late{broker}; // what is retained comes to one who subscribes later
    EXPECT_EQ(state_of(late.payload("cryo-annexe/alarms/low-oxygen")), "unacknowledged");
    EXPECT_EQ(json::parse(late.payload("cryo-annexe/state")).at("room"), "cryo-annexe");
  }
  live.wait_for_status("offline");
}

TEST(MqttSink, PublishesWhatWaitsBeforeItSaysGoodbye) {
  const StateDirectory place;
  Broker broker;
  broker.start();
  Reader live{broker};
  {
    const auto sink = MqttSink::start(settings_for(broker.url()), "larkfield", place.path());
    live.wait_for_status("online");
    for (int i = 0; i < 100; ++i) sink->reading(reading(i));
  }
  for (int i = 0; i < 100; ++i) ASSERT_EQ(number_of(live.payload("cryo-annexe/cell-a")), i);
  EXPECT_EQ(live.message(), "status offline");
}

TEST(MqttSink, PublishesReadingsThatWaitedForEachOtherAsOnePackAndTheRestBeforeItSaysGoodbye) {
  const StateDirectory place;
  Broker broker;
  broker.start();
  Reader live{broker};
  auto settings = settings_for(broker.url());
  settings.pack = std::chrono::seconds{5};
  const auto numbers = [&] {
    std::vector<int> all;
    for (const auto& record : json::parse(live.payload("cryo-annexe/cell-a")))
      if (record.at("n") == "raw") all.push_back(record.at("v").get<int>());
    return all;
  };
  {
    const auto sink = MqttSink::start(settings, "larkfield", place.path());
    live.wait_for_status("online");
    sink->evaluated(1, alarms::Monotonic{1000}, {});
    for (int i = 0; i < 4; ++i) sink->reading(reading(i));
    EXPECT_EQ(numbers(), std::vector<int>{0});
    sink->evaluated(2, alarms::Monotonic{6000}, {});
    EXPECT_EQ(numbers(), (std::vector<int>{1, 2, 3}));
    for (int i = 4; i < 6; ++i) sink->reading(reading(i));
  }
  EXPECT_EQ(numbers(), (std::vector<int>{4, 5}));
  live.wait_for_status("offline");
}

TEST(MqttSink, AnnouncesAnAlarmFromTheRoomsSummaryOnceUnlessItChanges) {
  const StateDirectory place;
  Broker broker;
  broker.start();
  Reader live{broker, "oxherd/larkfield/+/alarms/#"};
  Reader status{broker};
  {
    const auto sink = MqttSink::start(settings_for(broker.url()), "larkfield", place.path());
    status.wait_for_status("online");
    auto room = room_status("cryo-annexe", true);
    room.alarms = {alarm_status(alarms::State::normal, 0)};
    room.alarms[0].value = 0.21;
    sink->room(room);
    room.alarms[0].value = 0.2; // a new value alone is no news about the alarm
    sink->room(room);
    room.alarms = {alarm_status(alarms::State::unacknowledged, 5)};
    room.alarms[0].value = 0.19;
    sink->alarm({}, {}, room.alarms[0]);
    sink->room(room);
    sink->alarm({}, {}, alarm_status(alarms::State::acknowledged, 6));
  }
  EXPECT_EQ(state_of(live.payload("cryo-annexe/alarms/low-oxygen")), "normal");
  EXPECT_EQ(state_of(live.payload("cryo-annexe/alarms/low-oxygen")), "unacknowledged");
  EXPECT_EQ(state_of(live.payload("cryo-annexe/alarms/low-oxygen")), "acknowledged");
}

constexpr const char* child_broker = "OXHERD_TEST_CHILD_BROKER";
constexpr const char* child_state = "OXHERD_TEST_CHILD_STATE";

/// Run by the test below in a process of its own.
TEST(MqttSinkChild, DISABLED_PublishesUntilItIsKilled) {
  const char* url = std::getenv(child_broker);
  const char* state = std::getenv(child_state);
  ASSERT_TRUE(url != nullptr && state != nullptr);
  const auto sink = MqttSink::start(settings_for(url), "larkfield", state);
  ::pause();
}

TEST(MqttSink, LeavesOfflineAsItsLastWillWhenItsProcessIsKilled) {
  const StateDirectory place;
  Broker broker;
  broker.start();
  Reader live{broker};
  ASSERT_EQ(::setenv(child_broker, broker.url().c_str(), 1), 0);
  ASSERT_EQ(::setenv(child_state, place.path().c_str(), 1), 0);
  // The child is to run one test, whatever share of them this process has.
  for (const char* share : {"GTEST_TOTAL_SHARDS", "GTEST_SHARD_INDEX"}) ASSERT_EQ(::unsetenv(share), 0);
  Child publisher{{"/proc/self/exe", "--gtest_also_run_disabled_tests",
                   "--gtest_filter=MqttSinkChild.DISABLED_PublishesUntilItIsKilled"}};
  live.wait_for_status("online");
  publisher.signal(SIGKILL);
  live.wait_for_status("offline");
  Reader late{broker};
  EXPECT_EQ(late.payload("status"), "offline"); // retained
}

TEST(MqttSink, DeliversStatesToABrokerThatIsStartedLater) {
  const StateDirectory place;
  Broker broker;
  Ear ear;
  const auto sink = MqttSink::start(settings_for(broker.url()), "larkfield", place.path(), ear.hear());
  sink->room(room_status("bay-3", false));
  for (int i = 1; i <= 3; ++i) sink->reading(reading(i));
  EXPECT_NE(ear.wait_trouble().trouble.find("connection refused"), std::string::npos);
  EXPECT_FALSE(sink->health().connected);
  EXPECT_EQ(sink->health().published, 0U);
  broker.start();
  Reader reader{broker};
  EXPECT_EQ(json::parse(reader.payload("bay-3/state")).at("monitored"), false);
  const auto health = ear.wait_connected();
  EXPECT_EQ(health.trouble, "");
  EXPECT_EQ(health.dropped_measurements, 0U);
}

TEST(MqttSink, RepublishesRetainedStatesAndDeliversTheQueueInOrderAfterARestartOfTheBroker) {
  const StateDirectory place;
  // The broker keeps the reader's session on disk, so that nothing is missed between its start and the reader's return.
  // Retained messages it would keep as well; the check that they are new is the newer value.
  Broker broker{"persistence true\n"};
  broker.start();
  Reader reader{broker, "oxherd/larkfield/#", {"-c", "-i", "reader"}};
  Ear ear;
  const auto sink = MqttSink::start(settings_for(broker.url()), "larkfield", place.path(), ear.hear());
  reader.wait_for_status("online");
  sink->reading(reading(0));
  EXPECT_EQ(number_of(reader.payload("cryo-annexe/cell-a")), 0);
  broker.stop();
  (void)ear.wait_trouble();
  for (int i = 1; i <= 200; ++i) sink->reading(reading(i));
  sink->alarm({}, {}, alarm_status(alarms::State::unacknowledged, 0));
  sink->alarm({}, {}, alarm_status(alarms::State::latched_unacknowledged, 1));
  for (const bool monitored : {true, false}) sink->room(room_status("cryo-annexe", monitored));
  broker.start();
  EXPECT_EQ(state_of(reader.payload("cryo-annexe/alarms/low-oxygen")), "unacknowledged");
  EXPECT_EQ(state_of(reader.payload("cryo-annexe/alarms/low-oxygen")), "latched_unacknowledged");
  reader.wait_for_status("online");
  EXPECT_EQ(json::parse(reader.payload("cryo-annexe/state")).at("monitored"), false);
  int newest = 0;
  while (newest < 200) { // at least once: a repetition may come, a gap may not
    const int number = number_of(reader.payload("cryo-annexe/cell-a"));
    ASSERT_TRUE(number == newest + 1 || (number >= 0 && number <= newest)) << number << " after " << newest;
    newest = std::max(newest, number);
  }
}

TEST(MqttSink, GivesARestartedBrokerThatForgotEverythingAllRetainedStatesAgain) {
  const StateDirectory place;
  Broker broker;
  broker.start();
  Ear ear;
  const auto sink = MqttSink::start(settings_for(broker.url()), "larkfield", place.path(), ear.hear());
  for (const auto* room : {"bay-3", "pear-store-2"}) sink->room(room_status(room, true));
  sink->alarm({}, {}, alarm_status(alarms::State::acknowledged, 0));
  {
    Reader reader{broker};
    (void)reader.payload("cryo-annexe/alarms/low-oxygen");
  }
  broker.stop();
  (void)ear.wait_trouble();
  broker.start();
  (void)ear.wait_connected();
  std::set<std::string> topics;
  Reader reader{broker};
  while (topics.size() < 4) {
    const auto message = reader.message();
    ASSERT_FALSE(message.empty()) << testing::PrintToString(topics);
    topics.insert(message.substr(0, message.find(' ')));
  }
  EXPECT_EQ(topics,
            (std::set<std::string>{"status", "bay-3/state", "pear-store-2/state", "cryo-annexe/alarms/low-oxygen"}));
}

/// Ends the sink and expects that to take no longer than promised.
void expect_end_within_3_s(std::unique_ptr<MqttSink> sink) {
  const auto before = Clock::now();
  sink.reset();
  EXPECT_LE(Clock::now() - before, std::chrono::seconds{3});
}

TEST(MqttSink, IsNotHeldUpByAFrozenBroker) {
  const StateDirectory place;
  Broker broker;
  broker.start();
  Reader reader{broker};
  auto settings = settings_for(broker.url());
  settings.queue_max = 1000;
  auto sink = MqttSink::start(settings, "larkfield", place.path());
  reader.wait_for_status("online");
  broker.freeze();
  // Far more than sockets and the queue hold. Were a call to wait for the broker, this would wait for ever.
  auto calls = std::async(std::launch::async, [&] {
    for (int i = 0; i < 50000; ++i) sink->reading(reading(i));
    sink->room(room_status("cryo-annexe", true));
  });
  const bool returned = calls.wait_for(patience) == std::future_status::ready;
  if (!returned) broker.thaw(); // so that the test can end
  ASSERT_TRUE(returned);
  const auto health = sink->health();
  // Queued: a thousand in memory and as many on disk, the window, the room's state.
  EXPECT_GT(health.dropped_measurements, 47900U);
  EXPECT_LE(health.waiting, 2 * 1000U + 20U + 1U);
  expect_end_within_3_s(std::move(sink));
  broker.thaw();
  reader.wait_for_status("offline");
}

TEST(MqttSink, EndsWhileItWaitsForABrokerThatNeverAnswers) {
  const StateDirectory place;
  const SilentServer silent;
  auto sink = MqttSink::start(settings_for(silent.url()), "larkfield", place.path());
  sink->reading(reading(1));
  ASSERT_TRUE(silent.was_greeted()); // it has sent CONNECT and waits
  const auto before = Clock::now();
  sink.reset();
  EXPECT_LT(Clock::now() - before, std::chrono::seconds{2}); // then it would give up and leave its thread behind
}

TEST(MqttSink, RefusesABrokerAddressItCannotRead) {
  const StateDirectory place;
  Ear ear;
  auto sink = MqttSink::start(settings_for("http://127.0.0.1:1883"), "larkfield", place.path(), ear.hear());
  EXPECT_EQ(ear.wait_trouble().trouble,
            "mqtt.broker: \"http://127.0.0.1:1883\" is no broker; write mqtt://host:1883, or "
            "mqtts://host:8883 for TLS");
  expect_end_within_3_s(std::move(sink));
}

TEST(MqttSink, SurvivesAClientIdentifierTheLibraryRefuses) {
  const StateDirectory place;
  Ear ear;
  auto settings = settings_for("mqtt://127.0.0.1:" + std::to_string(free_port()));
  settings.client_id = "\xFF";
  const auto sink = MqttSink::start(settings, "larkfield", place.path(), ear.hear());
  EXPECT_FALSE(ear.wait_trouble().connected);
}

} // namespace oxherd::daemon::mqtt_sink_test
