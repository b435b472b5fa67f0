#include <condition_variable>
#include <future>
#include <mutex>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "daemon/mqtt/mqtt_sink.hpp"
#include "daemon/mqtt/spool.hpp"
#include "tests/daemon/mqtt/broker.hpp"
#include "tests/daemon/store/store_fixture.hpp"

// What waits for the broker outlives the sink, and the disk holds up nothing else.
namespace oxherd::daemon::mqtt_spool_test {

using namespace mqtt_test;
using nlohmann::json;

config::Mqtt by(const Broker& broker) {
  config::Mqtt settings;
  settings.broker = broker.url();
  settings.keep_alive = std::chrono::seconds{5};
  settings.pack = std::chrono::milliseconds{0}; // each reading is a message
  return settings;
}

ReadingRecord numbered(int number) {
  auto reading = store_test::reading_at(store_test::morning + std::chrono::seconds{number}, number);
  return reading;
}

AlarmStatus raised() {
  AlarmStatus status;
  status.room = "cryo-annexe";
  status.alarm = "low-oxygen";
  status.state = alarms::State::unacknowledged;
  status.since = store_test::morning;
  return status;
}

/// Reads until the measurement of this number has come; none may be missing, each has its own time.
void expect_up_to(Reader& reader, int first, int last) {
  int newest = first - 1;
  while (newest < last) {
    const auto payload = reader.payload("cryo-annexe/cell-a");
    ASSERT_FALSE(payload.empty());
    const auto pack = json::parse(payload);
    const int number = pack.at(0).at("v").get<int>();
    ASSERT_TRUE(number == newest + 1 || (number >= first && number <= newest)) << number << " after " << newest;
    EXPECT_EQ(pack.at(0).at("bt").get<double>(), 1772352000.0 + number) << "its original time";
    newest = std::max(newest, number);
  }
}

TEST(MqttSpool, DeliversWhatWaitedInSinksOfBeforeInItsOrderWithItsTime) {
  const StateDirectory place;
  Broker broker;
  for (int run = 0; run < 3; ++run) {
    const auto sink = MqttSink::start(by(broker), "larkfield", place.path());
    for (int i = 0; i < 700; ++i) sink->reading(numbered(700 * run + i));
  }
  broker.start();
  Reader reader{broker};
  {
    const auto sink = MqttSink::start(by(broker), "larkfield", place.path());
    sink->reading(numbered(2100));
    expect_up_to(reader, 0, 2100);
    EXPECT_EQ(sink->health().dropped_measurements, 0U);
  }
  Spool spool{place.path(), 1000};
  ASSERT_TRUE(spool.open());
  EXPECT_EQ(spool.count(), 0U) << "settled at the latest when the sink ends";
}

TEST(MqttSpool, TellsEveryLineOfTheJournalFromTheFirstStartOnInItsOrder) {
  const StateDirectory place;
  const auto store = store_test::open_store(place.path());
  ASSERT_TRUE(store);
  for (int i = 1; i <= 3; ++i) store_test::write_alarm(*store, i);
  ASSERT_TRUE(store_test::committed(*store));
  Broker broker;
  broker.start();
  Reader reader{broker};
  const auto expect_lines = [&](std::int64_t first, std::int64_t last) {
    for (auto newest = first - 1; newest < last;) {
      const auto payload = reader.payload("journal");
      ASSERT_FALSE(payload.empty());
      const auto line = json::parse(payload);
      const auto sequence = line.at("sequence").get<std::int64_t>();
      ASSERT_TRUE(sequence == newest + 1 || (sequence >= first && sequence <= newest)) << sequence;
      EXPECT_EQ(line.at("alarm"), "low-oxygen");
      newest = std::max(newest, sequence);
    }
  };
  {
    const auto sink = MqttSink::start(by(broker), "larkfield", place.path());
    // A measurement waits until the disk has been asked, so the end of the journal is noted once it has come.
    sink->reading(numbered(1));
    (void)reader.payload("cryo-annexe/cell-a");
    for (int i = 4; i <= 250; ++i) store_test::write_alarm(*store, i);
    expect_lines(4, 250);
  }
  for (int i = 251; i <= 260; ++i) store_test::write_alarm(*store, i); // while nobody publishes
  ASSERT_TRUE(store_test::committed(*store));
  const auto sink = MqttSink::start(by(broker), "larkfield", place.path());
  expect_lines(251, 260);
  Reader late{broker};
  late.wait_for_status("online");
  store_test::write_alarm(*store, 261);
  EXPECT_EQ(json::parse(late.payload("journal")).at("sequence"), 261) << "lines are not retained";
}

TEST(MqttSpool, TellsABrokerThatIsNewOfWhatWasWrittenSinceItBeganHoweverLateTheJournalIsRead) {
  const StateDirectory place;
  const auto store = store_test::open_store(place.path());
  ASSERT_TRUE(store);
  for (int i = 1; i <= 5; ++i) store_test::write_alarm(*store, i); // 4 and 5 before the queue first looks
  ASSERT_TRUE(store_test::committed(*store));
  Broker broker;
  broker.start();
  Reader reader{broker};
  const auto sink = MqttSink::start(by(broker), "larkfield", place.path(), {}, 3);
  EXPECT_EQ(json::parse(reader.payload("journal")).at("sequence"), 4);
  EXPECT_EQ(json::parse(reader.payload("journal")).at("sequence"), 5);
}

TEST(MqttSpool, HoldsUpNeitherAlarmStatesNorLettersWhileTheDiskStandsStill) {
  const StateDirectory place;
  {
    Spool made{place.path(), 10};
    ASSERT_TRUE(made.open());
  }
  auto stands_still = store::Database::open(place.path() / "mqtt.sqlite", store::Database::Mode::create);
  ASSERT_TRUE(stands_still);
  ASSERT_TRUE(stands_still->run("PRAGMA locking_mode=EXCLUSIVE; BEGIN EXCLUSIVE")); // who asks waits for seconds
  Broker broker;
  broker.start();
  Reader reader{broker};
  const auto before = std::chrono::steady_clock::now();
  auto sink = MqttSink::start(by(broker), "larkfield", place.path());
  sink->reading(numbered(1));
  sink->alarm({}, {}, raised());
  EXPECT_EQ(json::parse(reader.payload("cryo-annexe/alarms/low-oxygen")).at("state"), "unacknowledged");
  std::promise<std::string> settled;
  sink->publisher()("to/okafor", "text", [&](std::string trouble) { settled.set_value(std::move(trouble)); });
  auto future = settled.get_future();
  ASSERT_EQ(future.wait_for(patience), std::future_status::ready);
  EXPECT_EQ(future.get(), "");
  EXPECT_LT(std::chrono::steady_clock::now() - before, std::chrono::seconds{5}) << "the disk may have answered";
  EXPECT_EQ(sink->health().on_disk, 0U);
  // Once the disk has answered that it does not work, measurements pass it by.
  expect_up_to(reader, 1, 1);
  EXPECT_NE(sink->health().disk_trouble.find("locked"), std::string::npos) << sink->health().disk_trouble;
  ASSERT_TRUE(stands_still->run("ROLLBACK"));
}

TEST(MqttSpool, EndsInTimeWhileTheDiskStandsStill) {
  const StateDirectory place;
  {
    Spool made{place.path(), 10};
    ASSERT_TRUE(made.open());
  }
  auto stands_still = store::Database::open(place.path() / "mqtt.sqlite", store::Database::Mode::create);
  ASSERT_TRUE(stands_still && stands_still->run("PRAGMA locking_mode=EXCLUSIVE; BEGIN EXCLUSIVE"));
  Broker broker;
  auto sink = MqttSink::start(by(broker), "larkfield", place.path());
  for (int i = 0; i < 10; ++i) sink->reading(numbered(i));
  const auto before = std::chrono::steady_clock::now();
  sink.reset();
  EXPECT_LE(std::chrono::steady_clock::now() - before, std::chrono::milliseconds{3500});
}

} // namespace oxherd::daemon::mqtt_spool_test
