// Dosing of carbon dioxide in a bay, its vents and its fan.
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "tests/daemon/control/rig.hpp"

namespace oxherd::daemon::dosing_test {

using alarms::State;
using control::ActuatorAct;
using rig_test::Rig;
using std::chrono::minutes;
using std::chrono::seconds;

/// By day, 600 ppm, 22 °C: it is dosed.
struct Dosed : Rig {
  Dosed() : Rig{rig_test::bay} {
    values["cell/oxygen"] = 0.2095;
    values["gas/carbon-dioxide"] = 600e-6;
    values["air/temperature"] = 295.15;
    values["air/humidity"] = 0.6;
    run(seconds{65}); // the vents are open at first, for a minute at least
  }
  /// Until the valve has just opened.
  void wait_for_pulse() {
    for (int i = 0; i < 300 && !on("dosing"); ++i) second();
    EXPECT_TRUE(on("dosing")) << actuator("dosing").because;
  }
};

TEST(Dosing, IsGivenInPulsesWithTimeToMixBetweenThem) {
  Dosed bay;
  bay.wait_for_pulse();
  int on = 0, off = 0;
  while (bay.on("dosing")) {
    bay.second();
    ++on;
  }
  while (!bay.on("dosing")) {
    bay.second();
    ++off;
  }
  EXPECT_LE(on, 5) << "the longest pulse (common practice)";
  EXPECT_GE(off, 60) << "time to mix (common practice)";
}

TEST(Dosing, StopsAtItsSetPoint) {
  Dosed bay;
  bay.values["gas/carbon-dioxide"] = 905e-6;
  bay.run(minutes{10});
  EXPECT_FALSE(bay.on("dosing"));
}

struct Fault {
  const char* name;
  const char* sensor;
  void (*inject)(Rig&);
  const char* condition;
};
const Fault faults[] = {
    {"the probe of the gas is lost", "gas", [](Rig& rig) { rig.silent.insert("gas"); }, "carbon-dioxide-measured"},
    {"the cell is lost", "cell", [](Rig& rig) { rig.silent.insert("cell"); }, "oxygen-measured"},
    {"there is too much of it", "gas", [](Rig& rig) { rig.values["gas/carbon-dioxide"] = 1500e-6; },
     "carbon-dioxide-below-ceiling"},
    {"the door opens", "door", [](Rig& rig) { rig.values["door/door"] = 1.0; }, "door-closed"},
    {"the door contact is lost", "door", [](Rig& rig) { rig.silent.insert("door"); }, "door-closed"},
    {"people are in", "people", [](Rig& rig) { rig.values["people/occupancy"] = 1.0; }, "nobody-in"},
    {"the occupancy contact is lost", "people", [](Rig& rig) { rig.silent.insert("people"); }, "nobody-in"},
    {"the lights go out", "lights", [](Rig& rig) { rig.values["lights/lights"] = 0.0; }, "lights-on"},
    {"the contact of the lights is lost", "lights", [](Rig& rig) { rig.silent.insert("lights"); }, "lights-on"}};

TEST(Dosing, IsShutWithinOneCycleOfAnyFaultOfItsInputsEvenInTheMidstOfAPulse) {
  for (const auto& fault : faults) {
    SCOPED_TRACE(fault.name);
    Dosed bay;
    bay.wait_for_pulse();
    fault.inject(bay);
    bay.poll(fault.sensor);
    EXPECT_FALSE(bay.on("dosing"));
    EXPECT_TRUE(bay.blocked_by("dosing", fault.condition));
  }
}

TEST(Dosing, IsShutWhileTheVentsAreOpenOrTheFanStands) {
  Dosed bay;
  bay.wait_for_pulse();
  EXPECT_EQ(bay.order("vents", ActuatorAct::hold), "");
  bay.second();
  EXPECT_FALSE(bay.on("dosing"));
  EXPECT_TRUE(bay.blocked_by("dosing", "vents-closed"));
  EXPECT_EQ(bay.order("vents", ActuatorAct::automatic), "");
  bay.run(minutes{3});
  bay.wait_for_pulse();
  EXPECT_EQ(bay.order("fan", ActuatorAct::hold, 0.0), "");
  bay.run(minutes{2}); // its least on-time
  EXPECT_FALSE(bay.on("dosing"));
  EXPECT_TRUE(bay.blocked_by("dosing", "air-circulates"));
}

TEST(AHeldOutput, SaysSinceWhenUntilWhenAndByWhom) {
  Dosed bay;
  bay.run(seconds{30});
  const auto ordered = bay.wall;
  ASSERT_EQ(bay.order("vents", ActuatorAct::hold, 1.0, minutes{30}), "");
  bay.run(seconds{90});
  const auto held = bay.actuator("vents").held.value();
  EXPECT_EQ(held.by, "R. Okafor");
  EXPECT_EQ(held.since, ordered);
  EXPECT_EQ(held.until, ordered + minutes{30});
}

TEST(Dosing, IsShutByASafetyAlarmThatOpensTheVentsAndWaitsForAPerson) {
  Dosed bay;
  bay.wait_for_pulse();
  bay.values["cell/oxygen"] = 0.17;
  bay.run(seconds{5});
  EXPECT_EQ(bay.state("low-oxygen"), State::unacknowledged);
  EXPECT_FALSE(bay.on("dosing"));
  EXPECT_TRUE(bay.on("vents"));
  bay.values["cell/oxygen"] = 0.2095;
  bay.run(minutes{5});
  EXPECT_TRUE(bay.on("vents")) << "until the alarm is normal again";
  for (const auto act : {alarms::Act::acknowledge, alarms::Act::reset})
    static_cast<void>(bay.site->act("bay-3", "low-oxygen", {act, "R. Okafor", "inspected", {}}, bay.now, bay.wall));
  bay.run(minutes{5});
  EXPECT_EQ(bay.state("low-oxygen"), State::normal);
  EXPECT_FALSE(bay.on("dosing")) << "no reset of an alarm may start a gas";
  EXPECT_EQ(bay.order("dosing", ActuatorAct::release), "");
  bay.wait_for_pulse();
}

TEST(Fan, MixesTheAirUnlessAPersonHoldsItStill) {
  Dosed bay;
  EXPECT_TRUE(bay.on("fan")) << bay.actuator("fan").because;
  EXPECT_EQ(bay.order("fan", ActuatorAct::hold, 0.0, minutes{10}), "");
  bay.run(minutes{2});
  EXPECT_FALSE(bay.on("fan"));
  bay.run(minutes{9});
  EXPECT_TRUE(bay.on("fan")) << bay.actuator("fan").because;
}

TEST(Vents, OpenWhenTheRoomIsNotMonitored) {
  Dosed bay;
  EXPECT_FALSE(bay.on("vents"));
  bay.silent.insert("cell");
  bay.run(seconds{7}); // lost after 5 s
  EXPECT_TRUE(bay.on("vents"));
}

TEST(Vents, OpenWithoutAnythingBeingMeasuredYet) {
  const Rig bay{rig_test::bay};
  EXPECT_TRUE(bay.on("vents"));
  EXPECT_FALSE(bay.on("dosing"));
}

// No sequence of orders and faults ever has the valve open against a condition for longer than one cycle.
RC_GTEST_PROP(Dosing, IsNeverOpenAgainstItsInterlockWhateverHappens, ()) {
  Dosed bay;
  const int steps = *rc::gen::inRange(1, 40);
  int seconds_low = 0;
  const auto toggle = [](double& value, double a, double b) { value = value == a ? b : a; };
  for (int i = 0; i < steps; ++i) {
    switch (*rc::gen::inRange(0, 12)) {
    case 0: toggle(bay.values["door/door"], 0.0, 1.0); break;
    case 1: toggle(bay.values["people/occupancy"], 0.0, 1.0); break;
    case 2: toggle(bay.values["lights/lights"], 0.0, 1.0); break;
    case 3: bay.values["gas/carbon-dioxide"] = *rc::gen::element(400e-6, 600e-6, 1600e-6, 6000e-6); break;
    case 4: bay.values["cell/oxygen"] = *rc::gen::element(0.2095, 0.17); break;
    case 5: bay.silent.insert(*rc::gen::element<std::string>("cell", "gas", "door", "people", "lights")); break;
    case 6: bay.silent.clear(); break;
    case 7: bay.unconfirmed[*rc::gen::element<std::string>("dosing", "vents", "fan")] = true; break;
    case 8: bay.unconfirmed.clear(); break;
    case 9:
      static_cast<void>(bay.order(*rc::gen::element<std::string>("dosing", "vents", "fan"),
                                  *rc::gen::element(ActuatorAct::hold, ActuatorAct::automatic, ActuatorAct::release),
                                  *rc::gen::element(0.0, 1.0), minutes{1}));
      break;
    case 10: bay.restart(); break;
    case 11: bay.reload(rig_test::bay); break;
    }
    const int cycles = *rc::gen::inRange(1, 20);
    for (int c = 0; c < cycles; ++c) {
      bay.second(); // one cycle: every sensor has answered
      seconds_low = bay.values["cell/oxygen"] < 0.195 ? seconds_low + 1 : 0;
      if (!bay.on("dosing")) continue;
      RC_ASSERT(bay.silent.empty());
      RC_ASSERT(bay.values["door/door"] == 0.0 && bay.values["people/occupancy"] == 0.0);
      RC_ASSERT(bay.values["lights/lights"] == 1.0);
      RC_ASSERT(bay.values["gas/carbon-dioxide"] < 1500e-6);
      RC_ASSERT(seconds_low <= 4); // the on-delay of the alarm, 3 s, and one cycle
      RC_ASSERT(!bay.on("vents") && bay.on("fan"));
      RC_ASSERT(bay.unconfirmed.empty());
    }
  }
}

} // namespace oxherd::daemon::dosing_test
