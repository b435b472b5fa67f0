#include "control/actuator.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace oxherd::control::actuator_test {

using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

Facts all_well() {
  Facts facts;
  facts.truth.fill(Truth::holds);
  return facts;
}
Facts all_well_but(Condition condition, const std::string& because = "it fails") {
  Facts facts = all_well();
  facts.set(condition, Truth::fails, because);
  return facts;
}
constexpr Situation quiet{.monitored = true, .safety_alarm = false, .people_may_be_in = true};
constexpr Situation empty_store{.monitored = true, .safety_alarm = false, .people_may_be_in = false};

ActuatorRules rules_of(Duty duty) {
  return {.duty = duty, .safe = facts_of(duty).safe, .times = facts_of(duty).times, .asked_for = {}};
}
ActuatorOrder order_to(ActuatorAct act) {
  return {.act = act, .by = "E. Marlow", .because = "pull-down after loading", .output = 1.0, .duration = minutes{30}};
}
/// A purge that a person has started and that is on.
ActuatorState purging(Monotonic since = Monotonic{0}) {
  ActuatorState state;
  state.run = StartedRun{"E. Marlow", "pull-down", since};
  state.on_since = since;
  return state;
}
bool told(const ActuatorStep& step, ActuatorEvent event) {
  return std::any_of(step.news.begin(), step.news.end(), [&](const auto& one) { return one.event == event; });
}

// The rank of who decides, over every combination of what can be said of one actuator.
TEST(Actuator, IsDecidedByInterlockThenPersonThenLoopInEveryCombination) {
  const std::array<std::optional<Wish>, 4> wishes{std::nullopt, Wish{std::nullopt, "no value"}, Wish{0.0, "at"},
                                                  Wish{1.0, "below"}};
  const std::array<std::optional<Override>, 3> overrides{std::nullopt, Override{0.0, "E. Marlow", "work", hours{1}},
                                                         Override{1.0, "E. Marlow", "work", hours{1}}};
  int cases = 0;
  for (const auto duty : all_duties)
    for (const auto safe : {SafeState::off, SafeState::on, SafeState::on_for_people})
      for (int bits = 0; bits < 64; ++bits)
        for (const auto& wish : wishes)
          for (const auto& held : overrides) {
            const Situation situation{(bits & 1) != 0, (bits & 2) != 0, (bits & 4) != 0};
            const bool blocked = (bits & 8) != 0;
            ActuatorRules rules = rules_of(duty);
            rules.safe = safe;
            if (blocked) rules.asked_for = {Condition::lights_on};
            ActuatorState state;
            state.override_ = held;
            if ((bits & 16) != 0) state.run = StartedRun{"E. Marlow", "pull-down", Monotonic{0}};
            if ((bits & 32) != 0) state.trip = Trip{Monotonic{0}, "a door"};
            const auto facts = blocked ? all_well_but(Condition::lights_on) : all_well();
            const auto step = next(rules, state, situation, facts, wish, seconds{1});
            ++cases;

            const bool needs_run = duty == Duty::nitrogen_purge || duty == Duty::scrubbing;
            const bool latches = needs_run || facts_of(duty).gas;
            const bool stopped = blocked || (needs_run && !state.run) || (latches && state.trip.has_value());
            const bool rests_on =
                safe == SafeState::on || (safe == SafeState::on_for_people && situation.people_may_be_in);
            const bool aired =
                facts_of(duty).airs && situation.people_may_be_in && (situation.safety_alarm || !situation.monitored);
            double expected = 0.0;
            if (!stopped && aired)
              expected = 1.0;
            else if (!stopped && held)
              expected = held->output;
            else if (!stopped && wish)
              expected = wish->output ? *wish->output : rests_on ? 1.0 : 0.0;
            else if (!stopped && duty == Duty::circulation)
              expected = 1.0; // no loop can ask for it
            ASSERT_EQ(step.state.output, expected) << name_of(duty) << " bits " << bits;
            ASSERT_TRUE(stopped || !aired || step.state.by == Decider::interlock);
            ASSERT_TRUE(step.state.output == 0.0 || step.state.blocks.empty());
          }
  EXPECT_EQ(cases, 11 * 3 * 64 * 4 * 3);
}

