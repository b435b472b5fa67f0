// A purge from the order to the valve: what it needs, what ends it, and that nothing brings it back by itself.
#include <cmath>

#include <gtest/gtest.h>

#include "tests/daemon/control/rig.hpp"

namespace oxherd::daemon::purge_test {

using alarms::Regime;
using alarms::State;
using control::ActuatorAct;
using rig_test::Rig;
using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

/// The store at 5 % with everything well, sealed by a person, monitored, and its purge started.
struct Purging : Rig {
  explicit Purging(std::string_view text = rig_test::pear_store) : Rig{text} {
    values["cell/oxygen"] = 0.05;
    run(seconds{5});
    EXPECT_EQ(set_regime(Regime::ventilated_before_entry), "");
    EXPECT_EQ(set_regime(Regime::sealed_low_oxygen), "");
    run(seconds{35}); // the least off-time
    EXPECT_EQ(order("nitrogen", ActuatorAct::start), "");
    second();
    EXPECT_TRUE(on("nitrogen")) << actuator("nitrogen").because;
  }
};

TEST(Purge, NeedsAPersonWhoSealsAndAPersonWhoStarts) {
  Rig store{rig_test::pear_store};
  store.values["cell/oxygen"] = 0.05;
  store.run(minutes{2});
  EXPECT_FALSE(store.on("nitrogen"));
  EXPECT_NE(store.order("nitrogen", ActuatorAct::start), "") << "the file alone has seen nobody leave";
  EXPECT_EQ(store.set_regime(Regime::ventilated_before_entry), "");
  EXPECT_EQ(store.set_regime(Regime::sealed_low_oxygen), "");
  store.run(minutes{1});
  EXPECT_FALSE(store.on("nitrogen")) << "sealing starts nothing";
  EXPECT_EQ(store.order("nitrogen", ActuatorAct::start), "");
  store.second();
  EXPECT_TRUE(store.on("nitrogen"));
}

TEST(Purge, StopsAtItsSetPointAndGoesOnWhenOxygenRises) {
  Purging store;
  for (const double oxygen : {0.04, 0.03, 0.0201}) {
    store.values["cell/oxygen"] = oxygen;
    store.run(minutes{1});
    EXPECT_TRUE(store.on("nitrogen")) << oxygen << ' ' << store.actuator("nitrogen").because;
  }
  store.values["cell/oxygen"] = 0.0195;
  store.run(minutes{1});
  EXPECT_FALSE(store.on("nitrogen"));
  store.values["cell/oxygen"] = 0.0225;
  store.run(minutes{1});
  EXPECT_TRUE(store.on("nitrogen"));
  EXPECT_EQ(store.events_of("actuator/nitrogen"), "start");
}

/// What goes wrong, one thing at a time. The sensor is polled once: that is the cycle within which the valve is shut.
struct Fault {
  const char* name;
  const char* sensor;
  void (*inject)(Rig&);
  const char* condition;
};
const Fault faults[] = {
    {"the door opens", "door", [](Rig& rig) { rig.values["door/door"] = 1.0; }, "door-closed"},
    {"the door contact is lost", "door", [](Rig& rig) { rig.silent.insert("door"); }, "door-closed"},
    {"people are in", "people", [](Rig& rig) { rig.values["people/occupancy"] = 1.0; }, "nobody-in"},
    {"the occupancy contact is lost", "people", [](Rig& rig) { rig.silent.insert("people"); }, "nobody-in"},
    {"the cell is lost", "cell", [](Rig& rig) { rig.silent.insert("cell"); }, "oxygen-measured"},
    {"the room's pressure is lost", "draught", [](Rig& rig) { rig.silent.insert("draught"); },
     "over-pressure-measured"},
    {"the room's pressure is too high", "draught", [](Rig& rig) { rig.values["draught/over-pressure"] = 260.0; },
     "over-pressure-within"},
    {"the relief valve is isolated", "relief", [](Rig& rig) { rig.values["relief/relief-valve"] = 1.0; },
     "relief-free"},
    {"the relief valve's contact is lost", "relief", [](Rig& rig) { rig.silent.insert("relief"); }, "relief-free"}};

TEST(Purge, IsShutWithinOneCycleOfAnyFaultOfItsInputsAndAlarmed) {
  for (const auto& fault : faults) {
    SCOPED_TRACE(fault.name);
    Purging store;
    fault.inject(store);
    store.poll(fault.sensor);
    EXPECT_FALSE(store.on("nitrogen"));
    EXPECT_TRUE(store.blocked_by("nitrogen", fault.condition));
    store.run(seconds{6}); // what does not answer is lost after 5 s
    EXPECT_FALSE(store.on("nitrogen"));
    const auto events = store.events_of("actuator/nitrogen");
    EXPECT_TRUE(events == "start tripped run-ended" || events == "start blocked tripped run-ended") << events;
    EXPECT_EQ(store.state("control-tripped"), State::unacknowledged);
  }
}

TEST(Purge, DoesNotComeBackByItselfWhenTheFaultIsGone) {
  for (const auto& fault : faults) {
    SCOPED_TRACE(fault.name);
    Purging store;
    const auto sound = store.values;
    fault.inject(store);
    store.run(seconds{7});
    store.values = sound;
    store.silent.clear();
    store.run(minutes{10});
    EXPECT_FALSE(store.on("nitrogen"));
  }
}

TEST(Purge, IsShutByASingleMissingAnswerAndGoesOnByItself) {
  Purging store;
  store.silent.insert("people");
  store.second();
  EXPECT_FALSE(store.on("nitrogen"));
  store.silent.clear();
  store.run(minutes{1});
  EXPECT_TRUE(store.on("nitrogen"));
  EXPECT_EQ(store.events_of("actuator/nitrogen"), "start blocked free-again");
}

TEST(Purge, IsShutWhenItsDeviceDoesNotHoldWhatItWasTold) {
  Purging store;
  store.unconfirmed["nitrogen"] = true;
  store.second();
  EXPECT_FALSE(store.on("nitrogen"));
  EXPECT_TRUE(store.blocked_by("nitrogen", "device-holds"));
  store.run(seconds{3});
  EXPECT_EQ(store.state("control-tripped"), State::unacknowledged);
  EXPECT_EQ(store.state("output-lost"), State::unacknowledged);
}

TEST(Purge, IsShutWhenTheEntryLockIsFree) {
  Purging store;
  // Nobody can free the lock of a sealed room by right; the condition holds all the same.
  EXPECT_FALSE(store.blocked_by("nitrogen", "entry-withheld"));
  EXPECT_EQ(store.set_regime(Regime::ventilated_before_entry), "");
  store.second();
  EXPECT_FALSE(store.on("nitrogen"));
  EXPECT_TRUE(store.blocked_by("nitrogen", "sealed"));
}

TEST(Purge, IsShutByASafetyAlarmWhateverItsLoopWants) {
  Purging store;
  store.values["door/door"] = 1.0; // the alarms of people are in force from now on, and 5 % is below all limits
  store.run(seconds{10});
  EXPECT_EQ(store.state("very-low-oxygen"), State::unacknowledged);
  EXPECT_TRUE(store.blocked_by("nitrogen", "no-safety-alarm"));
  EXPECT_TRUE(store.on("fresh-air")) << "the vent opens";
}

TEST(Purge, NeedsTheRoomToBeSealedAnewAfterPeopleWereSeen) {
  Purging store;
  store.values["people/occupancy"] = 1.0;
  store.run(seconds{10});
  EXPECT_EQ(store.state("very-low-oxygen"), State::unacknowledged) << "5 %, and somebody is in";
  EXPECT_TRUE(store.on("fresh-air"));
  store.values["people/occupancy"] = 0.0;
  store.run(minutes{1});
  EXPECT_TRUE(store.blocked_by("nitrogen", "sealed"));
  EXPECT_NE(store.order("nitrogen", ActuatorAct::start), "");
  store.restart();
  store.second();
  EXPECT_TRUE(store.blocked_by("nitrogen", "sealed")) << "it stays so over a restart";
}

/// A sixtieth of the hours: sixty times the flow, and no dead time.
std::string hurried() {
  std::string text{rig_test::pear_store};
  text.replace(text.find("flow = \"40 m3/h\""), 16, "flow = \"2400 m3/h\"\ndead_time = \"20 s\"");
  return text;
}

TEST(Purge, IsStoppedWhenOxygenDoesNotFallAsItShould) {
  Purging store{hurried()};
  int s = 0;
  for (; s < 600 && store.on("nitrogen"); ++s) store.second(); // 5 % it stays
  EXPECT_FALSE(store.on("nitrogen"));
  EXPECT_GT(s, 20) << "not before the dead time";
  EXPECT_LT(s, 240);
  EXPECT_TRUE(store.blocked_by("nitrogen", "oxygen-falls"));
}

TEST(Purge, GoesOnWhileOxygenFallsAsTheDilutionEquationSays) {
  Purging store{hurried()};
  // 200 m3, 2400 m3/h with 0.5 %: from 5 % to 2 % in t = V/Q ln((5 - 0.5)/(2 - 0.5)) = 329.6 s.
  const double per_s = 2400.0 / 200.0 / 3600.0;
  double oxygen = 0.05;
  int s = 0;
  for (; s < 600 && store.on("nitrogen"); ++s) {
    oxygen = 0.005 + (oxygen - 0.005) * std::exp(-per_s);
    store.values["cell/oxygen"] = oxygen;
    store.second();
  }
  EXPECT_EQ(store.events_of("actuator/nitrogen"), "start") << store.actuator("nitrogen").because;
  EXPECT_NEAR(s, 329.6, 2.0);
}

TEST(Purge, EndsWithTheProgramAndIsNotStartedByTheNextOne) {
  Purging store;
  store.restart();
  store.run(minutes{5});
  EXPECT_FALSE(store.on("nitrogen"));
  EXPECT_EQ(store.events_of("actuator/nitrogen"), "start run-ended");
  EXPECT_EQ(store.actuator("nitrogen").because, "nobody has started it");
}

TEST(Purge, ThatTrippedWaitsForAPersonOverARestart) {
  Purging store;
  store.values["relief/relief-valve"] = 1.0;
  store.run(seconds{3});
  store.values["relief/relief-valve"] = 0.0;
  store.restart();
  store.run(minutes{1});
  EXPECT_NE(store.order("nitrogen", ActuatorAct::start), "");
  EXPECT_EQ(store.order("nitrogen", ActuatorAct::release), "");
  store.run(minutes{1});
  EXPECT_FALSE(store.on("nitrogen")) << "a release starts nothing";
  EXPECT_EQ(store.order("nitrogen", ActuatorAct::start), "");
  store.second();
  EXPECT_TRUE(store.on("nitrogen"));
}

TEST(Purge, GoesOnOverAReloadThatLeavesItAsItWas) {
  Purging store;
  store.reload(rig_test::pear_store);
  store.second();
  EXPECT_TRUE(store.on("nitrogen"));
  EXPECT_EQ(store.events_of("actuator/nitrogen"), "start");
}

TEST(Purge, IsShutByAReloadThatChangesIt) {
  Purging store;
  std::string changed{rig_test::pear_store};
  changed.replace(changed.find("40 m3/h"), 7, "60 m3/h");
  store.reload(changed);
  store.run(minutes{2});
  EXPECT_FALSE(store.on("nitrogen"));
  EXPECT_EQ(store.events_of("actuator/nitrogen"), "start run-ended");
}

TEST(Purge, IsEndedByAPerson) {
  Purging store;
  store.run(minutes{1});
  EXPECT_EQ(store.order("nitrogen", ActuatorAct::end), "");
  store.second();
  EXPECT_FALSE(store.on("nitrogen"));
  EXPECT_EQ(store.state("control-tripped"), State::normal);
}

TEST(Purge, IsNotWorkedByHandPastAnInterlock) {
  Purging store;
  store.values["people/occupancy"] = 1.0;
  store.run(seconds{2});
  const auto refusal = store.order("nitrogen", ActuatorAct::hold);
  EXPECT_NE(refusal.find("people are in the room"), std::string::npos) << refusal;
  EXPECT_EQ(store.events_of("actuator/nitrogen"), "start tripped run-ended hold-refused");
}

TEST(FreshAir, OpensInASealedStoreOnceItsDoorDoesAndIsShutBefore) {
  Purging store;
  EXPECT_FALSE(store.on("fresh-air"));
  store.values["door/door"] = 1.0;
  store.run(seconds{10});
  EXPECT_TRUE(store.on("fresh-air"));
}

TEST(FreshAir, StaysShutInASealedStoreThatIsNotMonitored) {
  Purging store;
  store.silent.insert("cell");
  store.run(minutes{2});
  EXPECT_FALSE(store.on("fresh-air"));
}

TEST(Scrubber, StopsWhenItsGasIsNotMeasuredAndWaitsForAPerson) {
  Purging store;
  store.values["gas/carbon-dioxide"] = 0.03;
  store.run(minutes{1});
  EXPECT_EQ(store.order("scrubber", ActuatorAct::start), "");
  store.run(seconds{2});
  EXPECT_TRUE(store.on("scrubber"));
  store.silent.insert("gas");
  store.poll("gas");
  EXPECT_FALSE(store.on("scrubber"));
  store.run(seconds{7});
  store.silent.clear();
  store.run(minutes{5});
  EXPECT_FALSE(store.on("scrubber"));
}

} // namespace oxherd::daemon::purge_test
