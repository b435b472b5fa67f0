#include "alarms/suppression.hpp"

#include <string>

#include <gtest/gtest.h>

namespace oxherd::alarms_suppression_test {

using namespace alarms;
using namespace std::chrono_literals;

constexpr Annunciation safety{};
constexpr Annunciation process{.priority = Priority::medium, .safety = false, .latching = false};

Standing present_at(Monotonic since) { return condition_appears(process, Standing{}, since); }

TEST(Shelving, IsRefusedForTheSafetyClass) {
  const auto after = shelve(safety, Standing{}, 1h, "door work", 100s);
  ASSERT_FALSE(after);
  EXPECT_EQ(after.error().text,
            "a safety alarm cannot be shelved: take it out of service with a reason and a time, and "
            "use a certified monitor meanwhile");
}

TEST(Shelving, NeedsAReason) {
  for (const char* reason : {"", "  ", "\t\n"}) {
    const auto after = shelve(process, Standing{}, 1h, reason, 100s);
    ASSERT_FALSE(after);
    EXPECT_EQ(after.error().text, "a reason is needed: say why, for those who look after the room meanwhile");
  }
}

TEST(Shelving, NeedsATimeWithinTheMaximum) {
  EXPECT_EQ(shelve(process, Standing{}, 0s, "door work", 100s).error().text,
            "a time is needed: give one of at most 8 h");
  EXPECT_EQ(shelve(process, Standing{}, -1s, "door work", 100s).error().text,
            "a time is needed: give one of at most 8 h");
  EXPECT_EQ(shelve(process, Standing{}, 8h + 1min, "door work", 100s).error().text,
            "8 h 1 min is too long: give at most 8 h");
  EXPECT_EQ(shelve(process, Standing{}, 8h + 1ms, "door work", 100s).error().text,
            "8 h 0.001 s is too long: give at most 8 h");
  EXPECT_EQ(shelve(process, Standing{}, 8h, "door work", 100s)->shelved_until, 100s + 8h);
  Annunciation brief = process;
  brief.shelve_at_most = 30min;
  EXPECT_EQ(shelve(brief, Standing{}, 1h, "door work", 100s).error().text, "1 h is too long: give at most 30 min");
  brief.shelve_at_most = 45s;
  EXPECT_EQ(shelve(brief, Standing{}, 46s, "door work", 100s).error().text, "46 s is too long: give at most 45 s");
}

TEST(Shelving, CannotBeProlongedPastItsMaximumByShelvingAgain) {
  const auto once = shelve(process, Standing{}, 8h, "door work", 100s);
  ASSERT_TRUE(once);
  const auto twice = shelve(process, *once, 8h, "door work", 200s);
  ASSERT_FALSE(twice);
  EXPECT_EQ(twice.error().text, "the alarm is shelved already: unshelve it first, then shelve it for the new time");
}

TEST(Shelving, EndsByTheClockAndAnnunciatesAnew) {
  Standing s = *shelve(process, present_at(50s), 1h, "door work", 100s);
  EXPECT_EQ(pass_time(process, s, 100s + 1h - 1ms), s);
  s = pass_time(process, s, 100s + 1h);
  EXPECT_EQ(shown(s), State::unacknowledged);
  EXPECT_EQ(s.since, 100s + 1h);
  EXPECT_TRUE(sounds(s, 100s + 1h));
}

TEST(Unshelving, IsRefusedWhenNotShelved) {
  EXPECT_EQ(unshelve(process, Standing{}, 100s).error().text, "the alarm is not shelved: there is nothing to unshelve");
}

TEST(DesignSuppression, IsRefusedForTheSafetyClassButMayAlwaysEnd) {
  EXPECT_FALSE(suppress_by_design(safety, Standing{}, true, 100s));
  Standing left_over;
  left_over.suppressed_by_design = true;
  const auto ended = suppress_by_design(safety, left_over, false, 100s);
  ASSERT_TRUE(ended);
  EXPECT_FALSE(ended->suppressed_by_design);
}

TEST(DesignSuppression, SaidTwiceChangesNothing) {
  const Standing on = *suppress_by_design(process, present_at(50s), true, 100s);
  EXPECT_EQ(*suppress_by_design(process, on, true, 200s), on);
  const Standing off = *suppress_by_design(process, on, false, 300s);
  EXPECT_EQ(*suppress_by_design(process, off, false, 400s), off);
}

TEST(OutOfService, NeedsReasonAndTimeAlsoForTheSafetyClass) {
  EXPECT_TRUE(remove_from_service(safety, Standing{}, 4h, "new cell", 100s));
  EXPECT_FALSE(remove_from_service(safety, Standing{}, 4h, " ", 100s));
  EXPECT_FALSE(remove_from_service(safety, Standing{}, 0s, "new cell", 100s));
  EXPECT_EQ(remove_from_service(safety, Standing{}, 169h, "new cell", 100s).error().text,
            "169 h is too long: give at most 168 h");
  const Standing out = *remove_from_service(safety, Standing{}, 4h, "new cell", 100s);
  EXPECT_EQ(remove_from_service(safety, out, 4h, "new cell", 200s).error().text,
            "the alarm is out of service already: return it to service first, then remove it for the new time");
}

TEST(OutOfService, EndsByTheClockAndByReturningIt) {
  const Standing out = *remove_from_service(safety, present_at(50s), 4h, "new cell", 100s);
  EXPECT_EQ(shown(pass_time(safety, out, 100s + 4h)), State::unacknowledged);
  EXPECT_EQ(shown(*return_to_service(safety, out, 200s)), State::unacknowledged);
  EXPECT_EQ(return_to_service(safety, Standing{}, 200s).error().text,
            "the alarm is in service: there is nothing to return");
}

TEST(Suppressions, AreIndependentAndShownInTheirOrder) {
  for (int flags = 0; flags < 8; ++flags) {
    SCOPED_TRACE(flags);
    Standing s = present_at(50s);
    if ((flags & 1) != 0) s = *suppress_by_design(process, s, true, 100s);
    if ((flags & 2) != 0) s = *shelve(process, s, 1h, "door work", 100s);
    if ((flags & 4) != 0) s = *remove_from_service(process, s, 1h, "new cell", 100s);
    const State expected = (flags & 4) != 0   ? State::out_of_service
                           : (flags & 2) != 0 ? State::shelved
                           : (flags & 1) != 0 ? State::suppressed_by_design
                                              : State::unacknowledged;
    EXPECT_EQ(shown(s), expected);
    EXPECT_EQ(is_suppressed(s), flags != 0);
    EXPECT_EQ(sounds(s, 100s), flags == 0);
  }
}

TEST(Suppressions, OnlyTheLastOneThatEndsAnnunciatesAnew) {
  Standing s = *acknowledge(present_at(50s), 60s);
  s = *suppress_by_design(process, s, true, 100s);
  s = *shelve(process, s, 1h, "door work", 110s);
  s = *remove_from_service(process, s, 1h, "new cell", 120s);
  s = *return_to_service(process, s, 200s);
  EXPECT_EQ(shown(s), State::shelved);
  EXPECT_EQ(s.since, 200s);
  EXPECT_EQ(s.beneath, State::acknowledged);
  s = *suppress_by_design(process, s, false, 210s); // ends unseen beneath the shelving
  EXPECT_EQ(shown(s), State::shelved);
  EXPECT_EQ(s.since, 200s);
  s = *unshelve(process, s, 220s);
  EXPECT_EQ(shown(s), State::unacknowledged);
  EXPECT_EQ(s.since, 220s);
}

TEST(Suppressions, EndASilenceThatWasOrderedBefore) {
  Standing s = *silence(process, present_at(50s), 60s);
  s = *shelve(process, s, 1min, "door work", 70s);
  s = pass_time(process, s, 130s);
  EXPECT_TRUE(sounds(s, 130s));
}

TEST(Suppressions, HoldBackReAnnunciation) {
  Annunciation a = process;
  a.reannounce_after = 1min;
  Standing s = *acknowledge(present_at(50s), 60s);
  s = *shelve(a, s, 1h, "door work", 70s);
  s = pass_time(a, s, 30min);
  EXPECT_EQ(s.beneath, State::acknowledged);
  EXPECT_EQ(shown(s), State::shelved);
}

} // namespace oxherd::alarms_suppression_test
