// A calibration under way: points only from a signal shown to be stable, and a record that says all of it.
#include <cmath>
#include <random>

#include <gtest/gtest.h>

#include "compensation/oxygen_reading.hpp"
#include "daemon/calibration/record_json.hpp"
#include "daemon/calibration/session.hpp"

namespace oxherd::daemon::session_test {

constexpr WallTime morning{std::chrono::milliseconds{1'772'352'000'000}};

compensation::GasConditions room_air() {
  return {{celsius(21.0), 0.3}, {percent_humidity(45.0), 0.03}, {}, {pascals(98800.0), 50.0}};
}

SharedBasis basis(bool calibrated = true) {
  ReadingBasis basis;
  basis.cell = config::CellSettings{};
  basis.cell->serial = "LK-0007";
  basis.cell->nominal_zero = {millivolts(0.4), 0.05e-3};
  basis.temperature_from = basis.humidity_from = basis.pressure_from = "cryo-annexe/air";
  if (calibrated) {
    compensation::Calibration calibration;
    calibration.span.signal = {millivolts(12.6), 0.02e-3};
    calibration.span.gas = room_air();
    calibration.zero = {millivolts(0.37), 0.01e-3};
    basis.calibration = ActiveCalibration{calibration, morning - std::chrono::hours{24 * 80}, 4};
  }
  return std::make_shared<const ReadingBasis>(basis);
}

class Bench {
public:
  explicit Bench(CalibrationAct act = CalibrationAct::adjustment, bool calibrated = true)
      : session{SessionPlan{act, "cryo-annexe", "cell-a", "R. Okafor", {}}, basis(calibrated), 0.0, morning} {}

  /// One sample a second, with 0.05 % of noise.
  void run(int seconds, double signal_mV, double slope_mV_per_s = 0.0) {
    for (int i = 0; i < seconds; ++i, ++now)
      session.add({static_cast<double>(now),
                   morning + std::chrono::seconds{now},
                   {millivolts(signal_mV + slope_mV_per_s * i + noise(random)), 0.02e-3},
                   gas});
  }
  TakenPoint taken(const ReferenceGas& gas_taken = {}, const TypedConditions& typed = {}) {
    auto point = session.take(gas_taken, typed);
    if (!point) ADD_FAILURE() << point.error();
    return point.value_or(TakenPoint{});
  }
  CalibrationRecord record() {
    std::string problem;
    auto proposed = session.propose(morning + std::chrono::seconds{now}, "routine", problem);
    EXPECT_EQ(problem, "");
    EXPECT_TRUE(record_from_json(to_json(proposed)));
    return proposed;
  }

