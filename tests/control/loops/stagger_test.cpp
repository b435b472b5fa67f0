#include <gtest/gtest.h>
#include <rapidcheck.h>

#include "control/loops/switching.hpp"

namespace oxherd::control::stagger_test {

using std::chrono::minutes;
using std::chrono::seconds;

constexpr Stagger ten_seconds{seconds{10}};

/// A group that keeps its own states.
struct Group {
  std::vector<Member> members;
  StaggerState state{};
  StaggerStep step(const Stagger& rule, Monotonic now) {
    auto result = next(rule, state, members, now);
    state = result.state;
    for (std::size_t i = 0; i < members.size(); ++i) members[i].state = result.members[i].state;
    return result;
  }
};
Member wanting(bool on, bool urgent = false) { return {{}, {}, {on, urgent}}; }

TEST(Stagger, LetsOneOfAGroupStartAndTellsTheOthersWhen) {
  Group group{{wanting(true), wanting(true), wanting(true)}};
  auto step = group.step(ten_seconds, seconds{100});
  EXPECT_TRUE(step.members[0].state.on);
  EXPECT_FALSE(step.members[1].state.on);
  EXPECT_EQ(step.members[1].hold, (HeldBack{Held::others, seconds{110}}));
  EXPECT_EQ(step.members[2].hold, (HeldBack{Held::others, seconds{120}}));
  EXPECT_EQ(step.members[2].due, seconds{120});
  step = group.step(ten_seconds, seconds{110} - Monotonic{1});
  EXPECT_FALSE(step.members[1].state.on);
  step = group.step(ten_seconds, seconds{110});
  EXPECT_TRUE(step.members[1].state.on);
  EXPECT_FALSE(step.members[2].state.on);
  EXPECT_TRUE(group.step(ten_seconds, seconds{120}).members[2].state.on);
}

TEST(Stagger, AMemberThatCouldNotStartAnywayHoldsNobodyUp) {
  Group group{{wanting(true), wanting(true)}};
  group.members[0].rule.times.off_least = minutes{5};
  group.members[0].state.since = seconds{90};
  const auto step = group.step(ten_seconds, seconds{100});
  EXPECT_EQ(step.members[0].hold->why, Held::least_off);
  EXPECT_TRUE(step.members[1].state.on);
}

TEST(Stagger, TheOneThatHasWaitedLongestGoesFirst) {
  Group group{{wanting(false), wanting(true), wanting(true)}};
  (void)group.step(ten_seconds, seconds{100}); // the second starts, the third waits
  group.members[0].want.on = true;
  (void)group.step(ten_seconds, seconds{105});
  const auto step = group.step(ten_seconds, seconds{110});
  EXPECT_FALSE(step.members[0].state.on);
  EXPECT_TRUE(step.members[2].state.on);
}

TEST(Stagger, AnUrgentStartIsNotDelayedButDelaysTheOthers) {
  Group group{{wanting(true), wanting(false), wanting(false)}};
  (void)group.step(ten_seconds, seconds{100});
  group.members[1].want = {true, true};
  group.members[2].want = {true, false};
  const auto step = group.step(ten_seconds, seconds{105});
  EXPECT_TRUE(step.members[1].state.on);
  EXPECT_EQ(step.members[2].hold, (HeldBack{Held::others, seconds{115}}));
}

TEST(Stagger, BeginsTheWaitingAnewForAGroupOfAnotherSize) {
  Group group{{wanting(true), wanting(true)}};
  (void)group.step(ten_seconds, seconds{100});
  group.members.push_back(wanting(true));
  const auto step = group.step(ten_seconds, seconds{105});
  EXPECT_EQ(step.state.waiting_since[1], seconds{105});
  EXPECT_EQ(step.members[1].hold, (HeldBack{Held::others, seconds{110}}));
}

// Random wants over ten minutes; each member has least times of its own.
TEST(Stagger, NoTwoStartsLieCloserThanTheGapAndNothingElseIsDelayed) {
  EXPECT_TRUE(rc::check([] {
    const Stagger rule{seconds{*rc::gen::inRange(0, 60)}};
    Group group;
    const int size = *rc::gen::inRange(1, 6);
    for (int i = 0; i < size; ++i) {
      group.members.push_back(wanting(false));
      group.members.back().rule.times = {seconds{*rc::gen::inRange(0, 30)}, seconds{*rc::gen::inRange(0, 30)}, {}, {}};
    }
    std::optional<Monotonic> last_start;
    for (Monotonic now{0}; now < minutes{10}; now += seconds{1}) {
      if (now.count() % 7000 == 0)
        for (auto& member : group.members) member.want = {*rc::gen::arbitrary<bool>(), *rc::gen::inRange(0, 10) == 0};
      const auto before = group.members;
      const auto step = group.step(rule, now);
      std::optional<Monotonic> started_now;
      for (std::size_t i = 0; i < before.size(); ++i) {
        const auto alone = next(before[i].rule, before[i].state, before[i].want, now);
        const bool starts = step.members[i].state.on && !before[i].state.on;
        const bool delayed = step.members[i].state != alone.state;
        RC_ASSERT((!delayed || (alone.state.on && !before[i].state.on && !before[i].want.urgent)));
        RC_ASSERT((delayed == (step.members[i].hold && step.members[i].hold->why == Held::others)));
        if (!starts) continue;
        if (!before[i].want.urgent) {
          RC_ASSERT((!last_start || now - *last_start >= rule.gap));
          RC_ASSERT((!started_now || rule.gap == Monotonic{0}));
        }
        started_now = now;
      }
      if (started_now) last_start = started_now;
    }
  }));
}

// Nobody waits for ever: with wants that stand, each has started after as many gaps as there are members.
TEST(Stagger, EveryMemberThatKeepsWantingStartsInTime) {
  EXPECT_TRUE(rc::check([] {
    const Stagger rule{seconds{*rc::gen::inRange(1, 60)}};
    Group group;
    const int size = *rc::gen::inRange(1, 8);
    for (int i = 0; i < size; ++i) group.members.push_back(wanting(true));
    for (Monotonic now{0}; now <= (size - 1) * rule.gap; now += seconds{1}) (void)group.step(rule, now);
    for (const auto& member : group.members) RC_ASSERT(member.state.on);
  }));
}

} // namespace oxherd::control::stagger_test
