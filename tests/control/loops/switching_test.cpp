#include "control/loops/switching.hpp"

#include <algorithm>
#include <set>

#include <gtest/gtest.h>
#include <rapidcheck.h>

namespace oxherd::control::switching_test {

using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

constexpr Want wanted{.on = true}, unwanted{.on = false}, urgently_on{true, true}, urgently_off{false, true};

TEST(Switching, StaysOnForItsLeastTimeAndSaysUntilWhen) {
  const Switching rule{{minutes{3}, seconds{0}, {}, {}}};
  const SwitchingState running{.on = true, .since = minutes{10}};
  const auto early = next(rule, running, unwanted, minutes{13} - Monotonic{1});
  EXPECT_TRUE(early.state.on);
  EXPECT_EQ(early.hold, (HeldBack{Held::least_on, minutes{13}}));
  EXPECT_EQ(early.due, minutes{13});
  const auto due = next(rule, running, unwanted, minutes{13});
  EXPECT_FALSE(due.state.on);
  EXPECT_EQ(due.hold, std::nullopt);
  EXPECT_EQ(due.state.since, minutes{13});
}

TEST(Switching, StaysOffForItsLeastTimeAndSaysUntilWhen) {
  const Switching rule{{seconds{0}, minutes{5}, {}, {}}};
  const SwitchingState resting{.on = false, .since = minutes{10}};
  const auto early = next(rule, resting, wanted, minutes{15} - Monotonic{1});
  EXPECT_FALSE(early.state.on);
  EXPECT_EQ(early.hold, (HeldBack{Held::least_off, minutes{15}}));
  EXPECT_TRUE(next(rule, resting, wanted, minutes{15}).state.on);
}

TEST(Switching, StartsAtOnceWhenNothingIsKnownOfBefore) {
  EXPECT_TRUE(next({{seconds{0}, minutes{5}, {}, {}}}, {}, wanted, Monotonic{0}).state.on);
}

TEST(Switching, UrgencyIgnoresLeastTimesBothWays) {
  const Switching rule{{minutes{3}, minutes{5}, {}, {}}};
  const auto off = next(rule, {.on = true, .since = minutes{10}}, urgently_off, minutes{10} + seconds{1});
  EXPECT_FALSE(off.state.on);
  EXPECT_EQ(off.hold, std::nullopt);
  const auto on = next(rule, {.on = false, .since = minutes{10}}, urgently_on, minutes{10} + seconds{1});
  EXPECT_TRUE(on.state.on);
  EXPECT_EQ(on.hold, std::nullopt);
}

/// Starts it `times` times, ten seconds apart, from `from` on; it is off afterwards.
SwitchingState started(const Switching& rule, int times, Monotonic from, Want want = wanted) {
  SwitchingState state;
  for (int i = 0; i < times; ++i) {
    state = next(rule, state, want, from + i * seconds{10}).state;
    EXPECT_TRUE(state.on);
    state = next(rule, state, urgently_off, from + i * seconds{10} + seconds{5}).state;
  }
  return state;
}

TEST(Switching, WaitsUntilAStartIsAnHourOldWhenThereWereTooMany) {
  const Switching rule{{seconds{0}, seconds{0}, {}, 3}};
  const auto state = started(rule, 3, minutes{1});
  const auto held = next(rule, state, wanted, minutes{30});
  EXPECT_FALSE(held.state.on);
  EXPECT_EQ(held.hold, (HeldBack{Held::starts, minutes{61}}));
  EXPECT_TRUE(next(rule, state, wanted, minutes{61}).state.on);
}

TEST(Switching, UrgentStartsPassTheLimitAndCountAsStarts) {
  const Switching rule{{seconds{0}, seconds{0}, {}, 3}};
  const auto state = started(rule, 10, minutes{1}, urgently_on);
  EXPECT_EQ(state.starts.size(), 3U);
  // Of the last three the first was at 1 min 70 s.
  EXPECT_EQ(next(rule, state, wanted, minutes{61}).hold, (HeldBack{Held::starts, minutes{61} + seconds{70}}));
}

TEST(Switching, TellsOfTwoReasonsTheOneThatLastsLonger) {
  const Switching many{{seconds{0}, hours{2}, {}, 1}};
  EXPECT_EQ(next(many, started(many, 1, Monotonic{0}), wanted, minutes{1}).hold->why, Held::least_off);
  const Switching few{{seconds{0}, minutes{5}, {}, 1}};
  EXPECT_EQ(next(few, started(few, 1, Monotonic{0}), wanted, minutes{1}).hold->why, Held::starts);
}

TEST(Switching, TheLongestOnTimeEndsARunAndIsReported) {
  const Switching rule{{seconds{0}, seconds{60}, seconds{5}, {}}};
  auto step = next(rule, {}, wanted, seconds{100});
  EXPECT_EQ(step.due, seconds{105});
  step = next(rule, step.state, wanted, seconds{104});
  EXPECT_TRUE(step.state.on);
  EXPECT_FALSE(step.run_ended);
  step = next(rule, step.state, wanted, seconds{105});
  EXPECT_FALSE(step.state.on);
  EXPECT_TRUE(step.run_ended);
  EXPECT_EQ(step.hold, (HeldBack{Held::most_on, seconds{165}}));
  step = next(rule, step.state, wanted, seconds{106});
  EXPECT_FALSE(step.run_ended); // told once
  EXPECT_EQ(step.hold, (HeldBack{Held::most_on, seconds{165}}));
  EXPECT_TRUE(next(rule, step.state, wanted, seconds{165}).state.on);
}

TEST(Switching, ARunThatWasEndedIsOffForAStepEvenWithoutALeastOffTime) {
  const Switching rule{{seconds{0}, seconds{0}, seconds{5}, {}}};
  auto step = next(rule, {.on = true, .since = seconds{0}}, wanted, seconds{5});
  EXPECT_FALSE(step.state.on);
  EXPECT_EQ(step.hold, (HeldBack{Held::most_on, seconds{5} + Monotonic{1}}));
  EXPECT_TRUE(next(rule, step.state, wanted, seconds{6}).state.on);
}

TEST(Switching, ARunThatWasEndedMayHaveToWaitForANewWant) {
  const Switching purge{{seconds{0}, seconds{0}, hours{24}, {}}, AfterMost::waits_for_want};
  auto step = next(purge, {}, wanted, hours{0});
  step = next(purge, step.state, wanted, hours{24});
  EXPECT_TRUE(step.run_ended);
  EXPECT_EQ(step.hold, (HeldBack{Held::most_on, std::nullopt}));
  step = next(purge, step.state, wanted, hours{48});
  EXPECT_FALSE(step.state.on);
  step = next(purge, step.state, unwanted, hours{49});
  EXPECT_EQ(step.hold, std::nullopt);
  EXPECT_TRUE(next(purge, step.state, wanted, hours{50}).state.on);
}

TEST(Switching, WhatIsUrgentlyOnRunsOnAndEndsWhenItIsOnlyWanted) {
  const Switching rule{{seconds{0}, seconds{0}, seconds{5}, {}}};
  auto step = next(rule, {}, urgently_on, seconds{0});
  EXPECT_EQ(step.due, std::nullopt);
  step = next(rule, step.state, urgently_on, seconds{60});
  EXPECT_TRUE(step.state.on);
  step = next(rule, step.state, wanted, seconds{61});
  EXPECT_FALSE(step.state.on);
  EXPECT_TRUE(step.run_ended);
}

TEST(Switching, ARunOfUnknownBeginningCountsFromTheFirstStep) {
  const Switching rule{{seconds{0}, seconds{0}, seconds{5}, {}}};
  const auto step = next(rule, {.on = true}, wanted, seconds{100});
  EXPECT_TRUE(step.state.on);
  EXPECT_FALSE(next(rule, step.state, wanted, seconds{105}).state.on);
}

TEST(Switching, RefusesTimesThatContradictEachOther) {
  EXPECT_EQ(problem_of(Switching{{minutes{1}, minutes{1}, minutes{1}, 1}}), "");
  EXPECT_NE(problem_of(Switching{{minutes{2}, minutes{1}, minutes{1}, 1}}), "");
  EXPECT_NE(problem_of(Switching{{seconds{0}, seconds{0}, Monotonic{0}, {}}}), "");
  EXPECT_NE(problem_of(Switching{{Monotonic{-1}, seconds{0}, {}, {}}}), "");
  EXPECT_NE(problem_of(Switching{{seconds{0}, seconds{0}, {}, 0}}), "");
}

TEST(Switching, TimesOfEveryDutyAreFreeOfContradictions) {
  for (const auto duty : all_duties) EXPECT_EQ(problem_of(Switching{facts_of(duty).times}), "") << name_of(duty);
}

TEST(Switching, SaysEachReasonInWordsOfItsOwn) {
  const std::set<std::string_view> words{words_of(Held::least_on), words_of(Held::least_off), words_of(Held::starts),
                                         words_of(Held::most_on), words_of(Held::others)};
  EXPECT_EQ(words.size(), 5U);
  EXPECT_FALSE(words.contains(""));
}

Switching any_rule() {
  Switching rule;
  rule.times.on_least = seconds{*rc::gen::inRange(0, 200)};
  rule.times.off_least = seconds{*rc::gen::inRange(0, 200)};
  if (*rc::gen::arbitrary<bool>()) rule.times.on_most = rule.times.on_least + seconds{*rc::gen::inRange(1, 300)};
  if (*rc::gen::arbitrary<bool>()) rule.times.starts_per_hour = *rc::gen::inRange(1, 8);
  rule.after_most = *rc::gen::element(AfterMost::rests, AfterMost::waits_for_want);
  return rule;
}

/// Mostly ordinary wants that stand for a while, now and then an urgent one.
Want any_want(int urgent_of_hundred) {
  return {*rc::gen::arbitrary<bool>(), *rc::gen::inRange(0, 100) < urgent_of_hundred};
}

/// Cheaper than RC_ASSERT, which writes down both sides each time.
void must(bool holds, const char* what) {
  if (!holds) RC_FAIL(what);
}

struct Change {
  Monotonic at;
  bool on;
  Want want;
  bool run_ended;
};

/// Three hours of random wants, called every second; also checks each step by itself.
std::vector<Change> random_run(const Switching& rule, int urgent_of_hundred) {
  std::vector<Change> changes;
  SwitchingState state;
  Want want;
  for (Monotonic now{0}; now < hours{3};) {
    want = any_want(urgent_of_hundred);
    const auto until = now + seconds{*rc::gen::element(1, 2, 30, 59, 61, 200, 700)};
    for (; now < until; now += seconds{1}) {
      const auto step = next(rule, state, want, now);
      must(step.hold.has_value() == (step.state.on != want.on), "a difference is explained, and nothing else");
      must(!want.urgent || step.state.on == want.on, "what is urgent is done");
      must(!step.hold || !step.hold->until || *step.hold->until > now, "a hold ends later");
      if (step.state.on != state.on) changes.push_back({now, step.state.on, want, step.run_ended});
      state = step.state;
    }
  }
  return changes;
}

TEST(Switching, NoWantEverBreaksTheLeastTimesUnlessItIsUrgent) {
  EXPECT_TRUE(rc::check([] {
    const auto rule = any_rule();
    const auto changes = random_run(rule, *rc::gen::element(0, 20));
    for (std::size_t i = 1; i < changes.size(); ++i) {
      if (changes[i].want.urgent) continue;
      const auto lasted = changes[i].at - changes[i - 1].at;
      RC_ASSERT(lasted >= (changes[i].on ? rule.times.off_least : rule.times.on_least));
    }
  }));
}

TEST(Switching, NoWantEverStartsItMoreOftenAnHourUnlessItIsUrgent) {
  EXPECT_TRUE(rc::check([] {
    auto rule = any_rule();
    rule.times.starts_per_hour = *rc::gen::inRange(1, 8);
    std::vector<Monotonic> starts;
    for (const auto& change : random_run(rule, *rc::gen::element(0, 20))) {
      if (!change.on) continue;
      starts.push_back(change.at);
      if (change.want.urgent) continue;
      const auto within =
          std::count_if(starts.begin(), starts.end(), [&](Monotonic start) { return start > change.at - hours{1}; });
      RC_ASSERT(within <= *rule.times.starts_per_hour);
    }
  }));
}

// The calls come on the second and the times are whole seconds, so not even the interval is added.
TEST(Switching, NoRunIsEverLongerThanTheLongestUnlessItIsUrgent) {
  EXPECT_TRUE(rc::check([] {
    auto rule = any_rule();
    rule.times.on_most = rule.times.on_least + seconds{*rc::gen::inRange(1, 300)};
    const auto changes = random_run(rule, 0);
    for (std::size_t i = 1; i < changes.size(); ++i) {
      if (changes[i].on) continue;
      const auto lasted = changes[i].at - changes[i - 1].at;
      RC_ASSERT(lasted <= *rule.times.on_most);
      RC_ASSERT(changes[i].run_ended == (lasted == *rule.times.on_most));
    }
    RC_ASSERT((changes.empty() || !changes.back().on || hours{3} - changes.back().at <= *rule.times.on_most));
  }));
}

// With calls at `due` only, and a want that stands, everything happens as with a call every second.
TEST(Switching, NothingChangesByTheClockBeforeItIsDue) {
  EXPECT_TRUE(rc::check([] {
    const auto rule = any_rule();
    SwitchingState state{.on = *rc::gen::arbitrary<bool>(), .since = Monotonic{0}};
    const auto want = any_want(0);
    auto due = next(rule, state, want, Monotonic{0}).due;
    for (Monotonic now{0}; now < minutes{30}; now += seconds{1}) {
      const auto step = next(rule, state, want, now);
      if (now > Monotonic{0} && step.state.on != state.on) must(due && *due <= now, "it was due");
      must(now == Monotonic{0} || !due || *due > now || step.state.on != state.on, "what is due happens");
      state = step.state;
      due = step.due;
    }
  }));
}

} // namespace oxherd::control::switching_test