  CalibrationSession session;
  compensation::GasConditions gas = room_air();
  int now = 0;

private:
  std::mt19937 random{7};
  std::normal_distribution<double> noise{0.0, 0.006};
};

ReferenceGas nitrogen() {
  ReferenceGas gas;
  gas.kind = GasKind::nitrogen;
  gas.oxygen = {DryFraction::from_si(0.0), 0.00005};
  return gas;
}
TypedConditions dry() {
  TypedConditions typed;
  typed.humidity = Uncertain<RelativeHumidity>{RelativeHumidity::from_si(0.0), 0.0};
  return typed;
}

TEST(CalibrationSession, TakesNoPointFromASignalThatStillMoves) {
  Bench bench;
  EXPECT_FALSE(bench.session.take({}, {})) << "nothing was seen yet";
  bench.run(150, 12.0, 0.001); // 0.5 % a minute
  const auto refused = bench.session.take({}, {});
  ASSERT_FALSE(refused);
  EXPECT_NE(refused.error().find("still rises"), std::string::npos) << refused.error();
  EXPECT_TRUE(bench.session.points().empty());
}

TEST(CalibrationSession, AveragesTheWindowIntoAPointWithItsConditionsAndTheirSources) {
  Bench bench;
  bench.run(180, 12.55);
  const auto point = bench.taken();
  EXPECT_NEAR(point.values.signal.value.si(), 12.55e-3, 2e-6);
  EXPECT_GT(point.values.signal.u_si, 0.02e-3);
  EXPECT_LT(point.values.signal.u_si, 0.021e-3) << "noise averages away, the instrument's own u does not";
  EXPECT_TRUE(point.stability.stable);
  EXPECT_GE(point.stability.seconds, 119.0);
  EXPECT_EQ(point.values.gas.pressure.value, pascals(98800.0));
  EXPECT_EQ(point.pressure_from, "cryo-annexe/air");
}

// The room's probe is not in the gas, and nobody typed that it is dry.
TEST(CalibrationSession, TakesGasOfACylinderAsDryWithoutCallingItTyped) {
  Bench bench;
  bench.run(180, 0.37);
  const auto point = bench.taken(nitrogen());
  EXPECT_EQ(point.values.gas.humidity.value.si(), 0.0);
  EXPECT_EQ(point.humidity_from, "dry gas of a cylinder");
  EXPECT_EQ(point.temperature_from, "cryo-annexe/air");
  Circumstances around;
  bench.session.describe(around);
  EXPECT_FALSE(around.conditions_typed);
}

TEST(CalibrationSession, AdjustsSoThatTheGasReadsAsItIsAndKeepsWhatItReadBefore) {
  Bench bench;
  bench.run(180, 12.0);
  static_cast<void>(bench.taken());
  const auto record = bench.record();
  ASSERT_TRUE(record.calibration);
  ASSERT_TRUE(record.characteristic);
  EXPECT_EQ(record.act, CalibrationAct::adjustment);
  EXPECT_EQ(record.serial, "LK-0007");
  EXPECT_EQ(record.model, "concentration");
  EXPECT_EQ(record.performed, morning + std::chrono::seconds{179});
  ASSERT_EQ(record.points.size(), 1u);
  EXPECT_NEAR(record.points[0].as_left->value.si(), 0.20946, 1e-12);
  EXPECT_NEAR(record.points[0].as_found->value.si(), 0.20946 * (12.0 - 0.37) / (12.6 - 0.37), 2e-5);
  EXPECT_EQ(record.calibration->zero.value, millivolts(0.37)) << "the zero that was measured, not the nominal one";
}

TEST(CalibrationSession, TakesTheNominalZeroForACellThatWasNeverCalibrated) {
  Bench bench{CalibrationAct::adjustment, false};
  bench.run(180, 12.0);
  static_cast<void>(bench.taken());
  const auto record = bench.record();
  EXPECT_EQ(record.calibration->zero.value, millivolts(0.4));
  EXPECT_FALSE(record.points[0].as_found);
}

TEST(CalibrationSession, MakesTwoPointsFromNitrogenAndAirInEitherOrder) {
  for (const bool nitrogen_first : {true, false}) {
    Bench bench;
    for (const bool zero : {nitrogen_first, !nitrogen_first}) {
      bench.session.start_point(bench.now);
      bench.run(240, zero ? 0.31 : 12.2);
      static_cast<void>(zero ? bench.taken(nitrogen(), dry()) : bench.taken());
    }
    const auto record = bench.record();
    ASSERT_EQ(record.points.size(), 2u);
    EXPECT_EQ(record.points[0].gas.kind, GasKind::nitrogen) << "low point first";
    EXPECT_EQ(record.points[0].humidity_from, "typed");
    ASSERT_TRUE(record.calibration->low);
    EXPECT_NEAR(record.characteristic->zero.value.si(), 0.31e-3, 2e-6);
    EXPECT_NEAR(record.points[0].as_left->value.si(), 0.0, 1e-12);
    EXPECT_NEAR(record.points[1].as_left->value.si(), 0.20946, 1e-12);
  }
}

TEST(CalibrationSession, ForgetsTheOldGasWhenAnotherComes) {
  Bench bench;
  bench.run(180, 12.2);
  bench.session.start_point(bench.now);
  EXPECT_FALSE(bench.session.take(nitrogen(), dry())) << "that was air";
  EXPECT_EQ(bench.session.seconds_of_point(bench.now + 5.0), 5.0);
}

TEST(CalibrationSession, ChecksWithoutAdjusting) {
  Bench bench{CalibrationAct::check};
  bench.run(180, 12.0);
  static_cast<void>(bench.taken());
  const auto record = bench.record();
  EXPECT_FALSE(record.calibration);
  EXPECT_TRUE(record.points[0].as_found);
  EXPECT_FALSE(record.points[0].as_left);
}

TEST(CalibrationSession, TellsTheJudgementWhatMovedAndWhatWasTyped) {
  Bench bench;
  bench.run(90, 12.0);
  bench.gas.pressure.value = pascals(99050.0);
  bench.run(90, 12.0);
  TypedConditions typed;
  typed.temperature = Uncertain<Temperature>{celsius(20.0), 0.1};
  const auto point = bench.taken({}, typed);
  EXPECT_EQ(point.temperature_from, "typed");
  EXPECT_EQ(point.values.gas.temperature.value, celsius(20.0));
  Circumstances around;
  bench.session.describe(around);
  EXPECT_NEAR(around.pressure_range_Pa.value(), 250.0, 1e-9);
  EXPECT_TRUE(around.conditions_typed);
  EXPECT_FALSE(around.condensing);
}

TEST(CalibrationSession, EntersAPointThatWasWrittenDownElsewhere) {
  Bench bench;
  TakenPoint point;
  point.values = {{millivolts(12.4), 0.02e-3}, point.gas.oxygen, room_air(), {}};
  bench.session.enter(point, morning - std::chrono::hours{30});
  const auto record = bench.record();
  EXPECT_EQ(record.performed, morning - std::chrono::hours{30});
  const auto judgement = judge_calibration(record, {}, {});
  EXPECT_FALSE(judgement.permits(false)) << "nothing shows that it was stable";
  EXPECT_TRUE(judgement.permits(true)) << "but a reason may say where it comes from";
}

TEST(CalibrationSession, SaysWhatTheEquationsAnswerWhereThereIsNoCalibration) {
  Bench bench;
  bench.run(180, 12.0);
  TypedConditions typed;
  typed.pressure = Uncertain<Pressure>{pascals(998.0), 10.0}; // a slip of two digits
  static_cast<void>(bench.taken({}, typed));
  std::string problem;
  const auto record = bench.session.propose(morning, "", problem);
  EXPECT_FALSE(record.calibration);
  EXPECT_NE(problem, "");
}

TEST(Withdrawal, NamesTheRecordItDeclaresVoid) {
  CalibrationRecord record;
  record.number = 7;
  record.serial = "LK-0007";
  record.room = "cryo-annexe";
  const auto withdrawal = withdrawal_of(record, "R. Okafor", "the dewar stood open", morning);
  EXPECT_EQ(withdrawal.supersedes, 7);
  EXPECT_EQ(withdrawal.serial, "LK-0007");
  EXPECT_EQ(withdrawal.act, CalibrationAct::withdrawal);
  EXPECT_TRUE(withdrawal.points.empty());
}

} // namespace oxherd::daemon::session_test
