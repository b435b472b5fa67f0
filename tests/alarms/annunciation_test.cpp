#include "alarms/annunciation.hpp"

#include <functional>
#include <map>
#include <set>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace oxherd::alarms_annunciation_test {

using namespace alarms;
using namespace std::chrono_literals;
using enum State;

constexpr Monotonic start = 100s;

constexpr Annunciation latching{.priority = Priority::critical, .safety = true, .latching = true};
constexpr Annunciation process{
    .priority = Priority::medium, .safety = false, .latching = false, .reannounce_after = 60min};
constexpr Annunciation process_latching{.safety = false, .latching = true, .reannounce_after = 60min};
constexpr Annunciation low_priority{
    .priority = Priority::low, .safety = false, .latching = false, .acknowledge_required = false};

constexpr State beneath_states[] = {normal,
                                    unacknowledged,
                                    acknowledged,
                                    returned_to_normal_unacknowledged,
                                    latched_unacknowledged,
                                    latched_acknowledged};

/// One of the three acts that need nothing but a person.
tl::expected<Standing, Refusal> apply(const Annunciation& a, const Standing& s, Act act, Monotonic now) {
  if (act == Act::silence) return silence(a, s, now);
  return act == Act::reset ? reset(s, now) : acknowledge(s, now);
}

/// A standing in one of the first six states.
Standing in(State beneath) {
  Standing s;
  s.beneath = beneath;
  s.present = beneath == unacknowledged || beneath == acknowledged;
  s.since = start;
  return s;
}

/// A standing that shows one of the nine states.
Standing showing(State state) {
  Standing s = in(state == shelved || state == suppressed_by_design || state == out_of_service ? normal : state);
  if (state == shelved) s.shelved_until = start + 1h;
  if (state == suppressed_by_design) s.suppressed_by_design = true;
  if (state == out_of_service) s.out_of_service_until = start + 1h;
  return s;
}

constexpr State all_states[] = {normal,
                                unacknowledged,
                                acknowledged,
                                returned_to_normal_unacknowledged,
                                latched_unacknowledged,
                                latched_acknowledged,
                                shelved,
                                suppressed_by_design,
                                out_of_service};

void expect_state(const Standing& s, State state, Monotonic since) {
  EXPECT_EQ(shown(s), state);
  EXPECT_EQ(s.since, since);
}

// One test per row of the table of legal transitions.

TEST(Transition, NormalBecomesUnacknowledgedWhenTheConditionAppears) {
  const Standing s = condition_appears(latching, in(normal), 200s);
  expect_state(s, unacknowledged, 200s);
  EXPECT_TRUE(s.present);
  EXPECT_TRUE(sounds(s, 200s));
}

TEST(Transition, UnacknowledgedBecomesAcknowledged) {
  const auto s = acknowledge(in(unacknowledged), 200s);
  ASSERT_TRUE(s);
  expect_state(*s, acknowledged, 200s);
  EXPECT_TRUE(s->present);
}

TEST(Transition, UnacknowledgedReturnsToNormalUnacknowledgedWhenNotLatching) {
  expect_state(condition_ends(process, in(unacknowledged), 200s), returned_to_normal_unacknowledged, 200s);
}

TEST(Transition, UnacknowledgedReturnsToLatchedUnacknowledgedWhenLatching) {
  expect_state(condition_ends(latching, in(unacknowledged), 200s), latched_unacknowledged, 200s);
}

TEST(Transition, UnacknowledgedReturnsToNormalWhenNoAcknowledgementIsRequired) {
  expect_state(condition_ends(low_priority, in(unacknowledged), 200s), normal, 200s);
}

TEST(Transition, ALatchingAlarmLatchesEvenIfNoAcknowledgementIsRequired) {
  Annunciation a = latching;
  a.acknowledge_required = false;
  expect_state(condition_ends(a, in(unacknowledged), 200s), latched_unacknowledged, 200s);
}

TEST(Transition, AcknowledgedReturnsToNormalWhenNotLatching) {
  expect_state(condition_ends(process, in(acknowledged), 200s), normal, 200s);
}

TEST(Transition, AcknowledgedReturnsToLatchedAcknowledgedWhenLatching) {
  expect_state(condition_ends(latching, in(acknowledged), 200s), latched_acknowledged, 200s);
}

TEST(Transition, AcknowledgedIsAnnunciatedAgainWhenItStandsTooLong) {
  const Standing s = in(acknowledged);
  expect_state(pass_time(latching, s, start + 15min - 1ms), acknowledged, start);
  const Standing again = pass_time(latching, s, start + 15min);
  expect_state(again, unacknowledged, start + 15min);
  EXPECT_TRUE(sounds(again, start + 15min));
}

