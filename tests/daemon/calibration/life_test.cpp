#include "daemon/calibration/life.hpp"

#include <gtest/gtest.h>

#include "tests/daemon/calibration/records.hpp"

namespace oxherd::daemon::life_test {

using namespace example_records;
using alarms::Status;
using std::chrono::days;
using std::chrono::hours;

constexpr std::string_view serial = "LK-0007";

std::string texts(const CellLife& life) {
  std::string all;
  for (const auto& reason : life.reasons)
    all += std::string{alarms::name_of(reason.status)} + ": " + reason.text + "; ";
  return all;
}

/// Adjustments every 90 days from 2025-01-01 with the given shares of 0.0014 V/(mol/m3).
std::vector<CalibrationRecord> quarterly(const std::vector<double>& shares) {
  std::vector<CalibrationRecord> records;
  for (const double share : shares) {
    const auto n = static_cast<std::int64_t>(records.size());
    records.push_back(adjustment(n + 1, day(2025, 1, 1) + days{90 * n}, 0.0014 * share));
  }
  return records;
}

double months_between(WallTime a, WallTime b) { return Months{b - a}.count(); }

TEST(CellLife, OfACellWithoutRecordsIsEmpty) {
  const auto life = life_of({}, serial, {}, day(2026, 1, 1));
  EXPECT_EQ(life.serial, serial);
  EXPECT_FALSE(life.first_use || life.age || life.next_check || life.next_calibration || life.replace_by || life.drift);
  EXPECT_EQ(life.drift_unknown, "0 of the 3 adjustments that a drift needs");
  EXPECT_TRUE(life.reasons.empty());
}

// Its calibration may stand in the configuration, where it has no record.
TEST(CellLife, OfACellWithoutAdjustmentIsHeldAgainstAFailedCheckOnly) {
  const auto passed = life_of({check(1, day(2026, 1, 1), 0.209)}, serial, {}, day(2026, 6, 1));
  EXPECT_TRUE(passed.reasons.empty());
  EXPECT_FALSE(passed.next_check || passed.next_calibration);
  const auto failed = life_of({check(1, day(2026, 1, 1), 0.200)}, serial, {}, day(2026, 6, 1));
  EXPECT_TRUE(failed.failed_check);
  EXPECT_EQ(texts(failed), "out_of_specification: the check of 2026-01-01 failed: calibrate the cell; ");
}

TEST(CellLife, SharesAreOfTheFirstSensitivity) {
  const auto life = life_of(quarterly({1.0, 0.97, 0.95}), serial, {}, day(2025, 7, 1));
  ASSERT_EQ(life.sensitivities.size(), 3U);
  EXPECT_EQ(life.sensitivities[0].share, 1.0);
  EXPECT_NEAR(life.sensitivities[2].share, 0.95, 1e-12);
  EXPECT_NEAR(life.sensitivities[2].u_share, 0.005 * 0.95, 1e-12);
  EXPECT_EQ(life.sensitivities[2].number, 3);
  EXPECT_EQ(life.sensitivities[2].performed, day(2025, 6, 30));
}

TEST(CellLife, LeavesOutWhatCannotBeCompared) {
  auto records = quarterly({1.0, 0.97, 0.95});
  records[1].characteristic->sensitivity_unit = "V/Pa";
  records.push_back(adjustment(9, day(2026, 1, 1), 0.0001)); // not yet performed
  records.push_back(withdrawal(10, day(2025, 6, 30) + hours{1}, 3));
  records.push_back(check(11, day(2025, 4, 15), 0.209));
  const auto life = life_of(records, serial, {}, day(2025, 7, 1));
  ASSERT_EQ(life.sensitivities.size(), 1U);
  EXPECT_EQ(life.sensitivities[0].number, 1);
}

// A cell that loses 1 % a month exactly: 30 % after 30 months, 50 % after 50.
TEST(CellLife, ForetellsTheEndOfASteadyLoss) {
  std::vector<double> shares;
  const double step = months_between(day(2025, 1, 1), day(2025, 1, 1) + days{90});
  for (int i = 0; i < 5; ++i) shares.push_back(1.0 - 0.01 * step * i + (i % 2 == 0 ? 0.0005 : -0.0005));
  const auto life = life_of(quarterly(shares), serial, {}, day(2026, 1, 1));
  ASSERT_TRUE(life.drift);
  EXPECT_NEAR(life.drift->per_month, -0.01, 0.0003);
  EXPECT_TRUE(life.drift->significant);
  EXPECT_TRUE(life.drift->per_month_interval.covers(-0.01));
  ASSERT_TRUE(life.maintenance.expected && life.maintenance.earliest && life.maintenance.latest);
  EXPECT_NEAR(months_between(day(2025, 1, 1), *life.maintenance.expected), 30.0, 1.0);
  EXPECT_LT(*life.maintenance.earliest, *life.maintenance.expected);
  EXPECT_GT(*life.maintenance.latest, *life.maintenance.expected);
  EXPECT_NEAR(months_between(day(2025, 1, 1), *life.failure.expected), 50.0, 2.0);
  EXPECT_EQ(life.replace_by, life.end_of_permitted_age) << "its age ends first";
  EXPECT_NEAR(months_between(day(2025, 1, 1), *life.end_of_permitted_age), 24.0, 1e-6);
}

TEST(CellLife, ReplacesAFastLoserBeforeItMayBeSpent) {
  const auto life = life_of(quarterly({1.0, 0.901, 0.799, 0.702}), serial, {}, day(2025, 10, 1));
  ASSERT_TRUE(life.failure.earliest);
  EXPECT_EQ(life.replace_by, life.failure.earliest);
  EXPECT_LT(*life.failure.earliest, *life.failure.expected);
  EXPECT_LT(*life.replace_by, *life.end_of_permitted_age);
}

// Exact quarterly loss of 3 %: no scatter, so the interval has no width and all three agree.
TEST(CellLife, GivesAPerfectLineOneDate) {
  const auto life = life_of(quarterly({1.0, 0.97, 0.94, 0.91}), serial, {}, day(2025, 10, 1));
  ASSERT_TRUE(life.maintenance.expected);
  const auto expected = day(2025, 1, 1) + days{900}; // ten quarters of 90 days
  EXPECT_LT(std::chrono::abs(*life.maintenance.expected - expected), hours{1});
  EXPECT_LT(std::chrono::abs(*life.maintenance.earliest - expected), hours{1});
  EXPECT_LT(std::chrono::abs(*life.maintenance.latest - expected), hours{1});
}

TEST(CellLife, SaysWhyThereIsNoForecast) {
  const auto two = life_of(quarterly({1.0, 0.97}), serial, {}, day(2025, 7, 1));
  EXPECT_FALSE(two.failure.expected);
  EXPECT_EQ(two.failure.unknown, "not yet predictable: 2 of the 3 adjustments that a drift needs");
  const auto scattered = life_of(quarterly({1.0, 0.98, 1.01, 0.99}), serial, {}, day(2025, 12, 1));
  ASSERT_TRUE(scattered.drift);
  EXPECT_FALSE(scattered.drift->significant);
  EXPECT_EQ(scattered.maintenance.unknown.rfind("not yet predictable: the drift of", 0), 0U)
      << scattered.maintenance.unknown;
  const auto rising = life_of(quarterly({1.0, 1.02, 1.04, 1.06}), serial, {}, day(2025, 12, 1));
  EXPECT_EQ(rising.failure.unknown, "the sensitivity rises by 0.68 %/month: find out why");
  const auto slow = life_of(quarterly({1.0, 0.9990, 0.9981, 0.9970}), serial, {}, day(2025, 12, 1));
  EXPECT_EQ(slow.failure.unknown, "not within ten years");
}

TEST(CellLife, CountsChecksAndCalibrationsFromWhatWasDone) {
  std::vector records{adjustment(1, day(2026, 1, 1)), check(2, day(2026, 1, 31), 0.209)};
  const auto life = life_of(records, serial, {}, day(2026, 2, 10));
  EXPECT_EQ(life.next_check, day(2026, 3, 2));
  EXPECT_EQ(life.next_calibration, day(2026, 4, 1));
  EXPECT_FALSE(life.check_overdue || life.calibration_overdue);
  EXPECT_TRUE(life.reasons.empty()) << texts(life);
  auto bump = check(3, day(2026, 2, 5), 0.209);
  bump.act = CalibrationAct::bump_test;
  records.push_back(bump);
  EXPECT_EQ(life_of(records, serial, {}, day(2026, 2, 10)).next_check, day(2026, 3, 2)) << "a bump has no number";
}

TEST(CellLife, SaysWhatIsOverdueAndSinceWhen) {
  const std::vector records{adjustment(1, day(2026, 1, 1))};
  const auto due = life_of(records, serial, {}, day(2026, 1, 31));
  EXPECT_FALSE(due.check_overdue) << "due today";
  EXPECT_TRUE(life_of(records, serial, {}, day(2026, 1, 31) + std::chrono::milliseconds{1}).check_overdue);
  const auto late = life_of(records, serial, {}, day(2026, 4, 13));
  EXPECT_EQ(texts(late), "maintenance_required: calibration was due on 2026-04-01 (12 d ago); "
                         "maintenance_required: a check with gas was due on 2026-01-31 (72 d ago); ");
}

TEST(CellLife, AsksForNothingThatThePlanLeavesOut) {
  const std::vector records{adjustment(1, day(2020, 1, 1))};
  LifePlan plan;
  plan.check_every.reset();
  plan.calibrate_every.reset();
  plan.permitted_age.reset();
  const auto life = life_of(records, serial, plan, day(2026, 4, 13));
  EXPECT_FALSE(life.next_check || life.next_calibration || life.replace_by);
  EXPECT_TRUE(life.reasons.empty()) << texts(life);
}

TEST(CellLife, CallsForACalibrationAfterAFailedCheck) {
  std::vector records{adjustment(1, day(2026, 1, 1)), check(2, day(2026, 1, 20), 0.201)};
  const auto failed = life_of(records, serial, {}, day(2026, 1, 21));
  EXPECT_TRUE(failed.failed_check && failed.calibration_overdue);
  EXPECT_EQ(texts(failed), "out_of_specification: the check of 2026-01-20 failed: calibrate the cell; ");
  records.push_back(adjustment(3, day(2026, 1, 22)));
  const auto mended = life_of(records, serial, {}, day(2026, 1, 23));
  EXPECT_FALSE(mended.failed_check);
  EXPECT_TRUE(mended.reasons.empty()) << texts(mended);
}

TEST(CellLife, TellsAWornCellFromASpentOne) {
  const auto worn = life_of(quarterly({1.0, 0.69}), serial, {}, day(2025, 4, 2));
  EXPECT_EQ(texts(worn),
            "maintenance_required: cell worn: 69 % of its first sensitivity (at least 70 %): replace it; ");
  const auto spent = life_of(quarterly({1.0, 0.49}), serial, {}, day(2025, 4, 2));
  EXPECT_EQ(texts(spent), "failure: cell spent: 49 % of its first sensitivity (at least 50 %); ");
  EXPECT_EQ(alarms::gravest(spent.reasons), Status::failure);
  EXPECT_TRUE(life_of(quarterly({1.0, 0.71}), serial, {}, day(2025, 4, 2)).reasons.empty());
}

TEST(CellLife, ExpiresACellByAgeAlone) {
  std::vector records{adjustment(1, day(2024, 1, 1)), adjustment(2, day(2025, 12, 5))};
  const auto announced = life_of(records, serial, {}, day(2025, 12, 20));
  EXPECT_EQ(texts(announced), "maintenance_required: replace the cell by 2025-12-31; ");
  const auto old = life_of(records, serial, {}, day(2025, 12, 31) + hours{13});
  EXPECT_EQ(texts(old), "maintenance_required: cell in use for 24 months (at most 24): replace it; ");
  LifePlan known;
  known.first_use = day(2023, 6, 1);
  EXPECT_NEAR(life_of(records, serial, known, day(2025, 12, 1)).age->count(), 30.0, 0.1);
}

} // namespace oxherd::daemon::life_test
