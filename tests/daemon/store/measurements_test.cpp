#include "daemon/store/measurements.hpp"

#include "daemon/store/schema.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::measurements_test {

using namespace std::chrono_literals;
using store::Cutoffs;
using store::Measurements;
using store_test::morning;
using store_test::readings_in;
using store_test::ScratchDir;

/// An open file of measurements; the test fails and stops where an action does.
class MeasurementsTest : public testing::Test {
protected:
  void SetUp() override {
    auto opened = Measurements::open(dir.path());
    ASSERT_TRUE(opened) << opened.error().what;
    file.emplace(std::move(*opened));
  }
  void write(std::vector<WallTime> times) {
    std::vector<store::Queued<store::MeasurementRow>> rows;
    for (const auto at : times) rows.push_back({0, store::flattened(store_test::reading_at(at))});
    for (const auto at : times)
      rows.push_back({0, SampleRecord{at, "bay-3", "air", "humidity", 0.5, 50.0, alarms::Status::ok, ""}});
    const auto done = file->write(rows);
    ASSERT_TRUE(done) << done.error().what;
  }
  std::int64_t prune(Cutoffs cutoffs) {
    const auto removed = file->prune(cutoffs);
    if (!removed) ADD_FAILURE() << removed.error().what;
    return removed.value_or(-1);
  }
  std::int64_t integer(std::string_view sql) {
    auto database = store::open_for_reading(dir.path(), store::measurements_schema());
    if (!database) ADD_FAILURE() << database.error().what;
    return database ? database->integer(sql).value_or(-1) : -1;
  }

  const ScratchDir dir;
  std::optional<Measurements> file;
};

TEST_F(MeasurementsTest, RemovesOnlyWhatIsOlderThanItsOwnTimeToKeepAMinuteAtATime) {
  write({morning, morning + 1min, morning + 61s, morning + 2min});
  const Cutoffs cutoffs{morning + 2min, morning + 1min};
  EXPECT_EQ(prune(cutoffs), 2); // the first minute of both
  EXPECT_EQ(prune(cutoffs), 2); // the second of the samples only
  EXPECT_EQ(prune(cutoffs), 0);
  EXPECT_EQ(integer("SELECT count(*) FROM sample"), 1);
  EXPECT_EQ(integer("SELECT count(*) FROM sample_mark"), 1);
  EXPECT_EQ(integer("SELECT count(*) FROM reading_mark"), 2);
  const auto left = readings_in(dir.path());
  ASSERT_EQ(left.size(), 3U);
  EXPECT_EQ(left.front().at, morning + 1min);
}

TEST_F(MeasurementsTest, RemovesAMinuteOfManyRowsInSteps) {
  std::vector<WallTime> times(25000, morning);
  write(times);
  const Cutoffs cutoffs{morning - 1h, morning + 1h};
  EXPECT_EQ(prune(cutoffs), 20000);
  EXPECT_EQ(prune(cutoffs), 5000);
  EXPECT_EQ(prune(cutoffs), 0);
  EXPECT_EQ(integer("SELECT count(*) FROM sample"), 25000);
  EXPECT_EQ(integer("SELECT count(*) FROM reading"), 0);
}

TEST_F(MeasurementsTest, FindsAndRemovesTheRightRowsAfterTheClockWasSetBack) {
  write({morning, morning + 60min, morning + 61min}); // an hour ahead, then put right
  write({morning + 1min, morning + 60min});
  HistoryQuery query;
  query.from = morning + 60min;
  query.to = morning + 60min + 59s;
  const auto found = reading_history(dir.path(), query);
  ASSERT_TRUE(found) << found.error().what;
  EXPECT_EQ(found->readings.size(), 2U);
  const Cutoffs cutoffs{morning + 60min, morning + 60min};
  EXPECT_EQ(prune(cutoffs), 2);
  EXPECT_EQ(prune(cutoffs), 2);
  EXPECT_EQ(prune(cutoffs), 0);
  EXPECT_EQ(readings_in(dir.path()).size(), 3U);
}

TEST_F(MeasurementsTest, WritesOnAfterAllRowsWereRemoved) {
  write({morning});
  EXPECT_EQ(prune({morning + 1h, morning + 1h}), 2);
  write({morning + 2h});
  const auto left = readings_in(dir.path());
  ASSERT_EQ(left.size(), 1U);
  EXPECT_EQ(left.front().at, morning + 2h);
}

TEST_F(MeasurementsTest, NumbersEachSensorAndChannelOnceOverRestarts) {
  write({morning});
  file.reset();
  SetUp();
  write({morning + 1s});
  EXPECT_EQ(integer("SELECT count(*) FROM sensor"), 2);
  EXPECT_EQ(integer("SELECT count(*) FROM channel"), 1);
  EXPECT_EQ(integer("SELECT count(DISTINCT sensor) FROM reading"), 1);
}

TEST_F(MeasurementsTest, ForgetsTheNumbersOfATransactionThatFailed) {
  auto other = store::Database::open(dir.path() / "measurements.sqlite", store::Database::Mode::create);
  ASSERT_TRUE(other);
  ASSERT_TRUE(other->run("CREATE TRIGGER refuse BEFORE INSERT ON sample BEGIN SELECT raise(ABORT, 'no'); END"));
  const std::vector<store::Queued<store::MeasurementRow>> rows{
      {0, store::flattened(store_test::reading_at(morning))},
      {0, SampleRecord{morning, "bay-3", "air", "humidity", 0.5, 50.0, alarms::Status::ok, ""}}};
  EXPECT_FALSE(file->write(rows));
  EXPECT_EQ(integer("SELECT count(*) FROM sensor"), 0);
  ASSERT_TRUE(other->run("DROP TRIGGER refuse"));
  EXPECT_TRUE(file->write(rows));
  EXPECT_EQ(readings_in(dir.path()).size(), 1U); // joined with its sensor, so the number is right
  EXPECT_EQ(integer("SELECT count(*) FROM sample JOIN channel ON channel.id = channel JOIN sensor s ON s.id = sensor"),
            1);
}

TEST_F(MeasurementsTest, HasNoSecondaryIndexOnTheTablesThatGrow) {
  EXPECT_EQ(integer("SELECT count(*) FROM sqlite_schema WHERE type = 'index' AND tbl_name IN ('sample', 'reading')"),
            0);
}

TEST(MeasurementFiles, KeepOnlyAsLongAsTheSettingsSay) {
  const ScratchDir dir;
  config::Store brief;
  brief.keep_raw = brief.keep_readings = 24h;
  const auto now = store_test::wall_now();
  const auto store = store_test::open_store(dir.path(), brief);
  ASSERT_TRUE(store);
  store->reading(store_test::reading_at(now - 25h));
  store->reading(store_test::reading_at(now));
  // The writer removes a little after each commit at most; every further commit is one more occasion.
  bool removed = false;
  for (const auto end = std::chrono::steady_clock::now() + 30s; !removed && std::chrono::steady_clock::now() < end;) {
    ASSERT_TRUE(store_test::committed(*store));
    removed = readings_in(dir.path()).size() == 1;
  }
  EXPECT_TRUE(removed);
  EXPECT_EQ(readings_in(dir.path()).front().at, now);
}

} // namespace oxherd::daemon::measurements_test
