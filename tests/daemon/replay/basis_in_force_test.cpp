// Which calibration a reading of the past should rest on, by all that is recorded now.
#include <gtest/gtest.h>

#include "daemon/replay/basis_in_force.hpp"

namespace oxherd::daemon::basis_in_force_test {

using namespace std::chrono_literals;

constexpr WallTime monday{std::chrono::milliseconds{1'772'352'000'000}};

CalibrationRecord adjusted(std::int64_t number, WallTime performed, double span_mV) {
  CalibrationRecord record;
  record.number = number;
  record.performed = performed;
  record.recorded = monday + std::chrono::hours{24} * number;
  record.room = "cryo-annexe";
  record.sensor = "cell-a";
  record.serial = "LK-0007";
  compensation::Calibration calibration;
  calibration.span.signal.value = millivolts(span_mV);
  record.calibration = calibration;
  return record;
}

RecordedOxygen reading_at(WallTime at, std::int64_t number = 0, double span_mV = 12.0,
                          std::optional<WallTime> calibrated_at = std::nullopt) {
  ReadingBasis basis;
  basis.cell = config::CellSettings{};
  basis.cell->serial = "LK-0007";
  compensation::Calibration calibration;
  calibration.span.signal.value = millivolts(span_mV);
  basis.calibration = ActiveCalibration{calibration, calibrated_at, number};
  RecordedOxygen recorded;
  recorded.at = at;
  recorded.room = "cryo-annexe";
  recorded.sensor = "cell-a";
  recorded.basis = std::make_shared<const ReadingBasis>(basis);
  return recorded;
}

std::int64_t number_for(BasisInForce& chooser, const RecordedOxygen& recorded) {
  const auto basis = chooser(recorded);
  return basis->calibration ? basis->calibration->number : -1;
}

TEST(BasisInForce, CountsALateEntryFromWhenItWasPerformed) {
  BasisInForce chooser{{adjusted(1, monday, 12.6), adjusted(2, monday + 10h, 12.5), adjusted(3, monday + 5h, 12.4)}};
  EXPECT_EQ(number_for(chooser, reading_at(monday - 1h)), 0) << "the configuration's, before any record";
  EXPECT_EQ(number_for(chooser, reading_at(monday)), 1);
  EXPECT_EQ(number_for(chooser, reading_at(monday + 4h)), 1);
  EXPECT_EQ(number_for(chooser, reading_at(monday + 5h)), 3) << "entered last, in force from then on";
  EXPECT_EQ(number_for(chooser, reading_at(monday + 11h)), 2);
}

TEST(BasisInForce, FollowsCorrectionsAndWithdrawals) {
  auto correction = adjusted(2, monday, 12.9);
  correction.supersedes = 1;
  BasisInForce corrected{{adjusted(1, monday, 12.6), correction}};
  EXPECT_EQ(number_for(corrected, reading_at(monday + 1h)), 2);
  CalibrationRecord withdrawal = adjusted(3, monday + 2h, 0.0);
  withdrawal.act = CalibrationAct::withdrawal;
  withdrawal.calibration.reset();
  withdrawal.supersedes = 2;
  BasisInForce withdrawn{{adjusted(1, monday, 12.6), correction, withdrawal}};
  EXPECT_EQ(number_for(withdrawn, reading_at(monday + 1h)), 1) << "what it had replaced stands again";
}

TEST(BasisInForce, LeavesAReadingAloneThatRestsOnTheRightOne) {
  BasisInForce chooser{{adjusted(1, monday, 12.6)}};
  const auto right = reading_at(monday + 1h, 1, 12.6, monday);
  EXPECT_EQ(chooser(right), right.basis);
  const auto wrong = reading_at(monday + 1h);
  EXPECT_NE(chooser(wrong), wrong.basis);
  EXPECT_EQ(chooser(wrong), chooser(wrong)) << "made once";
  EXPECT_EQ(chooser(wrong)->calibration->calibration.span.signal.value, millivolts(12.6));
}

TEST(BasisInForce, PrefersTheNewerOfConfigurationAndRecords) {
  BasisInForce chooser{{adjusted(1, monday, 12.6)}};
  EXPECT_EQ(number_for(chooser, reading_at(monday + 5h, 0, 12.0, monday + 2h)), 0);
  EXPECT_EQ(number_for(chooser, reading_at(monday + 1h, 0, 12.0, monday + 2h)), 1) << "not performed yet";
}

TEST(BasisInForce, NeverTakesAnotherCellsOrAnotherInputsCalibration) {
  auto other_serial = adjusted(1, monday, 12.6);
  other_serial.serial = "LK-0008";
  auto other_input = adjusted(2, monday, 12.6);
  other_input.sensor = "cell-b";
  BasisInForce chooser{{other_serial, other_input}};
  EXPECT_EQ(number_for(chooser, reading_at(monday + 1h)), 0);
}

TEST(BasisInForce, LeavesACellUncalibratedWhenItsOnlyCalibrationIsWithdrawn) {
  CalibrationRecord withdrawal = adjusted(2, monday + 2h, 0.0);
  withdrawal.act = CalibrationAct::withdrawal;
  withdrawal.calibration.reset();
  withdrawal.supersedes = 1;
  BasisInForce chooser{{adjusted(1, monday, 12.6), withdrawal}};
  EXPECT_EQ(number_for(chooser, reading_at(monday + 1h, 1, 12.6, monday)), -1);
}

} // namespace oxherd::daemon::basis_in_force_test
