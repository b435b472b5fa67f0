// Calibrations under way beside the decision core: function check while gas is on the cell, what the room knows, and an
// end in every case.
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "daemon/run/calibration_desk.hpp"
#include "tests/daemon/room/annexe.hpp"

namespace oxherd::daemon::calibration_desk_test {

using namespace std::chrono_literals;
using nlohmann::json;
using Step = CalibrateRequest::Step;

class Desk {
public:
  explicit Desk(int cells = 3) : annexe{cells, cells == 3 ? alarms::Scheme::two_of_three : alarms::Scheme::one_of_one} {
    annexe.start();
    run(10);
  }
  /// Somebody withdraws record 1, which is of cell-a.
  CalibrationDesk::Answer withdraw(const std::string& author) {
    CalibrateRequest request;
    request.step = Step::withdraw;
    request.author = author;
    request.reason = "the dewar stood open";
    request.number = 1;
    return desk.step(*annexe.site, request, records, annexe.now, annexe.wall);
  }
  /// An adjustment of cell-a stands on record as number 1.
  void record_one() {
    auto record = *measured_until_finish().to_store;
    record.number = 1;
    desk.stored(*annexe.site, record);
    records = {record};
  }
  CalibrationDesk::Answer step(Step step, std::string reason = "", bool dry_run = false,
                               CalibrationAct act = CalibrationAct::adjustment) {
    CalibrateRequest request;
    request.step = step;
    request.room = "cryo-annexe";
    request.sensor = "cell-a";
    request.author = "R. Okafor";
    request.reason = std::move(reason);
    request.act = act;
    request.dry_run = dry_run;
    return desk.step(*annexe.site, request, records, annexe.now, annexe.wall);
  }
  void run(int seconds) {
    for (int i = 0; i < seconds; ++i) {
      static_cast<void>(annexe.pass(1s));
      feed(annexe.air_poll());
      for (std::size_t c = 0; c < annexe.air(); ++c) {
        // A cell's own noise, as small as it may be and not nothing.
        feed(annexe.cell_poll(c, annexe.oxygen * (1.0 + 2e-4 * ((i * 7 + 3) % 5 - 2))));
      }
    }
  }
  alarms::Status status_of_cell() {
    for (const auto& sensor : annexe.site->status(0, annexe.now, annexe.wall).sensors)
      if (sensor.name == "cell-a") return sensor.status;
    return alarms::Status::failure;
  }
  CalibrationDesk::Answer measured_until_finish(bool dry_run = false, const std::string& reason = "") {
    EXPECT_EQ(step(Step::begin).refusal, "");
    run(150);
    EXPECT_EQ(step(Step::take).refusal, "");
    return step(Step::finish, reason, dry_run);
  }

