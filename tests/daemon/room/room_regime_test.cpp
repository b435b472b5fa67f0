// A store kept at low oxygen: its regimes, its door and the lock of its door, from polls to the journal.
#include <gtest/gtest.h>

#include "tests/daemon/room/annexe.hpp"

namespace oxherd::daemon::room_regime_test {

using namespace std::chrono_literals;
using alarms::Regime;
using alarms::State;
using annexe_test::Annexe;
using annexe_test::transitions;

// The fixture's air probe stands last.
constexpr std::size_t door_sensor = 1, people_sensor = 2;

config::Sensor contact(const std::string& name, config::Measurand measurand) {
  config::Sensor sensor;
  sensor.name = name;
  sensor.bus = "plant";
  sensor.map.points = {{.name = name}};
  sensor.points = {{measurand, 0.0}};
  return sensor;
}

/// One cell, a door, a contact that sees people, and a probe at 2 % oxygen, second by second.
struct Store : Annexe {
  bool door_open = false, door_answers = true;
  bool people_in = false, people_answer = true;
  bool has_door;

  explicit Store(bool with_door = true) : has_door{with_door} {
    auto& room = settings.rooms[0];
    room.regime = Regime::sealed_low_oxygen;
    room.sensors.insert(room.sensors.begin() + door_sensor, contact("people", config::Measurand::occupancy));
    if (has_door) room.sensors.insert(room.sensors.begin() + door_sensor, contact("door", config::Measurand::door));
    for (auto& alarm : room.alarms)
      if (alarm.name != "not-monitored") alarm.regimes = {Regime::occupied, Regime::ventilated_before_entry};
    config::AlarmSettings door;
    door.name = "door-open";
    door.quantity = config::AlarmQuantity::door;
    door.alarm.rule = alarms::DoorOpen{60s, 0s};
    door.alarm.annunciation.safety = door.alarm.annunciation.latching = false;
    door.regimes = {Regime::sealed_low_oxygen};
    room.alarms.push_back(door);
    room.entry_lock = alarms::EntryLock{};
    oxygen = 0.02;
    start();
  }

  Outcome run(int seconds) {
    Outcome all;
    const auto add = [&](Outcome o) {
      all.alarms.insert(all.alarms.end(), o.alarms.begin(), o.alarms.end());
      all.room_events.insert(all.room_events.end(), o.room_events.begin(), o.room_events.end());
    };
    for (int s = 0; s < seconds; ++s) {
      add(site->take(air_poll()));
      add(site->take(cell_poll(0, oxygen)));
      if (has_door) add(site->take(poll_of(door_sensor, door_open, door_answers)));
      add(site->take(poll_of(has_door ? people_sensor : people_sensor - 1, people_in, people_answer)));
      add(pass(1s));
    }
    return all;
  }

  Poll poll_of(std::size_t sensor, bool closed, bool answers) const {
    Poll poll;
    poll.sensor = {0, sensor};
    poll.at = now;
    poll.wall = wall;
    poll.values = {{closed ? 1.0 : 0.0, closed ? 1.0 : 0.0, drivers::ValueFault::none}};
    if (!answers) {
      poll.values[0].fault = drivers::ValueFault::not_read;
      poll.error = drivers::BusError{drivers::BusFault::timeout, 0, "no reply from unit 5"};
    }
    return poll;
  }

