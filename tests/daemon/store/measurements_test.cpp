#include "daemon/store/measurements.hpp"

#include <fmt/format.h>

#include "daemon/store/schema.hpp"
#include "daemon/store/trend.hpp"
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

/// A file as the version left it that knew so many steps of the schema: one minute with a reading, rolled up where that
/// version did.
void write_old_measurements(const std::filesystem::path& dir, std::size_t steps) {
  const auto& schema = store::measurements_schema();
  auto old = store::Database::open(dir / schema.file_name, store::Database::Mode::create);
  ASSERT_TRUE(old);
  for (std::size_t i = 0; i < steps; ++i) ASSERT_TRUE(old->run(schema.steps[i]));
  const auto at = morning.time_since_epoch().count();
  std::string sql = fmt::format(
      "PRAGMA application_id={}; PRAGMA user_version={}; INSERT INTO sensor VALUES(1, 'pear-store-2', 'draught');"
      "INSERT INTO reading(at, sensor, status, pressure_Pa, reasons) VALUES({}, 1, 'ok', 98600.0, 'as it was');"
      "INSERT INTO reading_mark VALUES({}, 1, 1)",
      schema.application_id, steps, at, at / 60000);
  if (steps > 2)
    sql += fmt::format("; INSERT INTO rollup(step, sensor, start, readings, bad, pressure_Pa_min, pressure_Pa_max, "
                       "pressure_Pa_mean) VALUES(60000, 1, {}, 1, 0, 98600.0, 98600.0, 98600.0);"
                       "INSERT INTO rolled VALUES(1, {})",
                       at, at / 60000 + 1);
  ASSERT_TRUE(old->run(sql));
}

TEST(MeasurementFiles, OfEveryOlderVersionAreBroughtUpToDateAndTakeOverPressureFromThenOn) {
  for (std::size_t steps = 1; steps < store::measurements_schema().steps.size(); ++steps) {
    SCOPED_TRACE(steps);
    const ScratchDir dir;
    write_old_measurements(dir.path(), steps);
    for (int start = 0; start < 2; ++start) { // the second finds it up to date
      auto file = Measurements::open(dir.path());
      ASSERT_TRUE(file) << file.error().what;
      auto reading = store_test::reading_at(morning + 1min * (start + 1), 0.0, "draught", "pear-store-2");
      reading.over_pressure_Pa = 180.0 + start;
      reading.u_over_pressure_Pa = 1.5;
      const std::vector<store::Queued<store::MeasurementRow>> rows{{0, store::flattened(reading)}};
      ASSERT_TRUE(file->write(rows));
      ASSERT_TRUE(file->roll_up(morning + 1h, 60s));
    }
    const auto readings = readings_in(dir.path());
    ASSERT_EQ(readings.size(), 3U);
    EXPECT_EQ(readings[0].pressure_Pa, 98600.0);
    EXPECT_EQ(readings[0].reasons, "as it was");
    EXPECT_FALSE(readings[0].over_pressure_Pa);
    EXPECT_EQ(readings[1].over_pressure_Pa, 180.0);
    EXPECT_EQ(readings[2].u_over_pressure_Pa, 1.5);
    const auto values = [&](const char* quantity) {
      const auto found =
          trend(dir.path(), {"pear-store-2", "draught", trend_quantity_named(quantity), morning, morning + 10min, 10});
      std::vector<std::optional<double>> means;
      for (const auto& step : found->steps) means.push_back(step.mean);
      return means;
    };
    EXPECT_EQ(values("over_pressure_pa"), (std::vector<std::optional<double>>{std::nullopt, 180.0, 181.0}));
    EXPECT_DOUBLE_EQ(values("pressure_kpa").at(0).value_or(0.0), 98.6);
  }
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

TEST(MeasurementFiles, GiveTheirOldestRecordsBeforeTheDiskFillsAndSaySo) {
  const ScratchDir dir;
  auto settings = store_test::keep_all();
  settings.keep_free = 1.0; // no disk has that much
  const auto store = store_test::open_store(dir.path(), settings);
  ASSERT_TRUE(store);
  const auto now = store_test::wall_now();
  for (const auto age : {20min, 10min, 5min, 0min}) store->reading(store_test::reading_at(now - age));
  ASSERT_TRUE(store_test::committed(*store));
  for (const auto end = std::chrono::steady_clock::now() + 30s;
       readings_in(dir.path()).size() > 1 && std::chrono::steady_clock::now() < end;)
    ASSERT_TRUE(store_test::committed(*store));
  ASSERT_EQ(readings_in(dir.path()).size(), 1U);
  EXPECT_EQ(readings_in(dir.path()).front().at, now) << "the newest stay";
  EXPECT_TRUE(store->health().shortened);
  EXPECT_LT(store->health().free_share, 1.0);
  EXPECT_GT(store->health().bytes, 4096U);
  EXPECT_TRUE(store->health().writing);
}

} // namespace oxherd::daemon::measurements_test
