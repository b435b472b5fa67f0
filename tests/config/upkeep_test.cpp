#include <gtest/gtest.h>

#include "tests/config/sample.hpp"

// How a cell is looked after, what its signal may be wrong by, and who issues certificates.
namespace oxherd::upkeep_test {

using namespace std::chrono_literals;
using config_test::expect_said;
using config_test::settings_of;
using config_test::sound;
using config_test::with;
using std::chrono::days;

/// The cell of the sample with these keys in its table.
std::string with_cell(std::string_view keys, std::string_view base = sound) {
  return with("zero = \"0.4 mV\" }", "zero = \"0.4 mV\", " + std::string{keys} + " }", base);
}

config::CellSettings cell_of(const std::string& text) {
  const auto settings = settings_of(text);
  return settings.rooms.empty() ? config::CellSettings{} : settings.rooms[0].sensors[0].cell.value_or({});
}

TEST(Upkeep, OfACellAmongPeopleIsAMonthAQuarterAndTwoYears) {
  for (const std::string_view regime : {"occupied", "enriched"}) {
    SCOPED_TRACE(regime);
    const auto cell = cell_of(with("regime = \"occupied\"", "regime = \"" + std::string{regime} + "\""));
    EXPECT_EQ(cell.upkeep.check_every, days{30});
    EXPECT_EQ(cell.upkeep.calibrate_every, days{90});
    EXPECT_EQ(cell.upkeep.permitted_age, days{730});
    EXPECT_FALSE(cell.upkeep.first_used);
    EXPECT_FALSE(cell.signal_in_air);
    EXPECT_EQ(cell.resolution.si(), 0.0);
    EXPECT_EQ(cell.linearity, 0.0);
  }
}

TEST(Upkeep, OfASealedRoomIsAskedForLessOften) {
  const auto cell = cell_of(with("regime = \"occupied\"", "regime = \"sealed-low-oxygen\""));
  EXPECT_EQ(cell.upkeep.check_every, days{90});
  EXPECT_EQ(cell.upkeep.calibrate_every, days{180});
}

TEST(Upkeep, OfZirconiaSetsNoAge) {
  const auto cell = cell_of(with("model = \"concentration\", zero = \"0.4 mV\"", "model = \"nernst\"",
                                 with("signal = \"12.6 mV\"", "signal = \"0.1 mV\"")));
  EXPECT_EQ(cell.upkeep.permitted_age, std::nullopt);
  EXPECT_EQ(cell.upkeep.calibrate_every, days{90});
}

TEST(Upkeep, IsTakenAsWritten) {
  const auto cell =
      cell_of(with_cell("check_every = \"14 d\", calibrate_every = \"720 h\", permitted_age = \"never\", "
                        "first_used = 2026-01-15, signal_in_air = [\"8 mV\", \"15 mV\"], stable_for = \"3 min\", "
                        "resolution = \"5 uV\", linearity = \"0.5 %\""));
  EXPECT_EQ(cell.upkeep.check_every, days{14});
  EXPECT_EQ(cell.upkeep.calibrate_every, days{30});
  EXPECT_EQ(cell.upkeep.permitted_age, std::nullopt);
  EXPECT_EQ(cell.upkeep.first_used, std::chrono::sys_days{2026y / 1 / 15});
  ASSERT_TRUE(cell.signal_in_air);
  EXPECT_DOUBLE_EQ(cell.signal_in_air->low.si(), 8e-3);
  EXPECT_DOUBLE_EQ(cell.signal_in_air->high.si(), 15e-3);
  EXPECT_EQ(cell.stable_for, 180s);
  EXPECT_DOUBLE_EQ(cell.resolution.si(), 5e-6);
  EXPECT_DOUBLE_EQ(cell.linearity, 0.005);
}

TEST(Upkeep, OfALongCellTableIsTheSame) {
  const auto cell = cell_of(
      with("cell = { model = \"concentration\", zero = \"0.4 mV\" }\n", "",
           with("[room.annexe.sensor.air]", "[room.annexe.sensor.cell-a.cell]\nmodel = \"concentration\"\n"
                                            "zero = \"0.4 mV\"\ncheck_every = \"7 d\"\n\n[room.annexe.sensor.air]")));
  EXPECT_EQ(cell.upkeep.check_every, days{7});
}

TEST(Upkeep, TakesTheDayOfFirstUseAsADateATextOrAnInstant) {
  const auto first_used = [](std::string_view written) {
    return cell_of(with_cell("first_used = " + std::string{written})).upkeep.first_used;
  };
  const auto day = std::chrono::sys_days{2026y / 1 / 15};
  EXPECT_EQ(first_used("2026-01-15"), day);
  EXPECT_EQ(first_used("\"2026-01-15\""), day);
  EXPECT_EQ(first_used("2026-01-15T08:00:00+02:00"), day + 6h);
  EXPECT_EQ(first_used("\"2026-01-15T08:00:00+02:00\""), day + 6h);
}

TEST(Upkeep, NamesThePlaceAndWhatIsAccepted) {
  constexpr std::string_view zero = "zero = \"0.4 mV\" }";
  expect_said({
      {zero,
       R"(zero = "0.4 mV", check_every = "30" })",
       {R"(site.toml:21:66: room.annexe.sensor.cell-a.cell.check_every: "30" has no unit; write a duration such as "5 s")"}},
      {zero,
       R"(zero = "0.4 mV", check_every = "36 h" })",
       {R"(site.toml:21:66: room.annexe.sensor.cell-a.cell.check_every: "36 h" is not a number of whole days; write for example "30 d")"}},
      {zero,
       R"(zero = "0.4 mV", calibrate_every = "1097 d" })",
       {R"(site.toml:21:70: room.annexe.sensor.cell-a.cell.calibrate_every: "1097 d" is outside 1 d to 1096 d (three years))"}},
      {zero,
       R"(zero = "0.4 mV", permitted_age = false })",
       {R"(site.toml:21:68: room.annexe.sensor.cell-a.cell.permitted_age: false is no quantity; write a duration with its unit in quotes, such as "5 s")"}},
      {zero,
       R"(zero = "0.4 mV", permitted_age = "2 d" })",
       {R"(site.toml:21:68: room.annexe.sensor.cell-a.cell.permitted_age: "2 d" is outside 30 d to 7305 d (20 years))"}},
      {zero,
       R"(zero = "0.4 mV", first_used = "15.1.2026" })",
       {R"(site.toml:21:65: room.annexe.sensor.cell-a.cell.first_used: "15.1.2026" is no date; write the day on which the cell was put to use, such as 2026-05-04)"}},
      {zero,
       R"(zero = "0.4 mV", first_used = 2026-01-15T08:00:00 })",
       {"site.toml:21:65: room.annexe.sensor.cell-a.cell.first_used: a time of day without its offset from UTC names "
        "no "
        "instant; write the day on which the cell was put to use, such as 2026-05-04"}},
      {zero,
       R"(zero = "0.4 mV", signal_in_air = "8 mV" })",
       {R"(site.toml:21:68: room.annexe.sensor.cell-a.cell.signal_in_air: "8 mV" is not a span; write the least and the most that a new cell gives in air, such as ["8 mV", "15 mV"])"}},
      {zero,
       R"(zero = "0.4 mV", signal_in_air = ["8 mV"] })",
       {R"(site.toml:21:68: room.annexe.sensor.cell-a.cell.signal_in_air: this array is not a span; write the least and the most that a new cell gives in air, such as ["8 mV", "15 mV"])"}},
      {zero,
       R"(zero = "0.4 mV", signal_in_air = ["8 mV", "15 kPa"] })",
       {R"(site.toml:21:77: room.annexe.sensor.cell-a.cell.signal_in_air: "15 kPa" is a pressure; write a voltage such as "12.6 mV")"}},
      {zero,
       R"(zero = "0.4 mV", signal_in_air = ["15 mV", "8 mV"] })",
       {"site.toml:21:68: room.annexe.sensor.cell-a.cell.signal_in_air: the first is not below the second; write the "
        "least signal first"}},
      {zero,
       R"(zero = "0.4 mV", stable_for = "10 s" })",
       {R"(site.toml:21:65: room.annexe.sensor.cell-a.cell.stable_for: "10 s" is outside 30 s to 5 min)"}},
      {zero,
       R"(zero = "0.4 mV", resolution = "11 mV" })",
       {R"(site.toml:21:65: room.annexe.sensor.cell-a.cell.resolution: "11 mV" is outside 0 mV to 10 mV)"}},
      {zero,
       R"(zero = "0.4 mV", linearity = "-1 %" })",
       {R"(site.toml:21:64: room.annexe.sensor.cell-a.cell.linearity: "-1 %" is outside 0 % to 10 %)"}},
  });
}

TEST(Issuer, NamesWhoIssuesCertificatesWhenTheFileDoes) {
  const auto settings = settings_of(with("elevation = \"212 m\"", R"(elevation = "212 m"
organisation = "Larkfield Plant Station"
place = "Larkfield, workshop 2"
owner = "Larkfield Growers")"));
  EXPECT_EQ(settings.site.issuer.organisation, "Larkfield Plant Station");
  EXPECT_EQ(settings.site.issuer.place, "Larkfield, workshop 2");
  EXPECT_EQ(settings.site.issuer.owner, "Larkfield Growers");
  EXPECT_EQ(settings_of(sound).site.issuer.organisation, "");
}

} // namespace oxherd::upkeep_test
