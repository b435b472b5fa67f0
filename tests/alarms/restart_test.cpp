// What a restart keeps: every standing that can be reached is recorded, restored and recorded again.
#include <deque>
#include <limits>
#include <vector>

#include <gtest/gtest.h>

#include "alarms/alarm.hpp"
#include "alarms/suppression.hpp"

namespace oxherd::alarms_restart_test {

using namespace alarms;
using namespace std::chrono_literals;

constexpr Limit limit{Direction::low, 19.5, 0.5, 1s, 2s};

Alarm alarm_of(bool safety, bool latching, bool acknowledge_required) {
  return {
      limit,
      {.safety = safety, .latching = latching, .acknowledge_required = acknowledge_required, .reannounce_after = 1min}};
}

const std::vector<Alarm>& all_alarms() {
  static const std::vector<Alarm> alarms = {alarm_of(true, true, true), alarm_of(true, false, true),
                                            alarm_of(false, true, true), alarm_of(false, false, true),
                                            alarm_of(false, false, false)};
  return alarms;
}

RuleInput shown_to_rule(const Channel& channel) { return {{&channel, 1}, Scheme::one_of_one, true, true}; }

/// Everything that can happen to an alarm, applied at `now`.
std::vector<AlarmState> successors(const Alarm& alarm, const AlarmState& state, Monotonic now) {
  std::vector<AlarmState> after;
  for (const Channel& c : {Channel{Quality::good, 19.0, 0.0}, Channel{Quality::good, 19.75, 0.0},
                           Channel{Quality::good, 20.9, 0.0}, Channel{}})
    after.push_back(evaluate(alarm, state, shown_to_rule(c), now).state);
  for (const Act what : {Act::acknowledge, Act::silence, Act::reset})
    if (const auto step = act(alarm, state, {what}, now)) after.push_back(step->state);
  const auto add = [&](const tl::expected<Standing, Refusal>& standing) {
    if (standing) after.push_back({state.rule, *standing, {}, false, {}});
  };
  const auto& a = alarm.annunciation;
  add(shelve(a, state.standing, 1h, "why", now));
  add(unshelve(a, state.standing, now));
  add(suppress_by_design(a, state.standing, !state.standing.suppressed_by_design, now));
  add(remove_from_service(a, state.standing, 1h, "why", now));
  add(return_to_service(a, state.standing, now));
  return after;
}

/// States that differ in more than dates, found breadth first.
std::vector<AlarmState> reachable(const Alarm& alarm, Monotonic& now) {
  const auto without_dates = [](AlarmState s) {
    std::visit([](auto& rule) { rule.since = 0s; }, s.rule);
    s.standing.since = 0s;
    s.chatter = {}; // dates, and a mark that changes nothing
    for (auto* until : {&s.standing.shelved_until, &s.standing.out_of_service_until, &s.standing.silenced_until})
      if (*until) *until = 1h;
    return s;
  };
  std::vector<AlarmState> found = {initial(alarm, now)}, kinds = {without_dates(found.front())};
  for (std::size_t i = 0; i < found.size(); ++i) {
    now += 5s; // longer than either delay
    for (const auto& state : successors(alarm, AlarmState{found[i]}, now))
      if (const auto kind = without_dates(state); std::find(kinds.begin(), kinds.end(), kind) == kinds.end()) {
        kinds.push_back(kind);
        found.push_back(state);
      }
  }
  return found;
}

bool operator==(const Recorded& a, const Recorded& b) {
  return a.beneath == b.beneath && a.present == b.present && a.tripped_while_suppressed == b.tripped_while_suppressed &&
         a.age == b.age && a.shelved_remaining == b.shelved_remaining &&
         a.out_of_service_remaining == b.out_of_service_remaining;
}

TEST(Restart, AcknowledgesAndClearsNothingInAnyReachableState) {
  for (const Alarm& alarm : all_alarms()) {
    Monotonic now = 1000s;
    const auto states = reachable(alarm, now);
    EXPECT_GE(states.size(), 10U);
    for (const AlarmState& before : states) {
      SCOPED_TRACE(testing::Message() << name_of(before.standing.beneath) << " shown as "
                                      << name_of(shown(before.standing)));
      const Recorded record = recorded(before, now);
      const AlarmState after = restored(alarm, record, 7s); // the clock starts anew with the program
      EXPECT_EQ(after.standing.present, before.standing.present);
      EXPECT_EQ(drops_relay(after.standing), drops_relay(before.standing));
      EXPECT_EQ(after.standing.since, 7s - (now - before.standing.since));
      if (before.standing.suppressed_by_design && before.standing.beneath == State::acknowledged)
        EXPECT_EQ(after.standing.beneath, State::unacknowledged);
      else
        EXPECT_EQ(after.standing.beneath, before.standing.beneath);
      EXPECT_EQ(after.standing.shelved_until.has_value(), before.standing.shelved_until.has_value());
      EXPECT_EQ(after.standing.out_of_service_until.has_value(), before.standing.out_of_service_until.has_value());
      if (!before.standing.suppressed_by_design) {
        EXPECT_EQ(shown(after.standing), shown(before.standing));
        EXPECT_TRUE(recorded(after, 7s) == record);
      }
    }
  }
}

TEST(Restart, AnActiveAlarmStaysActiveThroughBadDataAndUntilGoodSamplesOutlastTheOffDelay) {
  const Alarm alarm = alarm_of(true, true, true);
  AlarmState state = restored(alarm, {.beneath = State::acknowledged, .present = true, .age = 5s}, 100s);
  const Channel bad{}, good{Quality::good, 20.9, 0.0};
  state = evaluate(alarm, state, shown_to_rule(bad), 101s).state;
  state = evaluate(alarm, state, shown_to_rule(bad), 110s).state;
  EXPECT_EQ(shown(state.standing), State::acknowledged);
  state = evaluate(alarm, state, shown_to_rule(good), 111s).state;
  EXPECT_EQ(shown(evaluate(alarm, state, shown_to_rule(good), 113s - 1ms).state.standing), State::acknowledged);
  EXPECT_EQ(shown(evaluate(alarm, state, shown_to_rule(good), 113s).state.standing), State::latched_acknowledged);
}

TEST(Restart, KeepsAnAcknowledgedAlarmQuietAndAnUnacknowledgedOneSounding) {
  const Alarm alarm = alarm_of(true, true, true);
  const auto quiet = restored(alarm, {.beneath = State::acknowledged, .present = true, .age = 5s}, 100s);
  EXPECT_FALSE(sounds(quiet.standing, 100s));
  const Channel low{Quality::good, 19.0, 0.0};
  EXPECT_TRUE(evaluate(alarm, quiet, shown_to_rule(low), 101s).transitions.empty());

  AlarmState loud = initial(alarm, 0s);
  loud = evaluate(alarm, loud, shown_to_rule(low), 0s).state;
  loud = evaluate(alarm, loud, shown_to_rule(low), 1s).state;
  loud = act(alarm, loud, {Act::silence}, 2s)->state;
  ASSERT_FALSE(sounds(loud.standing, 3s));
  EXPECT_TRUE(sounds(restored(alarm, recorded(loud, 3s), 0s).standing, 0s));
}

TEST(Restart, ReAnnunciationGoesOnCountingFromTheAcknowledgement) {
  const Alarm alarm = alarm_of(true, true, true);
  const auto state = restored(alarm, {.beneath = State::acknowledged, .present = true, .age = 50s}, 0s);
  const Channel low{Quality::good, 19.0, 0.0};
  EXPECT_TRUE(evaluate(alarm, state, shown_to_rule(low), 9999ms).transitions.empty());
  EXPECT_EQ(shown(evaluate(alarm, state, shown_to_rule(low), 10s).state.standing), State::unacknowledged);
}

TEST(Restart, APendingDelayStartsAfresh) {
  const Alarm alarm = alarm_of(true, true, true);
  const Channel low{Quality::good, 19.0, 0.0};
  AlarmState state = evaluate(alarm, initial(alarm, 0s), shown_to_rule(low), 0s).state;
  state = restored(alarm, recorded(state, 900ms), 900ms);
  state = evaluate(alarm, state, shown_to_rule(low), 900ms).state;
  EXPECT_TRUE(evaluate(alarm, state, shown_to_rule(low), 1899ms).transitions.empty());
  EXPECT_FALSE(evaluate(alarm, state, shown_to_rule(low), 1900ms).transitions.empty());
}

TEST(Restart, ANotMonitoredAlarmIsRestoredLikeAnyOther) {
  const Alarm alarm{NotMonitored{10s, 5s}, Annunciation{}};
  AlarmState state = restored(alarm, {.beneath = State::unacknowledged, .present = true, .age = 1s}, 100s);
  const RuleInput monitored{{}, Scheme::one_of_one, true, false};
  state = evaluate(alarm, state, monitored, 100s).state;
  EXPECT_EQ(shown(evaluate(alarm, state, monitored, 105s - 1ms).state.standing), State::unacknowledged);
  EXPECT_EQ(shown(evaluate(alarm, state, monitored, 105s).state.standing), State::latched_unacknowledged);
}

TEST(Restart, EndsAShelvingOfWhichTheTimeIsUnknownAndAnnunciatesAnew) {
  const Alarm alarm = alarm_of(false, false, true);
  const auto state =
      restored(alarm, {.beneath = State::acknowledged, .present = true, .age = 5s, .shelved_remaining = 0s}, 100s);
  const Channel bad{};
  const auto step = evaluate(alarm, state, shown_to_rule(bad), 100s);
  ASSERT_EQ(step.transitions.size(), 1U);
  EXPECT_EQ(step.transitions[0].from, State::shelved);
  EXPECT_EQ(step.transitions[0].to, State::unacknowledged);
}

TEST(Restart, DoesNotShelveAnAlarmThatHasBecomeSafetyClassNorLongerThanIsPermittedToday) {
  const Recorded record{.beneath = State::unacknowledged, .present = true, .shelved_remaining = 7h};
  Alarm alarm = alarm_of(true, true, true);
  const Channel bad{};
  EXPECT_EQ(shown(evaluate(alarm, restored(alarm, record, 100s), shown_to_rule(bad), 100s).state.standing),
            State::unacknowledged);
  alarm = alarm_of(false, true, true);
  alarm.annunciation.shelve_at_most = 1h;
  EXPECT_EQ(restored(alarm, record, 100s).standing.shelved_until, 100s + 1h);
  alarm.annunciation.out_of_service_at_most = 2h;
  EXPECT_EQ(restored(alarm, {.out_of_service_remaining = 7h}, 100s).standing.out_of_service_until, 100s + 2h);
}

TEST(Restart, ReadsARecordThatContradictsItselfAsTheGraverOfItsMeanings) {
  const Alarm alarm = alarm_of(false, true, true);
  struct Row {
    Recorded record;
    State beneath;
    bool present;
  };
  const Row rows[] = {
      {{.beneath = State::normal, .present = true}, State::unacknowledged, true},
      {{.beneath = State::latched_acknowledged, .present = true}, State::unacknowledged, true},
      {{.beneath = State::acknowledged, .present = false}, State::acknowledged, true},
      {{.beneath = State::unacknowledged, .present = false}, State::unacknowledged, true},
      {{.beneath = State::shelved, .present = false}, State::unacknowledged, true},
      {{.beneath = State::normal, .tripped_while_suppressed = true}, State::latched_unacknowledged, false}};
  for (const auto& row : rows) {
    SCOPED_TRACE(name_of(row.record.beneath));
    const auto state = restored(alarm, row.record, 100s);
    EXPECT_EQ(state.standing.beneath, row.beneath);
    EXPECT_EQ(state.standing.present, row.present);
    EXPECT_FALSE(is_suppressed(state.standing));
    EXPECT_FALSE(state.standing.tripped_while_suppressed);
  }
}

} // namespace oxherd::alarms_restart_test
