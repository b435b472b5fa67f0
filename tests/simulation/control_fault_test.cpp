// Whatever fails while a gas is let in: its valve is truly shut one poll and one evaluation later, somebody is told,
// and it does not come back by itself.
#include <gtest/gtest.h>

#include "tests/simulation/controlled_site.hpp"

namespace oxherd::simulation::control_fault_test {

using namespace std::chrono_literals;
using alarms::State;
using control::ActuatorAct;
using demo::Actuator;

constexpr auto cycle = 1s;

struct Fault {
  const char* what;
  const char* order;
  const char* repair;
  const char* alarm;     ///< that tells of it
  double alarm_within_s; ///< age of the last answer (5 s), on-delay, one cycle
};

void stays_shut(ControlledSite& room, const Fault& fault, Actuator valve, bool is_open_by(const demo::PlantState&)) {
  SCOPED_TRACE(fault.what);
  room.happen(fault.order);
  const double open_s = room.run_until([&] { return !is_open_by(room.plant()); }, 1min);
  EXPECT_LE(open_s, std::chrono::duration<double>(cycle).count()) << "one poll and one evaluation";
  const double told_s = room.run_until([&] { return room.state(fault.alarm) == State::unacknowledged; }, 2min);
  EXPECT_LE(told_s, fault.alarm_within_s);
  const int starts = room.starts(valve);
  room.run(2min);
  EXPECT_EQ(room.starts(valve), starts);
}

/// Air has got into the store; it is sealed again and purged.
struct Purged : ControlledSite {
  Purged() : ControlledSite{{.room = "pear-store-2", .every = cycle, .beat = cycle}} {
    happen("ventilation pear-store-2 12");
    run(1min);
    happen("ventilation pear-store-2 0.0012");
    seal();
    run(35s); // its least off-time
    EXPECT_EQ(order("pear-nitrogen", ActuatorAct::start), "");
    run(1min);
    EXPECT_TRUE(plant().purge_open) << because("pear-nitrogen");
  }
};

const Fault purge_faults[] = {
    {"the door opens", "door pear-store-2 1", "door pear-store-2 0", "control-tripped", 2},
    {"the door contact breaks", "fault pear-store-2/door disconnected", "fault pear-store-2/door none",
     "control-tripped", 2},
    {"the door contact is silent", "fault pear-store-2/door silent", "fault pear-store-2/door none", "control-tripped",
     7},
    {"somebody is in", "people pear-store-2 1", "people pear-store-2 0", "control-tripped", 2},
    {"the cell is silent", "fault pear-store-2/cell silent", "fault pear-store-2/cell none", "control-tripped", 7},
    {"the cell is unplugged", "fault pear-store-2/cell disconnected", "fault pear-store-2/cell none", "control-tripped",
     2},
    {"the cell is dead", "fault pear-store-2/cell dead", "fault pear-store-2/cell none", "control-tripped", 2},
    {"the relief valve is isolated", "relief-isolated pear-store-2 1", "relief-isolated pear-store-2 0",
     "control-tripped", 2},
    {"the probe of its pressure is silent", "fault pear-store-2/over-pressure silent",
     "fault pear-store-2/over-pressure none", "control-tripped", 7}};

class FaultOfAPurge : public ::testing::TestWithParam<Fault> {};

TEST_P(FaultOfAPurge, ShutsTheValveIsToldAndEndsTheRun) {
  Purged pears;
  stays_shut(pears, GetParam(), Actuator::purge_valve, [](const demo::PlantState& plant) { return plant.purge_open; });
  pears.happen(GetParam().repair);
  pears.run(1min);
  EXPECT_FALSE(pears.plant().purge_open) << "no repair lets gas in";
  EXPECT_NE(pears.order("pear-nitrogen", ActuatorAct::start), "") << "what tripped waits to be released";
}
INSTANTIATE_TEST_SUITE_P(All, FaultOfAPurge, ::testing::ValuesIn(purge_faults),
                         [](const auto& of) { return std::to_string(of.index); });

TEST(StuckModule, OfAPurgeIsToldAndEndsTheRunThoughItsValveStaysOpen) {
  Purged pears;
  pears.happen("fault plant-2 stuck");
  EXPECT_EQ(pears.order("pear-nitrogen", ActuatorAct::end), "");
  const double told_s = pears.run_until([&] { return pears.state("output-lost") == State::unacknowledged; }, 1min);
  EXPECT_LE(told_s, 5.0);
  EXPECT_TRUE(pears.plant().purge_open) << "nothing that is written to it can shut it";
  EXPECT_EQ(pears.driven("pear-nitrogen"), 0.0);
  EXPECT_TRUE(pears.is_blocked("pear-nitrogen", control::Condition::device_holds));
  EXPECT_NE(pears.order("pear-nitrogen", ActuatorAct::start), "");
  pears.happen("fault plant-2 none");
  pears.run(5s);
  EXPECT_FALSE(pears.plant().purge_open) << "it is written again and again";
}

TEST(SilentModule, OfAPurgeDropsItsValveByItsOwnTimeOut) {
  Purged pears;
  pears.happen("fault plant-2 silent");
  const double shut_s = pears.run_until([&] { return !pears.plant().purge_open; }, 1min);
  EXPECT_LE(shut_s, 11.0) << "the watchdog of the module, 10 s";
  EXPECT_EQ(pears.driven("pear-nitrogen"), 0.0);
  pears.run(10s);
  EXPECT_EQ(pears.state("output-lost"), State::unacknowledged);
  EXPECT_EQ(pears.state("control-tripped"), State::unacknowledged);
}

/// The bay in the midst of a pulse.
struct Dosed : ControlledSite {
  Dosed() : ControlledSite{{.room = "bay-3", .every = cycle, .beat = cycle}} {
    run_until([&] { return plant().carbon_dioxide_open; }, 30min);
    EXPECT_TRUE(plant().carbon_dioxide_open) << because("bay-co2");
  }
};

const Fault dosing_faults[] = {
    {"the probe of the gas is silent", "fault bay-3/co2 silent", "fault bay-3/co2 none", "not-monitored", 17},
    {"the cell is silent", "fault bay-3/cell silent", "fault bay-3/cell none", "not-monitored", 17},
    {"the cell is unplugged", "fault bay-3/cell disconnected", "fault bay-3/cell none", "not-monitored", 12},
};

class FaultOfADosing : public ::testing::TestWithParam<Fault> {};

TEST_P(FaultOfADosing, ShutsTheValveIsToldAndOpensTheVents) {
  Dosed bay;
  stays_shut(bay, GetParam(), Actuator::carbon_dioxide_valve,
             [](const demo::PlantState& plant) { return plant.carbon_dioxide_open; });
  EXPECT_TRUE(bay.plant().vents_open) << "it is not monitored";
}
INSTANTIATE_TEST_SUITE_P(All, FaultOfADosing, ::testing::ValuesIn(dosing_faults),
                         [](const auto& of) { return std::to_string(of.index); });

TEST(Dosing, IsShutInTheMidstOfAPulseByPeopleAndByAFanThatStands) {
  for (const char* what : {"people bay-3 1", "fault bay-3/air-flow disconnected", "fault bay-3/lights disconnected"}) {
    SCOPED_TRACE(what);
    Dosed bay;
    bay.happen(what);
    bay.beat();
    EXPECT_FALSE(bay.plant().carbon_dioxide_open);
    const int starts = bay.starts(Actuator::carbon_dioxide_valve);
    bay.run(10min);
    EXPECT_EQ(bay.starts(Actuator::carbon_dioxide_valve), starts);
  }
}

TEST(Dosing, DoesNotComeBackByAcknowledgingAnAlarmThatCameBetweenTwoPulses) {
  Dosed bay;
  bay.run_until([&] { return !bay.plant().carbon_dioxide_open; }, 1min);
  bay.happen("gas bay-3/cell 17"); // low oxygen
  bay.run(50s);
  EXPECT_EQ(bay.state("low-oxygen"), State::unacknowledged);
  EXPECT_EQ(bay.state("control-tripped"), State::unacknowledged);
  bay.happen("no-gas bay-3/cell");
  bay.run(2min);
  bay.acknowledge_and_reset_alarms();
  const int starts = bay.starts(Actuator::carbon_dioxide_valve);
  bay.run(5min);
  EXPECT_EQ(bay.state("low-oxygen"), State::normal);
  EXPECT_EQ(bay.starts(Actuator::carbon_dioxide_valve), starts) << "no reset of an alarm may start a gas";
  ASSERT_EQ(bay.order("bay-co2", ActuatorAct::release), "");
  bay.run(5min);
  EXPECT_GT(bay.starts(Actuator::carbon_dioxide_valve), starts);
}

TEST(StuckModule, OfADosingIsToldAndEndsThePulsesThoughItsValveStaysOpen) {
  Dosed bay;
  bay.happen("fault plant-1 stuck");
  const double told_s = bay.run_until([&] { return bay.state("output-lost") == State::unacknowledged; }, 1min);
  EXPECT_LE(told_s, 5.0 + 5.0) << "the pulse's own end, and then what the module holds is seen";
  EXPECT_TRUE(bay.plant().carbon_dioxide_open);
  EXPECT_EQ(bay.driven("bay-co2"), 0.0);
  EXPECT_TRUE(bay.is_blocked("bay-co2", control::Condition::device_holds));
  EXPECT_EQ(bay.state("control-tripped"), State::unacknowledged);
  // 12 m3/h into 900 m3: what the daemon cannot stop it warns of.
  bay.run_until([&] { return bay.state("high-co2") != State::normal; }, 1h);
  EXPECT_GT(bay.carbon_dioxide(), 0.0045);
  EXPECT_LT(bay.carbon_dioxide(), 0.0052);
  bay.happen("fault plant-1 none");
  bay.run(3s);
  EXPECT_FALSE(bay.plant().carbon_dioxide_open);
  EXPECT_TRUE(bay.plant().vents_open) << "a safety alarm stands";
  const int starts = bay.starts(Actuator::carbon_dioxide_valve);
  bay.run_until([&] { return bay.carbon_dioxide() < 0.0008; }, 2h);
  bay.run(10min);
  EXPECT_EQ(bay.starts(Actuator::carbon_dioxide_valve), starts) << "nobody has looked";
}

} // namespace oxherd::simulation::control_fault_test
