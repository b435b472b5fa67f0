#include "daemon/notify/archive.hpp"

#include <gtest/gtest.h>

#include <fstream>
#include <future>
#include <sstream>
#include <thread>

#include "daemon/clock.hpp"
#include "daemon/notify/courier.hpp"
#include "daemon/notify/notify_sink.hpp"
#include "daemon/notify/state_json.hpp"
#include "tests/daemon/mqtt/broker.hpp"
#include "tests/daemon/notify/people.hpp"

// What is kept over a restart, and what is handed to this machine.
namespace oxherd::daemon::notify_test {

using mqtt_test::TemporaryDirectory;

notify::Parcel parcel(std::int64_t key) {
  notify::Parcel p;
  p.key = key;
  p.id = "larkfield-t-" + std::to_string(key);
  p.number = key;
  p.kind = "alarm";
  p.route = "mail";
  p.contact = "okafor";
  p.address = "okafor@larkfield.example";
  p.payload = "text";
  p.urgent = true;
  p.created = start_wall;
  return p;
}

TEST(NotifyState, IsTheSameAfterARestart) {
  Play play;
  play.settings.test_every = 168h;
  play.say(standing("low-oxygen", Priority::critical));
  play.say(standing("drift", Priority::high));
  play.say(standing("humid", Priority::high));
  play.say(standing("worn", Priority::low));
  play.take(notify::next_test(play.settings, play.state, "finch", play.now()));
  ASSERT_FALSE(play.state.waiting.empty());
  ASSERT_FALSE(play.state.digest.empty());
  ASSERT_FALSE(play.state.tests.last.empty());
  const auto read = notify::state_from_json(to_json(play.state, play.now()), play.now());
  ASSERT_TRUE(read) << read.error();
  EXPECT_EQ(*read, play.state);
  EXPECT_FALSE(notify::state_from_json("{}", play.now()));
  EXPECT_FALSE(notify::state_from_json("", play.now()));
}

TEST(NotifyState, CountsTheTimeOfTheStopAndNoStepOfTheClockBackwards) {
  Play play;
  const auto alarm = standing("low-oxygen", Priority::critical);
  play.say(alarm);
  const auto text = to_json(play.state, play.now());
  // The monotonic clock of another start begins elsewhere.
  const auto later = notify::state_from_json(text, {5s, play.now().wall + 2min});
  ASSERT_TRUE(later);
  EXPECT_EQ(told(next(play.settings, *later, alarm, {5s, play.now().wall + 2min}).messages), "finch:alarm");
  const auto back = notify::state_from_json(text, {5s, play.now().wall - 24h});
  ASSERT_TRUE(back);
  EXPECT_EQ(told(next(play.settings, *back, alarm, {64s, play.now().wall - 24h}).messages), "");
  EXPECT_EQ(told(next(play.settings, *back, alarm, {65s, play.now().wall - 24h}).messages), "finch:alarm");
}

TEST(NotifyArchive, KeepsWhatIsNotDeliveredAndNothingElse) {
  const TemporaryDirectory directory;
  const std::filesystem::path path = directory.file("");
  {
    notify::Archive archive{path};
    ASSERT_TRUE(archive.open(start_wall));
    ASSERT_TRUE(archive.write({parcel(1), parcel(2), parcel(3)}, {}, "one"));
    ASSERT_TRUE(archive.write({}, {{1, 1, start_wall + 1s, true, ""}, {3, 9, start_wall + 2s, false, "old"}}, "two"));
  }
  notify::Archive archive{path};
  const auto kept = archive.open(start_wall + 1min);
  ASSERT_TRUE(kept) << kept.error().what;
  ASSERT_EQ(kept->parcels.size(), 1U);
  EXPECT_EQ(kept->parcels[0].id, "larkfield-t-2");
  EXPECT_TRUE(kept->parcels[0].urgent);
  EXPECT_EQ(kept->parcels[0].created, start_wall);
  EXPECT_EQ(kept->state, "two");
  EXPECT_EQ(kept->last_key, 3);
  ASSERT_EQ(kept->deliveries.size(), 1U) << "what was given up was not delivered";
  EXPECT_EQ(kept->deliveries[0].at, start_wall + 1s);
}

TEST(NotifyFiles, AreThereWholeOrNotAtAll) {
  const TemporaryDirectory directory;
  const auto file = directory.file("larkfield-t-1.cap.xml");
  EXPECT_FALSE(notify::write_file({directory.file("")}, parcel(1)).has_value());
  std::ifstream in{file};
  std::stringstream text;
  text << in.rdbuf();
  EXPECT_EQ(text.str(), "text");
  EXPECT_EQ(std::distance(std::filesystem::directory_iterator{directory.file("")}, {}), 1) << "nothing partial is left";
  EXPECT_TRUE(notify::write_file({directory.file("missing")}, parcel(1)).has_value());
}

TEST(NotifyDatagrams, SayWhenNobodyTakesThem) {
  const TemporaryDirectory directory;
  config::SyslogRoute route;
  route.path = directory.file("log");
  const auto trouble = notify::send_datagram(route, "x");
  ASSERT_TRUE(trouble);
  EXPECT_NE(trouble->find(route.path), std::string::npos) << *trouble;
}

TEST(NotifyCourier, LetsAServerThatHangsHoldUpNoOther) {
  const TemporaryDirectory directory;
  const mqtt_test::SilentServer silent;
  const auto port = std::stoi(silent.url().substr(silent.url().rfind(':') + 1));
  notify::Courier courier;
  config::NotifyRoute hung = mail_route();
  hung.kind = config::MailRoute{"smtp://127.0.0.1:" + std::to_string(port), "oxherd@larkfield.example", {}, {}, {}};
  hung.timeout = 1s;
  const config::NotifyRoute files{"spool", config::CapFilesRoute{directory.file("")}};
  courier.send(hung, parcel(1));
  courier.send(files, parcel(2));
  std::vector<std::int64_t> taken, failed;
  const auto end = std::chrono::steady_clock::now() + mqtt_test::patience;
  while (failed.empty() && std::chrono::steady_clock::now() < end)
    for (const auto& attempt : courier.wait(100ms)) (attempt.trouble.empty() ? taken : failed).push_back(attempt.key);
  EXPECT_EQ(taken, std::vector<std::int64_t>{2}) << "before the other's deadline";
  EXPECT_EQ(failed, std::vector<std::int64_t>{1}) << "by its deadline";
}

/// The sink with one route, a directory, and a state directory of its own.
class Sinking {
public:
  Sinking() {
    std::filesystem::create_directory(spool);
    std::filesystem::create_directory(state);
    settings.site.name = "larkfield";
    settings.notify.emplace(people());
    settings.notify->routes = {{"spool", config::CapFilesRoute{spool}}};
    settings.notify->contacts = {contact("okafor", {"spool"})};
    settings.notify->ladders[3] = {{{0s, {"okafor"}}}, std::nullopt, false, false};
  }
  static AlarmStatus low_oxygen() {
    AlarmStatus status;
    status.room = "cryo-annexe";
    status.alarm = "low-oxygen";
    status.state = AlarmState::unacknowledged;
    status.priority = Priority::critical;
    status.present = true;
    status.raised = wall_now();
    status.text = "LOW OXYGEN cryo-annexe";
    return status;
  }
  /// Waits until everything posted before is done: the refusal of an unknown contact comes after it.
  static void settle(NotifySink& sink) {
    std::promise<bool> done;
    sink.test("nobody",
              [&](const tl::expected<std::string, std::string>& answer) { done.set_value(answer.has_value()); });
    auto future = done.get_future();
    ASSERT_EQ(future.wait_for(mqtt_test::patience), std::future_status::ready);
    EXPECT_FALSE(future.get());
  }
  /// Waits until so many messages were delivered since the start.
  static bool delivers(const NotifySink& sink, std::uint64_t count) {
    const auto end = std::chrono::steady_clock::now() + mqtt_test::patience;
    while (std::chrono::steady_clock::now() < end) {
      const auto health = sink.health();
      if (!health.routes.empty() && health.routes[0].delivered >= count) return true;
      std::this_thread::yield();
    }
    return false;
  }
  TemporaryDirectory directory;
  std::string spool = directory.file("spool"), state = directory.file("state");
  config::Settings settings;
};

TEST(NotifySink, GoesOnFromMemoryWhenNothingCanBeKept) {
  const Sinking around;
  std::filesystem::create_directory(std::filesystem::path{around.state} / "notify.db"); // no file can be there
  NotifySink sink{around.settings, around.state};
  sink.standing(Sinking::low_oxygen());
  EXPECT_TRUE(Sinking::delivers(sink, 1));
  EXPECT_FALSE(sink.health().archive_trouble.empty()) << "and says so";
}

TEST(NotifySink, TellsNobodyTwiceAfterAReloadOrARestart) {
  Sinking around;
  const auto alarm = Sinking::low_oxygen();
  {
    NotifySink sink{around.settings, around.state};
    sink.standing(alarm);
    ASSERT_TRUE(Sinking::delivers(sink, 1));
    around.settings.notify->answer_within = 1h;
    sink.configure(around.settings);
    sink.standing(alarm);
    Sinking::settle(sink);
    EXPECT_EQ(sink.health().unanswered, 1U);
  }
  NotifySink sink{around.settings, around.state};
  sink.standing(alarm);
  auto other = alarm;
  other.alarm = "very-low-oxygen";
  sink.standing(other);
  ASSERT_TRUE(Sinking::delivers(sink, 1));
  Sinking::settle(sink);
  EXPECT_EQ(std::distance(std::filesystem::directory_iterator{around.spool}, {}), 2) << "one of each alarm";
}

TEST(NotifySink, SaysWhatAnAlarmIsAboutInAPersonsUnits) {
  config::AlarmSettings settings;
  settings.alarm.rule = alarms::Limit{};
  auto& limit = std::get<alarms::Limit>(settings.alarm.rule);
  limit.direction = alarms::Direction::low;
  auto status = Sinking::low_oxygen();
  status.value = 0.1929;
  status.expanded = 0.0013;
  status.limit = 0.195;
  const auto facts = facts_of(status, &settings);
  EXPECT_EQ(facts.about, notify::About::low_oxygen);
  EXPECT_EQ(facts.value_text, "19.29 % ± 0.13 % (k = 2)");
  EXPECT_EQ(facts.limit_text, "19.5 %");
  status.coverage_factor = 2.05;
  EXPECT_EQ(facts_of(status, &settings).value_text, "19.29 % ± 0.13 % (k = 2.05)");
  settings.quantity = config::AlarmQuantity::carbon_dioxide;
  limit.direction = alarms::Direction::high;
  EXPECT_EQ(facts_of(status, &settings).about, notify::About::high_carbon_dioxide);
  settings.quantity = config::AlarmQuantity::monitoring;
  EXPECT_EQ(facts_of(status, &settings).about, notify::About::not_monitored);
}

} // namespace oxherd::daemon::notify_test