  RoomStatus room() const { return site->status(0, now, wall); }
  AlarmStatus alarm(const std::string& name) const {
    for (auto& a : room().alarms)
      if (a.alarm == name) return a;
    throw std::runtime_error{"no alarm " + name};
  }
  /// What is said to a person who sets the regime; empty: it was taken.
  std::string set(Regime regime, const std::string& comment = "unloading", bool seen_empty = false) {
    auto acted = site->set_regime("cryo-annexe", {regime, "R. Okafor", comment, seen_empty}, now, wall);
    last_events = acted->outcome.room_events;
    return acted->refusal.value_or("");
  }
  std::vector<AlarmRecord> last_events;
};

TEST(ASealedStore, StaysQuietAtTwoPercentAndIsMonitored) {
  Store store;
  const auto seen = store.run(120);
  EXPECT_TRUE(seen.alarms.empty());
  EXPECT_TRUE(store.room().monitored);
  EXPECT_TRUE(store.site->relay_energised(0));
  EXPECT_FALSE(store.alarm("low-oxygen").in_force);
  EXPECT_EQ(store.room().door, "closed");
}

TEST(ASealedStore, AnnouncesItsLowOxygenWithinSecondsOfItsDoorOpening) {
  Store store;
  static_cast<void>(store.run(60));
  store.door_open = true;
  EXPECT_EQ(transitions(store.run(5), "low-oxygen"), "normal>unacknowledged");
  EXPECT_FALSE(store.site->relay_energised(0));
  EXPECT_TRUE(store.alarm("low-oxygen").in_force);
  EXPECT_EQ(transitions(store.run(60), "door-open"), "normal>unacknowledged");
  store.door_open = false;
  EXPECT_EQ(transitions(store.run(60), "low-oxygen"), "") << "somebody may be in";
  EXPECT_EQ(store.alarm("door-open").state, State::returned_to_normal_unacknowledged);
  EXPECT_EQ(store.set(Regime::sealed_low_oxygen, "looked", true), "");
  EXPECT_EQ(transitions(store.run(1), "low-oxygen"), "unacknowledged>latched_unacknowledged")
      << "nobody has said that he has seen the alarm";
  EXPECT_NE(store.alarm("low-oxygen").text.find("is no longer in force"), std::string::npos);
}

TEST(ASealedStore, AnnouncesItsLowOxygenThoughItsDoorWasOpenForASecondOnly) {
  Store store;
  static_cast<void>(store.run(60));
  store.door_open = true;
  auto seen = store.run(1);
  ASSERT_EQ(seen.room_events.size(), 1U);
  EXPECT_EQ(seen.room_events[0].event, "opened");
  store.door_open = false;
  EXPECT_EQ(transitions(store.run(5), "low-oxygen"), "normal>unacknowledged") << "whoever opened it may be in";
  EXPECT_TRUE(store.room().regime.broken);
  Store later; // after a restart
  later.site->restore_regimes({store.site->regime(0)});
  seen = later.run(5);
  EXPECT_EQ(transitions(seen, "low-oxygen"), "normal>unacknowledged");
  EXPECT_TRUE(seen.room_events.empty()) << "told once";
}

TEST(ASealedStore, AnnouncesItsLowOxygenWithinSecondsOfPeopleBeingSeenThoughItsDoorStayedClosed) {
  Store store;
  static_cast<void>(store.run(60));
  store.people_in = true;
  auto seen = store.run(5);
  EXPECT_EQ(transitions(seen, "low-oxygen"), "normal>unacknowledged") << "somebody was locked in";
  EXPECT_FALSE(store.site->relay_energised(0));
  ASSERT_EQ(seen.room_events.size(), 1U);
  EXPECT_EQ(seen.room_events[0].event, "people-seen");
  EXPECT_NE(seen.room_events[0].text.find("People were seen in cryo-annexe while it is sealed"), std::string::npos);
  store.people_in = false;
  EXPECT_EQ(transitions(store.run(60), "low-oxygen"), "") << "whoever stands still is not seen";
  Store later; // after a restart
  later.site->restore_regimes({store.site->regime(0)});
  seen = later.run(5);
  EXPECT_EQ(transitions(seen, "low-oxygen"), "normal>unacknowledged");
  EXPECT_TRUE(seen.room_events.empty()) << "told once";
}

TEST(ASealedStore, IsSealedAnewAfterPeopleWereSeenOnlyOnceNobodyIs) {
  Store store;
  store.people_in = true;
  static_cast<void>(store.run(10));
  EXPECT_EQ(store.set(Regime::sealed_low_oxygen, "looked", true),
            "people are seen in it by its occupancy contact: everybody must be out first");
  store.people_in = false;
  static_cast<void>(store.run(1));
  EXPECT_EQ(store.set(Regime::sealed_low_oxygen, "looked", true), "");
  EXPECT_EQ(transitions(store.run(1), "low-oxygen"), "unacknowledged>latched_unacknowledged");
  store.people_in = true;
  const auto seen = store.run(2);
  ASSERT_EQ(seen.room_events.size(), 1U) << "told of each sealing";
  EXPECT_EQ(seen.room_events[0].event, "people-seen");
}

TEST(ASealedStore, TakesALostOccupancyContactForPeopleOnlyWhereNoDoorIsKnownToBeClosed) {
  Store store;
  static_cast<void>(store.run(60));
  store.people_answer = false;
  EXPECT_EQ(transitions(store.run(60), "low-oxygen"), "") << "its door has been closed since a person saw it empty";
  Store without_door{false};
  static_cast<void>(without_door.run(60));
  EXPECT_EQ(without_door.alarm("low-oxygen").state, State::normal);
  without_door.people_answer = false;
  EXPECT_EQ(transitions(without_door.run(12), "low-oxygen"), "normal>unacknowledged");
  EXPECT_FALSE(without_door.room().regime.broken) << "nobody was seen";
}

TEST(ASealedStore, AnnouncesItsLowOxygenWithACellThatIsStuckAtIt) {
  Store store;
  for (int s = 0; s < 100; ++s) {
    store.oxygen = s % 2 == 0 ? 0.02 : 0.0201;
    static_cast<void>(store.run(1));
  }
  static_cast<void>(store.run(31 * 60));
  ASSERT_FALSE(store.room().monitored) << "the cell is stuck";
  ASSERT_EQ(store.alarm("low-oxygen").state, State::normal);
  store.door_open = true;
  EXPECT_EQ(transitions(store.run(5), "low-oxygen"), "normal>unacknowledged") << "the number may be true";
}

TEST(ASealedStore, TakesALostDoorContactForAnOpenDoorAndSaysSo) {
  Store store;
  static_cast<void>(store.run(60));
  store.door_answers = false;
  EXPECT_EQ(transitions(store.run(5), "low-oxygen"), "") << "the last answer holds for five seconds";
  EXPECT_EQ(transitions(store.run(6), "low-oxygen"), "normal>unacknowledged");
  EXPECT_EQ(store.room().door, "unknown");
  EXPECT_FALSE(store.room().monitored);
  EXPECT_NE(store.room().reason.find("door contact door"), std::string::npos) << store.room().reason;
  store.door_answers = true;
  static_cast<void>(store.run(2));
  EXPECT_TRUE(store.room().monitored);
}

TEST(ASealedStore, GivesItsContactTheTimeForAFirstAnswerAfterAStart) {
  Store store;
  store.door_answers = false;
  EXPECT_EQ(transitions(store.run(2), "low-oxygen"), "");
  store.door_answers = true;
  EXPECT_EQ(transitions(store.run(30), "low-oxygen"), "");
}

TEST(Sealing, WaitsForTheFirstAnswerOfTheContact) {
  Store store;
  store.door_answers = false;
  static_cast<void>(store.run(1));
  ASSERT_EQ(store.set(Regime::occupied), "");
  EXPECT_EQ(store.set(Regime::sealed_low_oxygen, "pull-down", true), "whether its door is closed cannot be told yet");
  store.door_answers = true;
  static_cast<void>(store.run(1));
  EXPECT_EQ(store.set(Regime::sealed_low_oxygen, "pull-down", true), "");
}

TEST(ASealedStore, DoesNotWaitLongForAContactThatDoesNotAnswerAfterAStart) {
  Store store;
  store.door_answers = false;
  EXPECT_EQ(transitions(store.run(5), "low-oxygen"), "normal>unacknowledged");
}

TEST(ASealedStore, HasItsSafetyAlarmsInForceOnceItIsVentilated) {
  Store store;
  static_cast<void>(store.run(60));
  EXPECT_EQ(store.set(Regime::ventilated_before_entry), "");
  EXPECT_EQ(transitions(store.run(5), "low-oxygen"), "normal>unacknowledged");
  EXPECT_EQ(store.alarm("door-open").state, State::suppressed_by_design);
  EXPECT_EQ(store.alarm("door-open").text,
            "door-open is suppressed by design: the room is ventilated-before-entry. You will not be warned. Use a "
            "certified monitor.");
}

TEST(Sealing, NeedsAReasonAClosedDoorAndSomebodyWhoHasLooked) {
  Store store;
  static_cast<void>(store.run(10));
  EXPECT_EQ(store.set(Regime::sealed_low_oxygen), "cryo-annexe is sealed-low-oxygen already");
  ASSERT_EQ(store.set(Regime::occupied), "");
  EXPECT_EQ(store.set(Regime::sealed_low_oxygen, " ", true), "a comment is needed: say why the room is sealed");
  EXPECT_EQ(store.set(Regime::sealed_low_oxygen, "pull-down"),
            "somebody must have seen that the room is empty, locked and signed: say so, after looking");
  EXPECT_EQ(store.last_events.at(0).event, "regime-refused");
  store.door_open = true;
  static_cast<void>(store.run(2));
  EXPECT_EQ(store.set(Regime::sealed_low_oxygen, "pull-down", true), "its door is open: close it first");
  store.door_answers = false;
  static_cast<void>(store.run(10));
  EXPECT_EQ(store.set(Regime::sealed_low_oxygen, "pull-down", true).substr(0, 44),
            "whether its door is closed cannot be told: d");
  store.door_open = false;
  store.door_answers = true;
  static_cast<void>(store.run(2));
  EXPECT_EQ(store.set(Regime::sealed_low_oxygen, "pull-down", true), "");
  ASSERT_EQ(store.last_events.size(), 1U);
  EXPECT_EQ(store.last_events[0].event, "regime");
  EXPECT_EQ(store.last_events[0].cause, "sealed-low-oxygen");
  EXPECT_EQ(store.last_events[0].author, "R. Okafor");
  EXPECT_EQ(store.set(Regime::enriched).substr(0, 30), "cryo-annexe cannot be enriched");
}

TEST(Sealing, EndsWhatAnAlarmHasRaisedOnlyWithAcknowledgementAndReset) {
  Store store;
  ASSERT_EQ(store.set(Regime::occupied), "");
  static_cast<void>(store.run(20));
  ASSERT_EQ(store.alarm("low-oxygen").state, State::unacknowledged);
  ASSERT_EQ(store.set(Regime::sealed_low_oxygen, "pull-down", true), "");
  static_cast<void>(store.run(2));
  EXPECT_EQ(store.alarm("low-oxygen").state, State::latched_unacknowledged);
  EXPECT_FALSE(store.site->relay_energised(0));
}

TEST(ARegime, OutlastsARestartAndAReloadWhileItIsPossible) {
  Store store;
  ASSERT_EQ(store.set(Regime::occupied), "");
  const auto said = store.site->regime(0);
  Store later;
  later.site->restore_regimes({said});
  EXPECT_EQ(later.site->regime(0).regime, Regime::occupied);
  EXPECT_EQ(later.site->regime(0).by, "R. Okafor");
  Site reloaded{store.settings, store.calibrations, store.now, store.wall};
  reloaded.continue_from(*store.site, store.now, store.wall);
  EXPECT_EQ(reloaded.regime(0).regime, Regime::occupied);
  auto occupied = store.settings;
  occupied.rooms[0].regime = Regime::occupied;
  const Site before{occupied, store.calibrations, store.now, store.wall};
  Site sealed_by_reload{store.settings, store.calibrations, store.now, store.wall};
  sealed_by_reload.continue_from(before, store.now, store.wall);
  EXPECT_EQ(sealed_by_reload.regime(0).regime, Regime::ventilated_before_entry);
  const auto told = sealed_by_reload.settle_regimes(store.wall);
  ASSERT_EQ(told.room_events.size(), 1U);
  EXPECT_EQ(told.room_events[0].author, "oxherd");
  EXPECT_EQ(told.room_events[0].cause, "ventilated-before-entry");
  EXPECT_TRUE(sealed_by_reload.settle_regimes(store.wall).room_events.empty()) << "told once";
  auto enriched = store.settings;
  enriched.rooms[0].regime = Regime::enriched;
  Site other{enriched, store.calibrations, store.now, store.wall};
  other.restore_regimes({{"cryo-annexe", Regime::sealed_low_oxygen, store.wall, "R. Okafor", "pull-down", false}});
  EXPECT_EQ(other.regime(0).regime, Regime::enriched) << "it cannot be sealed by its settings";
}

TEST(TheEntryLock, IsWithheldUntilTheAirHasBeenFreshForItsTimeWithoutABreak) {
  Store store;
  static_cast<void>(store.run(10));
  EXPECT_TRUE(store.site->entry_withheld(0, store.now));
  ASSERT_EQ(store.set(Regime::ventilated_before_entry), "");
  static_cast<void>(store.run(10));
  store.oxygen = 0.2095;
  static_cast<void>(store.run(20));
  const auto acknowledge = [&](alarms::Act act) {
    const auto acted = store.site->act("cryo-annexe", "low-oxygen", {act, "R. Okafor", ""}, store.now, store.wall);
    EXPECT_FALSE(acted->refusal) << acted->refusal.value_or("");
  };
  EXPECT_EQ(store.room().entry_lock->reasons, std::vector<std::string>{"a safety alarm of the room is not normal"});
  acknowledge(alarms::Act::acknowledge);
  acknowledge(alarms::Act::reset);
  auto seen = store.run(899);
  EXPECT_TRUE(seen.room_events.empty());
  EXPECT_TRUE(store.room().entry_lock->withheld);
  seen = store.run(3);
  ASSERT_EQ(seen.room_events.size(), 1U);
  EXPECT_EQ(seen.room_events[0].event, "entry-lock-not-withheld");
  EXPECT_EQ(seen.room_events[0].text,
            "The entry lock of cryo-annexe is no longer withheld. Supplementary monitor. Do not use it to decide that "
            "a room is safe. Test the air with a certified monitor and follow the entry procedure.");
  store.oxygen = 0.204;
  seen = store.run(2);
  ASSERT_EQ(seen.room_events.size(), 1U);
  EXPECT_EQ(seen.room_events[0].event, "entry-lock-withheld");
  EXPECT_TRUE(store.site->entry_withheld(0, store.now));
}

} // namespace oxherd::daemon::room_regime_test
