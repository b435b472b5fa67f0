#include "daemon/notify/aside.hpp"

#include <gtest/gtest.h>

#include <fstream>
#include <thread>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/clock.hpp"
#include "daemon/notify/courier.hpp"
#include "tests/daemon/mqtt/broker.hpp"
#include "tests/daemon/notify/people.hpp"

// Attempts that another thread carries out and that may hang.
namespace oxherd::daemon::notify_test {

using alarms::Monotonic;

/// An Aside whose errands end when the test says so.
class AsidePlay {
public:
  void send(std::int64_t key, const std::string& where = "/spool") {
    aside.send({key, where, now + 10s, "late", [this](notify::Aside::Done done) { begun.push_back(std::move(done)); }});
  }
  /// "1:ok 2:full", in the order in which they ended.
  std::string ended() {
    std::string out;
    for (const auto& attempt : aside.ended(now))
      out += (out.empty() ? "" : " ") + std::to_string(attempt.key) + ":" +
             (attempt.trouble.empty() ? "ok" : attempt.trouble);
    return out;
  }
  Monotonic now{1h};
  int woken = 0;
  std::vector<notify::Aside::Done> begun;
  notify::Aside aside{[this] { ++woken; }};
};

TEST(NotifyAside, TellsHowEachErrandEnded) {
  AsidePlay play;
  play.send(1);
  play.send(2);
  EXPECT_EQ(play.ended(), "");
  play.begun.at(1)("full");
  play.begun.at(0)("");
  EXPECT_EQ(play.woken, 2);
  EXPECT_EQ(play.ended(), "2:full 1:ok");
  EXPECT_EQ(play.ended(), "") << "once";
}

TEST(NotifyAside, FailsWhatIsNotDoneByItsDeadlineAndNotBefore) {
  AsidePlay play;
  play.send(1);
  EXPECT_EQ(play.aside.deadline(play.now + 1min), play.now + 10s);
  play.now += 9999ms;
  EXPECT_EQ(play.ended(), "");
  play.now += 1ms;
  EXPECT_EQ(play.ended(), "1:late");
  EXPECT_EQ(play.ended(), "") << "once";
  EXPECT_EQ(play.aside.deadline(play.now + 1min), play.now + 1min) << "nothing is awaited any more";
}

TEST(NotifyAside, BeginsNothingTwiceWhileItHangs) {
  AsidePlay play;
  play.send(1);
  play.now += 10s;
  EXPECT_EQ(play.ended(), "1:late");
  play.send(1);
  EXPECT_EQ(play.begun.size(), 1U);
  play.now += 10s;
  EXPECT_EQ(play.ended(), "1:late") << "the second attempt has a deadline of its own";
  play.send(1);
  play.begun.at(0)("");
  EXPECT_EQ(play.ended(), "1:ok");
}

TEST(NotifyAside, CountsASuccessThatComesLateAndForgetsALateFailure) {
  AsidePlay play;
  play.send(1);
  play.send(2);
  play.now += 10s;
  EXPECT_EQ(play.ended(), "1:late 2:late");
  play.begun.at(0)("");
  play.begun.at(1)("full");
  EXPECT_EQ(play.ended(), "1:ok") << "the failure was told already";
  play.send(2);
  EXPECT_EQ(play.begun.size(), 3U) << "what has failed is begun anew";
}

TEST(NotifyAside, BeginsAnewWhenTheSettingsNameAnotherPlace) {
  AsidePlay play;
  play.send(1, "/hangs");
  play.now += 10s;
  EXPECT_EQ(play.ended(), "1:late");
  play.send(1, "/spool");
  ASSERT_EQ(play.begun.size(), 2U);
  play.begun.at(0)("gone");
  EXPECT_EQ(play.ended(), "") << "what the place that is left says is no failure of the other";
  play.begun.at(1)("");
  EXPECT_EQ(play.ended(), "1:ok");
}

TEST(NotifyAside, MayBeGoneWhenAnErrandEnds) {
  notify::Aside::Done late;
  int woken = 0;
  {
    notify::Aside aside{[&] { ++woken; }};
    aside.send({1, "/spool", 10s, "late", [&](notify::Aside::Done done) { late = std::move(done); }});
  }
  late("");
  EXPECT_EQ(woken, 0);
}

notify::Parcel file_parcel(std::int64_t key) {
  notify::Parcel p;
  p.key = key;
  p.id = "larkfield-t-" + std::to_string(key);
  p.payload = "text";
  return p;
}

// A pipe that nobody reads stands for a mount that does not answer: opening it to write hangs.
TEST(NotifyCourier, LetsADirectoryThatHangsHoldUpNoOtherAndWritesOnWhenItAnswers) {
  const mqtt_test::TemporaryDirectory directory;
  const auto hung = directory.file("hung"), fine = directory.file("fine");
  std::filesystem::create_directory(hung);
  std::filesystem::create_directory(fine);
  const auto pipe = hung + "/.larkfield-t-1.partial";
  ASSERT_EQ(::mkfifo(pipe.c_str(), 0600), 0);
  config::NotifyRoute to_hung{"hung", config::CapFilesRoute{hung}};
  to_hung.timeout = 300ms;
  const config::NotifyRoute to_fine{"fine", config::CapFilesRoute{fine}};
  notify::Courier courier;
  std::map<std::int64_t, std::string> ended;
  const auto wait_for = [&](std::size_t count) {
    const auto end = std::chrono::steady_clock::now() + mqtt_test::patience;
    while (ended.size() < count && std::chrono::steady_clock::now() < end)
      for (const auto& attempt : courier.wait(10s)) ended[attempt.key] = attempt.trouble;
    return ended.size() >= count;
  };

  courier.send(to_hung, file_parcel(1));
  courier.send(to_hung, file_parcel(2));
  courier.send(to_fine, file_parcel(3));
  ASSERT_TRUE(wait_for(1));
  EXPECT_EQ(ended, (std::map<std::int64_t, std::string>{{3, ""}})) << "before the other's deadline";
  ASSERT_TRUE(wait_for(3));
  EXPECT_NE(ended[1].find(hung + " has not taken the file within 0.3 s"), std::string::npos) << ended[1];
  EXPECT_FALSE(ended[2].empty()) << "its directory hangs";

  ended.clear();
  to_hung.timeout = 10s;
  courier.send(to_hung, file_parcel(1));
  courier.send(to_hung, file_parcel(2));
  std::ifstream reader{pipe}; // now it answers, though a pipe is no file that could be synchronised
  ASSERT_TRUE(wait_for(2));
  EXPECT_NE(ended[1].find("Invalid argument"), std::string::npos) << ended[1];
  EXPECT_EQ(ended[2], "");
  EXPECT_TRUE(std::filesystem::exists(hung + "/larkfield-t-2.cap.xml"));

  std::filesystem::remove(pipe);
  ended.clear();
  courier.send(to_hung, file_parcel(1));
  ASSERT_TRUE(wait_for(1));
  EXPECT_EQ(ended[1], "");
}

} // namespace oxherd::daemon::notify_test
