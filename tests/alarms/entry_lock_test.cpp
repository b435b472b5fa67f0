#include "alarms/entry_lock.hpp"

#include <gtest/gtest.h>

namespace oxherd::alarms {
namespace {

constexpr Monotonic second{1000};

Channel channel(double value, double expanded) { return {Quality::good, value, expanded}; }

/// A room of which nothing speaks against entry, to be changed in one thing.
struct FreshRoom {
  std::vector<Channel> oxygen{channel(0.2095, 0.003), channel(0.2090, 0.003)};
  std::vector<Channel> carbon_dioxide{channel(0.0006, 0.0001)};
  EntryView view{Regime::ventilated_before_entry, true, false, {}, {}};
  std::vector<std::string> objections() {
    view.oxygen = oxygen;
    view.carbon_dioxide = carbon_dioxide;
    return alarms::objections(EntryLock{}, view);
  }
};

using Texts = std::vector<std::string>;

TEST(AnEntryLock, HasNothingAgainstFreshAir) { EXPECT_EQ(FreshRoom{}.objections(), Texts{}); }

TEST(AnEntryLock, JudgesTheUnfavourableEndOfEveryChannel) {
  FreshRoom low;
  low.oxygen[1] = channel(0.2070, 0.0021);
  EXPECT_EQ(low.objections(), Texts{"oxygen 20.70 % could be 20.49 %, less than 20.50 %"});
  FreshRoom high;
  high.oxygen[0] = channel(0.2330, 0.0025);
  EXPECT_EQ(high.objections(), Texts{"oxygen 23.30 % could be 23.55 %, more than 23.50 %"});
  FreshRoom foul_itself;
  foul_itself.carbon_dioxide[0] = channel(0.0061, 0.0002);
  foul_itself.oxygen[0] = channel(0.02, 0.001);
  EXPECT_EQ(foul_itself.objections(),
            (Texts{"oxygen 2.00 % is less than 20.50 %", "CO2 6100 ppm is more than 5000 ppm"}));
  FreshRoom foul;
  foul.carbon_dioxide[0] = channel(0.0049, 0.0002);
  EXPECT_EQ(foul.objections(), Texts{"CO2 4900 ppm could be 5100 ppm, more than 5000 ppm"});
}

TEST(AnEntryLock, IsWithheldForWhateverIsNotKnown) {
  FreshRoom lost;
  lost.oxygen[1].quality = Quality::bad;
  lost.carbon_dioxide[0].expanded = -1.0;
  EXPECT_EQ(lost.objections(), (Texts{"an oxygen sensor gives no value that can be used",
                                      "a CO2 sensor gives no value that can be used"}));
  FreshRoom none;
  none.oxygen.clear();
  EXPECT_EQ(none.objections(), Texts{"no sensor measures oxygen here"});
}

TEST(AnEntryLock, IsWithheldByRegimeAlarmAndMonitoring) {
  FreshRoom room;
  room.view = {Regime::sealed_low_oxygen, false, true, {}, {}};
  EXPECT_EQ(room.objections(), (Texts{"the room is sealed at low oxygen", "the room is not monitored",
                                      "a safety alarm of the room is not normal"}));
  room.view = {Regime::occupied, true, false, {}, {}};
  EXPECT_EQ(room.objections(), Texts{});
}

TEST(AnEntryLock, WaitsUntilTheAirHasBeenFreshWithoutABreak) {
  EntryLock lock;
  lock.hold = 900 * second;
  EntryLockState state;
  EXPECT_TRUE(is_withheld(lock, state, Monotonic{0}));
  for (int s = 0; s < 800; ++s) state = next(state, true, s * second);
  EXPECT_TRUE(is_withheld(lock, state, 800 * second));
  state = next(state, false, 801 * second); // one evaluation is enough
  for (int s = 802; s < 802 + 900; ++s) {
    state = next(state, true, s * second);
    ASSERT_TRUE(is_withheld(lock, state, s * second)) << s;
  }
  state = next(state, true, 1702 * second);
  EXPECT_FALSE(is_withheld(lock, state, 1702 * second));
  state = next(state, false, 1703 * second);
  EXPECT_TRUE(is_withheld(lock, state, 1703 * second)) << "what is no longer fresh is withheld at once";
}

} // namespace
} // namespace oxherd::alarms
