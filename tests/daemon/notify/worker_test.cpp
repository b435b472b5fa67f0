#include "daemon/notify/worker.hpp"

#include <gtest/gtest.h>

#include <stdexcept>
#include <thread>

#include "daemon/clock.hpp"
#include "tests/daemon/mqtt/broker.hpp"
#include "tests/daemon/notify/people.hpp"

// The thread that tells people, with routes that fail.
namespace oxherd::daemon::notify_test {

/// A worker with one route and one contact; its thread runs from `start` on.
class Working {
public:
  explicit Working(config::NotifyRoute route) {
    setup.settings = people();
    setup.settings.routes = {std::move(route)};
    setup.settings.contacts = {contact("okafor", {setup.settings.routes[0].name})};
    setup.settings.ladders[3] = {{{0s, {"okafor"}}}, std::nullopt, false, false};
    setup.sender.site = "larkfield";
  }
  ~Working() {
    if (worker) worker->stop();
    if (thread.joinable()) thread.join();
  }
  Working(const Working&) = delete;
  Working& operator=(const Working&) = delete;
  notify::Worker& start() {
    worker.emplace(setup, directory.file(""));
    thread = std::thread{[this] { worker->run(); }};
    return *worker;
  }
  /// Its health once `fits` holds of it, or the last one.
  template <class Fits> notify::NotifyHealth health_when(Fits fits) {
    const auto end = std::chrono::steady_clock::now() + mqtt_test::patience;
    auto health = worker->health(monotonic_now());
    while (!fits(health) && std::chrono::steady_clock::now() < end) {
      worker->post(notify::AlarmRemoved{"nowhere", "none"}, {monotonic_now(), wall_now()}); // a turn
      std::this_thread::yield();
      health = worker->health(monotonic_now());
    }
    return health;
  }
  notify::Setup setup;
  mqtt_test::TemporaryDirectory directory;
  std::optional<notify::Worker> worker;
  std::thread thread;
};

TEST(NotifyWorker, ReportsARouteThatLetsNoAttemptBegin) {
  const mqtt_test::SilentServer silent;
  const auto port = silent.url().substr(silent.url().rfind(':') + 1);
  config::NotifyRoute hung = mail_route();
  hung.kind = config::MailRoute{"smtp://127.0.0.1:" + port, "oxherd@larkfield.example", {}, {}, {}};
  hung.timeout = 2s; // so long libcurl waits when it is ended, too
  hung.report_after = 10ms;
  Working working{hung};
  auto& worker = working.start();
  for (const auto* alarm : {"low-oxygen", "very-low-oxygen", "high-carbon-dioxide"}) // two are tried, and hang
    worker.post(notify::AlarmTold{standing(alarm, Priority::critical)}, {monotonic_now(), wall_now()});
  const auto health = working.health_when([](const auto& h) { return !h.routes.empty() && h.routes[0].failing; });
  ASSERT_EQ(health.routes.size(), 1U);
  EXPECT_TRUE(health.routes[0].failing);
  EXPECT_NE(health.routes[0].trouble.find("no attempt could be begun"), std::string::npos) << health.routes[0].trouble;
}

TEST(NotifyWorker, GivesNothingUpBecauseTheClockWasSet) {
  Working working{{"spool", config::CapFilesRoute{"missing-directory"}}};
  auto& worker = working.start();
  // Two days ago by a clock that was set meanwhile; a message is given up after one.
  worker.post(notify::AlarmTold{standing("low-oxygen", Priority::critical)}, {monotonic_now(), wall_now() - 48h});
  const auto health =
      working.health_when([](const auto& h) { return !h.routes.empty() && !h.routes[0].trouble.empty(); });
  ASSERT_EQ(health.routes.size(), 1U);
  EXPECT_FALSE(health.routes[0].trouble.empty()) << "the directory is missing";
  EXPECT_EQ(health.routes[0].given_up, 0U);
  EXPECT_EQ(health.routes[0].waiting, 1U);
}

TEST(NotifyWorker, SaysThatItCompletesNoTurn) {
  Working working{mail_route()};
  working.worker.emplace(working.setup, working.directory.file("")); // whose thread hangs from the first
  const auto now = monotonic_now();
  EXPECT_EQ(working.worker->health(now + 29s).trouble, "");
  const auto health = working.worker->health(now + 32s);
  EXPECT_NE(health.trouble.find("has not completed a turn for 3"), std::string::npos) << health.trouble;
  EXPECT_NE(health.watcher.trouble.find("no heartbeat"), std::string::npos) << health.watcher.trouble;
  EXPECT_NE(notify_summary(health).find(health.trouble), std::string::npos) << "a status shows it";
  EXPECT_EQ(health.contacts.size(), 1U);
}

TEST(NotifyHealth, SaysWhetherThereArePeopleAndShowsTheWatcherApart) {
  notify::NotifyHealth health;
  health.watcher.configured = true;
  health.watcher.trouble = "the server answered 503";
  const auto summary = notify_summary(health);
  EXPECT_TRUE(summary.starts_with(R"({"configured":false,"troubles":[],)")) << summary;
  EXPECT_NE(summary.find(R"("watcher":{"configured":true,"trouble":"the server answered 503")"), std::string::npos)
      << summary;
  health.contacts.push_back({"okafor", "okafor", {}, {}, {}});
  EXPECT_TRUE(notify_summary(health).starts_with(R"({"configured":true,)"));
}

TEST(NotifyWorker, CountsEachTurnThatItCompletes) {
  Working working{mail_route()};
  working.start();
  const auto later = monotonic_now() + 1ms;
  const auto well_by_then = [&](const auto&) { return working.worker->health(later + 30s).trouble.empty(); };
  EXPECT_TRUE(well_by_then(working.health_when(well_by_then))) << "a turn was completed after the first look";
}

TEST(NotifyWorker, SaysWhatEndedIt) {
  Working working{mail_route()};
  auto& worker = working.start();
  worker.post(notify::TestAsked{"", [](const auto&) { throw std::runtime_error{"an answer that cannot be given"}; }},
              {monotonic_now(), wall_now()});
  working.thread.join();
  const auto trouble = worker.health(monotonic_now()).trouble;
  EXPECT_NE(trouble.find("an answer that cannot be given"), std::string::npos) << trouble;
}

} // namespace oxherd::daemon::notify_test
