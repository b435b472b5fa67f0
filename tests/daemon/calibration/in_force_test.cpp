#include "daemon/calibration/in_force.hpp"

#include <cmath>

#include <gtest/gtest.h>

#include "daemon/calibration/check.hpp"
#include "tests/daemon/calibration/records.hpp"

namespace oxherd::daemon::in_force_test {

using namespace example_records;

std::vector<std::int64_t> numbers(const std::vector<CalibrationRecord>& records) {
  std::vector<std::int64_t> all;
  for (const auto& record : records) all.push_back(record.number);
  return all;
}
using Numbers = std::vector<std::int64_t>;

CalibrationRecord correction(std::int64_t number, WallTime performed, std::int64_t of) {
  auto record = adjustment(number, performed);
  record.supersedes = of;
  return record;
}

TEST(CalibrationNames, AreWordsWithDashes) {
  EXPECT_EQ(name_of(CalibrationAct::adjustment), "adjustment");
  EXPECT_EQ(name_of(CalibrationAct::check), "check");
  EXPECT_EQ(name_of(CalibrationAct::bump_test), "bump-test");
  EXPECT_EQ(name_of(CalibrationAct::withdrawal), "withdrawal");
  EXPECT_EQ(name_of(GasKind::fresh_air), "fresh-air");
  EXPECT_EQ(name_of(GasKind::nitrogen), "nitrogen");
  EXPECT_EQ(name_of(GasKind::span_gas), "span-gas");
}

TEST(Effective, OrdersByWhenItWasPerformedNotWhenEntered) {
  const std::vector records{adjustment(1, day(2026, 3, 1)), adjustment(3, day(2026, 1, 1)),
                            adjustment(2, day(2026, 5, 1))};
  EXPECT_EQ(numbers(effective(records)), (Numbers{3, 1, 2}));
}

TEST(Effective, LeavesOutWhatIsWithdrawnAndTheWithdrawal) {
  const std::vector records{adjustment(1, day(2026, 1, 1)), adjustment(2, day(2026, 2, 1)),
                            withdrawal(3, day(2026, 2, 2), 2)};
  EXPECT_EQ(numbers(effective(records)), (Numbers{1}));
}

TEST(Effective, LeavesOutWhatIsCorrected) {
  const std::vector records{adjustment(1, day(2026, 1, 1)), correction(2, day(2026, 1, 1), 1),
                            correction(3, day(2026, 1, 1), 2)};
  EXPECT_EQ(numbers(effective(records)), (Numbers{3}));
}

TEST(Effective, RestoresWhatAWithdrawnCorrectionHadReplaced) {
  const std::vector records{adjustment(1, day(2026, 1, 1)), correction(2, day(2026, 1, 1), 1),
                            withdrawal(3, day(2026, 1, 5), 2)};
  EXPECT_EQ(numbers(effective(records)), (Numbers{1}));
}

TEST(Effective, PutsTheFirstCorrectionBackWhenTheSecondIsWithdrawn) {
  const std::vector records{adjustment(1, day(2026, 1, 1)), correction(2, day(2026, 1, 1), 1),
                            correction(3, day(2026, 1, 1), 2), withdrawal(4, day(2026, 1, 5), 3)};
  EXPECT_EQ(numbers(effective(records)), (Numbers{2}));
}

TEST(Effective, RestoresWhatAWithdrawnWithdrawalHadVoided) {
  const std::vector records{adjustment(1, day(2026, 1, 1)), withdrawal(2, day(2026, 1, 2), 1),
                            withdrawal(3, day(2026, 1, 3), 2)};
  EXPECT_EQ(numbers(effective(records)), (Numbers{1}));
}

// Broken entries must not void what stands, themselves included.
TEST(Effective, IgnoresASupersessionOfItselfOrOfLaterRecords) {
  const std::vector records{correction(1, day(2026, 1, 1), 1), correction(2, day(2026, 1, 2), 3),
                            adjustment(3, day(2026, 1, 3))};
  EXPECT_EQ(numbers(effective(records)), (Numbers{1, 2, 3}));
}

TEST(StandingOf, NamesTheRecordThatMadeItVoid) {
  const std::vector records{adjustment(1, day(2026, 1, 1)), correction(2, day(2026, 1, 1), 1),
                            adjustment(3, day(2026, 2, 1)), withdrawal(4, day(2026, 2, 2), 3)};
  using Kind = Standing::Kind;
  EXPECT_EQ(standing_of(records, 1).kind, Kind::replaced);
  EXPECT_EQ(standing_of(records, 1).by, 2);
  EXPECT_EQ(standing_of(records, 2).kind, Kind::stands);
  EXPECT_EQ(standing_of(records, 3).kind, Kind::withdrawn);
  EXPECT_EQ(standing_of(records, 3).by, 4);
  EXPECT_EQ(standing_of(records, 99).kind, Kind::stands);
}

TEST(InForceAt, GivesTheLastAdjustmentPerformedByThen) {
  const std::vector records{adjustment(1, day(2026, 1, 1)), adjustment(2, day(2026, 3, 1)),
                            check(3, day(2026, 4, 1), 0.209)};
  EXPECT_FALSE(in_force_at(records, "LK-0007", day(2026, 1, 1) - std::chrono::milliseconds{1}));
  EXPECT_EQ(in_force_at(records, "LK-0007", day(2026, 1, 1))->number, 1);
  EXPECT_EQ(in_force_at(records, "LK-0007", day(2026, 3, 1) - std::chrono::milliseconds{1})->number, 1);
  EXPECT_EQ(in_force_at(records, "LK-0007", day(2026, 6, 1))->number, 2) << "a check adjusts nothing";
}

TEST(InForceAt, CountsALateEntryFromWhenItWasPerformed) {
  std::vector records{adjustment(1, day(2026, 1, 1)), adjustment(2, day(2026, 3, 1))};
  records.push_back(adjustment(3, day(2026, 2, 1))); // entered last
  EXPECT_EQ(in_force_at(records, "LK-0007", day(2026, 2, 15))->number, 3);
  EXPECT_EQ(in_force_at(records, "LK-0007", day(2026, 3, 15))->number, 2);
}

TEST(InForceAt, NeverTakesTheCalibrationOfAnotherCell) {
  auto other = adjustment(2, day(2026, 3, 1));
  other.serial = "LK-0008";
  const std::vector records{adjustment(1, day(2026, 1, 1)), other};
  EXPECT_EQ(in_force_at(records, "LK-0007", day(2026, 6, 1))->number, 1);
  EXPECT_FALSE(in_force_at(records, "LK-0009", day(2026, 6, 1)));
}

// It was entered for LK-0008 by mistake; the correction names the right cell and frees the other one.
TEST(InForceAt, FollowsACorrectionOfTheSerialNumber) {
  auto wrong = adjustment(1, day(2026, 1, 1));
  wrong.serial = "LK-0008";
  const std::vector records{wrong, correction(2, day(2026, 1, 1), 1)};
  EXPECT_FALSE(in_force_at(records, "LK-0008", day(2026, 6, 1)));
  EXPECT_EQ(in_force_at(records, "LK-0007", day(2026, 6, 1))->number, 2);
}

TEST(InForceAt, SkipsAnAdjustmentWithoutACalibration) {
  auto empty = adjustment(2, day(2026, 3, 1));
  empty.calibration.reset();
  EXPECT_EQ(in_force_at({adjustment(1, day(2026, 1, 1)), empty}, "LK-0007", day(2026, 6, 1))->number, 1);
}

TEST(CheckOutcome, ComparesEveryReadingWithItsGas) {
  const auto good = outcome_of(check(1, day(2026, 1, 1), 0.2075));
  EXPECT_TRUE(good.passed);
  ASSERT_EQ(good.points.size(), 1U);
  EXPECT_NEAR(good.points[0].error, -0.0015, 1e-12);
  EXPECT_NEAR(good.points[0].expanded, 2.0 * std::sqrt(0.0008 * 0.0008 + 0.0004 * 0.0004), 1e-12);
  EXPECT_FALSE(good.points[0].is_close_call());
  const auto bad = outcome_of(check(1, day(2026, 1, 1), 0.2012));
  EXPECT_FALSE(bad.passed);
  EXPECT_EQ(describe(bad.points[0]),
            "in span gas of 20.9 % it reads 20.12 % (error -0.78 % O2, U 0.18 %, tolerance ± 0.5 % O2): failed");
}

TEST(CheckOutcome, PassesAtTheToleranceItself) {
  EXPECT_TRUE(outcome_of(check(1, day(2026, 1, 1), 0.204)).passed);
  EXPECT_TRUE(outcome_of(check(1, day(2026, 1, 1), 0.214)).passed);
  EXPECT_FALSE(outcome_of(check(1, day(2026, 1, 1), 0.2039)).passed);
  EXPECT_TRUE(outcome_of(check(1, day(2026, 1, 1), 0.204)).points[0].is_close_call());
}

TEST(CheckOutcome, IsStricterInNitrogen) {
  auto record = check(1, day(2026, 1, 1), 0.209);
  record.points.push_back(nitrogen_point());
  record.points[1].as_found = dry(0.00301, 0.0005);
  EXPECT_TRUE(outcome_of(record).passed);
  record.points[1].as_found = dry(0.0040, 0.0005);
  EXPECT_FALSE(outcome_of(record).passed);
}

TEST(CheckOutcome, HasNotPassedWithoutAReading) {
  auto record = check(1, day(2026, 1, 1), 0.209);
  record.points[0].as_found.reset();
  EXPECT_FALSE(outcome_of(record).passed);
  record.points[0].as_found = dry(std::nan(""), 0.0008);
  EXPECT_FALSE(outcome_of(record).passed);
}

} // namespace oxherd::daemon::in_force_test
