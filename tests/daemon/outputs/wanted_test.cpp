// What outputs are to hold, by the state of the rooms that they serve.
#include <cmath>

#include <gtest/gtest.h>

#include "alarms/patterns.hpp"
#include "daemon/outputs/served.hpp"
#include "daemon/outputs/wanted.hpp"
#include "drivers/decode.hpp"
#include "tests/daemon/room/annexe.hpp"

namespace oxherd::daemon::wanted_test {

using namespace std::chrono_literals;

const std::vector<std::size_t> annexe_only{0};
const config::OutputKind horn_coil = config::Sounder{{}, {true, 5}}, beacon_coil = config::Beacon{{}, {true, 6}};
const config::OutputKind horn_number = config::Sounder{{}, {false, 5}}, beacon_number = config::Beacon{{}, {false, 6}};

annexe_test::Annexe watched_annexe() {
  annexe_test::Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  return annexe;
}

/// Two seconds of a coil in steps of a quarter: "##..##.."
std::string course(const config::OutputKind& kind, const Site& site, Monotonic from) {
  std::string text;
  for (auto at = from; at < from + 2s; at += 250ms) text += wanted(kind, annexe_only, site, at) != 0 ? '#' : '.';
  return text;
}

void person(annexe_test::Annexe& annexe, alarms::Act act) {
  PersonAct what{act, "Mira", "seen", 0ms};
  for (const auto* alarm : {"low-oxygen", "not-monitored"})
    static_cast<void>(annexe.site->act("cryo-annexe", alarm, what, annexe.now, annexe.wall));
}

TEST(Wanted, HornAndBeaconFollowAnAlarmThroughItsLife) {
  auto annexe = watched_annexe();
  const auto noon = 1000s;
  EXPECT_EQ(course(horn_coil, *annexe.site, noon), "........");
  EXPECT_EQ(course(beacon_coil, *annexe.site, noon), "........");
  annexe.oxygen = 0.17;
  static_cast<void>(annexe.seconds(5));
  ASSERT_EQ(annexe.state("low-oxygen"), alarms::State::unacknowledged);
  EXPECT_EQ(course(horn_coil, *annexe.site, noon), "########") << "critical: without a pause";
  EXPECT_EQ(course(beacon_coil, *annexe.site, noon), "##..##..");
  EXPECT_EQ(wanted(horn_number, annexe_only, *annexe.site, noon), 2);
  EXPECT_EQ(wanted(beacon_number, annexe_only, *annexe.site, noon), 3);
  EXPECT_TRUE(warns(horn_coil, annexe_only, *annexe.site, noon));
  person(annexe, alarms::Act::silence);
  EXPECT_EQ(course(horn_coil, *annexe.site, annexe.now), "........");
  EXPECT_EQ(course(beacon_coil, *annexe.site, noon), "##..##..") << "silence stops the sound only";
  person(annexe, alarms::Act::acknowledge);
  EXPECT_EQ(course(beacon_coil, *annexe.site, noon), "########");
  EXPECT_EQ(wanted(beacon_number, annexe_only, *annexe.site, noon), 2);
  annexe.oxygen = 0.2095;
  static_cast<void>(annexe.seconds(20));
  ASSERT_EQ(annexe.state("low-oxygen"), alarms::State::latched_acknowledged);
  EXPECT_EQ(course(beacon_coil, *annexe.site, noon), "########");
  person(annexe, alarms::Act::reset);
  EXPECT_EQ(course(beacon_coil, *annexe.site, noon), "........");
}

TEST(Wanted, ATestOfAnAlarmSoundsAndFlashesLikeARealOne) {
  auto annexe = watched_annexe();
  PersonAct test{alarms::Act::test, "Mira", "monthly", 60s};
  static_cast<void>(annexe.site->act("cryo-annexe", "low-oxygen", test, annexe.now, annexe.wall));
  static_cast<void>(annexe.seconds(5));
  EXPECT_EQ(course(horn_coil, *annexe.site, 1000s), "########");
  EXPECT_EQ(course(beacon_coil, *annexe.site, 1000s), "##..##..");
}

TEST(Wanted, ARoomThatNobodyWatchesSoundsInPulses) {
  auto annexe = watched_annexe();
  static_cast<void>(annexe.pass(20s)); // no sample comes: not monitored, of priority high
  static_cast<void>(annexe.pass(20s));
  ASSERT_EQ(annexe.state("not-monitored"), alarms::State::unacknowledged);
  EXPECT_EQ(course(horn_coil, *annexe.site, 1000s).find('#') != std::string::npos, true);
}

TEST(Wanted, AnOutputServesOnlyTheRoomsItNames) {
  config::Settings settings;
  for (const char* name : {"a", "b", "c"}) settings.rooms.emplace_back().name = name;
  config::Output output;
  output.kind = config::Sounder{{"c", "a"}, {}};
  EXPECT_EQ(rooms_served(settings, output), (std::vector<std::size_t>{2, 0}));
  output.kind = config::Sounder{};
  EXPECT_EQ(rooms_served(settings, output), (std::vector<std::size_t>{0, 1, 2}));
  output.kind = config::Heartbeat{};
  EXPECT_EQ(rooms_served(settings, output), (std::vector<std::size_t>{0, 1, 2}));
}

TEST(Wanted, ADisplayShowsTheValueOnItsSpanAndTheBadValueWithoutOne) {
  auto annexe = watched_annexe();
  config::RoomReading reading{"cryo-annexe"};
  reading.when_bad = 7;
  const auto shown = [&] { return wanted(reading, annexe_only, *annexe.site, annexe.now); };
  const auto oxygen = annexe.site->status(0, annexe.now, annexe.wall);
  ASSERT_TRUE(oxygen.oxygen && oxygen.expanded_oxygen);
  EXPECT_EQ(shown(), scaled(*oxygen.oxygen, 0.0, 0.25));
  EXPECT_NEAR(shown() / 65535.0 * 0.25, 0.2095, 0.0005);
  reading.quantity = config::ShownQuantity::oxygen_lower_bound;
  EXPECT_EQ(shown(), scaled(*oxygen.oxygen - *oxygen.expanded_oxygen, 0.0, 0.25));
  reading.quantity = config::ShownQuantity::carbon_dioxide;
  EXPECT_EQ(shown(), 7) << "nobody measures it here";
  reading.quantity = config::ShownQuantity::oxygen;
  static_cast<void>(annexe.pass(60s));
  EXPECT_EQ(shown(), 7) << "the sample is too old";
}

// 20.9 = 41 A7 33 33 (IEEE 754 single precision); the four orders as drivers::decode_number reads them back.
TEST(Wanted, AFloatIsWrittenInTheOrderAskedForAndIsNoNumberWithoutAValue) {
  using drivers::ByteOrder;
  EXPECT_EQ(as_float32(20.9, ByteOrder::abcd), 0x41A73333U);
  EXPECT_EQ(as_float32(20.9, ByteOrder::cdab), 0x333341A7U);
  EXPECT_EQ(as_float32(20.9, ByteOrder::badc), 0xA7413333U);
  EXPECT_EQ(as_float32(20.9, ByteOrder::dcba), 0x3333A741U);
  auto annexe = watched_annexe();
  config::RoomReading reading{"cryo-annexe"};
  reading.is_float = true;
  for (const auto order : {ByteOrder::abcd, ByteOrder::cdab, ByteOrder::badc, ByteOrder::dcba}) {
    reading.order = order;
    const auto number = [&] {
      const auto value = wanted(reading, annexe_only, *annexe.site, annexe.now);
      const std::vector<std::uint16_t> words{static_cast<std::uint16_t>(value >> 16U),
                                             static_cast<std::uint16_t>(value & 0xFFFFU)};
      return drivers::decode_number(drivers::Encoding::float32, order, words);
    };
    EXPECT_NEAR(number(), 20.95, 0.05);
  }
  static_cast<void>(annexe.pass(60s));
  EXPECT_TRUE(std::isnan(
      drivers::decode_number(drivers::Encoding::float32, ByteOrder::abcd, std::vector<std::uint16_t>{0x7FC0, 0})));
  reading.order = ByteOrder::abcd;
  EXPECT_EQ(wanted(reading, annexe_only, *annexe.site, annexe.now) & 0x7F800000U, 0x7F800000U);
  EXPECT_NE(wanted(reading, annexe_only, *annexe.site, annexe.now) & 0x007FFFFFU, 0U);
}

TEST(Wanted, ScalesOntoTheRegisterAndStopsAtItsEnds) {
  EXPECT_EQ(scaled(0.0, 0.0, 0.25), 0);
  EXPECT_EQ(scaled(0.25, 0.0, 0.25), 65535);
  EXPECT_EQ(scaled(0.125, 0.0, 0.25), 32768);
  EXPECT_EQ(scaled(-0.01, 0.0, 0.25), 0);
  EXPECT_EQ(scaled(1.0, 0.0, 0.25), 65535);
  EXPECT_EQ(scaled(0.18, 0.18, 0.21), 0);
}

TEST(Wanted, TheStateOfARoomIsThatOfItsMostUrgentAlarm) {
  auto annexe = watched_annexe();
  const config::OutputKind room = config::AlarmStateNumber{"cryo-annexe", {}, 1};
  const config::OutputKind high = config::AlarmStateNumber{"cryo-annexe", "high-oxygen", 1};
  const auto number = [&](const config::OutputKind& kind) {
    return wanted(kind, annexe_only, *annexe.site, annexe.now);
  };
  EXPECT_EQ(number(room), 0);
  annexe.oxygen = 0.17;
  static_cast<void>(annexe.seconds(5));
  EXPECT_EQ(number(room), static_cast<int>(alarms::State::unacknowledged));
  EXPECT_EQ(number(high), 0);
  person(annexe, alarms::Act::acknowledge);
  EXPECT_EQ(number(room), static_cast<int>(alarms::State::acknowledged));
}

TEST(Wanted, AnEntryLockIsWithheldUntilTheAirHasBeenFreshForItsTime) {
  annexe_test::Annexe annexe;
  annexe.settings.rooms[0].entry_lock = alarms::EntryLock{.hold = 60s};
  annexe.start();
  const config::OutputKind lock = config::EntryLockRelay{"cryo-annexe", 3};
  EXPECT_EQ(wanted(lock, annexe_only, *annexe.site, annexe.now), 0U);
  static_cast<void>(annexe.seconds(59));
  EXPECT_EQ(wanted(lock, annexe_only, *annexe.site, annexe.now), 0U);
  static_cast<void>(annexe.seconds(5));
  EXPECT_EQ(wanted(lock, annexe_only, *annexe.site, annexe.now), 1U);
  EXPECT_EQ(wanted(lock, {}, *annexe.site, annexe.now), 0U) << "of no room that is known";
  annexe.oxygen = 0.2;
  static_cast<void>(annexe.seconds(1));
  EXPECT_EQ(wanted(lock, annexe_only, *annexe.site, annexe.now), 0U);
}

TEST(Wanted, WarningIsOffForARelaySoundForAHornAndFastLightForABeacon) {
  EXPECT_EQ(wanted_to_warn(config::AlarmRelay{"cryo-annexe", 0}, 0s), 0);
  EXPECT_EQ(wanted_to_warn(horn_coil, 700ms), 1);
  EXPECT_EQ(wanted_to_warn(horn_number, 700ms), 2);
  EXPECT_EQ(wanted_to_warn(beacon_coil, 0s), 1);
  EXPECT_EQ(wanted_to_warn(beacon_coil, 500ms), 0);
  EXPECT_EQ(wanted_to_warn(beacon_number, 500ms), 3);
}

} // namespace oxherd::daemon::wanted_test
