// Relays and locks that nobody watches any more: which of them a reload has to drop, and what counts as dropped.
#include <gtest/gtest.h>

#include "daemon/outputs/dropped.hpp"

namespace oxherd::daemon::dropped_test {

using namespace std::chrono_literals;

config::Bus bus(const std::string& name, const std::string& host) {
  config::Bus made;
  made.name = name;
  made.address = drivers::TcpAddress{host, 502};
  made.timeout = 300ms;
  return made;
}
config::Output at(const std::string& name, const std::string& bus, int unit, config::OutputKind kind) {
  return {name, bus, unit, 1000ms, std::move(kind)};
}
const config::OutputKind relay = config::AlarmRelay{"cryo-annexe", 4}, lock = config::EntryLockRelay{"store", 5};

config::Settings site(std::vector<config::Output> outputs) {
  config::Settings settings;
  settings.buses = {bus("plant", "192.0.2.10"), bus("spare", "192.0.2.11")};
  settings.outputs = std::move(outputs);
  return settings;
}
const config::Output beacon = at("beacon", "plant", 31, relay), door = at("door", "plant", 31, lock);

TEST(GivenUpOutputs, ARelayAndALockThatAreGoneAreDroppedUnderNumbersThatNoOutputHas) {
  const auto horn = at("horn", "plant", 31, config::Sounder{{}, {true, 6}});
  const auto found = given_up(site({beacon, horn, door}), site({horn}));
  ASSERT_EQ(found.size(), 2U) << "horns are left to their module";
  EXPECT_EQ(found[0].bus, "plant");
  EXPECT_EQ(found[0].drop.output, 1U);
  EXPECT_EQ(found[0].drop.unit, 31);
  EXPECT_TRUE(found[0].drop.is_coil);
  EXPECT_EQ(found[0].drop.address, 4);
  EXPECT_EQ(found[0].drop.value, 0U);
  EXPECT_EQ(found[0].drop.timeout, 300ms);
  EXPECT_EQ(found[1].drop.output, 2U);
  EXPECT_EQ(found[1].drop.address, 5);
  EXPECT_EQ(to_string(found[0]), "output beacon (coil 4 of unit 31 on bus \"plant\") is no longer in the settings: it "
                                 "is dropped now, and nothing drives it from now on");
}

TEST(GivenUpOutputs, WhatIsWrittenStillIsLeftToWhoeverWritesIt) {
  EXPECT_TRUE(given_up(site({beacon, door}), site({beacon, door})).empty());
  EXPECT_TRUE(given_up(site({beacon}), site({at("renamed", "plant", 31, relay)})).empty());
  EXPECT_TRUE(given_up(site({beacon}), site({at("horn", "plant", 31, config::Sounder{{}, {true, 4}})})).empty());
  auto renamed = site({at("beacon", "hall", 31, relay)});
  renamed.buses[0].name = "hall";
  EXPECT_TRUE(given_up(site({beacon}), renamed).empty()) << "the bus leads to the same place";
}

TEST(GivenUpOutputs, ARelayThatMovedLeavesItsOldCoilBehind) {
  const auto dropped = [](const config::Output& moved) { return given_up(site({beacon}), site({moved})).size(); };
  EXPECT_EQ(dropped(at("beacon", "spare", 31, relay)), 1U);
  EXPECT_EQ(dropped(at("beacon", "plant", 32, relay)), 1U);
  EXPECT_EQ(dropped(at("beacon", "plant", 31, config::AlarmRelay{"cryo-annexe", 7})), 1U);
  EXPECT_EQ(dropped(at("beacon", "plant", 31, config::Heartbeat{4})), 1U) << "a register is no coil";
}

TEST(GivenUpOutputs, ABusThatIsGoneIsSaidBecauseNobodyDropsItsRelays) {
  auto next = site({beacon});
  next.buses[0].address = drivers::TcpAddress{"192.0.2.12", 502}; // another module under the old name
  const auto found = given_up(site({beacon}), next);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_FALSE(found[0].bus) << "nothing is written to a stranger";
  EXPECT_NE(to_string(found[0]).find("nobody drops it any more"), std::string::npos) << to_string(found[0]);
}

TEST(GivenUpOutputs, ASerialLineIsTheSameByItsDevice) {
  auto before = site({beacon}), next = site({});
  before.buses[0].address = drivers::SerialLine{"/dev/ttyUSB0"};
  next.buses[1].address = drivers::SerialLine{"/dev/ttyUSB0", 9600};
  EXPECT_EQ(given_up(before, next).at(0).bus, "spare");
}

TEST(Dropped, OnlyAnAcceptedWriteOfOffIsADrop) {
  EXPECT_TRUE(took_drop({3, 0}, 0));
  EXPECT_FALSE(took_drop({3, 1}, 0)) << "what was under way when the stop came";
  EXPECT_FALSE(took_drop({3, 0, drivers::BusError{drivers::BusFault::timeout, 0, "no reply"}}, 0));
  EXPECT_TRUE(took_drop({3, 1}, 1)) << "a vent that is left open";
}

} // namespace oxherd::daemon::dropped_test
