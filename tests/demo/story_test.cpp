#include "demo/story.hpp"

#include <algorithm>

#include <gtest/gtest.h>

namespace oxherd::demo::story_test {

using namespace std::chrono_literals;

/// The demonstration's story, walked second by second.
class Larkfield : public ::testing::Test {
protected:
  Site site_{1};
  Player player_{site_, parse_story(builtin_story("larkfield")).value()};

  [[nodiscard]] double oxygen() const { return site_.room("cryo-annexe")->gas().oxygen(); }
  [[nodiscard]] double uncorrected() const { return site_.cell("cryo-annexe/cell-a")->uncorrected(); }
  std::vector<std::string> until(std::chrono::seconds t) { return player_.advance(t - site_.now()); }
};

TEST_F(Larkfield, BeginsWithACellThatNeedsNoCorrection) {
  until(10min);
  EXPECT_NEAR(uncorrected(), oxygen(), 0.001);
  EXPECT_GT(oxygen(), 0.2085);
}

TEST_F(Larkfield, FoolsAnUncorrectedCellByMoreThanFourTenthsOfAPerCentDuringTheFront) {
  until(60min);
  EXPECT_GT(oxygen(), 0.2085);
  EXPECT_LT(uncorrected(), oxygen() - 0.004);
}

TEST_F(Larkfield, GoesBelowBothLimitsDuringTheLeakAndOnlyThen) {
  double lowest = 1.0;
  int first_below_195 = 0;
  int first_below_18 = 0;
  for (int s = 1; s <= 4 * 3600; ++s) {
    until(std::chrono::seconds{s});
    lowest = std::min(lowest, oxygen());
    if (first_below_195 == 0 && oxygen() < 0.195) first_below_195 = s;
    if (first_below_18 == 0 && oxygen() < 0.180) first_below_18 = s;
  }
  EXPECT_GT(first_below_195, 75 * 60);
  EXPECT_LT(first_below_195, 90 * 60); // where the story says so
  EXPECT_GT(first_below_18, first_below_195);
  EXPECT_LT(first_below_18, 104 * 60);
  EXPECT_GT(lowest, 0.165);
}

// In real time at 60 times: the low-oxygen alarm needs its 3 s, the second alarm too, "not monitored" 10 s after 5 s of
// age, and a reader that backs off needs up to 30 s to see a repair.
TEST_F(Larkfield, GivesEveryActTheTimeThatItsDelayNeeds) {
  int below_195 = 0;
  int below_18 = 0;
  int silent = 0;
  int after_silence = 0;
  for (int s = 1; s <= 4 * 3600; ++s) {
    until(std::chrono::seconds{s});
    if (oxygen() < 0.194) ++below_195;
    if (oxygen() < 0.179) ++below_18;
    const bool is_silent = site_.fault_of("growth-chamber-1/cell") == Fault::silent;
    if (is_silent) ++silent;
    after_silence = is_silent || silent == 0 ? 0 : after_silence + 1;
  }
  EXPECT_GE(below_195, 60 * 10);
  EXPECT_GE(below_18, 60 * 6);
  EXPECT_GE(silent, 60 * 25);
  EXPECT_GE(after_silence, 60 * 60);
}

TEST_F(Larkfield, IsBackInNormalAirWhenItSaysSo) {
  const auto told = until(130min);
  EXPECT_GT(oxygen(), 0.200);
  until(160min);
  EXPECT_GT(oxygen(), 0.2085);
  EXPECT_TRUE(std::ranges::any_of(told, [](const auto& line) { return line.find("02:10:00") != std::string::npos; }));
}

TEST_F(Larkfield, TellsWhatAnUncorrectedCellWouldRead) {
  const auto told = until(32min);
  ASSERT_FALSE(told.empty());
  const std::string& line = told.back();
  EXPECT_EQ(line.substr(0, 17), "[story 00:32:00] ");
  EXPECT_EQ(line.find('{'), std::string::npos) << line;
  EXPECT_NE(line.find("fallen 13 hPa"), std::string::npos) << line; // 24 hPa over 36 min, 20 min of it
}

TEST_F(Larkfield, FillsInEveryBraceOfTheWholeStory) {
  const auto told = until(4h);
  EXPECT_TRUE(player_.at_end());
  EXPECT_GE(told.size(), 15u);
  for (const auto& line : told) EXPECT_EQ(line.find_first_of("{}"), std::string::npos) << line;
}

TEST(Quiet, HasNoFaultAndLastsADay) {
  const auto steps = parse_story(builtin_story("quiet")).value();
  for (const auto& step : steps) {
    EXPECT_NE(step.action.verb, Verb::fault);
    EXPECT_NE(step.action.verb, Verb::leak);
  }
  EXPECT_EQ(steps.back().at, 24h);
}

TEST(Player, DoesAStepAtItsTimeWithinALongAdvance) {
  Site site{1};
  Player player{site, parse_story("00:00:30 leak cryo-annexe 600\n00:01:30 leak cryo-annexe 0 : shut\n").value()};
  Site by_hand{1};
  by_hand.advance(30s);
  ASSERT_TRUE(by_hand.apply({.verb = Verb::leak, .target = "cryo-annexe", .value = 600.0}));
  by_hand.advance(60s);
  ASSERT_TRUE(by_hand.apply({.verb = Verb::leak, .target = "cryo-annexe", .value = 0.0}));
  by_hand.advance(30s);
  EXPECT_EQ(player.advance(120s), std::vector<std::string>{"[story 00:01:30] shut"});
  EXPECT_EQ(site.room("cryo-annexe")->gas().oxygen(), by_hand.room("cryo-annexe")->gas().oxygen());
}

TEST(StoryParser, ReadsTimeVerbTargetValueAndDuration) {
  const auto steps = parse_story("# a comment\n\n01:02:03 barometer 972.5 over 1.5 : it falls : fast\n").value();
  ASSERT_EQ(steps.size(), 1u);
  EXPECT_EQ(steps[0].at, 1h + 2min + 3s);
  EXPECT_EQ(steps[0].action.verb, Verb::barometer);
  EXPECT_EQ(steps[0].action.value, 972.5);
  EXPECT_EQ(steps[0].action.over_s, 90.0);
  EXPECT_EQ(steps[0].text, "it falls : fast");
}

TEST(StoryParser, ReadsEveryFaultByItsName) {
  for (const auto fault :
       {Fault::none, Fault::disconnected, Fault::worn, Fault::dead, Fault::silent, Fault::refusing, Fault::stuck}) {
    const auto steps = parse_story("00:00:00 fault cryo-annexe/cell-a " + std::string{name_of(fault)});
    ASSERT_TRUE(steps) << name_of(fault);
    EXPECT_EQ(steps->at(0).action.fault, fault);
  }
}

TEST(StoryParser, ReadsAnOrderAsALineWithoutItsTime) {
  const auto gas = parse_order("gas cryo-annexe/cell-a 10.02");
  ASSERT_TRUE(gas) << gas.error();
  EXPECT_EQ(gas->verb, Verb::gas);
  EXPECT_EQ(gas->target, "cryo-annexe/cell-a");
  EXPECT_EQ(gas->value, 10.02);
  const auto none = parse_order("  no-gas   cryo-annexe/cell-a ");
  ASSERT_TRUE(none) << none.error();
  EXPECT_EQ(none->verb, Verb::no_gas);
  for (const char* wrong : {"", "00:00:01 say", "gas cryo-annexe/cell-a", "no-gas cryo-annexe/cell-a 1"})
    EXPECT_FALSE(parse_order(wrong)) << wrong;
}

TEST(StoryParser, NamesTheLineThatIsWrong) {
  const char* wrong[] = {"soon leak cryo-annexe 1",
                         "00:61:00 say : hello",
                         "00:00:00",
                         "00:00:00 explode cryo-annexe 1",
                         "00:00:00 leak attic 1",
                         "00:00:00 leak cryo-annexe much",
                         "00:00:00 leak cryo-annexe nan",
                         "00:00:00 leak cryo-annexe 1 2",
                         "00:00:00 fault attic/cell silent",
                         "00:00:00 fault cryo-annexe/air dead",
                         "00:00:00 barometer 990 over -1",
                         "00:00:00 fault cryo-annexe/cell-a sulking"};
  for (const char* line : wrong) {
    const auto steps = parse_story("00:00:00 say : fine\n" + std::string{line} + "\n");
    ASSERT_FALSE(steps) << line;
    EXPECT_EQ(steps.error().line, 2) << line;
    EXPECT_FALSE(steps.error().message.empty());
  }
}

TEST(StoryParser, RefusesTimesThatGoBackwards) {
  const auto steps = parse_story("00:01:00 say : one\n00:00:59 say : two\n");
  ASSERT_FALSE(steps);
  EXPECT_EQ(steps.error().line, 2);
}

} // namespace oxherd::demo::story_test
