#include "daemon/calibration/care.hpp"

#include <gtest/gtest.h>

#include "tests/daemon/calibration/records.hpp"

namespace oxherd::daemon::care_test {

using namespace example_records;
using alarms::Status;
using std::chrono::days;

CellInUse cell_a(std::string serial = "LK-0007") {
  CellInUse in_use{"cryo-annexe", "cell-a", {}, {}};
  in_use.cell.serial = std::move(serial);
  return in_use;
}

std::vector<std::int64_t> numbers(const std::vector<CalibrationRecord>& records) {
  std::vector<std::int64_t> all;
  for (const auto& record : records) all.push_back(record.number);
  return all;
}

TEST(PlanFor, TakesItsIntervalsFromTheSettings) {
  config::CellSettings cell;
  cell.upkeep = {days{14}, {}, days{400}, day(2026, 1, 15)};
  const auto plan = plan_for(cell);
  EXPECT_EQ(plan.check_every, days{14});
  EXPECT_EQ(plan.calibrate_every, std::nullopt);
  EXPECT_NEAR(plan.permitted_age->count(), 400.0 / 30.4375, 1e-9); // a twelfth of the mean Gregorian year
  EXPECT_EQ(plan.first_use, day(2026, 1, 15));
  cell.upkeep.permitted_age.reset();
  EXPECT_FALSE(plan_for(cell).permitted_age);
}

TEST(RecordsOf, FollowTheSerialNumberWhereverTheCellWas) {
  std::vector records{adjustment(1, day(2026, 1, 1)), adjustment(2, day(2026, 2, 1)), adjustment(3, day(2026, 3, 1))};
  records[0].sensor = "cell-b";
  records[1].serial = "LK-0008";
  EXPECT_EQ(numbers(records_of(cell_a(), records)), (std::vector<std::int64_t>{1, 3}));
}

TEST(RecordsOf, ACellWithoutSerialAreThoseOfItsPlace) {
  std::vector records{adjustment(1, day(2026, 1, 1)), adjustment(2, day(2026, 2, 1)), adjustment(3, day(2026, 3, 1))};
  for (auto& record : records) record.serial.clear();
  records[0].sensor = "cell-b";
  records[1].room = "pear-store-2";
  EXPECT_EQ(numbers(records_of(cell_a(""), records)), (std::vector<std::int64_t>{3}));
}

TEST(RecordsOf, CountADatedCalibrationOfTheConfiguration) {
  auto in_use = cell_a();
  in_use.configured = {*adjustment(9, day(2026, 1, 1)).calibration, day(2026, 2, 1), "M. Okoro"};
  const std::vector records{adjustment(1, day(2026, 1, 1)), adjustment(2, day(2026, 3, 1))};
  EXPECT_EQ(numbers(records_of(in_use, records)), (std::vector<std::int64_t>{1, 0, 2}));
  const auto life = life_of(in_use, {}, day(2026, 6, 1));
  EXPECT_EQ(life.next_calibration, day(2026, 5, 2));
  EXPECT_TRUE(life.calibration_overdue);
  ASSERT_EQ(life.sensitivities.size(), 1U);
  in_use.configured->at.reset();
  EXPECT_TRUE(records_of(in_use, {}).empty());
  EXPECT_FALSE(life_of(in_use, {}, day(2026, 6, 1)).next_calibration) << "of unknown date, so of unknown age";
}

TEST(CellReasons, AreGivenForEveryCellByItsName) {
  auto other = cell_a("LK-0008");
  other.sensor = "cell-b";
  const auto reasons = cell_reasons({cell_a(), other}, {adjustment(1, day(2026, 1, 1))}, day(2026, 2, 15));
  ASSERT_EQ(reasons.size(), 2U);
  ASSERT_EQ(reasons.at("cryo-annexe/cell-a").size(), 1U);
  EXPECT_EQ(reasons.at("cryo-annexe/cell-a")[0].status, Status::maintenance_required);
  EXPECT_EQ(reasons.at("cryo-annexe/cell-a")[0].text, "a check with gas was due on 2026-01-31 (15 d ago)");
  EXPECT_TRUE(reasons.at("cryo-annexe/cell-b").empty());
}

} // namespace oxherd::daemon::care_test
