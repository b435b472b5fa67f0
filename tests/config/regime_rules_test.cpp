#include "config/regime_rules.hpp"

#include <gtest/gtest.h>

#include "config/hours.hpp"
#include "config/profile.hpp"
#include "tests/config/sample.hpp"

// What the regime of a room means for its alarms, its door and its lock.
namespace oxherd::regime_rules_test {

using namespace std::chrono_literals;
using alarms::Regime;
using config_test::said_about;
using config_test::settings_of;
using config_test::with;
using Lines = std::vector<std::string>;
using Regimes = std::vector<Regime>;

/// A store that is kept at low oxygen, with a contact on its door and a low-oxygen alarm at line 37 of the file.
const std::string store = with("[room.annexe.sensor.air]",
                               "[room.annexe.sensor.door]\nmeasures = \"door\"\nbus = \"plant\"\nunit = 5\n"
                               "profile = \"door-contact\"\n\n[room.annexe.sensor.air]",
                               with("\"occupied\"", "\"sealed-low-oxygen\""));

std::string with_alarm(const std::string& keys, const std::string& base = store) {
  return with("[output.beacon]", "[room.annexe.alarm.extra]\n" + keys + "\n\n[output.beacon]", base);
}

config::AlarmSettings alarm_of(const std::string& text, std::string_view name) {
  EXPECT_EQ(said_about(text), Lines{});
  const auto settings = settings_of(text);
  for (const auto& alarm : settings.rooms.at(0).alarms)
    if (alarm.name == name) return alarm;
  ADD_FAILURE() << "no such alarm";
  return {};
}

TEST(ASealedRoom, LeavesItsSafetyAlarmsOutWhileItIsSealedAndHasItsProcessAlarmsOnlyThen) {
  EXPECT_EQ(alarm_of(store, "low-oxygen").regimes, (Regimes{Regime::occupied, Regime::ventilated_before_entry}));
  EXPECT_EQ(alarm_of(store, "low-oxygen").alarm.annunciation.priority, alarms::Priority::critical);
  const std::string high = "quantity = \"oxygen\"\nabove = \"5 %\"\nclass = \"process\"";
  EXPECT_EQ(alarm_of(with_alarm(high), "extra").regimes, Regimes{Regime::sealed_low_oxygen});
  EXPECT_EQ(alarm_of(store, "not-monitored").regimes, Regimes{}) << "always in force";
}

TEST(ASealedRoom, MayBeginAsOneThatIsVentilated) {
  const auto text = with("\"sealed-low-oxygen\"", "\"ventilated-before-entry\"", store);
  EXPECT_EQ(alarm_of(text, "low-oxygen").regimes, (Regimes{Regime::occupied, Regime::ventilated_before_entry}));
}

TEST(ASealedRoom, TakesNoLimitForPeopleThatIsMeantForFruit) {
  EXPECT_EQ(said_about(with("below = \"19.5 %\"", "below = \"1 %\"", store)),
            Lines{"site.toml:38:9: room.annexe.alarm.low-oxygen.below: 1 % is too low a limit where people are: 19.5 % "
                  "at least (another alarm may then stand below it), unless an override_reason says why"});
  EXPECT_EQ(said_about(with_alarm("quantity = \"oxygen\"\nbelow = \"1 %\"\nclass = \"process\"")), Lines{});
}

TEST(ASealedRoom, AsksItsDoorEveryTwoSecondsAtLeast) {
  EXPECT_EQ(said_about(with("unit = 5\n", "unit = 5\nevery = \"2 s\"\n", store)), Lines{});
  EXPECT_EQ(said_about(with("unit = 5\n", "unit = 5\nevery = \"10 s\"\n", store)),
            Lines{"site.toml:28:9: room.annexe.sensor.door.every: a door of a room that is kept at low oxygen is asked "
                  "every 2 s at least: somebody may be in by then"});
}

TEST(ASealedRoom, IsDoubtedWithoutADoorContactOrALowOxygenAlarm) {
  EXPECT_EQ(said_about(with("\"occupied\"", "\"sealed-low-oxygen\"")),
            Lines{"site.toml:13:7: room.annexe: warning: it is kept at low oxygen, but nothing tells when its door is "
                  "opened, and then its safety alarms stay out of force; put a contact on every door (measures = "
                  "\"door\")"});
  const auto said = said_about(with("below = \"19.5 %\"", "above = \"5 %\"\nclass = \"process\"", store));
  ASSERT_EQ(said.size(), 1U);
  EXPECT_NE(said[0].find("people may open its door"), std::string::npos) << said[0];
}

TEST(AnEnrichedRoom, AsksForEnoughCarbonDioxideOnlyWhileItIsEnriched) {
  using config::AlarmKind;
  using config::AlarmQuantity;
  const auto text = with("\"occupied\"", "\"enriched\"");
  EXPECT_EQ(alarm_of(text, "low-oxygen").regimes, Regimes{});
  const auto with_probe = with("[room.annexe.sensor.air]",
                               "[room.annexe.sensor.co2]\nmeasures = \"carbon-dioxide\"\nbus = \"plant\"\nunit = 43\n"
                               "profile = \"co2-uint16\"\n\n[room.annexe.sensor.air]",
                               text);
  const std::string low = "quantity = \"carbon-dioxide\"\nbelow = \"600 ppm\"\nclass = \"process\"";
  EXPECT_EQ(alarm_of(with_alarm(low, with_probe), "extra").regimes, Regimes{Regime::enriched});
}

TEST(RegimesOfAnAlarm, AreTakenFromTheFile) {
  const auto text = with_alarm("quantity = \"oxygen\"\nabove = \"5 %\"\nclass = \"process\"\n"
                               "regimes = [\"sealed-low-oxygen\", \"ventilated-before-entry\"]");
  EXPECT_EQ(alarm_of(text, "extra").regimes, (Regimes{Regime::sealed_low_oxygen, Regime::ventilated_before_entry}));
}

TEST(RegimesOfAnAlarm, ProblemsNameThePlaceAndWhatIsAccepted) {
  const std::string process = "quantity = \"oxygen\"\nabove = \"5 %\"\nclass = \"process\"\nregimes = ";
  const auto said = [&](const std::string& regimes) { return said_about(with_alarm(process + regimes)); };
  EXPECT_EQ(said("[\"enriched\"]"),
            Lines{"site.toml:44:11: room.annexe.alarm.extra.regimes: \"enriched\" is no regime that this room can be "
                  "in; there is \"occupied\", \"sealed-low-oxygen\" or \"ventilated-before-entry\""});
  EXPECT_EQ(said("[]"), Lines{"site.toml:44:11: room.annexe.alarm.extra.regimes: names none; leave the key out for an "
                              "alarm that is always in force"});
  EXPECT_EQ(said_about(with_alarm("quantity = \"oxygen\"\nbelow = \"20 %\"\nregimes = [\"occupied\"]")),
            Lines{"site.toml:43:11: room.annexe.alarm.extra.regimes: lacks \"ventilated-before-entry\": an alarm of "
                  "class \"safety\" is in force wherever people may be, only \"sealed-low-oxygen\" may be left out"});
}

TEST(SuppressedHours, AreReadWithTheirReasonAndTheSitesClock) {
  const auto text =
      with("elevation = \"212 m\"", "elevation = \"212 m\"\ntime_zone = \"Europe/Amsterdam\"",
           with_alarm("quantity = \"oxygen\"\nabove = \"5 %\"\nclass = \"process\"\nsuppressed = { from = "
                      "\"20:00\", to = \"06:00\", days = [\"saturday\", \"sunday\"], because = \"flushed by "
                      "night\" }"));
  EXPECT_EQ(settings_of(text).site.zone.name, "Europe/Amsterdam");
  const auto suppressed = alarm_of(text, "extra").suppressed;
  ASSERT_TRUE(suppressed);
  EXPECT_EQ(config::hours_text(suppressed->hours), "20:00 to 06:00, Saturday and Sunday");
  EXPECT_EQ(suppressed->because, "flushed by night");
  EXPECT_FALSE(alarm_of(text, "low-oxygen").suppressed);
}

TEST(SuppressedHours, AreRefusedForSafetyAlarmsWithoutEndOrWithoutAReason) {
  const auto said = [&](const std::string& alarm_class, const std::string& hours) {
    return said_about(
        with_alarm("quantity = \"oxygen\"\nabove = \"5 %\"\nclass = \"" + alarm_class + "\"\nsuppressed = " + hours));
  };
  const std::string at = "room.annexe.alarm.extra.suppressed";
  EXPECT_EQ(said("safety", "{ from = \"20:00\", to = \"06:00\", because = \"night\" }"),
            Lines{"site.toml:44:1: " + at +
                  ": an alarm of class \"safety\" is never suppressed: people may be in at any hour"});
  EXPECT_EQ(
      said("process", "{ from = \"06:00\", to = \"06:00\", because = \"night\" }"),
      Lines{"site.toml:44:37: " + at + ".to: is when it begins too: an alarm that is never in force warns nobody"});
  EXPECT_EQ(said("process", "{ from = \"20:00\", to = \"06:00\", because = \" \" }"),
            Lines{"site.toml:44:56: " + at + ".because: is empty"});
  EXPECT_EQ(
      said("process", "{ from = \"20:00\" }"),
      (Lines{"site.toml:44:1: " + at + ".to: missing; write for example to = \"06:00\"",
             "site.toml:44:1: " + at + ".because: missing; write for example because = \"no CO2 is dosed at night\""}));
}

TEST(ADoorAlarm, StandsAfterTwoMinutesUnlessTheFileSaysOtherwise) {
  const auto silent = alarm_of(with_alarm("quantity = \"door\"\nclass = \"process\""), "extra");
  EXPECT_EQ(std::get<alarms::DoorOpen>(silent.alarm.rule).on_delay, 120s);
  EXPECT_EQ(silent.alarm.annunciation.priority, alarms::Priority::medium);
  EXPECT_EQ(silent.regimes, Regimes{Regime::sealed_low_oxygen});
  const auto stated = alarm_of(with_alarm("quantity = \"door\"\nclass = \"process\"\non_delay = \"60 s\""), "extra");
  EXPECT_EQ(std::get<alarms::DoorOpen>(stated.alarm.rule).on_delay, 60s);
}

TEST(ADoorAlarm, IsOfClassProcessWhenTheFileIsSilent) {
  EXPECT_FALSE(alarm_of(with_alarm("quantity = \"door\""), "extra").alarm.annunciation.safety);
}

TEST(ADoorAlarm, NeedsADoorAndHasNoOtherCondition) {
  EXPECT_EQ(said_about(with("[output.beacon]", "[room.annexe.alarm.extra]\nquantity = \"door\"\n\n[output.beacon]")),
            Lines{"site.toml:35:12: room.annexe.alarm.extra.quantity: the room has no sensor that measures \"door\""});
  EXPECT_EQ(said_about(with_alarm("quantity = \"door\"\ncondition = \"deviation\"")),
            Lines{"site.toml:42:13: room.annexe.alarm.extra.condition: a door has no other condition than "
                  "\"door-open\""});
  EXPECT_EQ(said_about(with_alarm("quantity = \"oxygen\"\ncondition = \"door-open\"")),
            Lines{"site.toml:42:13: room.annexe.alarm.extra.condition: \"door-open\" belongs to quantity = \"door\""});
}

TEST(AnEntryLock, HasLimitsNearFreshAirUnlessTheFileSaysOtherwise) {
  const auto lock_of = [](const std::string& keys) {
    const auto text = with("\"sealed-low-oxygen\"", "\"sealed-low-oxygen\"\nentry_lock = { " + keys + " }", store);
    EXPECT_EQ(said_about(text), Lines{});
    return settings_of(text).rooms.at(0).entry_lock.value();
  };
  EXPECT_DOUBLE_EQ(lock_of("").oxygen_at_least, 0.205);
  EXPECT_EQ(lock_of("").hold, 15min);
  const auto stated = lock_of("oxygen_at_least = \"20 %\", oxygen_at_most = \"22 %\", co2_at_most = \"2000 ppm\", hold "
                              "= \"30 min\"");
  EXPECT_DOUBLE_EQ(stated.oxygen_at_least, 0.2);
  EXPECT_DOUBLE_EQ(stated.oxygen_at_most, 0.22);
  EXPECT_DOUBLE_EQ(stated.carbon_dioxide_at_most, 0.002);
  EXPECT_EQ(stated.hold, 30min);
  EXPECT_FALSE(settings_of(store).rooms.at(0).entry_lock);
}

TEST(AnEntryLock, RefusesLimitsOfAirThatIsNotFresh) {
  const auto said = said_about(with("\"occupied\"", "\"occupied\"\nentry_lock = { oxygen_at_least = \"19 %\" }"));
  ASSERT_EQ(said.size(), 1U);
  EXPECT_NE(said[0].find("19.5 % to 20.9 %"), std::string::npos) << said[0];
}

TEST(AStuckInput, IsFoundAfterATimeThatIsLearnedStatedOrNever) {
  const auto of = [](const std::string& key) {
    const auto text = with("unit = 11", "unit = 11\n" + key);
    EXPECT_EQ(said_about(text), Lines{});
    return settings_of(text).rooms.at(0).sensors.at(0).stuck_after;
  };
  EXPECT_FALSE(of("").stated);
  EXPECT_FALSE(of("").never);
  EXPECT_EQ(of("stuck_after = \"20 min\"").stated, 20min);
  EXPECT_TRUE(of("stuck_after = \"never\"").never);
  const auto said = said_about(with("unit = 11", "unit = 11\nstuck_after = \"5 s\""));
  ASSERT_EQ(said.size(), 1U);
  EXPECT_NE(said[0].find("1 min to 7 d, or \"never\""), std::string::npos) << said[0];
}

TEST(ADoorContact, ReadsABrokenWireAsOpen) {
  config::ProfileShelf shelf{config_test::shipped()};
  const auto* profile = shelf.find("door-contact");
  ASSERT_NE(profile, nullptr);
  const auto& point = profile->points.at(0).point;
  EXPECT_DOUBLE_EQ(1.0 * point.scale + point.offset, 0.0) << "the circuit is closed while the door is";
  EXPECT_DOUBLE_EQ(0.0 * point.scale + point.offset, 1.0);
}

TEST(ADoorContact, IsAFaultWithANumberThatIsNoState) {
  config::Problems problems{"p.toml"};
  const auto profile = config::parse_profile(
      "p", "description = \"x\"\n[point.door]\ntable = \"input\"\naddress = 3\ntype = \"uint16\"\nopen_when = 1\n",
      problems);
  ASSERT_TRUE(profile);
  const auto& point = profile->points.at(0).point;
  EXPECT_DOUBLE_EQ(1.0 * point.scale + point.offset, 1.0);
  EXPECT_EQ(point.lowest_si, 0.0);
  EXPECT_EQ(point.highest_si, 1.0);
}

TEST(ADoorContact, MustSayWhichStateIsOpen) {
  config::Problems problems{"p.toml"};
  static_cast<void>(config::parse_profile(
      "p", "description = \"x\"\n[point.door]\ntable = \"discrete\"\naddress = 0\ntype = \"bit\"\n", problems));
  ASSERT_EQ(problems.sorted().size(), 1U);
  EXPECT_EQ(to_string(problems.sorted()[0]),
            "p.toml:2:8: point.door.open_when: missing; write for example open_when = 0");
}

} // namespace oxherd::regime_rules_test
