// What the rules would have said, against journals worked out by hand, and against evaluating at every tick.
#include <random>

#include "tests/daemon/rehearse/rehearsed_room.hpp"

namespace oxherd::daemon::room_rehearsal_test {

using namespace rehearse_test;
using Lines = std::vector<std::string>;

/// One value a second; `at` and later it is `percent`, until the next change.
struct Change {
  std::size_t at;
  double percent;
};
std::vector<double> series(std::size_t seconds, const std::vector<Change>& changes) {
  std::vector<double> values(seconds, 20.0);
  for (const auto& change : changes)
    std::fill(values.begin() + static_cast<std::ptrdiff_t>(change.at), values.end(), change.percent);
  return values;
}

// Limit 19.5 %, deadband 0.2 %, on-delay 3 s, off-delay 10 s, no uncertainty; latching, as safety alarms are.
// By hand: low from 10 s on, so it comes at 13 s. 19.6 % at 20 s lies inside the deadband: it stands. Clear (19.8 %)
// from 30 s on, but 19.65 % at 35 s lies inside the deadband and restarts the off-delay at 36 s: it ends at 46 s.
// Low at 60 s, 19.55 % at 62 s is not beyond the limit and restarts the on-delay; low again at 63 s: it comes at 66 s,
// although the sample of 66 s is clear, since the delay has ended before it. That one starts the off-delay: 76 s.
// Nobody has acknowledged since 13 s: after 5 min, at 313 s, somebody does, and resets what is latched.
TEST(Rehearsal, GivesTheJournalWorkedOutByHandForDeadbandAndDelays) {
  const auto values = series(
      400,
      {{10, 19.4}, {20, 19.6}, {30, 19.8}, {35, 19.65}, {36, 19.8}, {60, 19.4}, {62, 19.55}, {63, 19.4}, {66, 19.8}});
  const auto done = rehearsed(rows_of(values), {rules_with(low_oxygen)});
  EXPECT_EQ(lines_of(done.rules[0].journal),
            (Lines{"13.000 low-oxygen normal>unacknowledged condition",
                   "46.000 low-oxygen unacknowledged>latched_unacknowledged returned",
                   "66.000 low-oxygen latched_unacknowledged>unacknowledged condition",
                   "76.000 low-oxygen unacknowledged>latched_unacknowledged returned",
                   "313.000 low-oxygen latched_unacknowledged>latched_acknowledged acknowledge",
                   "313.000 low-oxygen latched_acknowledged>normal reset"}));
  const auto& figures = done.rules[0].figures.front();
  EXPECT_EQ(figures.occurrences.size(), 2U);
  EXPECT_EQ(figures.in_alarm, 43s) << "13 to 46 s and 66 to 76 s";
  EXPECT_EQ(figures.longest, 33s);
  EXPECT_EQ(figures.fleeting, 2U);
  EXPECT_EQ(figures.most_in_10_min, 2U);
  EXPECT_EQ(done.period.to - done.period.from, 399s);
  EXPECT_DOUBLE_EQ(done.rules[0].journal.front().value.value(), 0.194);
  EXPECT_EQ(done.rules[0].journal.front().limit, 0.195);
}

TEST(Rehearsal, LeavesALatchedAlarmStandingWhenNobodyActs) {
  const auto values = series(400, {{10, 19.4}, {30, 19.8}});
  const auto done = rehearsed(rows_of(values), {rules_with(low_oxygen)}, {.acknowledge_after = std::nullopt});
  EXPECT_EQ(lines_of(done.rules[0].journal),
            (Lines{"13.000 low-oxygen normal>unacknowledged condition",
                   "40.000 low-oxygen unacknowledged>latched_unacknowledged returned"}));
}

// 29 s after it came, acknowledged while it still stands; annunciated again after 15 min (safety class), so once more
// acknowledged 29 s later. By hand: 13, 42, 42 + 900 = 942, 971.
TEST(Rehearsal, AcknowledgesEachAnnunciationAndIsRemindedOfWhatStillStands) {
  const auto values = series(1000, {{10, 19.4}});
  const auto done = rehearsed(rows_of(values), {rules_with(low_oxygen)}, {.acknowledge_after = Monotonic{29s}});
  EXPECT_EQ(lines_of(done.rules[0].journal), (Lines{"13.000 low-oxygen normal>unacknowledged condition",
                                                    "42.000 low-oxygen unacknowledged>acknowledged acknowledge",
                                                    "942.000 low-oxygen acknowledged>unacknowledged re_annunciation",
                                                    "971.000 low-oxygen unacknowledged>acknowledged acknowledge"}));
  EXPECT_EQ(done.rules[0].figures.front().re_annunciations, 1U);
  EXPECT_EQ(done.rules[0].figures.front().occurrences.size(), 1U);
  EXPECT_FALSE(done.rules[0].figures.front().occurrences.front().ended);
}

// The uncertainty of 0.4 % (k = 1) makes 20.2 % be judged at 19.4 %.
TEST(Rehearsal, JudgesAtTheUnfavourableEndOfTheUncertainty) {
  std::string text = "time,oxygen [%],u oxygen [%]\n";
  for (int i = 0; i < 20; ++i) text += fmt::format("2026-03-02T06:00:{:02}Z,20.2,{}\n", i, i < 10 ? "0.01" : "0.4");
  const auto done = rehearsed(text, {rules_with(low_oxygen, "regime = \"enriched\"\n")});
  EXPECT_EQ(lines_of(done.rules[0].journal).front(), "13.000 low-oxygen normal>unacknowledged condition");
}

// The last sample at 59 s; samples of one a second count for max(3 s, 5 s). By hand: at 64 s it is 5 s old, which is
// permitted; the tick of 64.5 s finds it too old, and the on-delay of an occupied room, 10 s, ends at 74.5 s. The next
// sample, at 120 s, ends it after the off-delay of 5 s.
TEST(Rehearsal, FindsTheRoomNotMonitoredInAGap) {
  std::string text = "time,oxygen [%]\n";
  for (int i = 0; i <= 180; ++i)
    if (i < 60 || i >= 120) text += fmt::format("{},20.5\n", (morning + i * 1s).time_since_epoch().count());
  const auto done = rehearsed(text, {rules_with(low_oxygen)});
  const auto lines = lines_of(done.rules[0].journal);
  ASSERT_EQ(lines.size(), 2U);
  EXPECT_EQ(lines[0], "74.500 not-monitored normal>unacknowledged condition");
  EXPECT_EQ(lines[1], "125.000 not-monitored unacknowledged>latched_unacknowledged returned");
  EXPECT_NE(done.rules[0].journal[0].text.find("no reading for 15 s"), std::string::npos)
      << done.rules[0].journal[0].text;
}

// Bad data neither trips nor cancels a running on-delay: low at 10 s, bad from 11 s on, and it comes at 13 s.
TEST(Rehearsal, LetsAnEmptyValueNeitherCancelNorClear) {
  std::string text = "time,oxygen [%]\n";
  for (int i = 0; i < 60; ++i)
    text += fmt::format("2026-03-02T06:00:{:02}Z,{}\n", i, i < 10 ? "20.5" : i == 10 ? "19.4" : "");
  const auto done = rehearsed(text, {rules_with(low_oxygen)});
  EXPECT_EQ(lines_of(done.rules[0].journal), (Lines{"13.000 low-oxygen normal>unacknowledged condition",
                                                    "21.000 not-monitored normal>unacknowledged condition"}));
  EXPECT_EQ(done.data.bad_samples, 49U);
}

const std::string low_po2 = "[room.annexe.alarm.low-po2]\nquantity = \"oxygen-partial-pressure\"\nbelow = \"17 kPa\"\n"
                            "on_delay = \"3 s\"\n";

// Taken for 0 Pa, it would alarm at 13 s; as a bad sample it makes the room not monitored after 10 s.
TEST(Rehearsal, TakesAMissingPartialPressureForABadSampleAndNotForNoOxygen) {
  std::string text = "time,oxygen [%],po2 [kPa]\n";
  for (int i = 0; i < 30; ++i) text += fmt::format("2026-03-02T06:00:{:02}Z,20.5,{}\n", i, i < 10 ? "20.1" : "");
  const auto done = rehearsed(text, {rules_with(low_po2)});
  EXPECT_EQ(lines_of(done.rules[0].journal), Lines{"20.000 not-monitored normal>unacknowledged condition"});
  EXPECT_NE(done.rules[0].journal[0].text.find("no \"po2 [kPa]\" recorded"), std::string::npos)
      << done.rules[0].journal[0].text;
  EXPECT_EQ(done.data.bad_samples, 20U);
}

TEST(Rehearsal, LeavesOutAlarmsOnThePartialPressureOfARoomWhoseDataHasNone) {
  const auto done = rehearsed(rows_of(series(20, {})), {rules_with(low_po2)});
  ASSERT_EQ(done.rules[0].said.size(), 1U);
  EXPECT_EQ(done.rules[0].said[0], "annexe: not rehearsed: low-po2 (the data has no partial pressure of oxygen)");
  EXPECT_TRUE(done.rules[0].journal.empty());
}

/// Rules of every kind that needs one gas, so that each has its part in what is left out.
const std::string many_alarms =
    low_oxygen +
    "[room.annexe.alarm.falls]\nquantity = \"oxygen\"\ncondition = \"rate-of-fall\"\n"
    "fall_per_minute = \"0.5 %\"\nwindow = \"20 s\"\n"
    "[room.annexe.alarm.soon]\nquantity = \"oxygen\"\ncondition = \"time-to-limit\"\nbelow = \"19.5 %\"\n"
    "within = \"3 min\"\nwindow = \"20 s\"\n"
    "[room.annexe.alarm.average]\nquantity = \"oxygen\"\ncondition = \"time-average\"\nbelow = \"19.8 %\"\n"
    "over = \"2 min\"\n"
    "[room.annexe.alarm.off]\nquantity = \"oxygen\"\ncondition = \"deviation\"\nset_point = \"20.2 %\"\n"
    "deviation = \"0.6 %\"\n"
    "[room.annexe.alarm.high-oxygen]\nquantity = \"oxygen\"\nabove = \"20.8 %\"\non_delay = \"0 s\"\n"
    "class = \"process\"\npriority = \"low\"\n"
    "[room.annexe.alarm.by-day]\nquantity = \"oxygen\"\nabove = \"20.3 %\"\non_delay = \"0 s\"\nclass = \"process\"\n"
    "suppressed = { from = \"06:03\", to = \"06:06\", because = \"it is flushed then\" }\n";

/// A wandering oxygen with noise, gaps of all lengths, empty values and doubtful ones.
std::string random_series(std::uint64_t seed) {
  std::mt19937_64 engine{seed};
  const auto roll = [&](int n) { return std::uniform_int_distribution<int>{0, n - 1}(engine); };
  std::string text = "time,oxygen [%],u oxygen [%],quality\n";
  auto at = morning.time_since_epoch();
  double oxygen = 20.2;
  int bad = 0;
  for (int i = 0; i < 500; ++i) {
    const bool gap = roll(60) == 0;
    at += gap ? 1000ms * roll(40) + (roll(5) == 0 ? 12min : 0min) : 900ms + 50ms * roll(4);
    oxygen = std::clamp(oxygen + 0.04 * (roll(7) - 3), 19.0, 21.2);
    if (roll(50) == 0) bad = roll(20);
    if (bad-- > 0)
      text += fmt::format("{},,,\n", at.count());
    else
      text +=
          fmt::format("{},{:.2f},{},{}\n", at.count(), oxygen, 0.01 * (1 + roll(8)), roll(9) ? "good" : "uncertain");
  }
  return text;
}

TEST(Rehearsal, IsTheSameWithTheTicksLeftOutThatCannotMatter) {
  std::size_t lines = 0;
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    SCOPED_TRACE(seed);
    const auto text = random_series(seed);
    const rehearse::Conduct sparse{.acknowledge_after = Monotonic{1000 * (20 + static_cast<int>(seed) * 7)}};
    rehearse::Conduct every = sparse;
    every.every_tick = true;
    const auto all = rehearsed(text, {rules_with(many_alarms)}, every);
    const auto few = rehearsed(text, {rules_with(many_alarms)}, sparse);
    ASSERT_EQ(lines_of(few.rules[0].journal), lines_of(all.rules[0].journal));
    for (std::size_t i = 0; i < all.rules[0].journal.size(); ++i) {
      ASSERT_EQ(few.rules[0].journal[i].value, all.rules[0].journal[i].value);
      ASSERT_EQ(few.rules[0].journal[i].text, all.rules[0].journal[i].text);
    }
    lines += all.rules[0].journal.size();
  }
  EXPECT_GT(lines, 400U) << "the series must be eventful";
}

