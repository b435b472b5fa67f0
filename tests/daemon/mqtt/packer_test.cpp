#include "daemon/mqtt/packer.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace oxherd::daemon::packer_test {

using nlohmann::json;
using namespace std::chrono_literals;

constexpr std::int64_t morning_s = 1772352930;

ReadingRecord reading_at(int second, const std::string& sensor = "cell-a", alarms::Status status = alarms::Status::ok) {
  ReadingRecord r;
  r.at = WallTime{std::chrono::seconds{morning_s + second}};
  r.room = "cryo-annexe";
  r.sensor = sensor;
  r.raw_V = second;
  r.status = status;
  return r;
}

/// A packer on a clock of its own; what comes out is kept as "SENSOR: SIGNALS".
class Packing {
public:
  explicit Packing(std::chrono::milliseconds longest) : packer_{"larkfield", longest} {}

  void take(const ReadingRecord& reading) {
    packer_.take(reading, now_, packs_);
    keep();
  }
  void pass(std::chrono::milliseconds span) {
    now_ += span;
    packer_.take_due(now_, packs_);
    keep();
  }
  void end() {
    packer_.take_all(packs_);
    keep();
  }
  /// Since it was asked last.
  std::vector<std::string> came() { return std::exchange(came_, {}); }

private:
  void keep() {
    for (const auto& pack : packs_) {
      std::string line = pack.sensor + ":";
      for (const auto& record : json::parse(pack.payload))
        if (record["n"] == "raw") line += " " + std::to_string(record["v"].get<int>());
      came_.push_back(line);
    }
    packs_.clear();
  }

  Packer packer_;
  alarms::Monotonic now_{0};
  std::vector<Packer::Pack> packs_;
  std::vector<std::string> came_;
};

using Lines = std::vector<std::string>;

TEST(Packer, LetsReadingsOfASensorWaitForEachOther) {
  Packing packing{5s};
  packing.take(reading_at(0));
  EXPECT_EQ(packing.came(), Lines{"cell-a: 0"}) << "the first of a sensor does not wait";
  for (int second = 1; second <= 5; ++second) {
    packing.take(reading_at(second));
    packing.pass(1s);
  }
  EXPECT_EQ(packing.came(), Lines{"cell-a: 1 2 3 4 5"});
}

TEST(Packer, LetsNoReadingWaitLongerThanItMay) {
  Packing packing{5s};
  packing.take(reading_at(0));
  packing.take(reading_at(1));
  packing.pass(4999ms);
  EXPECT_EQ(packing.came(), Lines{"cell-a: 0"});
  packing.take(reading_at(5)); // it came late, and goes with the one that must go
  packing.pass(1ms);
  EXPECT_EQ(packing.came(), Lines{"cell-a: 1 5"});
  packing.pass(60s);
  EXPECT_EQ(packing.came(), Lines{});
}

TEST(Packer, SendsAChangeOfQualityAtOnceWithWhatWaited) {
  Packing packing{5s};
  packing.take(reading_at(0));
  packing.take(reading_at(1));
  packing.take(reading_at(2, "cell-a", alarms::Status::failure));
  EXPECT_EQ(packing.came(), (Lines{"cell-a: 0", "cell-a: 1 2"}));
  packing.take(reading_at(3, "cell-a", alarms::Status::failure));
  EXPECT_EQ(packing.came(), Lines{});
  packing.take(reading_at(4));
  EXPECT_EQ(packing.came(), Lines{"cell-a: 3 4"});
}

TEST(Packer, KeepsSensorsApart) {
  Packing packing{5s};
  for (int second = 0; second < 3; ++second)
    for (const auto* sensor : {"cell-a", "cell-b"}) packing.take(reading_at(second, sensor));
  EXPECT_EQ(packing.came(), (Lines{"cell-a: 0", "cell-b: 0"}));
  packing.pass(5s);
  EXPECT_EQ(packing.came(), (Lines{"cell-b: 1 2", "cell-a: 1 2"})) << "the first wait of the second is shorter";
}

TEST(Packer, SpreadsThePacksOfSensorsThatBeganTogether) {
  Packing packing{10s};
  std::size_t most = 0, all = 0;
  for (int second = 0; second < 60; ++second) {
    for (int sensor = 0; sensor < 100; ++sensor) packing.take(reading_at(second, "cell-" + std::to_string(sensor)));
    packing.pass(1s);
    const auto came = packing.came().size();
    if (second > 0) most = std::max(most, came);
    all += came;
  }
  EXPECT_GT(all, 500U);
  EXPECT_LE(most, 15U) << "of 100 sensors that send every ten seconds";
}

TEST(Packer, GivesEachReadingAPackOfItsOwnWhenNoneMayWait) {
  Packing packing{0s};
  for (int second = 0; second < 3; ++second) packing.take(reading_at(second));
  EXPECT_EQ(packing.came(), (Lines{"cell-a: 0", "cell-a: 1", "cell-a: 2"}));
}

TEST(Packer, BeginsANewPackWhenTheClockIsSetBack) {
  Packing packing{5s};
  for (const int second : {100, 101, 40, 41}) packing.take(reading_at(second));
  packing.pass(5s);
  EXPECT_EQ(packing.came(), (Lines{"cell-a: 100", "cell-a: 101", "cell-a: 40 41"}));
}

TEST(Packer, SendsAPackThatHasGrownLargeBeforeItsTime) {
  Packing packing{60s};
  packing.take(reading_at(0));
  EXPECT_EQ(packing.came().size(), 1U);
  int second = 1;
  for (Lines came; came.empty() && second < 1000; came = packing.came()) packing.take(reading_at(second++));
  EXPECT_LT(second, 1000);
  EXPECT_GT(second, 100);
}

TEST(Packer, GivesUpEverythingAtTheEnd) {
  Packing packing{60s};
  for (int second = 0; second < 3; ++second) packing.take(reading_at(second));
  EXPECT_EQ(packing.came(), Lines{"cell-a: 0"});
  packing.end();
  EXPECT_EQ(packing.came(), Lines{"cell-a: 1 2"});
  packing.end();
  packing.pass(60s);
  EXPECT_EQ(packing.came(), Lines{});
}

} // namespace oxherd::daemon::packer_test
