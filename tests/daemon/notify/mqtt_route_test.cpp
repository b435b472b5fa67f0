#include <gtest/gtest.h>

#include "daemon/clock.hpp"
#include "daemon/notify/courier.hpp"
#include "daemon/notify/worker.hpp"
#include "tests/daemon/mqtt/broker.hpp"
#include "tests/daemon/notify/people.hpp"

// Messages to people by the daemon's own broker. What a real one does with them: tests/daemon/mqtt/letters_test.cpp.
namespace oxherd::daemon::notify_test {

config::NotifyRoute by_broker(std::chrono::milliseconds timeout = 15s) {
  config::NotifyRoute route{"board", config::MqttRoute{"oxherd/larkfield/messages"}};
  route.timeout = timeout;
  return route;
}

notify::Parcel parcel_to_broker(std::int64_t key) {
  notify::Parcel p;
  p.key = key;
  p.contact = "okafor";
  p.payload = "{}";
  return p;
}

/// A broker that acknowledges when the test says so.
class SlowBroker {
public:
  Publish publish() {
    return [this](std::string topic, std::string payload, std::function<void(std::string)> done) {
      sent.push_back(topic + " " + payload);
      open.push_back(std::move(done));
    };
  }
  std::vector<std::string> sent;
  std::vector<std::function<void(std::string)>> open;
};

/// What ends within a moment that is long enough for whatever has ended already.
std::string outcomes(notify::Courier& courier, std::chrono::milliseconds at_most) {
  std::string out;
  for (const auto& attempt : courier.wait(at_most))
    out += std::to_string(attempt.key) + (attempt.trouble.empty() ? ":ok" : ":" + attempt.trouble);
  return out;
}

TEST(NotifyByBroker, CountsAMessageOnlyWhenTheBrokerHasAcknowledgedIt) {
  SlowBroker broker;
  notify::Courier courier;
  courier.send(by_broker(), parcel_to_broker(1), broker.publish());
  EXPECT_EQ(broker.sent, std::vector<std::string>{"oxherd/larkfield/messages/okafor {}"});
  EXPECT_EQ(outcomes(courier, 1ms), "");
  broker.open.at(0)("");
  EXPECT_EQ(outcomes(courier, 10s), "1:ok");
}

TEST(NotifyByBroker, SaysWhyTheBrokerDidNotTakeIt) {
  SlowBroker broker;
  notify::Courier courier;
  courier.send(by_broker(), parcel_to_broker(1), broker.publish());
  broker.open.at(0)("connection refused");
  EXPECT_EQ(outcomes(courier, 10s), "1:connection refused");
  courier.send(by_broker(), parcel_to_broker(1));
  EXPECT_EQ(outcomes(courier, 10s), "1:there is no broker: [mqtt] is missing");
}

TEST(NotifyByBroker, PublishesNothingTwiceWhileTheBrokerIsSilent) {
  SlowBroker broker;
  notify::Courier courier;
  for (int attempt = 0; attempt < 3; ++attempt) {
    courier.send(by_broker(10ms), parcel_to_broker(1), broker.publish());
    std::string ended;
    while (ended.empty()) ended = outcomes(courier, 10s);
    EXPECT_EQ(ended, "1:the broker has not acknowledged the message within 0.01 s");
  }
  EXPECT_EQ(broker.sent.size(), 1U);
  broker.open.at(0)("");
  EXPECT_EQ(outcomes(courier, 10s), "1:ok") << "late, and delivered all the same";
}

TEST(NotifyByBroker, IsTestedForAPersonWhoReads) {
  auto settings = people();
  settings.routes = {by_broker()};
  settings.contacts = {contact("okafor", {"board"})};
  EXPECT_EQ(notify::tested_routes(settings, settings.contacts[0]), std::vector<std::string>{"board"});
}

} // namespace oxherd::daemon::notify_test
