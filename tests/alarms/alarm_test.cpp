#include "alarms/alarm.hpp"

#include <set>
#include <vector>

#include <gtest/gtest.h>

namespace oxherd::alarms {
bool operator==(const Transition& a, const Transition& b) {
  return a.from == b.from && a.to == b.to && a.cause == b.cause;
}
} // namespace oxherd::alarms

namespace oxherd::alarms_alarm_test {

using namespace alarms;
using namespace std::chrono_literals;
using Transitions = std::vector<Transition>;

/// An alarm on one channel of oxygen in percent, fed by hand.
struct Bench {
  Alarm alarm{Limit{Direction::low, 19.5, 0.5, 3s, 10s}, Annunciation{}};
  AlarmState state = initial(alarm, 0s);

  AlarmStep evaluate_at(Monotonic now, double oxygen, Quality quality = Quality::good) {
    const Channel channel{quality, oxygen, 0.0};
    const RuleInput in{{&channel, 1}, Scheme::one_of_one, true, true};
    auto step = evaluate(alarm, state, in, now);
    const auto again = evaluate(alarm, step.state, in, now);
    EXPECT_EQ(again.state, step.state) << "evaluating twice at the same time must change nothing";
    EXPECT_TRUE(again.transitions.empty() && again.beneath.empty());
    state = step.state;
    return step;
  }
  AlarmStep act_at(Monotonic now, Act what) {
    auto step = act(alarm, state, {what}, now);
    if (!step) throw std::runtime_error(step.error().text);
    state = step->state;
    return *step;
  }
  State seen() const { return shown(state.standing); }
};

TEST(Alarm, StartsNormalAndQuiet) {
  const Bench b;
  EXPECT_EQ(b.seen(), State::normal);
  EXPECT_FALSE(b.state.standing.present);
  EXPECT_FALSE(drops_relay(b.state.standing));
}

TEST(Alarm, LivesThroughAWholeDay) {
  Bench b;
  EXPECT_EQ(b.evaluate_at(1s, 19.0).transitions, Transitions{});
  EXPECT_EQ(b.evaluate_at(4s, 19.0).transitions,
            (Transitions{{State::normal, State::unacknowledged, Cause::condition}}));
  EXPECT_EQ(b.act_at(5s, Act::silence).transitions, Transitions{});
  EXPECT_EQ(b.act_at(10s, Act::acknowledge).transitions,
            (Transitions{{State::unacknowledged, State::acknowledged, Cause::acknowledge}}));
  EXPECT_EQ(b.evaluate_at(10s + 15min, 19.0).transitions,
            (Transitions{{State::acknowledged, State::unacknowledged, Cause::re_annunciation}}));
  EXPECT_EQ(b.act_at(20min, Act::acknowledge).transitions,
            (Transitions{{State::unacknowledged, State::acknowledged, Cause::acknowledge}}));
  EXPECT_EQ(b.evaluate_at(21min, 20.9).transitions, Transitions{});
  EXPECT_EQ(b.evaluate_at(21min + 10s, 20.9).transitions,
            (Transitions{{State::acknowledged, State::latched_acknowledged, Cause::returned}}));
  EXPECT_TRUE(drops_relay(b.state.standing));
  EXPECT_EQ(b.act_at(30min, Act::reset).transitions,
            (Transitions{{State::latched_acknowledged, State::normal, Cause::reset}}));
  EXPECT_FALSE(drops_relay(b.state.standing));
}

TEST(Alarm, CannotBeAcknowledgedInAdvance) {
  Bench b;
  b.evaluate_at(1s, 19.0);
  ASSERT_EQ(std::get<LimitState>(b.state.rule).phase, Phase::pending);
  const auto refused = act(b.alarm, b.state, {Act::acknowledge}, 2s);
  ASSERT_FALSE(refused);
  EXPECT_NE(refused.error().text.find("never in advance"), std::string::npos);
}

TEST(Alarm, CannotBeResetWhilePresentOrUnacknowledged) {
  Bench b;
  b.evaluate_at(1s, 19.0);
  b.evaluate_at(4s, 19.0);
  EXPECT_FALSE(act(b.alarm, b.state, {Act::reset}, 5s));
  b.evaluate_at(6s, 20.9);
  b.evaluate_at(16s, 20.9);
  ASSERT_EQ(b.seen(), State::latched_unacknowledged);
  EXPECT_FALSE(act(b.alarm, b.state, {Act::reset}, 17s));
}

TEST(Alarm, AReturnInTheStepOfAReAnnunciationIsAReturn) {
  Bench b;
  b.evaluate_at(1s, 19.0);
  b.evaluate_at(4s, 19.0);
  b.act_at(4s, Act::acknowledge);
  b.evaluate_at(4s + 15min - 10s, 20.9);
  EXPECT_EQ(b.evaluate_at(4s + 15min, 20.9).transitions,
            (Transitions{{State::acknowledged, State::latched_acknowledged, Cause::returned}}));
}

TEST(Alarm, GoesOnBeneathASuppressionForTheJournalOnly) {
  Bench b;
  b.state.standing = *remove_from_service(b.alarm.annunciation, b.state.standing, 1h, "new cell", 0s);
  b.evaluate_at(1s, 19.0);
  const auto trip = b.evaluate_at(4s, 19.0);
  EXPECT_EQ(trip.transitions, Transitions{});
  EXPECT_EQ(trip.beneath, (Transitions{{State::normal, State::unacknowledged, Cause::condition}}));
  EXPECT_TRUE(drops_relay(b.state.standing));
  EXPECT_EQ(b.evaluate_at(1h, 19.0).transitions,
            (Transitions{{State::out_of_service, State::unacknowledged, Cause::timer}}));
}

TEST(Alarm, AConditionThatAppearsAsItsSuppressionEndsIsShownOnce) {
  Bench b;
  b.state.standing = *remove_from_service(b.alarm.annunciation, b.state.standing, 4s, "new cell", 0s);
  b.evaluate_at(1s, 19.0);
  const auto step = b.evaluate_at(4s, 19.0);
  EXPECT_EQ(step.beneath, (Transitions{{State::normal, State::unacknowledged, Cause::condition}}));
  EXPECT_EQ(step.transitions, (Transitions{{State::out_of_service, State::unacknowledged, Cause::timer}}));
}

TEST(Alarm, OfNotMonitoredIsAnnouncedLikeAnyOther) {
  const Alarm alarm{NotMonitored{}, Annunciation{}};
  AlarmState state = initial(alarm, 0s);
  const RuleInput blind{{}, Scheme::two_of_three, false, false};
  state = evaluate(alarm, state, blind, 1s).state;
  const auto step = evaluate(alarm, state, blind, 11s);
  EXPECT_EQ(step.transitions, (Transitions{{State::normal, State::unacknowledged, Cause::condition}}));
}

TEST(Alarm, WithAStateOfAnotherKindOfRuleStopsTheProgram) {
  Bench b;
  b.state.rule = NotMonitoredState{};
  const RuleInput in;
  EXPECT_DEATH((void)evaluate(b.alarm, b.state, in, 1s), "own != nullptr");
}

TEST(Cause, NamesAreThoseOfTheJournal) {
  EXPECT_EQ(name_of(Cause::condition), "condition");
  EXPECT_EQ(name_of(Cause::re_annunciation), "re_annunciation");
  std::set<std::string_view> names;
  for (const Cause cause : {Cause::condition, Cause::returned, Cause::acknowledge, Cause::reset, Cause::re_annunciation,
                            Cause::shelve, Cause::suppression, Cause::service, Cause::timer})
    names.insert(name_of(cause));
  EXPECT_EQ(names.size(), 9U);
}

} // namespace oxherd::alarms_alarm_test