TEST(Transition, ReturnedUnacknowledgedBecomesNormalWhenAcknowledged) {
  const auto s = acknowledge(in(returned_to_normal_unacknowledged), 200s);
  ASSERT_TRUE(s);
  expect_state(*s, normal, 200s);
}

TEST(Transition, ReturnedUnacknowledgedBecomesUnacknowledgedWhenTheConditionRecurs) {
  expect_state(condition_appears(process, in(returned_to_normal_unacknowledged), 200s), unacknowledged, 200s);
}

TEST(Transition, LatchedUnacknowledgedBecomesLatchedAcknowledged) {
  const auto s = acknowledge(in(latched_unacknowledged), 200s);
  ASSERT_TRUE(s);
  expect_state(*s, latched_acknowledged, 200s);
}

TEST(Transition, LatchedUnacknowledgedBecomesUnacknowledgedWhenTheConditionRecurs) {
  expect_state(condition_appears(latching, in(latched_unacknowledged), 200s), unacknowledged, 200s);
}

TEST(Transition, LatchedAcknowledgedBecomesNormalWhenReset) {
  const auto s = reset(in(latched_acknowledged), 200s);
  ASSERT_TRUE(s);
  expect_state(*s, normal, 200s);
}

TEST(Transition, LatchedAcknowledgedBecomesUnacknowledgedWhenTheConditionRecurs) {
  expect_state(condition_appears(latching, in(latched_acknowledged), 200s), unacknowledged, 200s);
}

TEST(Transition, EveryUnsuppressedStateCanBeSuppressedInThreeWays) {
  for (const State from : beneath_states) {
    SCOPED_TRACE(name_of(from));
    const auto g = shelve(process_latching, in(from), 1h, "door work", 200s);
    const auto h = suppress_by_design(process_latching, in(from), true, 200s);
    const auto i = remove_from_service(latching, in(from), 1h, "new cell", 200s);
    ASSERT_TRUE(g && h && i);
    expect_state(*g, shelved, 200s);
    expect_state(*h, suppressed_by_design, 200s);
    expect_state(*i, out_of_service, 200s);
    for (const auto& s : {*g, *h, *i}) EXPECT_EQ(s.beneath, from);
  }
}

/// The three ways to suppress an alarm and to lift it again.
struct Cover {
  State state;
  std::function<Standing(const Annunciation&, Standing)> on;
  std::function<Standing(const Annunciation&, Standing, Monotonic)> off;
};
const std::vector<Cover>& covers() {
  static const std::vector<Cover> all = {
      {shelved, [](const auto& a, auto s) { return *shelve(a, s, 1h, "why", 150s); },
       [](const auto& a, auto s, auto now) { return *unshelve(a, s, now); }},
      {suppressed_by_design, [](const auto& a, auto s) { return *suppress_by_design(a, s, true, 150s); },
       [](const auto& a, auto s, auto now) { return *suppress_by_design(a, s, false, now); }},
      {out_of_service, [](const auto& a, auto s) { return *remove_from_service(a, s, 1h, "why", 150s); },
       [](const auto& a, auto s, auto now) { return *return_to_service(a, s, now); }}};
  return all;
}

TEST(Transition, TheEndOfASuppressionAnnunciatesAConditionThatIsPresentAnew) {
  for (const auto& cover : covers())
    for (const State from : {unacknowledged, acknowledged}) {
      SCOPED_TRACE(testing::Message() << name_of(cover.state) << " over " << name_of(from));
      const Standing s = cover.off(process, cover.on(process, in(from)), 200s);
      expect_state(s, unacknowledged, 200s);
      EXPECT_TRUE(sounds(s, 200s));
    }
}

TEST(Transition, TheEndOfASuppressionWithoutConditionLeadsToNormalUnlessLatched) {
  const std::map<State, State> expected = {{normal, normal},
                                           {returned_to_normal_unacknowledged, normal},
                                           {latched_unacknowledged, latched_unacknowledged},
                                           {latched_acknowledged, latched_acknowledged}};
  for (const auto& cover : covers())
    for (const auto& [from, to] : expected) {
      SCOPED_TRACE(testing::Message() << name_of(cover.state) << " over " << name_of(from));
      expect_state(cover.off(process_latching, cover.on(process_latching, in(from)), 200s), to, 200s);
    }
}

