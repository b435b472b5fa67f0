// Two sets of rules over the same data, against differences worked out by hand.
#include "tests/daemon/rehearse/rehearsed_room.hpp"

namespace oxherd::daemon::rehearse_figures_test {

using namespace rehearse_test;
using rehearse::Occurrence;

Occurrence between(int from_s, int to_s) { return {{morning + from_s * 1s, morning + to_s * 1s}, true}; }

TEST(Matched, PairsOccurrencesThatOverlapAndLeavesTheOthersAlone) {
  const std::vector<Occurrence> first{between(10, 20), between(50, 60), between(100, 200)};
  const std::vector<Occurrence> second{between(15, 18), between(30, 40), between(90, 110), between(150, 160)};
  const auto pairs = rehearse::matched({"annexe", "low-oxygen"}, first, second);
  ASSERT_EQ(pairs.size(), 5U);
  EXPECT_EQ(pairs[0].first, first[0]);
  EXPECT_EQ(pairs[0].second, second[0]);
  EXPECT_EQ(pairs[1].first, std::nullopt);
  EXPECT_EQ(pairs[1].second, second[1]) << "only with the second";
  EXPECT_EQ(pairs[2].first, first[1]) << "only with the first";
  EXPECT_EQ(pairs[2].second, std::nullopt);
  EXPECT_EQ(pairs[3].first, first[2]);
  EXPECT_EQ(pairs[3].second, second[2]);
  EXPECT_EQ(pairs[4].first, std::nullopt) << "one occurrence pairs once only";
  EXPECT_EQ(pairs[4].second, second[3]);
}

// Oxygen falls by 0.01 % a second from 20.5 % at 0 s. By hand: 19.5 % is reached at 100 s and, after 3 s, announced at
// 103 s; 19.8 % at 70 s, announced at 73 s: 30 s earlier.
TEST(TwoRuleFiles, AreComparedOverTheSameDataAlarmByAlarm) {
  std::vector<double> values;
  for (int i = 0; i < 200; ++i) values.push_back((2050 - i) / 100.0);
  auto stricter = low_oxygen;
  stricter.replace(stricter.find("19.5 %"), 6, "19.8 %");
  stricter += "[room.annexe.alarm.very-low]\nquantity = \"oxygen\"\nbelow = \"19 %\"\non_delay = \"3 s\"\n";
  const auto done = rehearsed(rows_of(values), {rules_with(low_oxygen), rules_with(stricter, "", "stricter.toml")});
  ASSERT_EQ(done.rules.size(), 2U);
  ASSERT_EQ(done.pairs.size(), 2U);
  EXPECT_EQ(done.pairs[0].name.alarm, "low-oxygen");
  ASSERT_TRUE(done.pairs[0].first && done.pairs[0].second);
  EXPECT_EQ(done.pairs[0].first->time.from, morning + 103s);
  EXPECT_EQ(done.pairs[0].second->time.from, morning + 73s);
  EXPECT_EQ(done.pairs[1].name.alarm, "very-low");
  EXPECT_FALSE(done.pairs[1].first);
  ASSERT_TRUE(done.pairs[1].second);
  EXPECT_EQ(done.pairs[1].second->time.from, morning + 153s);
}

// Common practice: a third annunciation within 60 s is chattering. Without delays and deadband each dip counts.
TEST(Figures, CountChatteringAndTheMostInTenMinutes) {
  std::vector<double> values(120, 20.5);
  for (const std::size_t at : {10U, 20U, 30U, 40U}) values[at] = 19.4;
  const std::string bare = "[room.annexe.alarm.low-oxygen]\nquantity = \"oxygen\"\nbelow = \"19.5 %\"\non_delay = \"0 "
                           "s\"\noff_delay = \"0 s\"\ndeadband = \"0 %\"\n";
  const auto done = rehearsed(rows_of(values), {rules_with(bare)});
  const auto& figures = done.rules[0].figures.front();
  EXPECT_EQ(figures.occurrences.size(), 4U);
  EXPECT_EQ(figures.chatterings, 1U);
  EXPECT_EQ(figures.most_in_10_min, 4U);
  EXPECT_EQ(figures.in_alarm, 4s);
  EXPECT_EQ(figures.fleeting, 4U);
}

} // namespace oxherd::daemon::rehearse_figures_test