TEST(Actuator, StopsAtOnceWhenItIsBlockedEvenIfItsLoopHasHadEnoughByThen) {
  const auto step = next(rules_of(Duty::carbon_dioxide_dosing), {}, quiet, all_well_but(Condition::door_closed),
                         Wish{0.0, "enough"}, seconds{1});
  EXPECT_EQ(step.state.output, 0.0);
  EXPECT_TRUE(step.urgent);
}

TEST(Actuator, SaysWhichConditionsBlockIt) {
  auto facts = all_well_but(Condition::door_closed, "the door is open");
  facts.set(Condition::oxygen_measured, Truth::unknown, "cell-a does not answer");
  const auto step = next(rules_of(Duty::carbon_dioxide_dosing), {}, quiet, facts, Wish{1.0, "below"}, seconds{1});
  EXPECT_EQ(step.state.by, Decider::interlock);
  EXPECT_EQ(step.state.because, "the door is open; cell-a does not answer");
  EXPECT_TRUE(step.urgent);
  EXPECT_TRUE(told(step, ActuatorEvent::blocked));
}

TEST(Actuator, TellsAStandingBlockOnce) {
  const auto facts = all_well_but(Condition::door_closed);
  const auto rules = rules_of(Duty::carbon_dioxide_dosing);
  auto step = next(rules, {}, quiet, facts, Wish{1.0, ""}, seconds{1});
  step = next(rules, step.state, quiet, facts, Wish{1.0, ""}, seconds{2});
  EXPECT_TRUE(step.news.empty());
  step = next(rules, step.state, quiet, all_well(), Wish{1.0, ""}, seconds{3});
  EXPECT_TRUE(told(step, ActuatorEvent::free_again));
  EXPECT_EQ(step.state.output, 1.0);
}

TEST(Actuator, DoesNotSpeakOfABlockThatNobodyMeets) {
  const auto step = next(rules_of(Duty::carbon_dioxide_dosing), {}, quiet, all_well_but(Condition::lights_on),
                         Wish{0.0, ""}, seconds{1});
  EXPECT_TRUE(step.news.empty());
  EXPECT_EQ(step.state.by, Decider::rest);
}

// A valve that is shut for now, because the last pulse has to mix first, is no less stopped than an open one.
TEST(Dosing, IsEndedForGoodBetweenTwoPulsesByWhatWouldEndItInThem) {
  const auto rules = rules_of(Duty::carbon_dioxide_dosing);
  for (const auto condition : {Condition::no_safety_alarm, Condition::device_holds}) {
    auto step = next(rules, {}, quiet, all_well(), Wish{1.0, "below"}, seconds{1});
    step = next(rules, step.state, quiet, all_well_but(condition), Wish{1.0, "below"}, seconds{2});
    EXPECT_TRUE(told(step, ActuatorEvent::tripped)) << name_of(condition);
    step = next(rules, step.state, quiet, all_well(), Wish{1.0, "below"}, seconds{3});
    EXPECT_EQ(step.state.output, 0.0) << name_of(condition);
  }
}

TEST(Dosing, IsNotEndedForGoodBeforeItsDeviceHasConfirmedAnythingNorByWhatComesAndGoes) {
  const auto rules = rules_of(Duty::carbon_dioxide_dosing);
  Facts not_yet = all_well();
  not_yet.set(Condition::device_holds, Truth::unknown, "its device has not confirmed anything yet");
  for (const auto& facts : {not_yet, all_well_but(Condition::lights_on), all_well_but(Condition::nobody_in)}) {
    auto step = next(rules, {}, quiet, facts, Wish{1.0, "below"}, seconds{1});
    step = next(rules, step.state, quiet, facts, Wish{1.0, "below"}, seconds{2});
    step = next(rules, step.state, quiet, all_well(), Wish{1.0, "below"}, seconds{3});
    EXPECT_EQ(step.state.output, 1.0);
  }
}

