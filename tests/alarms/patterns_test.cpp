// What horns and beacons do by the state of alarms and by the clock.
#include "alarms/patterns.hpp"

#include <array>
#include <vector>

#include <gtest/gtest.h>

namespace oxherd::alarms_patterns_test {

using namespace alarms;
using namespace std::chrono_literals;

// ISA-18.1 practice, by the letters of the usual state diagram: B and E sound and flash fast, C and F steady, D flashes
// slowly and is silent, G, H, I and A nothing.
TEST(Patterns, FollowTheStateInEveryState) {
  struct Row {
    State state;
    Light light;
  };
  constexpr std::array<Row, 9> table{{{State::normal, Light::off},
                                      {State::unacknowledged, Light::fast_flash},
                                      {State::acknowledged, Light::steady},
                                      {State::returned_to_normal_unacknowledged, Light::slow_flash},
                                      {State::latched_unacknowledged, Light::fast_flash},
                                      {State::latched_acknowledged, Light::steady},
                                      {State::shelved, Light::off},
                                      {State::suppressed_by_design, Light::off},
                                      {State::out_of_service, Light::off}}};
  for (const auto& row : table) EXPECT_EQ(light_of(row.state), row.light) << name_of(row.state);
}

TEST(Patterns, SoundExactlyWhereTheAlarmSounds) {
  constexpr std::array all{State::normal,
                           State::unacknowledged,
                           State::acknowledged,
                           State::returned_to_normal_unacknowledged,
                           State::latched_unacknowledged,
                           State::latched_acknowledged};
  for (const State beneath : all) {
    Standing standing;
    standing.beneath = beneath;
    const std::vector<Announced> one{{shown(standing), Priority::high, sounds(standing, 1s)}};
    const bool loud = beneath == State::unacknowledged || beneath == State::latched_unacknowledged;
    EXPECT_EQ(sound_of(one), loud ? Sound::pulses : Sound::off) << name_of(beneath);
    standing.out_of_service_until = 100s;
    const std::vector<Announced> hidden{{shown(standing), Priority::high, sounds(standing, 1s)}};
    EXPECT_EQ(sound_of(hidden), Sound::off) << name_of(beneath);
    EXPECT_EQ(light_of(hidden), Light::off) << name_of(beneath);
  }
}

TEST(Patterns, ShowTheUnacknowledgedBeforeThePriority) {
  const Announced seen{State::acknowledged, Priority::critical, false};
  const Announced fresh{State::unacknowledged, Priority::low, true};
  EXPECT_EQ(light_of(std::vector{seen, fresh}), Light::fast_flash);
  EXPECT_EQ(most_urgent(std::vector{seen, fresh}).priority, Priority::low);
  const Announced graver{State::unacknowledged, Priority::high, true};
  EXPECT_EQ(most_urgent(std::vector{fresh, graver, fresh}).priority, Priority::high);
  EXPECT_EQ(most_urgent({}).state, State::normal);
}

TEST(Patterns, SilenceLeavesTheLightAndTheOtherAlarmsSound) {
  const Announced silenced{State::unacknowledged, Priority::critical, false};
  const Announced other{State::unacknowledged, Priority::medium, true};
  EXPECT_EQ(sound_of(std::vector{silenced}), Sound::off);
  EXPECT_EQ(light_of(std::vector{silenced}), Light::fast_flash);
  EXPECT_EQ(sound_of(std::vector{silenced, other}), Sound::pulses);
  const Announced critical{State::unacknowledged, Priority::critical, true};
  EXPECT_EQ(sound_of(std::vector{other, critical}), Sound::continuous);
}

TEST(Patterns, ChangeAtWholeHalvesOfASecondOnly) {
  for (Monotonic at = 7200s; at < 7212s; at += 1ms) {
    const bool edge = at % 500ms == 0ms;
    for (const auto light : {Light::off, Light::slow_flash, Light::steady, Light::fast_flash})
      EXPECT_TRUE(edge || is_on(light, at) == is_on(light, at - 1ms)) << at.count();
    for (const auto sound : {Sound::off, Sound::pulses, Sound::continuous})
      EXPECT_TRUE(edge || is_on(sound, at) == is_on(sound, at - 1ms)) << at.count();
  }
}

TEST(Patterns, AreOnForHalfOfTheirPeriod) {
  const auto share = [](auto pattern) {
    int on = 0;
    for (Monotonic at = 0s; at < 3s; at += 100ms) on += is_on(pattern, at) ? 1 : 0;
    return on;
  };
  EXPECT_EQ(share(Light::off), 0);
  EXPECT_EQ(share(Light::slow_flash), 15);
  EXPECT_EQ(share(Light::fast_flash), 15);
  EXPECT_EQ(share(Light::steady), 30);
  EXPECT_EQ(share(Sound::pulses), 15);
  EXPECT_EQ(share(Sound::continuous), 30);
  EXPECT_TRUE(is_on(Light::slow_flash, 500ms) && !is_on(Light::fast_flash, 500ms)) << "fast and slow can be told apart";
}

} // namespace oxherd::alarms_patterns_test