TEST(Rehearsal, RefusesAVoteThatTheDataCannotFill) {
  const auto rules = rules_with(low_oxygen, "regime = \"occupied\"\noxygen_vote = \"2oo3\"\n");
  const auto data = data_of("time,annexe/a [%],annexe/b [%]\n2026-03-02T06:00:00Z,20,20\n2026-03-02T06:00:01Z,20,20\n",
                            {.rooms = rules.settings.rooms, .room = {}, .every = {}, .zone = {}, .time_format = {}});
  const auto done = rehearse::rehearse(*data, {{rules}, {}});
  ASSERT_FALSE(done);
  EXPECT_EQ(done.error().what, "rules.toml: room annexe votes 2oo3 of 3 oxygen channels, and the data has 2: give 3 of "
                               "them, or state the vote in the rules");
}

TEST(Rehearsal, SaysThatAVoteOfOneChannelWasRehearsedInItsPlace) {
  const auto rules = rules_with(low_oxygen, "regime = \"occupied\"\noxygen_vote = \"2oo3\"\n");
  const auto done = rehearsed(rows_of(series(20, {{10, 19.4}})), {rules});
  ASSERT_EQ(done.rules[0].said.size(), 1U);
  EXPECT_EQ(done.rules[0].said[0], "annexe: its oxygen vote is 2oo3, but the data has one channel: rehearsed as 1oo1");
  EXPECT_EQ(lines_of(done.rules[0].journal), Lines{"13.000 low-oxygen normal>unacknowledged condition"});
}

TEST(Rehearsal, LeavesOutAlarmsOnAGasThatTheDataLacksAndSaysSo) {
  const auto rules = rules_with(low_oxygen + "[room.annexe.alarm.high-co2]\nquantity = \"carbon-dioxide\"\nabove = "
                                             "\"5000 ppm\"\n");
  const auto done = rehearsed(rows_of(series(20, {})), {rules});
  ASSERT_EQ(done.rules[0].said.size(), 1U);
  EXPECT_EQ(done.rules[0].said[0], "annexe: not rehearsed: high-co2 (the data has no carbon-dioxide)");
}

} // namespace oxherd::daemon::room_rehearsal_test
