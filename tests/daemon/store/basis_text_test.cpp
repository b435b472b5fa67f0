#include "daemon/store/basis_text.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

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

TEST(BasisText, RefusesUpkeepThatIsNoNumberOfDays) {
  auto broken = nlohmann::json::parse(basis_text(full()));
  broken["cell"]["upkeep"]["check_every"] = "soon";
  EXPECT_FALSE(basis_from(broken.dump()));
}

} // namespace oxherd::daemon::basis_text_test
