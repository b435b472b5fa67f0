#include "daemon/sparkplug/sink.hpp"

#include <chrono>
#include <filesystem>
#include <functional>
#include <thread>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "daemon/clock.hpp"
#include "tests/daemon/mqtt/broker.hpp"

// What a host sees of the whole daemon is in tests/system/test_sparkplug.py.
namespace oxherd::daemon::sparkplug_test {

using mqtt_test::Broker;
using mqtt_test::Child;
using sparkplug::SparkplugSink;
using namespace std::chrono_literals;

config::Mqtt settings_for(const Broker& broker) {
  config::Mqtt mqtt;
  mqtt.broker = broker.url();
  mqtt.sparkplug = config::Sparkplug{"farms"};
  return mqtt;
}

sparkplug::Plan one_room() { return {{"annexe", {{"state/monitored", sparkplug::Datatype::boolean, {}}}}}; }

/// Waits for what happens on another thread; looks again every few milliseconds until the deadline.
bool comes(const std::function<bool()>& event, std::chrono::seconds patience = mqtt_test::patience) {
  for (const auto end = std::chrono::steady_clock::now() + patience; std::chrono::steady_clock::now() < end;
       std::this_thread::sleep_for(5ms))
    if (event()) return true;
  return event();
}

/// A module of mosquitto; rights in an `acl_file` refuse no subscription.
std::string dynamic_security() {
  for (const auto& folder : std::filesystem::directory_iterator{"/usr/lib"}) {
    const auto file = folder.path() / "mosquitto_dynamic_security.so";
    std::error_code none;
    if (std::filesystem::exists(file, none)) return file;
  }
  ADD_FAILURE() << "mosquitto comes without its module of rights";
  return {};
}

/// The topics of what comes.
std::unique_ptr<Child> subscriber(const Broker& broker) {
  auto child = std::make_unique<Child>(std::vector<std::string>{"stdbuf", "-oL", "mosquitto_sub", "-d", "-h",
                                                                "127.0.0.1", "-p", std::to_string(broker.port()), "-t",
                                                                "spBv1.0/#", "-F", "topic %t"});
  EXPECT_TRUE(child->line_with("Subscribed"));
  return child;
}

TEST(SparkplugSink, SaysTheDeathBeforeItEndsInOrder) {
  Broker broker;
  broker.start();
  const mqtt_test::TemporaryDirectory state;
  const auto reader = subscriber(broker);
  auto sink = SparkplugSink::start(settings_for(broker), "larkfield", one_room(), state.path());
  EXPECT_TRUE(reader->line_with("topic spBv1.0/farms/DBIRTH/larkfield/annexe"));
  EXPECT_TRUE(sink->health().connected);
  sink.reset();
  EXPECT_TRUE(reader->line_with("topic spBv1.0/farms/NDEATH/larkfield"));
}

TEST(SparkplugSink, SaysWhatIsWrongWhenTheBrokerLetsItHearNoCommands) {
  const mqtt_test::TemporaryDirectory files;
  const auto rights = files.write("rights.json", R"({"defaultACLAccess":{"publishClientSend":true,
    "publishClientReceive":true,"subscribe":false,"unsubscribe":true},"clients":[],"roles":[],
    "groups":[{"groupname":"anyone","roles":[]}],"anonymousGroup":"anyone"})",
                                  0644);
  const int port = mqtt_test::free_port();
  Broker broker{fmt::format("listener {} 127.0.0.1\nallow_anonymous true\nplugin {}\nplugin_opt_config_file {}\n", port,
                            dynamic_security(), rights),
                port};
  broker.start();
  const auto sink = SparkplugSink::start(settings_for(broker), "larkfield", one_room(), files.path());
  EXPECT_TRUE(comes([&] { return !sink->health().trouble.empty(); }));
  EXPECT_EQ(sink->health().trouble,
            "the broker does not permit this client to subscribe to spBv1.0/farms/NCMD/larkfield");
  EXPECT_FALSE(sink->health().connected);
}

TEST(SparkplugSink, DiesForItsHostsWhenNothingIsEvaluatedAnyMoreAndLivesWithTheNextEvaluation) {
  Broker broker;
  broker.start();
  const mqtt_test::TemporaryDirectory state;
  const auto reader = subscriber(broker);
  const auto sink = SparkplugSink::start(settings_for(broker), "larkfield", one_room(), state.path());
  EXPECT_TRUE(reader->line_with("topic spBv1.0/farms/NBIRTH/larkfield"));
  EXPECT_TRUE(comes([&] { return !sink->health().connected && !sink->health().trouble.empty(); }, 20s));
  EXPECT_EQ(sink->health().trouble, "nothing is evaluated any more");
  EXPECT_TRUE(reader->line_with("topic spBv1.0/farms/NDEATH/larkfield"));
  EXPECT_TRUE(comes(
      [&] {
        sink->evaluated(1, monotonic_now(), wall_now());
        return sink->health().connected;
      },
      20s));
  EXPECT_TRUE(reader->line_with("topic spBv1.0/farms/NBIRTH/larkfield"));
}

TEST(SparkplugSink, GoesOnTryingAndEndsAtOnceWithoutABroker) {
  const Broker nobody;
  const mqtt_test::TemporaryDirectory state;
  auto sink = SparkplugSink::start(settings_for(nobody), "larkfield", one_room(), state.path());
  EXPECT_TRUE(comes([&] { return !sink->health().trouble.empty(); }));
  EXPECT_NE(sink->health().trouble.find("refuse"), std::string::npos) << sink->health().trouble;
  const auto before = std::chrono::steady_clock::now();
  sink.reset();
  EXPECT_LT(std::chrono::steady_clock::now() - before, 4s);
}

TEST(SparkplugSink, EndsWhileTheBrokerOwesItAnAnswer) {
  const mqtt_test::SilentServer server;
  const mqtt_test::TemporaryDirectory state;
  config::Mqtt settings;
  settings.broker = server.url();
  settings.sparkplug = config::Sparkplug{"farms"};
  auto sink = SparkplugSink::start(settings, "larkfield", one_room(), state.path());
  EXPECT_TRUE(server.was_greeted());
  const auto before = std::chrono::steady_clock::now();
  sink.reset();
  EXPECT_LT(std::chrono::steady_clock::now() - before, 1900ms) << "after 2 s the thread is left behind";
}

} // namespace oxherd::daemon::sparkplug_test
