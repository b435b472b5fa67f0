// How loops of a growth chamber perform, as a report tells it.
#include <gtest/gtest.h>

#include "tests/daemon/control/rig.hpp"

namespace oxherd::daemon::performance_test {

using rig_test::Rig;
using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

struct Chamber : Rig {
  explicit Chamber(std::string_view text = rig_test::chamber) : Rig{text} {
    values["cell/oxygen"] = 0.2095;
    values["air/humidity"] = 0.65;
    set(24.0);
    run(seconds{1});
  }
  void set(double celsius) { values["air/temperature"] = 273.15 + celsius; }
  [[nodiscard]] control::LoopReport figures(const std::string& output) const {
    return actuator(output).loop.value().report.value().figures;
  }
  [[nodiscard]] LoopReportStatus report(const std::string& output) const {
    return actuator(output).loop.value().report.value();
  }
  void begin_report() {
    auto acted =
        site->order("growth-chamber-1", "heat", PlantControl::ReportOrder{"R. Okafor", "new probe"}, now, wall);
    ASSERT_TRUE(acted && !acted->refusal);
    EXPECT_EQ(acted->outcome.room_events.back().event, "begin-report");
    EXPECT_EQ(acted->outcome.room_events.back().author, "R. Okafor");
  }
};

TEST(TheReportOfALoop, TellsItsDeviationInThePersonsUnitBesideTheBandOfItsValue) {
  Chamber chamber;
  chamber.run(seconds{400});
  chamber.set(23.0);
  chamber.run(seconds{400});
  const auto report = chamber.report("heater");
  EXPECT_DOUBLE_EQ(report.band, 0.5);
  EXPECT_NEAR(report.figures.observed_s, 800.0, 1.0);
  // 24 °C is the set-point: nothing off for a half of the time, 1 K for the other, between them one second of slope.
  EXPECT_NEAR(*report.figures.error_mean, 0.5, 0.002);
  EXPECT_NEAR(*report.figures.error_sd, 0.5, 0.002);
  EXPECT_NEAR(*report.figures.within_band_share, 0.5, 0.002);
  EXPECT_FALSE(report.figures.switchings_per_h) << "it has a register";
  EXPECT_EQ(report.by, "");
}

TEST(TheReportOfALoop, CountsTheTimeInWhichAPersonDecidedOrATunerDid) {
  Chamber chamber;
  chamber.run(seconds{600});
  EXPECT_NEAR(*chamber.figures("heater").automatic_share, 1.0, 0.003);
  ASSERT_EQ(chamber.order("heater", control::ActuatorAct::hold, 0.3, minutes{10}), "");
  chamber.run(seconds{600});
  EXPECT_NEAR(*chamber.figures("heater").automatic_share, 0.5, 0.003);
  TuningOrder tune;
  tune.act = TuningOrder::Act::begin;
  tune.low = "20 degC";
  tune.high = "28 degC";
  tune.by = tune.because = "R. Okafor";
  const auto acted = chamber.site->order("growth-chamber-1", "heat", tune, chamber.now, chamber.wall);
  ASSERT_TRUE(acted && !acted->refusal) << acted->refusal.value_or("");
  chamber.run(seconds{600});
  EXPECT_NEAR(*chamber.figures("heater").automatic_share, 1.0 / 3.0, 0.003);
}

TEST(TheReportOfALoop, CountsTheSwitchingsOfACoil) {
  Chamber chamber; // the humidifier is on from 62 % down, and off at 65 %
  for (int i = 0; i < 3; ++i) {
    chamber.values["air/humidity"] = 0.61;
    chamber.run(minutes{5});
    chamber.values["air/humidity"] = 0.66;
    chamber.run(minutes{5});
  }
  const auto figures = chamber.figures("humidifier");
  EXPECT_NEAR(*figures.switchings_per_h, 12.0, 0.01);
  EXPECT_FALSE(figures.limit_share) << "it is always at one";
  EXPECT_FALSE(figures.oscillation.oscillating) << "by its nature";
}

TEST(TheReportOfALoop, TakesOneSampleASecondHoweverOftenItIsEvaluated) {
  Chamber chamber;
  const double before_s = chamber.figures("heater").observed_s;
  for (int i = 0; i < 50; ++i) {
    chamber.poll("air");
    chamber.now += std::chrono::milliseconds{100};
    chamber.wall += std::chrono::milliseconds{100};
    static_cast<void>(chamber.site->tick(chamber.now, chamber.wall));
  }
  const auto figures = chamber.figures("heater");
  EXPECT_NEAR(figures.observed_s - before_s, 5.0, 1e-9);
  EXPECT_EQ(figures.refused, 0);
}

TEST(TheReportOfALoop, FollowsAStepOfTheSetPoint) {
  auto text = std::string{rig_test::chamber};
  const auto rate = text.find(", per_hour = \"3 K\" }, { at = \"22:00\"");
  text.erase(rate, std::string_view{", per_hour = \"3 K\""}.size());
  const auto back = text.find(", per_hour = \"3 K\" }]");
  text.erase(back, std::string_view{", per_hour = \"3 K\""}.size());
  Chamber chamber{text};
  const WallTime ten = WallTime{std::chrono::sys_days{std::chrono::year{2026} / 3 / 1}} + hours{22};
  chamber.now += ten - chamber.wall - seconds{30};
  chamber.wall = ten - seconds{30};
  chamber.run(seconds{60});
  EXPECT_NEAR(chamber.figures("heater").step->size, -6.0, 1e-9) << "from 24 °C to 18 °C";
  EXPECT_TRUE(chamber.figures("heater").step->under_way);
  for (int i = 0; i <= 600; ++i) {
    chamber.set(24.0 - 0.01 * i);
    chamber.second();
  }
  chamber.run(minutes{1});
  EXPECT_NEAR(*chamber.figures("heater").step->rise_s, 480.0, 0.01) << "80 % of 6 K at 0.01 K a second";
  EXPECT_NEAR(chamber.figures("heater").step->overshoot, 0.0, 1e-9);
}

TEST(TheReportOfALoop, IsBegunAnewByAPerson) {
  Chamber chamber;
  chamber.run(minutes{10});
  const auto began = chamber.wall;
  chamber.begin_report();
  chamber.run(minutes{1});
  const auto report = chamber.report("heater");
  EXPECT_EQ(report.by, "R. Okafor");
  EXPECT_EQ(report.since, began);
  EXPECT_NEAR(report.figures.observed_s, 59.0, 1.0);
}

TEST(TheReportOfALoop, GoesOnOverAReloadUnlessItsControllerChanged) {
  Chamber chamber;
  chamber.run(minutes{10});
  chamber.reload(rig_test::chamber);
  chamber.run(minutes{1});
  EXPECT_NEAR(chamber.figures("heater").observed_s, 660.0, 2.0);
  auto text = std::string{rig_test::chamber};
  text.insert(text.find("output = \"heater\"\n"), "proportional_band = \"3 K\"\n");
  chamber.reload(text);
  chamber.run(minutes{1});
  EXPECT_NEAR(chamber.figures("heater").observed_s, 60.0, 2.0);
}

TEST(TheReportOfALoop, HoldsAgainstValuesOfItsKind) {
  const auto settings = rig_test::settings_of(rig_test::chamber);
  for (const auto& loop : settings.rooms[0].loops) {
    SCOPED_TRACE(loop.name);
    const auto held_against = report_settings_of(loop);
    EXPECT_DOUBLE_EQ(held_against.band, loop.holds == control::ProcessValue::humidity ? 0.03 : 0.5);
    EXPECT_EQ(held_against.switched, loop.method == config::LoopMethod::on_off);
    EXPECT_EQ(held_against.idle.raises, loop.name != "cold");
    EXPECT_EQ(held_against.oscillation.period_s > 0.0, !held_against.switched);
  }
}

} // namespace oxherd::daemon::performance_test
