#include <csignal>
#include <future>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "daemon/mqtt/mqtt_sink.hpp"
#include "daemon/mqtt/outbox.hpp"
#include "tests/daemon/mqtt/broker.hpp"

// Messages whose sender learns what came of them and keeps them until then.
namespace oxherd::daemon::letters_test {

using namespace mqtt_test;

/// An outbox that keeps what its letters came to, as "a:yes b:no".
class Letters {
public:
  void send(const std::string& name) {
    outbox.letter("to/" + name, name, [this, name](bool acknowledged) {
      settled += (settled.empty() ? "" : " ") + name + (acknowledged ? ":yes" : ":no");
    });
  }
  std::vector<Outgoing> take() {
    std::vector<Outgoing> taken;
    while (auto message = outbox.next()) taken.push_back(*message);
    return taken;
  }
  Outbox outbox{{.window = 4}};
  std::string settled;
};

TEST(OutboxLetters, AreSettledByTheirAcknowledgementAndNotRetained) {
  Letters letters;
  letters.outbox.connected();
  letters.send("a");
  const auto sent = letters.take();
  ASSERT_EQ(sent.size(), 1U);
  EXPECT_EQ(sent[0].topic, "to/a");
  EXPECT_FALSE(sent[0].retained);
  EXPECT_EQ(letters.settled, "") << "not before the broker has said so";
  letters.outbox.acknowledged(sent[0].id);
  letters.outbox.acknowledged(sent[0].id);
  EXPECT_EQ(letters.settled, "a:yes");
  EXPECT_EQ(letters.outbox.published(), 1U);
  EXPECT_EQ(letters.outbox.waiting(), 0U);
}

TEST(OutboxLetters, ComeAfterStatesAndBeforeMeasurements) {
  Letters letters;
  letters.outbox.connected();
  letters.outbox.measurement("cell", "1");
  letters.send("a");
  letters.outbox.change("alarm", "low");
  std::string order;
  for (const auto& message : letters.take()) order += message.topic + " ";
  EXPECT_EQ(order, "alarm to/a cell ");
}

TEST(OutboxLetters, AreGivenBackWhenTheConnectionEndsAndNeverSentAgain) {
  Letters letters;
  letters.send("early");
  EXPECT_EQ(letters.settled, "early:no") << "there is no connection yet";
  letters.outbox.connected();
  for (const auto* name : {"a", "b", "c", "d", "e"}) letters.send(name);
  const auto sent = letters.take();
  ASSERT_EQ(sent.size(), 4U) << "the window";
  letters.outbox.acknowledged(sent[1].id);
  letters.outbox.disconnected();
  EXPECT_EQ(letters.settled, "early:no b:yes a:no c:no d:no e:no");
  EXPECT_EQ(letters.outbox.waiting(), 0U);
  letters.outbox.connected();
  EXPECT_TRUE(letters.take().empty());
}

config::Mqtt settings_for_letters(const std::string& broker) {
  config::Mqtt settings;
  settings.broker = broker;
  return settings;
}

/// Publishes and waits for what comes of it; nothing when that never came.
std::optional<std::string> outcome_of(const Publish& publish, const std::string& topic, const std::string& payload) {
  const auto promise = std::make_shared<std::promise<std::string>>();
  auto future = promise->get_future();
  publish(topic, payload, [promise](std::string trouble) { promise->set_value(std::move(trouble)); });
  if (future.wait_for(patience) != std::future_status::ready) return std::nullopt;
  return future.get();
}

/// The same until it succeeds: whoever sends tries again.
bool gets_through(const Publish& publish, const std::string& topic, const std::string& payload) {
  const auto end = std::chrono::steady_clock::now() + patience;
  while (std::chrono::steady_clock::now() < end)
    if (outcome_of(publish, topic, payload) == "") return true;
  return false;
}

TEST(MqttLetters, AreTakenOnceTheBrokerHasThem) {
  const StateDirectory place;
  Broker broker;
  broker.start();
  Reader live{broker};
  const auto sink = MqttSink::start(settings_for_letters(broker.url()), "larkfield", place.path());
  live.wait_for_status("online");
  ASSERT_TRUE(gets_through(sink->publisher(), "oxherd/larkfield/messages/okafor", "first"));
  EXPECT_EQ(live.payload("messages/okafor"), "first");
  Reader late{broker};
  late.wait_for_status("online");
  ASSERT_TRUE(gets_through(sink->publisher(), "oxherd/larkfield/messages/okafor", "second"));
  EXPECT_EQ(late.payload("messages/okafor"), "second") << "the first was not retained";
}

TEST(MqttLetters, FailAtOnceWithTheReasonWhileThereIsNoBroker) {
  const StateDirectory place;
  Broker broker;
  std::promise<void> failed;
  std::once_flag once;
  const auto sink =
      MqttSink::start(settings_for_letters(broker.url()), "larkfield", place.path(), [&](const MqttHealth& health) {
        if (!health.trouble.empty()) std::call_once(once, [&] { failed.set_value(); });
      });
  ASSERT_EQ(failed.get_future().wait_for(patience), std::future_status::ready);
  const auto why = outcome_of(sink->publisher(), "to/okafor", "text");
  ASSERT_TRUE(why);
  EXPECT_NE(why->find("broker " + broker.url() + ": connection refused"), std::string::npos) << *why;
}

TEST(MqttLetters, AreNotTakenWhenTheBrokerDiesBeforeItAcknowledges) {
  const StateDirectory place;
  Broker broker;
  broker.start();
  Reader live{broker};
  const auto sink = MqttSink::start(settings_for_letters(broker.url()), "larkfield", place.path());
  live.wait_for_status("online");
  ASSERT_TRUE(gets_through(sink->publisher(), "to/okafor", "before"));
  broker.freeze();
  const auto outcome = std::make_shared<std::promise<std::string>>();
  auto future = outcome->get_future();
  sink->publisher()("to/okafor", "text", [outcome](std::string trouble) { outcome->set_value(std::move(trouble)); });
  broker.process().signal(SIGKILL);
  ASSERT_EQ(future.wait_for(patience), std::future_status::ready);
  EXPECT_NE(future.get().find("ended before the broker had acknowledged"), std::string::npos);
}

TEST(MqttLetters, FailWhenTheSinkIsGone) {
  const StateDirectory place;
  Broker broker;
  broker.start();
  auto sink = MqttSink::start(settings_for_letters(broker.url()), "larkfield", place.path());
  const auto publish = sink->publisher();
  ASSERT_TRUE(gets_through(publish, "to/okafor", "text"));
  sink.reset();
  const auto why = outcome_of(publish, "to/okafor", "text");
  ASSERT_TRUE(why);
  EXPECT_FALSE(why->empty());
}

} // namespace oxherd::daemon::letters_test
