// pear-store-2 in a closed loop: sealed, purged by a person's start, scrubbed, aired and cooled.
#include <gtest/gtest.h>

#include "control/aids/dilution.hpp"
#include "tests/simulation/controlled_site.hpp"

namespace oxherd::simulation::control_store_test {

using namespace std::chrono_literals;
using alarms::Regime;
using alarms::State;
using control::ActuatorAct;
using demo::Actuator;

ControlledSite::Options store(std::string story = {}) {
  return {.room = "pear-store-2", .every = 30s, .beat = 30s, .story = std::move(story)};
}

/// The store as demo/site_facts.cpp builds it: 130 m3, 40 m3/h of 0.5 % oxygen, a leak, and fruit that breathes.
control::Dilution dilution_of(const ControlledSite& store) {
  const auto air = store.truth().air();
  const auto& facts = store.truth().facts();
  return {.volume_m3 = 130.0,
          .supply_m3_s = 40.0 / 3600.0,
          .supply_fraction = 0.005,
          .leak_m3_s = facts.air_changes_per_h * 130.0 / 3600.0,
          .outdoor_fraction = demo::outdoor_oxygen,
          .source_m3_s = -control::volume_flow_m3_s({facts.fruit_mol_per_s, air.temperature.si(), air.pressure.si()})};
}

/// How far the cell may be from the air at 2 %: three sigmas of its scatter, and half of that for its probes' errors.
constexpr double cell_error = 1.5 * 3 * demo::cell_noise_mV / 12.15 * demo::outdoor_oxygen;

TEST(PearStore, IsLoadedSealedAndPulledDownInTheTimeThatTheDilutionEquationSays) {
  ControlledSite pears{store()};
  pears.run(1min);
  ASSERT_EQ(pears.set_regime(Regime::ventilated_before_entry), "");
  pears.run(1min);
  EXPECT_EQ(pears.state("low-oxygen"), State::unacknowledged) << "2 % where people may come in";
  EXPECT_TRUE(pears.plant().fresh_air_open);
  pears.happen("door pear-store-2 1");
  pears.run(1h); // twelve changes of its air
  pears.happen("people pear-store-2 2");
  pears.run(30min);
  pears.happen("people pear-store-2 0");
  pears.happen("door pear-store-2 0");
  pears.run(10s);
  EXPECT_GT(pears.oxygen(), 0.209);
  pears.acknowledge_and_reset_alarms();
  ASSERT_NE(pears.order("pear-nitrogen", ActuatorAct::start), "") << "nobody has sealed it";
  ASSERT_EQ(pears.set_regime(Regime::sealed_low_oxygen), "");
  pears.run(2min);
  EXPECT_FALSE(pears.plant().purge_open) << "sealing starts nothing";

  ASSERT_EQ(pears.order("pear-nitrogen", ActuatorAct::start), "");
  pears.run_until([&] { return pears.plant().purge_open; }, 1min);
  ASSERT_TRUE(pears.plant().purge_open) << pears.because("pear-nitrogen");
  const double from = pears.oxygen(), began_s = pears.seconds();
  double most_vapour = 0.0;
  pears.run_until(
      [&] {
        most_vapour = std::max(most_vapour, pears.truth().air().vapour_fraction);
        return pears.oxygen() <= 0.022;
      },
      18h);
  const double took_s = pears.seconds() - began_s;
  const double expected_s = control::time_to_reach_s(dilution_of(pears), {from, 0.022}).value();
  // The equation knows no water: dry nitrogen need only displace what is dry in the room.
  EXPECT_LE(took_s, expected_s + 30.0) << "one beat";
  EXPECT_GE(took_s, (1.0 - most_vapour) * expected_s - 30.0);

  pears.run_until([&] { return !pears.plant().purge_open; }, 3h);
  EXPECT_NEAR(pears.oxygen(), 0.02, cell_error) << "it stops at its set-point";
  EXPECT_EQ(pears.events_of("pear-nitrogen"), "start-refused start") << pears.because("pear-nitrogen");
  EXPECT_EQ(pears.starts(Actuator::purge_valve), 1) << "it went through without a break";
}

/// A day on which the store leaks five times as much as usual, and carbon dioxide, later nitrogen get in.
constexpr const char* eventful = R"(
00:00:00 ventilation pear-store-2 0.006
01:00:00 dosing pear-store-2 5
01:30:00 dosing pear-store-2 0
14:00:00 leak pear-store-2 60
16:00:00 leak pear-store-2 0
)";

