#include "daemon/store/trend.hpp"

#include <cmath>

#include "daemon/store/measurements.hpp"
#include "daemon/store/rollup.hpp"
#include "daemon/store/schema.hpp"
#include "tests/daemon/store/store_fixture.hpp"

// A quantity over minutes and years: no peak hidden, no reading counted twice, bad ones told apart.
namespace oxherd::daemon::store_test {

namespace {

/// A file of readings that a test writes and rolls up by hand.
class Readings {
public:
  Readings() : file_{std::move(*store::Measurements::open(dir_.path()))} {}

  /// One reading each second from `begin` on, with these fractions; NaN stands for a bad one.
  void add(WallTime begin, const std::vector<double>& fractions, std::chrono::seconds every = 1s) {
    std::vector<store::Queued<store::MeasurementRow>> rows;
    for (const double fraction : fractions) {
      store::ReadingRow row;
      row.at = begin;
      row.room = "cryo-annexe";
      row.sensor = "cell-a";
      row.status = std::isnan(fraction) ? alarms::Status::failure : alarms::Status::ok;
      row.oxygen = std::isnan(fraction) ? 0.0 : fraction; // a bad one may have a value: it must not be plotted
      rows.push_back({0, std::move(row)});
      begin += every;
    }
    ASSERT_TRUE(file_.write(rows));
  }
  void roll_up(WallTime now, const store::RollupKeep& keep = {}) { ASSERT_TRUE(file_.roll_up(now, 60s, keep)); }
  void prune(WallTime before) {
    for (std::int64_t rows = 1; rows > 0;) {
      const auto removed = file_.prune({before, before});
      ASSERT_TRUE(removed);
      rows = *removed;
    }
  }
  /// How many steps of this length there are.
  std::int64_t rolled(std::chrono::milliseconds step) const {
    auto database = store::open_for_reading(dir_.path(), store::measurements_schema());
    return database->integer("SELECT count(*) FROM rollup WHERE step = " + std::to_string(step.count())).value_or(-1);
  }
  Trend trend(WallTime from, WallTime to, int points) const {
    auto found =
        daemon::trend(dir_.path(), {"cryo-annexe", "cell-a", trend_quantity_named("dry_fraction"), from, to, points});
    if (!found) throw std::runtime_error{found.error().what};
    return std::move(*found);
  }

private:
  ScratchDir dir_;
  store::Measurements file_;
};

std::int64_t bad_in(const Trend& trend) {
  std::int64_t all = 0;
  for (const auto& step : trend.steps) all += step.bad;
  return all;
}

double greatest_in(const Trend& trend) {
  double greatest = 0.0;
  for (const auto& step : trend.steps) greatest = std::max(greatest, step.greatest.value_or(0.0));
  return greatest;
}

constexpr double bad = std::numeric_limits<double>::quiet_NaN();

} // namespace

TEST(Trend, ShowsShortTimesByTheReadingsThemselves) {
  Readings readings;
  readings.add(morning, {0.209, 0.208, bad, 0.207});
  const auto trend = readings.trend(morning, morning + 4s, 4);
  ASSERT_EQ(trend.step, 1s);
  ASSERT_EQ(trend.steps.size(), 4U);
  EXPECT_EQ(trend.steps[0].middle, morning + 500ms);
  EXPECT_EQ(trend.steps[1].mean, 0.208);
  EXPECT_FALSE(trend.steps[2].mean) << "a bad reading has no place in a plot";
  EXPECT_EQ(trend.steps[2].bad, 1);
}

TEST(Trend, HidesNoPeakHoweverLongTheTime) {
  Readings readings;
  std::vector<double> day(86400 / 10, 0.2095);
  day[4000] = 0.25;
  day[4001] = 0.17;
  readings.add(morning, day, 10s);
  for (int round = 0; round < 2; ++round) { // by the readings first, then by their minutes and hours
    for (const int points : {10, 100, 1000}) {
      const auto trend = readings.trend(morning, morning + 24h, points);
      EXPECT_LE(trend.steps.size(), static_cast<std::size_t>(points) + 1);
      EXPECT_EQ(greatest_in(trend), 0.25) << points;
      EXPECT_EQ(std::count_if(trend.steps.begin(), trend.steps.end(), [](const auto& s) { return s.least == 0.17; }),
                1);
    }
    readings.roll_up(morning + 25h);
  }
}

TEST(Trend, IsTheSameByMinutesAsByReadings) {
  Readings readings;
  std::vector<double> hours;
  for (int i = 0; i < 3 * 3600; ++i) hours.push_back(i % 700 == 0 ? bad : 0.2 + 1e-6 * (i % 977));
  readings.add(morning, hours);
  const auto before = readings.trend(morning, morning + 3h, 90);
  readings.roll_up(morning + 100min); // a part of it
  const auto partly = readings.trend(morning, morning + 3h, 90);
  readings.roll_up(morning + 4h);
  const auto after = readings.trend(morning, morning + 3h, 90);
  ASSERT_EQ(before.step, 2min);
  for (const auto* trend : {&partly, &after}) {
    ASSERT_EQ(trend->steps.size(), before.steps.size());
    for (std::size_t i = 0; i < before.steps.size(); ++i) {
      EXPECT_EQ(trend->steps[i].middle, before.steps[i].middle);
      EXPECT_EQ(trend->steps[i].least, before.steps[i].least);
      EXPECT_EQ(trend->steps[i].greatest, before.steps[i].greatest);
      EXPECT_NEAR(*trend->steps[i].mean, *before.steps[i].mean, 1e-12);
      EXPECT_EQ(trend->steps[i].bad, before.steps[i].bad);
    }
  }
  EXPECT_EQ(bad_in(after), 16);
}

TEST(Trend, IsTheSameByTensOfSecondsAsByReadings) {
  Readings readings;
  std::vector<double> hours;
  for (int i = 0; i < 2 * 3600; ++i) hours.push_back(i % 700 == 0 ? bad : 0.2 + 1e-6 * (i % 977));
  readings.add(morning, hours);
  const auto before = readings.trend(morning, morning + 1h, 600); // six seconds would do; tens of seconds are at hand
  ASSERT_EQ(before.step, 10s);
  ASSERT_EQ(before.steps.size(), 360U);
  readings.roll_up(morning + 30min); // a part of it
  const auto partly = readings.trend(morning, morning + 1h, 600);
  readings.roll_up(morning + 3h);
  const auto after = readings.trend(morning, morning + 1h, 600);
  for (const auto* trend : {&partly, &after}) {
    ASSERT_EQ(trend->steps.size(), before.steps.size());
    for (std::size_t i = 0; i < before.steps.size(); ++i) {
      EXPECT_EQ(trend->steps[i].middle, before.steps[i].middle);
      EXPECT_EQ(trend->steps[i].least, before.steps[i].least);
      EXPECT_EQ(trend->steps[i].greatest, before.steps[i].greatest);
      EXPECT_NEAR(*trend->steps[i].mean, *before.steps[i].mean, 1e-12);
      EXPECT_EQ(trend->steps[i].bad, before.steps[i].bad);
    }
  }
}

TEST(Trend, FallsBackToWhatIsStillKept) {
  Readings readings;
  const std::vector<double> hour(3600, 0.2095);
  readings.add(morning, hour);
  readings.add(morning + 72h, hour);
  readings.roll_up(morning + 74h);
  EXPECT_EQ(readings.rolled(10s), 360) << "of the newer hour alone";
  const auto finely = readings.trend(morning, morning + 1h, 360);
  EXPECT_EQ(finely.step, 10s);
  EXPECT_EQ(finely.steps.size(), 360U) << "from the readings, which are still there";
  readings.prune(morning + 1h);
  const auto coarsely = readings.trend(morning, morning + 1h, 360);
  EXPECT_EQ(coarsely.step, 1min);
  EXPECT_EQ(coarsely.steps.size(), 60U);
  readings.add(morning + 73h, hour);
  readings.roll_up(morning + 75h, {.minutes = 24h});
  EXPECT_EQ(readings.rolled(1min), 120);
  const auto by_hours = readings.trend(morning, morning + 1h, 360);
  EXPECT_EQ(by_hours.step, 1h);
  EXPECT_EQ(by_hours.steps.size(), 1U);
  EXPECT_EQ(readings.trend(morning + 72h, morning + 73h, 360).step, 10s);
}

TEST(Trend, LosesAnHourOfStepsAtATimeToAClockThatIsFarAhead) {
  Readings readings;
  readings.add(morning, std::vector<double>(5 * 60, 0.2095), 60s); // five hours
  readings.roll_up(morning + 6h);
  readings.add(morning + 24h * 365 * 9, {0.2095});
  readings.roll_up(morning + 24h * 365 * 9 + 2min);
  EXPECT_GE(readings.rolled(1min), 4 * 60) << "an hour went, and not all of them";
}

TEST(Trend, TakesUpReadingsThatCameLate) {
  Readings readings;
  readings.add(morning, std::vector<double>(7200, 0.2095));
  readings.roll_up(morning + 3h);
  readings.add(morning + 10min + 500ms, {0.15}); // a clock that was set back, say
  readings.roll_up(morning + 3h);
  EXPECT_EQ(readings.trend(morning, morning + 2h, 60).steps[5].least, 0.15);
}

TEST(Trend, LeavesGapsWhereNothingWasRecorded) {
  Readings readings;
  readings.add(morning, std::vector<double>(60, 0.2095));
  readings.add(morning + 30min, std::vector<double>(60, 0.2095));
  const auto trend = readings.trend(morning, morning + 1h, 60);
  EXPECT_EQ(trend.steps.size(), 2U);
  EXPECT_TRUE(readings.trend(morning - 2h, morning - 1h, 60).steps.empty());
}

TEST(Trend, KeepsEveryQuantityInItsOwnColumnWhenRolledUp) {
  const ScratchDir dir;
  auto file = store::Measurements::open(dir.path());
  ASSERT_TRUE(file);
  std::vector<store::Queued<store::MeasurementRow>> rows;
  for (int i = 0; i < 120; ++i) {
    store::ReadingRow row;
    row.at = morning + i * 1s;
    row.room = "cryo-annexe";
    row.sensor = "cell-a";
    row.oxygen = 0.2 + i * 1e-4;
    row.u_oxygen = 0.001;
    row.po2_Pa = 20000.0;
    row.raw_V = 0.012;
    row.temperature_K = 280.0;
    row.humidity = 0.5;
    row.pressure_Pa = 98000.0;
    row.carbon_dioxide = 0.0008;
    row.over_pressure_Pa = -30.0 + i; // of both signs
    rows.push_back({0, std::move(row)});
  }
  ASSERT_TRUE(file->write(rows));
  ASSERT_TRUE(file->roll_up(morning + 1h, 60s));
  const auto first_minute = [&](const char* quantity) {
    const auto found =
        trend(dir.path(), {"cryo-annexe", "cell-a", trend_quantity_named(quantity), morning, morning + 2min, 2});
    return found->steps.at(0);
  };
  EXPECT_EQ(first_minute("over_pressure_pa").least, -30.0);
  EXPECT_EQ(first_minute("over_pressure_pa").greatest, 29.0);
  EXPECT_DOUBLE_EQ(first_minute("over_pressure_pa").mean.value_or(-1.0), -0.5);
  EXPECT_DOUBLE_EQ(first_minute("dry_fraction").greatest.value_or(-1.0), 0.2059);
  EXPECT_DOUBLE_EQ(first_minute("u_dry_fraction").mean.value_or(-1.0), 0.001);
  EXPECT_DOUBLE_EQ(first_minute("po2_kpa").mean.value_or(-1.0), 20.0);
  EXPECT_DOUBLE_EQ(first_minute("raw_mv").mean.value_or(-1.0), 12.0);
  EXPECT_DOUBLE_EQ(first_minute("temperature_c").mean.value_or(-1.0), 280.0 - 273.15);
  EXPECT_DOUBLE_EQ(first_minute("humidity_percent").mean.value_or(-1.0), 50.0);
  EXPECT_DOUBLE_EQ(first_minute("pressure_kpa").mean.value_or(-1.0), 98.0);
  EXPECT_DOUBLE_EQ(first_minute("co2_fraction").mean.value_or(-1.0), 0.0008);
}

TEST(Trend, IsEmptyForASensorThatNeverWas) {
  const ScratchDir dir;
  ASSERT_TRUE(store::Measurements::open(dir.path()));
  const auto found =
      trend(dir.path(), {"cryo-annexe", "no-such", trend_quantity_named("po2_kpa"), morning, morning + 1h});
  ASSERT_TRUE(found);
  EXPECT_TRUE(found->steps.empty());
}

TEST(TrendQuantities, AreInTheUnitsOfPeople) {
  EXPECT_EQ(trend_quantity_named("oxygen"), nullptr);
  const auto* celsius = trend_quantity_named("temperature_c");
  ASSERT_NE(celsius, nullptr);
  EXPECT_DOUBLE_EQ(293.15 * celsius->factor + celsius->offset, 20.0);
  EXPECT_EQ(trend_quantity_names().substr(0, 12), "dry_fraction");
}

} // namespace oxherd::daemon::store_test
