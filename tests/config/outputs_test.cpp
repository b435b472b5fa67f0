// The kinds of outputs, what they default to, and the alarm of the room that answers for one.
#include <gtest/gtest.h>

#include "config/alarm_defaults.hpp"
#include "tests/config/sample.hpp"

namespace oxherd::outputs_config_test {

using namespace config;
using namespace config_test;
using namespace std::chrono_literals;

/// The sound sample with a second room and one more output.
std::string with_output(const std::string& keys) {
  return with("[output.beacon]", "[room.store]\nregime = \"sealed-low-oxygen\"\n\n[room.store.sensor.co2]\n"
                                 "measures = \"carbon-dioxide\"\nbus = \"plant\"\nunit = 12\n"
                                 "profile = \"co2-uint16\"\n\n[output.beacon]") +
         "\n[output.extra]\nbus = \"plant\"\nunit = 32\n" + keys + "\n";
}
Output extra(const std::string& keys) {
  const auto settings = settings_of(with_output(keys));
  return settings.outputs.empty() ? Output{} : settings.outputs.back();
}
/// What is said about the extra output; the sealed room of the sample has one warning of its own.
std::vector<std::string> said_of_extra(const std::string& keys) {
  std::vector<std::string> said;
  for (const auto& line : said_about(with_output(keys))) {
    const auto at = line.find("output.extra");
    if (at != line.npos) said.push_back(line.substr(at));
  }
  return said;
}

TEST(Outputs, AnAlarmRelayIsConfirmedWithinTwoSecondsAndProvedEveryNinetyDays) {
  const auto relay = settings_of(sound).outputs.at(0);
  EXPECT_EQ(relay.confirm_within, 2s);
  EXPECT_EQ(relay.prove_every, std::chrono::days{90});
  EXPECT_FALSE(relay.feedback);
  EXPECT_EQ(written_at(relay.kind), (WrittenAt{true, 0}));
}

TEST(Outputs, ASounderServesTheRoomsItNamesAndAllWhenItNamesNone) {
  const auto horn = extra("kind = \"sounder\"\nrooms = [\"store\", \"annexe\"]\ncoil = 3");
  EXPECT_EQ(rooms_of(horn.kind), (std::vector<std::string>{"store", "annexe"}));
  EXPECT_EQ(written_at(horn.kind), (WrittenAt{true, 3}));
  EXPECT_EQ(rooms_of(extra("kind = \"sounder\"\nroom = \"store\"\ncoil = 3").kind), std::vector<std::string>{"store"});
  EXPECT_EQ(rooms_of(extra("kind = \"sounder\"\ncoil = 3").kind), std::vector<std::string>{});
}

TEST(Outputs, ABeaconTakesACoilOrTheNumberOfItsPattern) {
  const auto beacon = extra("kind = \"beacon\"\nregister = 7\nprove_every = \"never\"\nconfirm_within = \"5 s\"");
  EXPECT_EQ(written_at(beacon.kind), (WrittenAt{false, 7}));
  EXPECT_FALSE(beacon.prove_every);
  EXPECT_EQ(beacon.confirm_within, 5s);
}

TEST(Outputs, AFeedbackContactProlongsTheTimeByItsStroke) {
  const auto relay = extra("kind = \"alarm-relay\"\nroom = \"annexe\"\ncoil = 3\nfeedback = { unit = 33, "
                           "discrete_input = 4, stroke = \"1 s\" }");
  ASSERT_TRUE(relay.feedback);
  EXPECT_EQ(relay.feedback->unit, 33);
  EXPECT_EQ(relay.feedback->table, drivers::Table::discrete_input);
  EXPECT_EQ(relay.feedback->address, 4);
  EXPECT_EQ(relay.confirm_within, 3s);
}

TEST(Outputs, AContactThatIsTooSlowForAFlashIsRefusedWhereTheCoilFlashes) {
  const auto with_stroke = [](const std::string& kind, const std::string& stroke) {
    return said_of_extra("kind = \"" + kind + "\"\nroom = \"annexe\"\ncoil = 3\nfeedback = { unit = 33, coil = 4, " +
                         "stroke = \"" + stroke + "\" }");
  };
  const std::vector<std::string> refused{
      "output.extra.feedback.stroke: must be below 400 ms at a horn or beacon: its coil changes every 500 ms while it "
      "flashes, and a slower contact could never be judged; take a faster contact, or leave feedback out"};
  EXPECT_EQ(with_stroke("sounder", "400 ms"), refused);
  EXPECT_EQ(with_stroke("beacon", "1 s"), refused);
  EXPECT_TRUE(with_stroke("sounder", "399 ms").empty());
  EXPECT_TRUE(with_stroke("alarm-relay", "1 s").empty()) << "a relay does not flash";
}

TEST(Outputs, AReadingIsScaledOntoItsRegisterAndShowsTheUnfavourableEndWithoutAValue) {
  const auto oxygen = std::get<RoomReading>(extra("kind = \"reading\"\nroom = \"annexe\"\nquantity = "
                                                  "\"oxygen-lower-bound\"\nregister = 2\nfrom = \"0 %\"\nto = \"25 %\"")
                                                .kind);
  EXPECT_EQ(oxygen.quantity, ShownQuantity::oxygen_lower_bound);
  EXPECT_DOUBLE_EQ(oxygen.to, 0.25);
  EXPECT_EQ(oxygen.when_bad, 0) << "little oxygen is what harms";
  const auto co2 = std::get<RoomReading>(extra("kind = \"reading\"\nroom = \"store\"\nquantity = \"carbon-dioxide\"\n"
                                               "register = 2\nfrom = \"0 ppm\"\nto = \"10000 ppm\"")
                                             .kind);
  EXPECT_DOUBLE_EQ(co2.to, 0.01);
  EXPECT_EQ(co2.when_bad, 65535) << "much carbon dioxide is what harms";
}

TEST(Outputs, TheFirstRoomThatAnOutputServesHasAnAlarmAboutIt) {
  const auto with_alarm = [](const Settings& settings) {
    std::vector<std::string> rooms;
    for (const auto& room : settings.rooms)
      for (const auto& alarm : room.alarms)
        if (alarm.name == output_lost_name) rooms.push_back(room.name);
    return rooms;
  };
  const std::vector<std::string> annexe{"annexe"}, both{"annexe", "store"};
  EXPECT_EQ(with_alarm(settings_of(with_output("kind = \"heartbeat\"\nregister = 1"))), annexe);
  EXPECT_EQ(with_alarm(settings_of(with_output("kind = \"sounder\"\ncoil = 1"))), annexe);
  EXPECT_EQ(with_alarm(settings_of(with_output("kind = \"sounder\"\nrooms = [\"store\", \"annexe\"]\ncoil = 1"))),
            both);
  const std::string beacon = "[output.beacon]\nkind = \"alarm-relay\"\nroom = \"annexe\"\nbus = \"plant\"\nunit = "
                             "31\ncoil = 0\n";
  EXPECT_EQ(with_alarm(settings_of(with(beacon, ""))), std::vector<std::string>{}) << "no output, no alarm";
}

TEST(Outputs, TheAlarmIsOfClassSafetyAndDoesNotLatch) {
  const auto settings = settings_of(sound); // a temporary would not outlive the head of the loop
  for (const auto& alarm : settings.rooms.at(0).alarms) {
    if (alarm.name != output_lost_name) continue;
    EXPECT_TRUE(alarm.alarm.annunciation.safety);
    EXPECT_FALSE(alarm.alarm.annunciation.latching);
    EXPECT_EQ(alarm.alarm.annunciation.priority, alarms::Priority::high);
    EXPECT_EQ(delays_of(alarm.alarm.rule).on, 0s);
    return;
  }
  FAIL() << "the room has no such alarm";
}

TEST(Outputs, ATableOfTheAlarmsNameChangesItAndIsRefusedWhereThereIsNone) {
  const auto table = [](std::string_view room) {
    return with("[output.beacon]",
                "[room." + std::string{room} +
                    ".alarm.output-lost]\non_delay = \"3 s\"\npriority = "
                    "\"critical\"\n\n[output.beacon]",
                with_output("kind = \"heartbeat\"\nregister = 1"));
  };
  const auto settings = settings_of(table("annexe"));
  for (const auto& alarm : settings.rooms.at(0).alarms)
    if (alarm.name == output_lost_name) {
      EXPECT_EQ(delays_of(alarm.alarm.rule).on, 3s);
      EXPECT_EQ(alarm.alarm.annunciation.priority, alarms::Priority::critical);
    }
  const auto said = said_about(table("store"));
  ASSERT_EQ(said.size(), 2U) << "the other is about its door";
  EXPECT_NE(said[1].find("the room answers for none"), std::string::npos) << said[1];
}

TEST(Outputs, WhatIsWrongIsSaidWithWhatIsAccepted) {
  using Lines = std::vector<std::string>;
  const std::string reading = "kind = \"reading\"\nroom = \"annexe\"\nregister = 2\n";
  EXPECT_EQ(said_of_extra("kind = \"sounder\"\ncoil = 1\nregister = 1"),
            Lines{"output.extra.register: and \"coil\" exclude each other"});
  EXPECT_EQ(said_of_extra("kind = \"sounder\"\nroom = \"annexe\"\nrooms = [\"store\"]\ncoil = 1"),
            Lines{"output.extra.rooms: and \"room\" exclude each other"});
  EXPECT_EQ(said_of_extra("kind = \"beacon\"\nrooms = []\ncoil = 1"),
            Lines{"output.extra.rooms: names nothing; leave it out for all rooms"});
  EXPECT_EQ(said_of_extra("kind = \"beacon\"\nrooms = [\"annexe\", \"stoer\"]\ncoil = 1"),
            Lines{"output.extra.rooms: there is no room \"stoer\"; there is \"store\" or \"annexe\""});
  EXPECT_EQ(said_of_extra(reading + "quantity = \"oxygen\"\nfrom = \"25 %\"\nto = \"0 %\""),
            Lines{"output.extra.to: must be above \"from\""});
  EXPECT_EQ(said_of_extra(reading + "quantity = \"carbon-dioxide\"\nfrom = \"0 ppm\"\nto = \"1 %\""),
            Lines{"output.extra.quantity: the room has no sensor that measures \"carbon-dioxide\""});
  EXPECT_EQ(said_of_extra("kind = \"alarm-state\"\nroom = \"annexe\"\nalarm = \"low-oxigen\"\nregister = 1"),
            Lines{"output.extra.alarm: there is no alarm \"low-oxigen\" in annexe; there is \"low-oxygen\", "
                  "\"not-monitored\" or \"output-lost\""});
  EXPECT_EQ(said_of_extra("kind = \"heartbeat\"\nregister = 1\nprove_every = \"30 d\""),
            Lines{"output.extra.prove_every: belongs to an output of kind \"alarm-relay\", \"sounder\" or \"beacon\""});
  EXPECT_EQ(said_of_extra("kind = \"beacon\"\nregister = 1\nfeedback = { unit = 33, coil = 1 }"),
            Lines{"output.extra.feedback: follows a coil; a device that makes its pattern by itself has no contact "
                  "that stands still"});
  EXPECT_EQ(said_of_extra("kind = \"beacon\"\ncoil = 1\nfeedback = { unit = 33 }"),
            Lines{"output.extra.feedback.discrete_input: missing; write for example discrete_input = 0"});
  EXPECT_EQ(
      said_of_extra("kind = \"entry-lock\"\nroom = \"store\"\ncoil = 1"),
      Lines{"output.extra.room: store has no entry_lock: say there when it is withheld, for example entry_lock = { "
            "hold = \"15 min\" }"});
  EXPECT_EQ(said_of_extra("kind = \"beacon\"\ncoil = 1\nconfirm_within = \"0 s\""),
            Lines{"output.extra.confirm_within: \"0 s\" is outside 500 ms to 60 s"});
}

} // namespace oxherd::outputs_config_test