TEST(Transition, ALatchingAlarmThatTrippedBeneathASuppressionComesOutLatched) {
  for (const auto& cover : covers()) {
    SCOPED_TRACE(name_of(cover.state));
    const auto came_and_went = [&](const Annunciation& a, State from) {
      Standing s = condition_appears(a, cover.on(a, in(from)), 160s);
      s = condition_ends(a, s, 170s);
      expect_state(s, cover.state, 150s); // nothing was seen of it
      EXPECT_EQ(s.tripped_while_suppressed, a.latching);
      return cover.off(a, s, 200s);
    };
    expect_state(came_and_went(process_latching, normal), latched_unacknowledged, 200s);
    expect_state(came_and_went(process_latching, latched_acknowledged), latched_unacknowledged, 200s);
    expect_state(came_and_went(process, normal), normal, 200s);

    Standing seen_before = cover.on(process_latching, in(acknowledged));
    seen_before = condition_ends(process_latching, seen_before, 170s);
    const Standing after = cover.off(process_latching, seen_before, 200s);
    expect_state(after, latched_acknowledged, 200s);
    EXPECT_FALSE(after.tripped_while_suppressed);
  }
}

// Everything else is refused, or changes nothing.

TEST(TransitionMatrix, ActsAreAcceptedExactlyWhereTheTableSaysSo) {
  const std::map<std::pair<State, Act>, State> legal = {
      {{unacknowledged, Act::acknowledge}, acknowledged},
      {{returned_to_normal_unacknowledged, Act::acknowledge}, normal},
      {{latched_unacknowledged, Act::acknowledge}, latched_acknowledged},
      {{latched_acknowledged, Act::reset}, normal},
      {{unacknowledged, Act::silence}, unacknowledged},
      {{latched_unacknowledged, Act::silence}, latched_unacknowledged}};
  int accepted = 0;
  for (const Annunciation& a : {latching, process, process_latching, low_priority})
    for (const State from : all_states)
      for (const Act act : {Act::acknowledge, Act::silence, Act::reset}) {
        SCOPED_TRACE(testing::Message() << name_of(act) << " in " << name_of(from));
        const auto after = apply(a, showing(from), act, 200s);
        const auto row = legal.find({from, act});
        ASSERT_EQ(after.has_value(), row != legal.end());
        if (after) {
          EXPECT_EQ(shown(*after), row->second);
          ++accepted;
        } else {
          EXPECT_NE(after.error().text.find(' '), std::string::npos);
        }
      }
  EXPECT_EQ(accepted, 4 * 6);
}

TEST(TransitionMatrix, TheConditionMovesExactlyTheStatesTheTableNames) {
  for (const Annunciation& a : {latching, process, process_latching, low_priority})
    for (const State from : beneath_states) {
      SCOPED_TRACE(name_of(from));
      const bool present = from == unacknowledged || from == acknowledged;
      const Standing appeared = condition_appears(a, in(from), 200s);
      EXPECT_EQ(appeared == in(from), present); // a condition that is present already changes nothing
      EXPECT_EQ(shown(appeared), present ? from : unacknowledged);
      EXPECT_EQ(condition_ends(a, in(from), 200s) == in(from), !present);
      if (from == acknowledged) continue; // re-annunciation has its own test
      EXPECT_EQ(pass_time(a, in(from), start + 24h), in(from));
    }
}

TEST(TransitionMatrix, NeitherConditionNorTimeEverShowsThroughASuppression) {
  for (const auto& cover : covers())
    for (const State from : beneath_states) {
      SCOPED_TRACE(testing::Message() << name_of(cover.state) << " over " << name_of(from));
      const Standing s = cover.on(process_latching, in(from));
      expect_state(condition_appears(process_latching, s, 200s), cover.state, 150s);
      expect_state(condition_ends(process_latching, s, 200s), cover.state, 150s);
      EXPECT_EQ(pass_time(process_latching, s, 150s + 1h - 1ms), s);
      EXPECT_FALSE(sounds(s, 200s));
    }
}

TEST(Refusal, TellsThePersonWhatToDo) {
  const auto text = [](State state, Act act) { return apply(latching, showing(state), act, 200s).error().text; };
  EXPECT_EQ(text(latched_unacknowledged, Act::reset),
            "the alarm is not acknowledged yet: acknowledge it first, then reset at the room");
  EXPECT_EQ(text(unacknowledged, Act::reset), "the condition is still present and not acknowledged: acknowledge it, "
                                              "remove its cause, and reset at the room once it has ended");
  EXPECT_EQ(text(acknowledged, Act::reset),
            "the condition is still present: remove its cause first, and reset at the room once it has ended");
  EXPECT_EQ(text(normal, Act::acknowledge), "nothing to acknowledge: the alarm is normal; acknowledge it once it is "
                                            "announced, never in advance");
  std::set<std::string> texts;
  for (const State state : all_states)
    for (const Act act : {Act::acknowledge, Act::reset})
      if (const auto after = apply(latching, showing(state), act, 200s); !after) texts.insert(after.error().text);
  EXPECT_EQ(texts.size(), 14U); // six and eight refusals, each in words of its own
}

