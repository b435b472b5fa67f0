#include "daemon/store/basis_text.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "daemon/calibration/calibration_json.hpp"

namespace oxherd::daemon::basis_text_test {

using std::chrono::days;
using store::basis_from;
using store::basis_text;

ReadingBasis full() {
  ReadingBasis basis;
  auto& cell = basis.cell.emplace();
  cell.nominal_zero = {millivolts(0.4), 0.05e-3};
  cell.serial = "LK-0007";
  cell.drift_per_month = 0.02;
  cell.resolution = Signal::from_si(5e-6);
  cell.linearity = 0.1 + 0.2; // a double with all its digits
  cell.upkeep = {days{14}, {}, days{500}, WallTime{std::chrono::milliseconds{1'768'435'200'123}}};
  cell.stable_for = std::chrono::seconds{90};
  cell.signal_in_air = {millivolts(8.0), millivolts(15.0)};
  basis.calibration = ActiveCalibration{{}, WallTime{std::chrono::milliseconds{1'772'352'930'000}}, 7};
  basis.pressure_from = "cryo-annexe/air";
  return basis;
}

TEST(BasisText, GivesEveryFieldOfACellBack) {
  const auto basis = full();
  const auto again = basis_from(basis_text(basis));
  ASSERT_TRUE(again) << again.error();
  ASSERT_TRUE(again->cell);
  const auto& cell = *again->cell;
  EXPECT_EQ(cell.serial, "LK-0007");
  EXPECT_EQ(cell.drift_per_month, 0.02);
  EXPECT_EQ(cell.resolution.si(), 5e-6);
  EXPECT_EQ(cell.linearity, 0.1 + 0.2);
  EXPECT_EQ(cell.stable_for, std::chrono::seconds{90});
  EXPECT_EQ(cell.upkeep, basis.cell->upkeep);
  EXPECT_EQ(cell.signal_in_air, basis.cell->signal_in_air);
  EXPECT_EQ(again->calibration->number, 7);
  EXPECT_EQ(basis_text(*again), basis_text(basis));
}

TEST(BasisText, WithoutTheKeysThatCameLaterHasNoResolutionAndNoLinearity) {
  auto old = nlohmann::json::parse(basis_text(full()));
  for (const char* key : {"resolution", "linearity", "upkeep", "signal_in_air"}) ASSERT_EQ(old["cell"].erase(key), 1U);
  const auto read = basis_from(old.dump());
  ASSERT_TRUE(read) << read.error();
  EXPECT_EQ(read->cell->resolution.si(), 0.0);
  EXPECT_EQ(read->cell->linearity, 0.0);
  EXPECT_EQ(read->cell->upkeep, config::CellUpkeep{});
  EXPECT_FALSE(read->cell->signal_in_air);
  EXPECT_EQ(read->cell->serial, "LK-0007");
}

/// A calibration of two points in which every part has a value of its own.
compensation::Calibration two_points() {
  compensation::Calibration calibration;
  calibration.span.signal = {Signal::from_si(0.0126), 2e-5};
  calibration.span.oxygen = {DryFraction::from_si(0.20946), 6e-5};
  calibration.span.gas.temperature = {kelvins(294.45), 0.3};
  calibration.span.gas.humidity = {RelativeHumidity::from_si(0.45), 0.03};
  calibration.span.gas.humidity_temperature = Uncertain<Temperature>{kelvins(293.25), 0.2};
  calibration.span.gas.pressure = {pascals(99800.0), 50.0};
  calibration.zero = {Signal::from_si(-0.0), 5e-5};
  calibration.low = calibration.span;
  calibration.low->signal = {Signal::from_si(0.1 + 0.2), 1e-5};
  calibration.low->reference_air = calibration.span.gas;
  calibration.low->reference_air->humidity_temperature.reset();
  return calibration;
}

// Texts compare exactly: every double is written to its last bit.
TEST(BasisText, HoldsTheCalibrationInTheFormOfItsRecord) {
  auto basis = full();
  basis.calibration->calibration = two_points();
  const auto written = nlohmann::json::parse(basis_text(basis));
  EXPECT_EQ(written["version"], 2);
  EXPECT_EQ(written["calibration"]["values"], nlohmann::json::parse(calibration_json(two_points())));
  const auto again = basis_from(written.dump());
  ASSERT_TRUE(again) << again.error();
  EXPECT_EQ(calibration_json(again->calibration->calibration), calibration_json(two_points()));
}

// As version 1 wrote it into stores that are still to be read.
TEST(BasisText, ReadsTheCalibrationOfVersionOne) {
  auto old = nlohmann::json::parse(basis_text(full()));
  old["version"] = 1;
  old["calibration"]["values"] = nlohmann::json::parse(R"({
    "span":{"signal":[0.0126,2e-05],"oxygen":[0.20946,6e-05],"gas":{"temperature":[294.45,0.3],"humidity":[0.45,0.03],
            "pressure":[99800.0,50.0],"humidity_temperature":[293.25,0.2]}},
    "zero":[-0.0,5e-05],
    "low":{"signal":[0.30000000000000004,1e-05],"oxygen":[0.20946,6e-05],
           "gas":{"temperature":[294.45,0.3],"humidity":[0.45,0.03],"pressure":[99800.0,50.0],
                  "humidity_temperature":[293.25,0.2]},
           "reference_air":{"temperature":[294.45,0.3],"humidity":[0.45,0.03],"pressure":[99800.0,50.0]}}})");
  const auto read = basis_from(old.dump());
  ASSERT_TRUE(read) << read.error();
  EXPECT_EQ(calibration_json(read->calibration->calibration), calibration_json(two_points()));
  EXPECT_EQ(read->calibration->number, 7);
  EXPECT_EQ(nlohmann::json::parse(basis_text(*read))["version"], 2);
}

TEST(BasisText, NamesThePlaceInACalibrationThatCannotBeRead) {
  auto broken = nlohmann::json::parse(basis_text(full()));
  broken["calibration"]["values"]["span"]["signal_V"]["u"] = "much";
  const auto read = basis_from(broken.dump());
  ASSERT_FALSE(read);
  EXPECT_NE(read.error().find("span.signal_V.u is not a number"), std::string::npos) << read.error();
  for (const int version : {0, 3}) {
    auto other = nlohmann::json::parse(basis_text(full()));
    other["version"] = version;
    EXPECT_FALSE(basis_from(other.dump())) << version;
  }
}

TEST(BasisText, RefusesUpkeepThatIsNoNumberOfDays) {
  auto broken = nlohmann::json::parse(basis_text(full()));
  broken["cell"]["upkeep"]["check_every"] = "soon";
  EXPECT_FALSE(basis_from(broken.dump()));
}

} // namespace oxherd::daemon::basis_text_test
