#include "daemon/collect/wellness.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

// What /healthz of the historian says.
namespace oxherd::daemon::collect::wellness_test {

using namespace std::chrono_literals;

CollectHealth well() {
  CollectHealth health;
  health.broker.connected = true;
  health.writer.writing = true;
  health.writer.last_commit = WallTime{1'790'000'000'000ms};
  health.writer.commit_age = 12s;
  return health;
}

TEST(Wellness, SaysNothingWhileAllIsKept) { EXPECT_EQ(why_unwell(well()), ""); }

TEST(Wellness, SaysThatNothingComes) {
  auto health = well();
  health.broker.connected = false;
  EXPECT_EQ(why_unwell(health), "the broker is not connected, so nothing comes");
}

TEST(Wellness, SaysThatTheDatabaseRefusesWithoutTheWordsThatOnlyViewersMayRead) {
  auto health = well();
  health.writer.trouble = "connection to db.larkfield.example failed";
  EXPECT_EQ(why_unwell(health), "the database does not take what comes; nothing of it is acknowledged to the broker");
}

TEST(Wellness, SaysThatTheDatabaseIsSilentOnceThirtySecondsHavePassed) {
  auto health = well();
  health.writer.commit_age = 30s;
  EXPECT_EQ(why_unwell(health), "");
  health.writer.commit_age = 30'001ms;
  EXPECT_EQ(why_unwell(health), "the database has confirmed nothing for 30 s");
  health.writer.last_commit.reset();
  EXPECT_EQ(why_unwell(health), "the database has taken nothing since the start");
}

TEST(Wellness, SaysEveryTrouble) {
  EXPECT_EQ(why_unwell(CollectHealth{}), "the broker is not connected, so nothing comes\n"
                                         "the database has taken nothing since the start");
}

TEST(Wellness, TellsFiguresAndNoAgeOfWhatNeverWas) {
  auto health = well();
  health.broker.received = 7;
  health.writer.stored = 6;
  const auto told = nlohmann::json::parse(collect_json(health));
  EXPECT_EQ(told["received"], 7);
  EXPECT_EQ(told["stored"], 6);
  EXPECT_EQ(told["commit_age_s"], 12.0);
  EXPECT_EQ(told["last_commit"].get<std::string>().substr(0, 10), "2026-09-21");
  health.writer.last_commit.reset();
  EXPECT_TRUE(nlohmann::json::parse(collect_json(health))["commit_age_s"].is_null());
}

} // namespace oxherd::daemon::collect::wellness_test