  annexe_test::Annexe annexe;
  CalibrationDesk desk;
  std::vector<CalibrationRecord> records;

private:
  void feed(const Poll& poll) { desk.note(*annexe.site, poll, annexe.site->take(poll)); }
};

TEST(CalibrationDesk, LeadsFromTheLiveSignalToARecordToBeStored) {
  Desk desk;
  const auto answer = desk.measured_until_finish();
  ASSERT_TRUE(answer.to_store) << answer.refusal;
  EXPECT_EQ(answer.to_store->author, "R. Okafor");
  EXPECT_NEAR(answer.to_store->points.at(0).as_found->value.si(), 0.2095, 1e-4);
  EXPECT_TRUE(answer.to_store->calibration);
}

TEST(CalibrationDesk, MakesTheCellAFunctionCheckUntilTheRecordIsStored) {
  Desk desk;
  EXPECT_EQ(desk.status_of_cell(), alarms::Status::ok);
  const auto answer = desk.measured_until_finish();
  EXPECT_EQ(desk.status_of_cell(), alarms::Status::function_check);
  ASSERT_TRUE(answer.to_store);
  EXPECT_NE(desk.step(Step::finish).refusal.find("being recorded"), std::string::npos) << "not twice";
  desk.desk.stored(*desk.annexe.site, *answer.to_store);
  desk.run(1);
  EXPECT_EQ(desk.status_of_cell(), alarms::Status::ok);
  EXPECT_EQ(desk.step(Step::look).kind, "unknown") << "the session is over";
}

TEST(CalibrationDesk, GoesOnWhenTheRecordCouldNotBeStored) {
  Desk desk;
  const auto answer = desk.measured_until_finish();
  ASSERT_TRUE(answer.to_store);
  desk.desk.not_stored(*answer.to_store);
  EXPECT_TRUE(desk.step(Step::finish).to_store);
}

TEST(CalibrationDesk, LeavesABumpTestToTheAlarms) {
  Desk desk{1};
  EXPECT_EQ(desk.step(Step::begin, "", false, CalibrationAct::bump_test).refusal, "");
  desk.annexe.oxygen = 0.02;
  desk.run(10);
  EXPECT_EQ(desk.status_of_cell(), alarms::Status::ok);
  EXPECT_EQ(desk.annexe.state("low-oxygen"), alarms::State::unacknowledged);
  const auto answer = desk.step(Step::finish, "horn and beacon seen");
  ASSERT_TRUE(answer.to_store) << answer.refusal;
  EXPECT_NE(answer.to_store->warnings.back().find("acted during the test: low-oxygen"), std::string::npos);
}

TEST(CalibrationDesk, SaysWhenNoAlarmActedInABumpTest) {
  Desk desk{1};
  EXPECT_EQ(desk.step(Step::begin, "", false, CalibrationAct::bump_test).refusal, "");
  desk.run(5);
  const auto answer = desk.step(Step::finish);
  ASSERT_TRUE(answer.to_store);
  EXPECT_NE(answer.to_store->warnings.back().find("no alarm of the room acted"), std::string::npos);
}

TEST(CalibrationDesk, RefusesAirThatAnotherCellDoesNotFindFreshUnlessAReasonIsGiven) {
  Desk desk;
  desk.annexe.oxygen = 0.203;
  desk.run(20);
  const auto answer = desk.measured_until_finish();
  EXPECT_FALSE(answer.to_store);
  EXPECT_NE(answer.refusal.find("cell-b reads 20.30 %"), std::string::npos) << answer.refusal;
  const auto overridden = desk.step(Step::finish, "both others are old, portable reads 20.9 %");
  ASSERT_TRUE(overridden.to_store) << overridden.refusal;
  EXPECT_TRUE(std::ranges::any_of(overridden.to_store->warnings,
                                  [](const auto& w) { return w.starts_with("overridden: cell-b reads"); }));
}

TEST(CalibrationDesk, RefusesWhileTheRoomHasAnAlarm) {
  Desk desk;
  desk.annexe.oxygen = 0.19;
  desk.run(20);
  ASSERT_EQ(desk.annexe.state("low-oxygen"), alarms::State::unacknowledged);
  const auto answer = desk.measured_until_finish();
  EXPECT_FALSE(answer.to_store);
  EXPECT_NE(answer.refusal.find("low-oxygen"), std::string::npos) << answer.refusal;
}

TEST(CalibrationDesk, TriedDryHandsNothingOverAndGoesOn) {
  Desk desk;
  const auto answer = desk.measured_until_finish(true);
  EXPECT_FALSE(answer.to_store);
  EXPECT_EQ(answer.refusal, "");
  EXPECT_TRUE(json::parse(answer.result).at("permitted").get<bool>());
  EXPECT_TRUE(desk.step(Step::finish).to_store);
}

TEST(CalibrationDesk, EndsASessionThatNobodyLooksAtAnyMore) {
  Desk desk;
  EXPECT_EQ(desk.step(Step::begin).refusal, "");
  desk.run(60);
  EXPECT_TRUE(desk.desk.expire(*desk.annexe.site, desk.annexe.now).empty());
  desk.annexe.now += 11min;
  EXPECT_EQ(desk.desk.expire(*desk.annexe.site, desk.annexe.now), std::vector<std::string>{"cryo-annexe/cell-a"});
  desk.run(1);
  EXPECT_EQ(desk.status_of_cell(), alarms::Status::ok);
  EXPECT_NE(desk.step(Step::look).refusal.find("nobody looked at it for 10 min"), std::string::npos);
}

TEST(CalibrationDesk, SaysThatAReloadEndedASession) {
  Desk desk;
  EXPECT_EQ(desk.step(Step::begin).refusal, "");
  desk.desk.forget_all();
  EXPECT_NE(desk.step(Step::look).refusal.find("the settings were reloaded"), std::string::npos);
}

TEST(CalibrationDesk, CancelsAtOnce) {
  Desk desk;
  EXPECT_EQ(desk.step(Step::begin).refusal, "");
  EXPECT_NE(desk.step(Step::begin).refusal.find("R. Okafor calibrates cryo-annexe/cell-a already"), std::string::npos);
  EXPECT_EQ(desk.step(Step::cancel).refusal, "");
  desk.run(1);
  EXPECT_EQ(desk.status_of_cell(), alarms::Status::ok);
}

TEST(CalibrationDesk, KnowsNoCellThatIsNotThere) {
  Desk desk;
  CalibrateRequest request;
  request.step = Step::begin;
  request.room = "cryo-annexe";
  request.author = "R. Okafor";
  for (const auto* sensor : {"cell-x", "air"}) {
    request.sensor = sensor;
    EXPECT_EQ(desk.desk.step(*desk.annexe.site, request, {}, desk.annexe.now, desk.annexe.wall).kind, "unknown");
  }
}

TEST(CalibrationDesk, WithdrawsARecordByItsNumberWithAReason) {
  Desk desk;
  desk.record_one();
  CalibrateRequest request;
  request.step = Step::withdraw;
  request.author = "R. Okafor";
  request.number = 1;
  const auto ask = [&] {
    return desk.desk.step(*desk.annexe.site, request, desk.records, desk.annexe.now, desk.annexe.wall);
  };
  EXPECT_EQ(ask().kind, "refused") << "no reason";
  request.reason = "the dewar stood open";
  const auto answer = ask();
  ASSERT_TRUE(answer.to_store) << answer.refusal;
  EXPECT_EQ(answer.to_store->supersedes, 1);
  request.number = 9;
  EXPECT_EQ(ask().kind, "unknown");
}

// What a session measures as found, and its zero, come from what is on record: another person must not take that away
// from under it.
TEST(CalibrationDesk, RefusesAWithdrawalWhileSomebodyElseCalibratesThatCell) {
  Desk desk;
  desk.record_one();
  EXPECT_EQ(desk.step(Step::begin).refusal, "");
  const auto answer = desk.withdraw("M. Finch");
  EXPECT_EQ(answer.kind, "refused");
  EXPECT_NE(answer.refusal.find("R. Okafor calibrates this cell now (cryo-annexe/cell-a)"), std::string::npos)
      << answer.refusal;
  EXPECT_FALSE(answer.to_store);
  EXPECT_EQ(desk.step(Step::look).refusal, "") << "the session goes on";
  EXPECT_EQ(desk.step(Step::cancel).refusal, "");
  EXPECT_TRUE(desk.withdraw("M. Finch").to_store);
}

TEST(CalibrationDesk, EndsOnesOwnSessionWithAWithdrawalAndSaysSoBeforeAndAfter) {
  Desk desk;
  desk.record_one();
  EXPECT_EQ(desk.step(Step::begin).refusal, "");
  const auto answer = desk.withdraw("R. Okafor");
  ASSERT_TRUE(answer.to_store) << answer.refusal;
  EXPECT_NE(answer.result.find("your calibration of cryo-annexe/cell-a that is under way ends with this"),
            std::string::npos);
  EXPECT_EQ(desk.step(Step::look).refusal, "") << "not before the withdrawal is on the disk";
  desk.desk.not_stored(*answer.to_store);
  EXPECT_EQ(desk.step(Step::look).refusal, "");
  desk.desk.stored(*desk.annexe.site, *answer.to_store);
  const auto told = desk.step(Step::look);
  EXPECT_EQ(told.kind, "unknown");
  EXPECT_EQ(told.refusal, "the calibration of cryo-annexe/cell-a has ended without a record: R. Okafor withdrew record "
                          "1 of this cell. Begin another");
  desk.run(1);
  EXPECT_EQ(desk.status_of_cell(), alarms::Status::ok) << "no function check is left behind";
  EXPECT_EQ(desk.step(Step::begin).refusal, "");
}

TEST(CalibrationDesk, TellsASessionThatWasBegunWhileAWithdrawalWasBeingWritten) {
  Desk desk;
  desk.record_one();
  const auto answer = desk.withdraw("M. Finch");
  ASSERT_TRUE(answer.to_store) << answer.refusal;
  EXPECT_EQ(desk.step(Step::begin).refusal, "");
  desk.desk.stored(*desk.annexe.site, *answer.to_store);
  EXPECT_NE(desk.step(Step::take).refusal.find("M. Finch withdrew record 1"), std::string::npos);
}

TEST(CalibrationDesk, KeepsARecordBeingStoredFromAWithdrawalOfTheSameCell) {
  Desk desk;
  desk.record_one();
  const auto answer = desk.measured_until_finish();
  ASSERT_TRUE(answer.to_store) << answer.refusal;
  EXPECT_NE(desk.withdraw("R. Okafor").refusal.find("is being recorded"), std::string::npos);
}

// The record was made where the cell stood then; the session stands where another cell is now.
TEST(CalibrationDesk, LeavesASessionOfAnotherCellAloneThatStandsWhereTheWithdrawnOneStood) {
  Desk desk;
  desk.record_one();
  desk.records[0].serial = "LK-0900";
  EXPECT_EQ(desk.step(Step::begin).refusal, "");
  const auto answer = desk.withdraw("M. Finch");
  ASSERT_TRUE(answer.to_store) << answer.refusal;
  desk.desk.stored(*desk.annexe.site, *answer.to_store);
  EXPECT_EQ(desk.step(Step::look).refusal, "");
}

TEST(CalibrationDesk, PutsTheNewCalibrationInForceAndKeepsTheOldBasisOfFormedReadings) {
  Desk desk;
  const auto before = desk.annexe.site->basis({0, 0});
  auto record = *desk.measured_until_finish().to_store;
  record.number = 5;
  desk.annexe.site->set_calibration({0, 0}, ActiveCalibration{*record.calibration, record.performed, record.number});
  const auto after = desk.annexe.site->basis({0, 0});
  EXPECT_EQ(before->calibration->number, 0);
  EXPECT_EQ(after->calibration->number, 5);
  desk.annexe.site->set_calibration({0, 0}, ActiveCalibration{*record.calibration, record.performed, record.number});
  EXPECT_EQ(desk.annexe.site->basis({0, 0}), after) << "the same again changes nothing";
}

} // namespace oxherd::daemon::calibration_desk_test
