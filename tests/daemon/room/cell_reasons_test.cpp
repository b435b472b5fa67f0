// What the life of a cell holds against it reaches its readings, their record and the room.
#include <algorithm>

#include <gtest/gtest.h>

#include "daemon/replay/rederive.hpp"
#include "daemon/run/cells_in_force.hpp"
#include "tests/daemon/calibration/records.hpp"
#include "tests/daemon/room/annexe.hpp"

namespace oxherd::daemon::cell_reasons_test {

using namespace std::chrono_literals;
using alarms::Status;
using annexe_test::Annexe;
using std::chrono::days;

const ReadingRecord& last_of_cell(const Outcome& outcome) {
  const ReadingRecord* last = nullptr;
  for (const auto& reading : outcome.readings)
    if (reading.sensor == "cell-a") last = &reading;
  if (last == nullptr) throw std::runtime_error{"no reading of cell-a"};
  return *last;
}

int count_of(const std::vector<alarms::Reason>& reasons, std::string_view text) {
  return static_cast<int>(std::ranges::count(reasons, text, &alarms::Reason::text));
}

TEST(Site, MarksTheReadingsOfACellThatIsDueAndStaysMonitored) {
  Annexe annexe;
  annexe.start();
  annexe.site->set_cell_reasons({0, 0}, {{Status::maintenance_required, "calibration was due"}});
  const auto outcome = annexe.seconds(3);
  const auto& reading = last_of_cell(outcome);
  EXPECT_EQ(reading.status, Status::maintenance_required);
  EXPECT_EQ(count_of(reading.reasons, "calibration was due"), 1);
  EXPECT_EQ(count_of(reading.inputs->other_reasons, "calibration was due"), 1);
  const auto room = annexe.site->status(0, annexe.now, annexe.wall);
  EXPECT_TRUE(room.monitored);
  EXPECT_EQ(room.reason, "") << "that a calibration is due explains no alarm";
  EXPECT_EQ(room.sensors[0].status, Status::maintenance_required);
}

TEST(Site, UsesTheReadingsOfACellThatFailedItsCheckWithDoubt) {
  Annexe annexe;
  annexe.start();
  annexe.site->set_cell_reasons({0, 0}, {{Status::out_of_specification, "the check failed"}});
  const auto outcome = annexe.seconds(3);
  EXPECT_EQ(last_of_cell(outcome).status, Status::out_of_specification);
  const auto room = annexe.site->status(0, annexe.now, annexe.wall);
  EXPECT_TRUE(room.monitored);
  EXPECT_EQ(room.reason, "cell-a: the check failed");
}

TEST(Site, IsNotMonitoredByASpentCell) {
  Annexe annexe;
  annexe.start();
  annexe.site->set_cell_reasons({0, 0}, {{Status::failure, "cell spent"}});
  const auto outcome = annexe.seconds(3);
  EXPECT_EQ(last_of_cell(outcome).status, Status::failure);
  const auto room = annexe.site->status(0, annexe.now, annexe.wall);
  EXPECT_FALSE(room.monitored);
  EXPECT_EQ(room.reason, "cell-a: cell spent");
}

TEST(Site, NamesTheDriftThatMakesAReadingTooUncertainToJudgeBy) {
  Annexe annexe;
  annexe.calibrations.begin()->second.at = annexe.wall - days{200};
  annexe.start();
  annexe.site->set_cell_reasons({0, 0}, {{Status::maintenance_required, "calibration was due"}});
  annexe.seconds(3);
  const auto room = annexe.site->status(0, annexe.now, annexe.wall);
  EXPECT_FALSE(room.monitored);
  EXPECT_EQ(room.reason, "cell-a: uncertainty too wide to judge by (drift since its calibration: calibrate the cell)");
}

TEST(Site, NamesTheInputThatMakesAReadingTooUncertainToJudgeBy) {
  Annexe annexe;
  annexe.calibrations.begin()->second.calibration.span.signal.u_si = 0.5e-3;
  annexe.start();
  annexe.seconds(3);
  EXPECT_EQ(annexe.site->status(0, annexe.now, annexe.wall).reason,
            "cell-a: uncertainty too wide to judge by (mostly that of cal-signal)");
}

TEST(Site, ForgetsTheReasonsOfACellThatWasCalibrated) {
  Annexe annexe;
  annexe.start();
  annexe.site->set_cell_reasons({0, 0}, {{Status::maintenance_required, "calibration was due"}});
  annexe.seconds(2);
  annexe.site->set_cell_reasons({0, 0}, {});
  EXPECT_EQ(last_of_cell(annexe.seconds(2)).status, Status::ok);
}

TEST(Site, KeepsTheReasonsOfACellThroughAReloadUnlessItIsAnother) {
  Annexe annexe;
  annexe.start();
  annexe.site->set_cell_reasons({0, 0}, {{Status::failure, "cell spent"}});
  annexe.seconds(2);
  const auto status_after_reload = [&](const config::Settings& next) {
    Site site{next, annexe.calibrations, annexe.now, annexe.wall};
    site.continue_from(*annexe.site, annexe.now, annexe.wall);
    static_cast<void>(site.tick(annexe.now, annexe.wall));
    return site.status(0, annexe.now, annexe.wall).sensors[0].status;
  };
  EXPECT_EQ(status_after_reload(annexe.settings), Status::failure);
  auto replaced = annexe.settings;
  replaced.rooms[0].sensors[0].cell->serial = "LK-0012";
  EXPECT_EQ(status_after_reload(replaced), Status::ok);
}

TEST(Site, RecordsWhatTheCellWasHeldAgainstSoThatReplayTellsTheSame) {
  Annexe annexe;
  annexe.start();
  annexe.site->set_cell_reasons({0, 0}, {{Status::out_of_specification, "the check failed"}});
  const auto outcome = annexe.seconds(3);
  const auto& reading = last_of_cell(outcome);
  const auto anew = form_anew(*reading.basis, *reading.inputs, reading.at);
  EXPECT_EQ(anew.status, reading.status);
  EXPECT_NE(anew.reasons.find("the check failed"), std::string::npos) << anew.reasons;
}

// --- the whole way from records and settings -------------------------------------------------------------------------

/// The annexe with cell-a under the serial number of the example records and no calibration in the file.
Annexe annexe_of_records(const std::string& serial = "LK-0007") {
  Annexe annexe;
  annexe.settings.rooms[0].sensors[0].cell->serial = serial;
  annexe.calibrations.clear();
  return annexe;
}

void start_with(Annexe& annexe, const std::vector<CalibrationRecord>& records) {
  annexe.calibrations = calibrations_in_force(annexe.settings, records, annexe.wall);
  annexe.start();
  for (const auto& [name, reasons] : cell_reasons(cells_in_use(annexe.settings), records, annexe.wall))
    annexe.site->set_cell_reasons({0, 0}, reasons);
}

CalibrationRecord adjusted(std::int64_t number, WallTime performed, double sensitivity = 0.0014) {
  return example_records::adjustment(number, performed, sensitivity);
}

TEST(CalibratedCell, IsGoodUntilItIsDueAndMarkedAfterwards) {
  auto fresh = annexe_of_records();
  start_with(fresh, {adjusted(1, fresh.wall - days{29})});
  EXPECT_EQ(last_of_cell(fresh.seconds(3)).status, Status::ok);
  auto due = annexe_of_records();
  start_with(due, {adjusted(1, due.wall - days{91})});
  const auto outcome = due.seconds(3);
  const auto& reading = last_of_cell(outcome);
  EXPECT_EQ(reading.status, Status::maintenance_required);
  EXPECT_EQ(count_of(reading.reasons, "calibration was due on 2026-02-28 (1 d ago)"), 1);
  EXPECT_EQ(count_of(reading.reasons, "a check with gas was due on 2025-12-30 (61 d ago)"), 1);
}

TEST(CalibratedCell, IsNotHeldAgainstWhatTheSettingsDoNotAskFor) {
  auto annexe = annexe_of_records();
  annexe.settings.rooms[0].sensors[0].cell->upkeep = {{}, {}, {}, {}};
  start_with(annexe, {adjusted(1, annexe.wall - days{1000})});
  EXPECT_EQ(last_of_cell(annexe.seconds(3)).status, Status::ok);
}

TEST(CalibratedCell, OfHalfItsFirstSensitivityFails) {
  auto annexe = annexe_of_records();
  start_with(annexe, {adjusted(1, annexe.wall - days{60}), adjusted(2, annexe.wall - days{2}, 0.0014 * 0.49)});
  EXPECT_EQ(last_of_cell(annexe.seconds(3)).status, Status::failure);
  EXPECT_FALSE(annexe.site->status(0, annexe.now, annexe.wall).monitored);
}

TEST(ReplacedCell, CountsAsNotCalibratedUntilItIsCalibrated) {
  auto annexe = annexe_of_records("LK-0012");
  std::vector records{adjusted(1, annexe.wall - days{2})}; // of LK-0007, which sat here before
  start_with(annexe, records);
  const auto before = annexe.seconds(3);
  EXPECT_FALSE(last_of_cell(before).oxygen);
  EXPECT_EQ(last_of_cell(before).status, Status::failure);
  EXPECT_EQ(count_of(last_of_cell(before).reasons, "not calibrated: calibrate this cell before relying on it"), 1);
  EXPECT_FALSE(annexe.site->status(0, annexe.now, annexe.wall).monitored);

  records.push_back(adjusted(2, annexe.wall - 1h));
  records.back().serial = "LK-0012";
  start_with(annexe, records);
  const auto after = annexe.seconds(3);
  EXPECT_TRUE(last_of_cell(after).oxygen);
  EXPECT_EQ(last_of_cell(after).status, Status::ok);
  EXPECT_EQ(last_of_cell(after).basis->calibration->number, 2);
}

TEST(ReplacedCell, IsNoticedWhenTheFileKeepsTheOldOnesCalibration) {
  Annexe annexe;
  auto& cell = annexe.settings.rooms[0].sensors[0];
  cell.calibration = config::CalibrationSettings{annexe.calibrations.begin()->second.calibration, {}, ""};
  auto next = annexe.settings;
  EXPECT_TRUE(calibrations_left_behind(annexe.settings, next).empty());
  next.rooms[0].sensors[0].cell->serial = "LK-0012";
  EXPECT_EQ(calibrations_left_behind(annexe.settings, next), std::vector<std::string>{"cryo-annexe/cell-a"});
  next.rooms[0].sensors[0].calibration->calibration.span.signal.value = millivolts(12.9);
  EXPECT_TRUE(calibrations_left_behind(annexe.settings, next).empty());
  next.rooms[0].sensors[0].calibration.reset();
  EXPECT_TRUE(calibrations_left_behind(annexe.settings, next).empty());
}

} // namespace oxherd::daemon::cell_reasons_test