TEST(PearStore, KeepsItsGasAndItsColdForADay) {
  ControlledSite pears{store(eventful)};
  pears.run(10s);
  pears.seal();
  pears.run(1min);
  ASSERT_EQ(pears.order("pear-nitrogen", ActuatorAct::start), "");
  ASSERT_EQ(pears.order("pear-scrubber", ActuatorAct::start), "");
  Span oxygen, carbon_dioxide, temperature, pressure;
  pears.run(24h, [&] {
    const double h = pears.seconds() / 3600.0;
    oxygen.take(pears.oxygen());
    // Carbon dioxide gets in at 1 h; it is scrubbed at 12/130 of it an hour: 3.3 h for the way from 2.7 % to 2 %.
    if (h < 1.0 || h > 1.5 + 3.5) carbon_dioxide.take(pears.carbon_dioxide());
    temperature.take(pears.temperature_C());
    pressure.take(pears.truth().over_pressure_Pa());
  });
  // The purge comes from 2.2 % on and goes at 2 %, fresh air from 1.3 % on until 1.5 %.
  EXPECT_GT(oxygen.least, 0.013 - cell_error);
  EXPECT_LT(oxygen.most, 0.022 + cell_error);
  // From 2.2 % on of what the probe tells: within 1 %, and 0.8 % of water less.
  EXPECT_LT(carbon_dioxide.most, 0.022 / (0.99 * 0.992));
  EXPECT_LT(pressure.most, 250.0);
  EXPECT_GT(pears.starts(Actuator::purge_valve), 2);
  EXPECT_GE(pears.starts(Actuator::fresh_air_valve), 1);
  EXPECT_GE(pears.starts(Actuator::scrubber), 1);
  // Cold: on at 1.5 °C, off at 1 °C, 60 s of dead time, 60 s of probe, poll and beat later, by 11 K up or 9 K down of
  // 7200 s.
  const double probe_error_K = 0.15 + 0.05 + 3 * 0.02;
  EXPECT_GT(temperature.least, 1.0 - probe_error_K - 180 * 9.0 / 7200);
  EXPECT_LT(temperature.most, 1.5 + probe_error_K + 180 * 11.0 / 7200);
  const auto cold = shortest_times(pears.switchings(Actuator::chiller));
  EXPECT_GE(cold.on_s, 180.0);
  EXPECT_GE(cold.off_s, 300.0);
  EXPECT_LE(most_starts_within_an_hour(pears.switchings(Actuator::chiller)), 6);
  EXPECT_EQ(pears.events_of("pear-nitrogen"), "start");
  EXPECT_EQ(pears.events_of("pear-scrubber"), "start");
}

TEST(PearStore, LosesNoOxygenToAPurgeThatNobodyHasStarted) {
  ControlledSite pears{store("00:10:00 ventilation pear-store-2 1\n00:15:00 ventilation pear-store-2 0.0012\n")};
  pears.run(10s);
  pears.seal();
  pears.run(1h);
  EXPECT_GT(pears.oxygen(), 0.03);
  EXPECT_EQ(pears.starts(Actuator::purge_valve), 0);
  EXPECT_TRUE(pears.is_blocked("pear-nitrogen", control::Condition::started_by_person));
}

TEST(PearStore, IsStoppedWhenTheNitrogenDoesNotComeThrough) {
  // As much air gets in as keeps it at 5 %: 40 m3/h of nitrogen, and 11.3 m3/h of air.
  ControlledSite pears{store("00:10:00 ventilation pear-store-2 3\n00:13:30 ventilation pear-store-2 0.087\n")};
  pears.run(10s);
  pears.seal();
  pears.run(20min);
  ASSERT_EQ(pears.order("pear-nitrogen", ActuatorAct::start), "");
  pears.run_until([&] { return pears.plant().purge_open; }, 1min);
  const double stopped_s = pears.run_until([&] { return !pears.plant().purge_open; }, 18h);
  EXPECT_GT(stopped_s, 600.0) << "not before the dead time";
  EXPECT_LT(stopped_s, 2 * 3600.0);
  EXPECT_NE(pears.because("pear-nitrogen").find("look for a leak"), std::string::npos)
      << pears.because("pear-nitrogen");
  pears.run(10s);
  EXPECT_EQ(pears.state("control-tripped"), State::unacknowledged);
}

} // namespace oxherd::simulation::control_store_test