// Sound and relay.

TEST(Silence, StopsTheSoundOfThisOccurrenceOnlyAndExpires) {
  auto s = silence(latching, in(unacknowledged), 200s);
  ASSERT_TRUE(s);
  expect_state(*s, unacknowledged, start);
  EXPECT_FALSE(sounds(*s, 200s));
  EXPECT_FALSE(sounds(*s, 200s + 10min - 1ms));
  EXPECT_TRUE(sounds(*s, 200s + 10min));
  EXPECT_TRUE(sounds(pass_time(latching, *s, 200s + 10min), 200s + 10min));
  EXPECT_EQ(pass_time(latching, *s, 200s + 10min).silenced_until, std::nullopt);
  EXPECT_FALSE(silence(latching, *s, 201s));                      // nothing sounds
  EXPECT_TRUE(silence(latching, *s, 200s + 10min));               // it sounds again
  EXPECT_FALSE(sounds(condition_ends(latching, *s, 210s), 211s)); // the same occurrence, latched now
}

TEST(Silence, DoesNotOutlastTenMinutesWhateverTheSettingSays) {
  Annunciation a = latching;
  a.silence_for = 8h;
  EXPECT_EQ(silence(a, in(unacknowledged), 200s)->silenced_until, 200s + 10min);
  a.silence_for = 2min;
  EXPECT_EQ(silence(a, in(unacknowledged), 200s)->silenced_until, 200s + 2min);
}

TEST(Silence, EndsWhenTheAlarmRecurs) {
  for (const Annunciation& a : {latching, process}) {
    Standing s = *silence(a, in(unacknowledged), 200s);
    s = condition_ends(a, s, 210s);
    s = condition_appears(a, s, 220s);
    EXPECT_TRUE(sounds(s, 220s));
  }
}

TEST(Silence, EndsWithAnAcknowledgementSoThatReAnnunciationSounds) {
  Annunciation a = latching;
  a.reannounce_after = 1min;
  Standing s = *silence(a, in(unacknowledged), 200s);
  s = *acknowledge(s, 201s);
  EXPECT_EQ(s.silenced_until, std::nullopt);
  s = pass_time(a, s, 201s + 1min);
  EXPECT_TRUE(sounds(s, 201s + 1min));
}

TEST(Sound, IsMadeByTheTwoUnacknowledgedStatesAlone) {
  for (const State state : all_states) {
    SCOPED_TRACE(name_of(state));
    EXPECT_EQ(sounds(showing(state), 200s), state == unacknowledged || state == latched_unacknowledged);
  }
}

TEST(Relay, StaysDroppedUntilReturnOrReset) {
  for (const State state : beneath_states) {
    SCOPED_TRACE(name_of(state));
    EXPECT_EQ(drops_relay(in(state)), state != normal && state != returned_to_normal_unacknowledged);
    Standing out = in(state);
    out.out_of_service_until = 500s; // hides it from people, not from the relay
    EXPECT_EQ(drops_relay(out), drops_relay(in(state)));
  }
}

// Names.

TEST(Names, OfStatesAreReadBack) {
  EXPECT_EQ(name_of(returned_to_normal_unacknowledged), "returned_to_normal_unacknowledged");
  std::set<std::string_view> names;
  for (const State state : all_states) {
    names.insert(name_of(state));
    EXPECT_EQ(state_named(name_of(state)), state);
  }
  EXPECT_EQ(names,
            (std::set<std::string_view>{"normal", "unacknowledged", "acknowledged", "returned_to_normal_unacknowledged",
                                        "latched_unacknowledged", "latched_acknowledged", "shelved",
                                        "suppressed_by_design", "out_of_service"}));
  EXPECT_EQ(state_named("NORMAL"), std::nullopt);
}

TEST(Names, OfPrioritiesAndActsAreThoseOfRecords) {
  for (const auto priority : {Priority::low, Priority::medium, Priority::high, Priority::critical})
    EXPECT_EQ(priority_named(name_of(priority)), priority);
  EXPECT_EQ(name_of(Priority::critical), "critical");
  EXPECT_EQ(name_of(Priority::low), "low");
  EXPECT_EQ(priority_named("urgent"), std::nullopt);
  EXPECT_EQ(name_of(Act::acknowledge), "acknowledge");
  EXPECT_EQ(name_of(Act::silence), "silence");
  EXPECT_EQ(name_of(Act::reset), "reset");
}

} // namespace oxherd::alarms_annunciation_test