// Each condition of a purge, one by one: the valve is shut in the same evaluation and waits for a person.
TEST(Purge, EndsWithinOneEvaluationWhateverFailsAndDoesNotComeBackByItself) {
  const auto rules = rules_of(Duty::nitrogen_purge);
  for (const auto condition : all_conditions()) {
    if (need_of(Duty::nitrogen_purge, condition) == Need::none || condition == Condition::started_by_person ||
        condition == Condition::not_tripped || condition == Condition::within_longest_run)
      continue;
    for (const auto truth : {Truth::fails, Truth::unknown}) {
      Facts facts = all_well();
      facts.set(condition, truth, "it fails");
      auto step = next(rules, purging(), empty_store, facts, Wish{1.0, "above"}, minutes{1});
      EXPECT_EQ(step.state.output, 0.0) << name_of(condition);
      EXPECT_TRUE(step.urgent);
      EXPECT_TRUE(told(step, ActuatorEvent::tripped));
      EXPECT_TRUE(told(step, ActuatorEvent::run_ended));
      step.state.on_since.reset();
      step = next(rules, step.state, empty_store, all_well(), Wish{1.0, "above"}, minutes{2});
      EXPECT_EQ(step.state.output, 0.0) << "came back by itself after " << name_of(condition);
    }
  }
}

TEST(Purge, IsShutByAMissingAnswerAndGoesOnWhenItIsThereAgain) {
  const auto rules = rules_of(Duty::nitrogen_purge);
  Facts facts = all_well();
  facts.set(Condition::oxygen_measured, Truth::missed, "cell-a: no reply");
  auto step = next(rules, purging(), empty_store, facts, Wish{1.0, "above"}, minutes{1});
  EXPECT_EQ(step.state.output, 0.0);
  EXPECT_TRUE(step.urgent);
  EXPECT_FALSE(step.state.trip);
  EXPECT_TRUE(told(step, ActuatorEvent::blocked));
  step = next(rules, step.state, empty_store, all_well(), Wish{1.0, "above"}, minutes{2});
  EXPECT_EQ(step.state.output, 1.0);
}

TEST(Purge, DoesNotBeginWithoutAPerson) {
  const auto step = next(rules_of(Duty::nitrogen_purge), {}, empty_store, all_well(), Wish{1.0, "above"}, minutes{1});
  EXPECT_EQ(step.state.output, 0.0);
  EXPECT_EQ(step.state.because, "nobody has started it");
}

TEST(Purge, EndsWhenItHasBeenOnForTheLongestThatItMay) {
  auto rules = rules_of(Duty::nitrogen_purge);
  rules.times.on_most = hours{10};
  auto step = next(rules, purging(), empty_store, all_well(), Wish{1.0, "above"}, hours{10} - Monotonic{1});
  EXPECT_EQ(step.state.output, 1.0);
  step = next(rules, step.state, empty_store, all_well(), Wish{1.0, "above"}, hours{10});
  EXPECT_EQ(step.state.output, 0.0);
  EXPECT_EQ(step.state.trip->because, "it has been on for 600 min, the longest that it may");
}

TEST(Purge, HasToBeStartedAnewAfterTheLongestRun) {
  auto rules = rules_of(Duty::nitrogen_purge);
  rules.run_most = hours{48};
  ActuatorState state = purging();
  state.on_since.reset();
  const auto step = next(rules, state, empty_store, all_well(), Wish{1.0, "above"}, hours{48});
  EXPECT_FALSE(step.state.run);
  EXPECT_TRUE(told(step, ActuatorEvent::run_ended));
  EXPECT_FALSE(step.state.trip);
}

TEST(Purge, IsStartedByAPersonWhoSaysWhyAndOnlyWhileNothingSpeaksAgainstIt) {
  const auto rules = rules_of(Duty::nitrogen_purge);
  auto asked = order_to(ActuatorAct::start);
  EXPECT_EQ(order(rules, {}, all_well(), asked, minutes{1}).refusal, "");
  EXPECT_EQ(order(rules, {}, all_well(), asked, minutes{1}).state.run->by, "E. Marlow");
  EXPECT_EQ(order(rules, {}, all_well_but(Condition::sealed, "the room is not sealed"), asked, minutes{1}).refusal,
            "the nitrogen purge cannot be started: the room is not sealed");
  asked.because.clear();
  EXPECT_EQ(order(rules, {}, all_well(), asked, minutes{1}).refusal, "say why it is started");
}

