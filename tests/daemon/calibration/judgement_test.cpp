#include "daemon/calibration/judgement.hpp"

#include <functional>

#include <gtest/gtest.h>

#include "tests/daemon/calibration/records.hpp"

namespace oxherd::daemon::judgement_test {

using namespace example_records;
using std::chrono::hours;

const WallTime today = day(2026, 9, 1);

/// A proposed adjustment that nothing speaks against, and what stood around it.
struct Case {
  CalibrationRecord proposed = adjustment(0, today, 0.00135);
  std::vector<CalibrationRecord> records{adjustment(1, day(2026, 3, 1), 0.0014),
                                         adjustment(2, day(2026, 6, 1), 0.00138)};
  Circumstances around{.carbon_dioxide = 450e-6,
                       .neighbours = {{"cell-b", DryFraction::from_si(0.2088)}},
                       .seconds_since_purge = 7200.0,
                       .seconds_since_dosing = 7200.0,
                       .pressure_range_Pa = 20.0,
                       .humidity_range = 0.01,
                       .carbon_dioxide_range = 20e-6,
                       .signal_in_air = SignalInAir{millivolts(8.0), millivolts(15.0)}};
  [[nodiscard]] Judgement judge() const { return judge_calibration(proposed, records, around); }
};

TEST(JudgeCalibration, FindsNothingAgainstAnOrdinaryOne) {
  const auto judgement = Case{}.judge();
  EXPECT_TRUE(judgement.refusals.empty()) << judgement.refusals[0].text;
  EXPECT_TRUE(judgement.warnings.empty()) << judgement.warnings[0];
  EXPECT_TRUE(judgement.permits(false));
}

/// One thing that is wrong, and the one sentence it must bring.
struct Row {
  std::string_view about;
  std::function<void(Case&)> spoil;
  std::string_view text;
};

const Row refused_for_good[] = {
    {"serial", [](Case& c) { c.proposed.serial.clear(); }, "the cell has no serial number"},
    {"author", [](Case& c) { c.proposed.author.clear(); }, "nobody is named"},
    {"future", [](Case& c) { c.proposed.recorded = c.proposed.performed - hours{1}; },
     "performed after it was entered"},
    {"unexplained correction", [](Case& c) { c.proposed.supersedes = 2; }, "record 2 is superseded without a reason"},
    {"no point", [](Case& c) { c.proposed.points.clear(); }, "no point was taken"},
    {"unstable", [](Case& c) { c.proposed.points[0].stability.stable = false; },
     "the signal in fresh air was not stable"},
    {"pressure", [](Case& c) { c.around.pressure_range_Pa = 210.0; }, "the pressure moved by 0.21 kPa"},
    {"equation", [](Case& c) { c.around.equation_error = "the vapour pressure exceeds the pressure"; },
     "the vapour pressure exceeds the pressure"},
    {"nothing derived", [](Case& c) { c.proposed.characteristic.reset(); }, "no sensitivity was derived"},
    {"no span", [](Case& c) { c.proposed.calibration->span.signal.value = millivolts(0.3); },
     "the span signal 0.300 mV is not above the low signal 0.300 mV"},
    {"span lost in noise",
     [](Case& c) {
       c.proposed.calibration->span.signal.u_si = 2e-3;
       c.around.signal_in_air.reset();
     },
     "differ by 12.300 mV with an uncertainty of 2.001 mV"},
    {"spent",
     [](Case& c) {
       c.proposed.characteristic->sensitivity = 0.00069;
       c.proposed.characteristic->u_sensitivity = 1e-6;
       c.records.pop_back();
       c.proposed.reason = "x";
     },
     "the sensitivity is 49 % of the first one (record 1; at least 50 %)"},
    {"span gas called nitrogen",
     [](Case& c) {
       c.proposed.points.insert(c.proposed.points.begin(), nitrogen_point());
       c.proposed.points[0].gas.oxygen.value = DryFraction::from_si(0.02);
     },
     "nitrogen with 2 % oxygen (at most 0.1 %)"}};

const Row refused_without_reason[] = {
    {"alarm",
     [](Case& c) {
       c.around.active_alarms = {"low-oxygen", "high-co2"};
     },
     "the room has an active alarm (low-oxygen, high-co2)"},
    {"carbon dioxide", [](Case& c) { c.around.carbon_dioxide = 1001e-6; }, "the CO2 is 1001 ppm (at most 1000 ppm)"},
    {"neighbour low", [](Case& c) { c.around.neighbours[0].dry = DryFraction::from_si(0.2059); },
     "cell-b reads 20.59 %"},
    {"neighbour high", [](Case& c) { c.around.neighbours[0].dry = DryFraction::from_si(0.2121); },
     "cell-b reads 21.21 %"},
    {"purge", [](Case& c) { c.around.seconds_since_purge = 3540.0; }, "a purge ran 59 min ago (at least 60 min)"},
    {"dosing", [](Case& c) { c.around.seconds_since_dosing = 0.0; }, "CO2 dosing ran 0 min ago"},
    {"humidity jump", [](Case& c) { c.around.humidity_range = 0.12; }, "the humidity moved by 12 %RH"},
    {"breath", [](Case& c) { c.around.carbon_dioxide_range = 900e-6; }, "the CO2 moved by 900 ppm"},
    {"condensing", [](Case& c) { c.around.condensing = true; }, "water condenses on the cell"},
    {"sealed", [](Case& c) { c.around.sealed_room = true; }, "the air of a sealed room is not fresh"},
    {"signal in air low",
     [](Case& c) {
       c.around.signal_in_air = SignalInAir{millivolts(13.0), millivolts(15.0)};
     },
     "the signal in air would be 12.60 mV (13.00 to 15.00 mV are permitted)"},
    {"signal in air high",
     [](Case& c) {
       c.around.signal_in_air = SignalInAir{millivolts(8.0), millivolts(12.5)};
     },
     "the signal in air would be 12.60 mV"},
    {"zero", [](Case& c) { c.proposed.calibration->zero.value = millivolts(3.3); }, "the zero of 3.300 mV is 26 %"},
    {"negative zero", [](Case& c) { c.proposed.calibration->zero.value = millivolts(-3.3); },
     "the zero of -3.300 mV is 26 %"},
    {"sensitivity fell",
     [](Case& c) {
       c.records = {adjustment(2, day(2026, 6, 1), 0.0014)};
       c.proposed.characteristic->sensitivity = 0.0011;
     },
     "the sensitivity is 21.4 % lower than that of 2026-06-01 (record 2, the previous one)"},
    {"sensitivity rose",
     [](Case& c) {
       c.proposed.characteristic->sensitivity = 0.0017;
       c.records.erase(c.records.begin());
     },
     "the sensitivity is 23.2 % higher"},
    {"crept from the first",
     [](Case& c) {
       c.records[1].characteristic->sensitivity = 0.00115;
       c.proposed.characteristic->sensitivity = 0.0011;
     },
     "the sensitivity is 21.4 % lower than that of 2026-03-01 (record 1, the first one)"},
    {"expired gas",
     [](Case& c) {
       c.proposed.points.insert(c.proposed.points.begin(), nitrogen_point());
       c.proposed.points[0].gas.expires = today - hours{24};
     },
     "the certificate of nitrogen (cylinder N-204) expired on 2026-08-31"}};

const Row warned[] = {
    {"typed", [](Case& c) { c.around.conditions_typed = true; }, "conditions were typed"},
    {"fresh by faith",
     [](Case& c) {
       c.around.carbon_dioxide.reset();
       c.around.neighbours.clear();
     },
     "neither CO2 nor another cell shows"},
    {"damp", [](Case& c) { c.proposed.points[0].values.gas.humidity.value = percent_humidity(97.0); },
     "the air is at 97 %RH"},
    {"zero", [](Case& c) { c.proposed.calibration->zero.value = millivolts(1.4); }, "the zero of 1.400 mV is 11 %"},
    {"uncertain", [](Case& c) { c.proposed.characteristic->u_sensitivity = 0.0136 * 0.00135; },
     "the sensitivity is uncertain by 1.4 %"},
    {"sensitivity",
     [](Case& c) {
       c.records.erase(c.records.begin());
       c.proposed.characteristic->sensitivity = 0.00122;
     },
     "the sensitivity is 11.6 % lower than that of 2026-06-01 (record 2, the previous one): more than 10 %"},
    {"no papers",
     [](Case& c) {
       c.proposed.points.insert(c.proposed.points.begin(), nitrogen_point());
       c.proposed.points[0].gas.certificate.clear();
     },
     "nitrogen (cylinder N-204) has no certificate"},
    {"no expiry",
     [](Case& c) {
       c.proposed.points.insert(c.proposed.points.begin(), nitrogen_point());
       c.proposed.points[0].gas.expires.reset();
     },
     "has no date of expiry"},
    {"other model",
     [](Case& c) {
       for (auto& r : c.records) {
         r.characteristic->sensitivity_unit = "V/Pa";
         r.model = "partial-pressure";
       }
     },
     "the cell model was partial-pressure in record 2 and is concentration now"}};

TEST(JudgeCalibration, RefusesForGoodWhatNoReasonCanExcuse) {
  for (const auto& row : refused_for_good) {
    SCOPED_TRACE(row.about);
    Case spoiled;
    row.spoil(spoiled);
    const auto judgement = spoiled.judge();
    bool found = false;
    for (const auto& refusal : judgement.refusals)
      found = found || (!refusal.can_be_overridden && refusal.text.find(row.text) != std::string::npos);
    EXPECT_TRUE(found) << (judgement.refusals.empty() ? "no refusal" : judgement.refusals[0].text);
    EXPECT_FALSE(judgement.permits(true));
    EXPECT_FALSE(judgement.permits(false));
  }
}

TEST(JudgeCalibration, RefusesUntilThereIsAReason) {
  for (const auto& row : refused_without_reason) {
    SCOPED_TRACE(row.about);
    Case spoiled;
    row.spoil(spoiled);
    const auto judgement = spoiled.judge();
    ASSERT_EQ(judgement.refusals.size(), 1U) << (judgement.refusals.empty() ? "" : judgement.refusals.back().text);
    EXPECT_NE(judgement.refusals[0].text.find(row.text), std::string::npos) << judgement.refusals[0].text;
    EXPECT_TRUE(judgement.permits(true));
    EXPECT_FALSE(judgement.permits(false));
  }
}

TEST(JudgeCalibration, WarnsAndGoesOn) {
  for (const auto& row : warned) {
    SCOPED_TRACE(row.about);
    Case spoiled;
    row.spoil(spoiled);
    const auto judgement = spoiled.judge();
    EXPECT_TRUE(judgement.permits(false)) << judgement.refusals[0].text;
    ASSERT_EQ(judgement.warnings.size(), 1U) << (judgement.warnings.empty() ? "" : judgement.warnings.back());
    EXPECT_NE(judgement.warnings[0].find(row.text), std::string::npos) << judgement.warnings[0];
  }
}

// Each limit itself is still permitted.
TEST(JudgeCalibration, PermitsWhatLiesJustAtALimit) {
  Case at_limits;
  at_limits.around.carbon_dioxide = 1000e-6;
  at_limits.around.neighbours = {{"cell-b", DryFraction::from_si(0.206)}, {"cell-c", DryFraction::from_si(0.212)}};
  at_limits.around.seconds_since_purge = at_limits.around.seconds_since_dosing = 3600.0;
  at_limits.around.pressure_range_Pa = 200.0;
  at_limits.around.humidity_range = 0.05;
  at_limits.around.carbon_dioxide_range = 200e-6;
  at_limits.around.signal_in_air = SignalInAir{millivolts(12.5), millivolts(12.7)};
  const auto judgement = at_limits.judge();
  EXPECT_TRUE(judgement.refusals.empty()) << judgement.refusals[0].text;
  EXPECT_TRUE(judgement.warnings.empty()) << judgement.warnings[0];
}

TEST(JudgeCalibration, AsksForMaintenanceBelowSeventyPercentOfTheFirst) {
  Case worn;
  worn.records[1].characteristic->sensitivity = 0.00100;
  worn.proposed.characteristic->sensitivity = 0.00097;
  const auto judgement = worn.judge();
  EXPECT_TRUE(judgement.permits(true));
  ASSERT_EQ(judgement.warnings.size(), 1U);
  EXPECT_EQ(judgement.warnings[0],
            "the sensitivity is 69 % of the first one (below 70 %): maintenance required, order a new cell");
}

TEST(JudgeCalibration, ComparesOnlyWithWhatStandsAndCameBefore) {
  Case others;
  others.records = {adjustment(1, day(2026, 3, 1), 0.0014), adjustment(2, day(2026, 6, 1), 0.0030),
                    withdrawal(3, day(2026, 6, 2), 2), adjustment(4, day(2026, 10, 1), 0.0005)};
  auto other_cell = adjustment(5, day(2026, 7, 1), 0.0040);
  other_cell.serial = "LK-0008";
  others.records.push_back(other_cell);
  const auto judgement = others.judge();
  EXPECT_TRUE(judgement.refusals.empty()) << judgement.refusals[0].text;
  others.records.clear();
  EXPECT_TRUE(others.judge().refusals.empty()) << "the first calibration has nothing to be compared with";
}

TEST(JudgeCalibration, DoesNotCompareACorrectionWithWhatItReplaces) {
  Case correction;
  correction.proposed = adjustment(0, day(2026, 6, 1) + hours{1}, 0.00135);
  correction.proposed.supersedes = 2;
  correction.proposed.reason = "pressure mistyped";
  correction.records[1].characteristic->sensitivity = 0.0030;
  EXPECT_TRUE(correction.judge().refusals.empty());
}

TEST(JudgeCalibration, LooksAtTheAirOnlyWhenAirIsTheReference) {
  Case gases;
  gases.proposed.points[0].gas = check(1, today, 0.209).points[0].gas;
  gases.around.active_alarms = {"low-oxygen"};
  gases.around.carbon_dioxide = 5000e-6;
  gases.around.sealed_room = true;
  EXPECT_TRUE(gases.judge().refusals.empty());
}

TEST(JudgeCalibration, KeepsAFailedCheckAndSaysWhatIsDue) {
  Case failed;
  failed.proposed = check(0, today, 0.2012);
  const auto judgement = failed.judge();
  EXPECT_TRUE(judgement.permits(false));
  ASSERT_EQ(judgement.warnings.size(), 1U);
  EXPECT_NE(judgement.warnings[0].find("failed. A full calibration is due"), std::string::npos);
  failed.proposed = check(0, today, 0.2085);
  EXPECT_TRUE(failed.judge().warnings.empty());
  failed.proposed.points[0].as_found.reset();
  EXPECT_FALSE(failed.judge().permits(true)) << "nothing was compared";
}

TEST(JudgeCalibration, AsksABumpTestForNoNumbers) {
  Case bump;
  bump.proposed.act = CalibrationAct::bump_test;
  bump.proposed.points.clear();
  bump.proposed.calibration.reset();
  bump.proposed.characteristic.reset();
  EXPECT_TRUE(bump.judge().permits(false));
  EXPECT_TRUE(bump.judge().warnings.empty());
}

TEST(JudgeCalibration, TakesANernstCellAsItIs) {
  Case zirconia; // its signal in air is near zero, and falls with more oxygen
  zirconia.proposed.model = "nernst";
  zirconia.proposed.calibration->span.signal.value = millivolts(-0.4);
  zirconia.proposed.characteristic = compensation::CellCharacteristic{
      .sensitivity = 0.99, .u_sensitivity = 0.002, .sensitivity_unit = "", .zero = {millivolts(0.2), 1e-5}};
  zirconia.records.clear();
  EXPECT_TRUE(zirconia.judge().permits(false));
  EXPECT_TRUE(zirconia.judge().warnings.empty());
}

TEST(JudgeCalibration, WithdrawsOnlyWhatStands) {
  Case out;
  out.proposed = withdrawal(0, today, 2);
  EXPECT_TRUE(out.judge().permits(false));
  EXPECT_TRUE(out.judge().warnings.empty()) << "record 1 is in force again";
  out.records.erase(out.records.begin());
  ASSERT_EQ(out.judge().warnings.size(), 1U);
  EXPECT_NE(out.judge().warnings[0].find("no calibration remains on record"), std::string::npos);
  out.proposed.supersedes = 9;
  EXPECT_FALSE(out.judge().permits(true));
  out.proposed.supersedes.reset();
  EXPECT_FALSE(out.judge().permits(true));
  Case twice;
  twice.records.push_back(withdrawal(3, today, 2));
  twice.proposed = withdrawal(0, today, 2);
  EXPECT_FALSE(twice.judge().permits(true)) << "it is void already";
  twice.proposed.supersedes = 3;
  EXPECT_TRUE(twice.judge().permits(false)) << "a withdrawal can be taken back";
}

} // namespace oxherd::daemon::judgement_test