TEST(Purge, ThatTrippedIsReleasedOnlyWhenItsCauseIsGoneAndThenStartedAnew) {
  const auto rules = rules_of(Duty::nitrogen_purge);
  ActuatorState state;
  state.trip = Trip{Monotonic{0}, "the door is open"};
  EXPECT_NE(order(rules, state, all_well(), order_to(ActuatorAct::start), minutes{1}).refusal, "");
  EXPECT_NE(
      order(rules, state, all_well_but(Condition::door_closed), order_to(ActuatorAct::release), minutes{1}).refusal,
      "");
  const auto released = order(rules, state, all_well(), order_to(ActuatorAct::release), minutes{1});
  EXPECT_EQ(released.refusal, "");
  const auto step = next(rules, released.state, empty_store, all_well(), Wish{1.0, "above"}, minutes{2});
  EXPECT_EQ(step.state.output, 0.0) << "a release starts nothing";
  EXPECT_EQ(order(rules, released.state, all_well(), order_to(ActuatorAct::start), minutes{2}).refusal, "");
}

TEST(Override, IsNeverPastAnInterlock) {
  for (const auto duty : all_duties)
    for (const auto condition : all_conditions()) {
      if (need_of(duty, condition) == Need::none || condition == Condition::started_by_person ||
          condition == Condition::not_tripped || condition == Condition::within_longest_run)
        continue;
      const auto refused = order(rules_of(duty), {}, all_well_but(condition), order_to(ActuatorAct::hold), minutes{1});
      EXPECT_NE(refused.refusal, "") << name_of(duty) << ' ' << name_of(condition);
      EXPECT_FALSE(refused.state.override_);
      ActuatorState held;
      held.override_ = Override{1.0, "E. Marlow", "work", hours{1}};
      EXPECT_EQ(next(rules_of(duty), held, quiet, all_well_but(condition), std::nullopt, minutes{1}).state.output, 0.0);
    }
}

TEST(Override, StartsNothingThatAPersonHasToStart) {
  const auto rules = rules_of(Duty::nitrogen_purge);
  EXPECT_EQ(order(rules, {}, all_well(), order_to(ActuatorAct::hold), minutes{1}).refusal,
            "the nitrogen purge is blocked, and no one works it past that: nobody has started it");
  const auto started = order(rules, {}, all_well(), order_to(ActuatorAct::start), minutes{1});
  EXPECT_EQ(order(rules, started.state, all_well(), order_to(ActuatorAct::hold), minutes{1}).refusal, "");
}

TEST(Override, EndsByItself) {
  const auto rules = rules_of(Duty::heating);
  const auto held = order(rules, {}, all_well(), order_to(ActuatorAct::hold), minutes{1});
  ASSERT_EQ(held.refusal, "");
  auto step = next(rules, held.state, quiet, all_well(), Wish{0.0, "at"}, minutes{30});
  EXPECT_EQ(step.state.output, 1.0);
  EXPECT_EQ(step.state.by, Decider::person);
  step = next(rules, step.state, quiet, all_well(), Wish{0.0, "at"}, minutes{31});
  EXPECT_EQ(step.state.output, 0.0);
  EXPECT_TRUE(told(step, ActuatorEvent::override_ended));
}

TEST(Override, IsTimedAndSaysWhy) {
  const auto rules = rules_of(Duty::heating);
  auto asked = order_to(ActuatorAct::hold);
  asked.duration = hours{9};
  EXPECT_EQ(order(rules, {}, all_well(), asked, minutes{1}).refusal, "say for how long, 8 h at most");
  asked = order_to(ActuatorAct::hold);
  asked.because.clear();
  EXPECT_EQ(order(rules, {}, all_well(), asked, minutes{1}).refusal, "say why it is worked by hand");
  asked = order_to(ActuatorAct::hold);
  asked.output = 1.5;
  EXPECT_EQ(order(rules, {}, all_well(), asked, minutes{1}).refusal, "an output lies between 0 % and 100 %");
}

TEST(Ventilation, IsOnWhateverLoopAndPersonWantWhileASafetyAlarmStandsAndPeopleMayBeIn) {
  const auto rules = rules_of(Duty::ventilation);
  ActuatorState held;
  held.override_ = Override{0.0, "E. Marlow", "noise", hours{1}};
  const auto step = next(rules, held, {true, true, true}, all_well(), Wish{0.0, "cool enough"}, minutes{1});
  EXPECT_EQ(step.state.output, 1.0);
  EXPECT_EQ(step.state.by, Decider::interlock);
  EXPECT_TRUE(step.urgent);
}

TEST(FreshAir, StaysShutInASealedStoreThatIsNotMonitoredAndOpensOnceItsDoorIs) {
  const auto rules = rules_of(Duty::fresh_air);
  EXPECT_EQ(next(rules, {}, {false, false, false}, all_well(), Wish{{}, "no value"}, minutes{1}).state.output, 0.0);
  EXPECT_EQ(next(rules, {}, {false, false, true}, all_well(), Wish{{}, "no value"}, minutes{1}).state.output, 1.0);
}

TEST(Actuator, RestsInItsSafeStateWhenItsLoopCannotMeasure) {
  const auto step = next(rules_of(Duty::heating), {}, quiet, all_well(), Wish{{}, "air-2 does not answer"}, minutes{1});
  EXPECT_EQ(step.state.output, 0.0);
  EXPECT_EQ(step.state.by, Decider::safe_state);
  EXPECT_EQ(step.state.because, "air-2 does not answer");
  EXPECT_TRUE(step.urgent);
}

TEST(Actuator, TakesNoOutputThatIsNoNumber) {
  const auto step = next(rules_of(Duty::heating), {}, quiet, all_well(),
                         Wish{std::numeric_limits<double>::quiet_NaN(), "x"}, minutes{1});
  EXPECT_EQ(step.state.output, 0.0);
}

// Random orders, faults and wishes: gas never flows against a condition, not for one evaluation.
RC_GTEST_PROP(Gas, NeverFlowsAgainstAConditionWhateverIsAskedAndWhateverFails, ()) {
  const auto duty = *rc::gen::element(Duty::nitrogen_purge, Duty::carbon_dioxide_dosing, Duty::ethylene_dosing);
  const auto rules = rules_of(duty);
  ActuatorState state;
  Facts facts = all_well();
  Monotonic now{0};
  const int steps = *rc::gen::inRange(1, 200);
  for (int i = 0; i < steps; ++i) {
    now += Monotonic{*rc::gen::inRange(1, 5000)};
    const auto which = *rc::gen::inRange<std::size_t>(0, condition_count);
    facts.truth[which] = *rc::gen::weightedElement<Truth>(
        {{6, Truth::holds}, {2, Truth::fails}, {1, Truth::unknown}, {1, Truth::not_fitted}});
    if (*rc::gen::inRange(0, 3) == 0) {
      auto asked = order_to(*rc::gen::element(ActuatorAct::start, ActuatorAct::end, ActuatorAct::hold,
                                              ActuatorAct::automatic, ActuatorAct::release));
      asked.duration = Monotonic{*rc::gen::inRange(1, 20000)};
      state = order(rules, state, facts, asked, now).state;
    }
    const Situation situation{*rc::gen::arbitrary<bool>(), *rc::gen::arbitrary<bool>(), *rc::gen::arbitrary<bool>()};
    auto step = next(rules, state, situation, facts, Wish{*rc::gen::element(0.0, 1.0), "loop"}, now);
    state = step.state;
    if (state.output > 0.0) {
      for (const auto condition : all_conditions()) {
        if (condition == Condition::started_by_person || condition == Condition::not_tripped ||
            condition == Condition::within_longest_run)
          continue;
        const auto need = need_of(duty, condition);
        const auto truth = facts[condition];
        if (need == Need::always) RC_ASSERT(truth == Truth::holds);
        if (need == Need::if_fitted) RC_ASSERT(truth == Truth::holds || truth == Truth::not_fitted);
      }
      RC_ASSERT(!state.trip);
      if (duty == Duty::nitrogen_purge) RC_ASSERT(state.run || (state.override_ && state.override_->output > 0.0));
    }
    if (state.output > 0.0 && !state.on_since) state.on_since = now;
    if (state.output == 0.0) state.on_since.reset();
  }
}

} // namespace oxherd::control::actuator_test
