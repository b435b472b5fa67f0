#include "alarms/rules/limit.hpp"

#include <cmath>
#include <limits>
#include <vector>

#include <gtest/gtest.h>

namespace oxherd::alarms_limit_test {

using namespace alarms;
using namespace std::chrono_literals;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double inf = std::numeric_limits<double>::infinity();

Channel good(double value, double expanded = 0.0) { return {Quality::good, value, expanded}; }
Channel uncertain(double value, double expanded = 0.0) { return {Quality::uncertain, value, expanded}; }
Channel bad(double value = 0.0) { return {Quality::bad, value, 0.0}; }

/// A rule with its state, fed by hand. Numbers are percent oxygen.
struct Bench {
  Limit rule{Direction::low, 19.5, 0.5, 3s, 10s};
  Scheme scheme = Scheme::one_of_one;
  LimitState state{};

  Decision sample(Monotonic now, const std::vector<Channel>& channels) { return step(now, channels, true); }
  Decision tick(Monotonic now, const std::vector<Channel>& channels) { return step(now, channels, false); }
  Decision step(Monotonic now, const std::vector<Channel>& channels, bool new_sample) {
    const auto after = next(rule, state, {channels, scheme, true, new_sample}, now);
    state = after.state;
    return after.decision;
  }
  /// Puts the condition into `present`, all channels beyond the limit.
  void trip(Monotonic now) {
    const std::vector<Channel> low(static_cast<std::size_t>(channels_of(scheme)), good(18.0));
    sample(now - rule.on_delay, low);
    ASSERT_EQ(tick(now, low), rule.on_delay > 0s ? Decision::appears : Decision::hold);
    ASSERT_EQ(state.phase, Phase::present);
  }
};

TEST(LowLimit, TripsAtTheLimitItselfAndNotAbove) {
  Bench at{.rule = {Direction::low, 19.5, 0.5, 0s, 0s}};
  EXPECT_EQ(at.sample(1s, {good(19.5)}), Decision::appears);
  Bench above{.rule = {Direction::low, 19.5, 0.5, 0s, 0s}};
  EXPECT_EQ(above.sample(1s, {good(std::nextafter(19.5, 20.0))}), Decision::hold);
  EXPECT_EQ(above.state.phase, Phase::clear);
}

TEST(LowLimit, ClearsOnlyAboveLimitAndDeadband) {
  Bench b{.rule = {Direction::low, 19.5, 0.5, 0s, 0s}};
  b.sample(1s, {good(19.0)});
  EXPECT_EQ(b.sample(2s, {good(20.0)}), Decision::hold); // at limit + deadband: not above it
  EXPECT_EQ(b.sample(3s, {good(std::nextafter(20.0, 21.0))}), Decision::ends);
}

TEST(LowLimit, IsJudgedAtTheLowerEndOfTheInterval) {
  Bench b{.rule = {Direction::low, 19.5, 0.5, 0s, 0s}};
  EXPECT_EQ(b.sample(1s, {good(19.75, 0.125)}), Decision::hold);
  EXPECT_EQ(b.sample(2s, {good(19.75, 0.25)}), Decision::appears);
  EXPECT_EQ(b.sample(3s, {good(20.5, 0.5)}), Decision::hold); // the lower end is inside the deadband
  EXPECT_EQ(b.sample(4s, {good(20.5, 0.25)}), Decision::ends);
}

TEST(HighLimit, IsTheMirrorImage) {
  const Limit rule{Direction::high, 23.5, 0.5, 0s, 0s};
  Bench b{.rule = rule};
  EXPECT_EQ(b.sample(1s, {good(std::nextafter(23.5, 23.0))}), Decision::hold);
  EXPECT_EQ(b.sample(2s, {good(23.5)}), Decision::appears);
  EXPECT_EQ(b.sample(3s, {good(23.0)}), Decision::hold);
  EXPECT_EQ(b.sample(4s, {good(std::nextafter(23.0, 22.0))}), Decision::ends);
  EXPECT_EQ(b.sample(5s, {good(23.25, 0.25)}), Decision::appears); // the upper end counts
  EXPECT_EQ(b.sample(6s, {good(22.75, 0.25)}), Decision::hold);
  EXPECT_EQ(b.sample(7s, {good(22.5, 0.25)}), Decision::ends);
}

TEST(OnDelay, EndsByTheClockWithoutANewSample) {
  Bench b;
  EXPECT_EQ(b.sample(1s, {good(19.0)}), Decision::hold);
  EXPECT_EQ(b.state.phase, Phase::pending);
  EXPECT_EQ(b.tick(3999ms, {good(19.0)}), Decision::hold);
  EXPECT_EQ(b.tick(4000ms, {good(19.0)}), Decision::appears);
}

TEST(OnDelay, CountsFromTheFirstTripNotFromTheLastSample) {
  Bench b;
  b.sample(1s, {good(19.0)});
  b.sample(2s, {good(18.9)});
  b.sample(3s, {good(18.8)});
  EXPECT_EQ(b.sample(4s, {good(18.7)}), Decision::appears);
}

TEST(OnDelay, ASampleInsideTheDeadbandRestartsIt) {
  Bench b;
  b.sample(1s, {good(19.0)});
  b.sample(3s, {good(19.75)});
  EXPECT_EQ(b.state.phase, Phase::clear);
  EXPECT_EQ(b.sample(4s, {good(19.0)}), Decision::hold);
  EXPECT_EQ(b.tick(6999ms, {good(19.0)}), Decision::hold);
  EXPECT_EQ(b.tick(7s, {good(19.0)}), Decision::appears);
}

TEST(OnDelay, AStandInsideTheDeadbandNeverEndsIt) {
  Bench b;
  b.sample(1s, {good(19.0)});
  for (Monotonic t = 2s; t < 60s; t += 500ms) EXPECT_EQ(b.sample(t, {good(19.75)}), Decision::hold);
}

TEST(OnDelay, BadDataDoesNotCancelIt) {
  Bench b;
  b.sample(1s, {good(19.0)});
  EXPECT_EQ(b.sample(2s, {bad()}), Decision::hold);
  EXPECT_EQ(b.tick(4s, {bad()}), Decision::appears);
}

TEST(OnDelay, UncertainSamplesCountLikeGoodOnes) {
  Bench b;
  b.sample(1s, {uncertain(19.0)});
  EXPECT_EQ(b.tick(4s, {uncertain(19.0)}), Decision::appears);
  b.sample(5s, {uncertain(20.9)});
  EXPECT_EQ(b.tick(15s, {uncertain(20.9)}), Decision::ends);
}

TEST(OffDelay, EndsByTheClockAndIsRestartedInsideTheDeadband) {
  Bench b;
  b.trip(10s);
  b.sample(11s, {good(20.9)});
  EXPECT_EQ(b.state.phase, Phase::returning);
  b.sample(15s, {good(19.75)}); // inside
  EXPECT_EQ(b.state.phase, Phase::present);
  b.sample(16s, {good(20.9)});
  EXPECT_EQ(b.tick(25999ms, {good(20.9)}), Decision::hold);
  EXPECT_EQ(b.tick(26s, {good(20.9)}), Decision::ends);
}

TEST(OffDelay, BadDataSendsItBackToItsStart) {
  Bench b;
  b.trip(10s);
  b.sample(11s, {good(20.9)});
  b.sample(20s, {bad()});
  EXPECT_EQ(b.tick(60s, {bad()}), Decision::hold);
  b.sample(61s, {good(20.9)});
  EXPECT_EQ(b.tick(70999ms, {good(20.9)}), Decision::hold);
  EXPECT_EQ(b.tick(71s, {good(20.9)}), Decision::ends);
}

TEST(OffDelay, OfZeroClearsInTheSameStep) {
  Bench b{.rule = {Direction::low, 19.5, 0.5, 3s, 0s}};
  b.trip(10s);
  EXPECT_EQ(b.sample(11s, {good(20.9)}), Decision::ends);
  EXPECT_EQ(b.state.phase, Phase::clear);
}

TEST(BadData, NeverTripsASingleChannel) {
  Bench b{.rule = {Direction::low, 19.5, 0.5, 0s, 0s}};
  for (Monotonic t = 1s; t < 30s; t += 1s) EXPECT_EQ(b.sample(t, {bad(0.0)}), Decision::hold);
  EXPECT_EQ(b.state.phase, Phase::clear);
}

TEST(BadData, NeverClearsASingleChannel) {
  Bench b{.rule = {Direction::low, 19.5, 0.5, 0s, 0s}};
  b.sample(1s, {good(19.0)});
  for (Monotonic t = 2s; t < 30s; t += 1s) EXPECT_EQ(b.sample(t, {bad(20.9)}), Decision::hold);
  EXPECT_EQ(b.state.phase, Phase::present);
}

TEST(BadData, IsWhateverIsNotANumberOrHasNoUsableUncertainty) {
  const Channel unusable[] = {good(nan), good(inf), good(-inf), good(19.0, nan), good(19.0, inf), good(19.0, -0.1)};
  for (const auto& channel : unusable) {
    SCOPED_TRACE(testing::Message() << channel.value << " +- " << channel.expanded);
    Bench low{.rule = {Direction::low, 19.5, 0.5, 0s, 0s}};
    EXPECT_EQ(low.sample(1s, {channel}), Decision::hold);
    EXPECT_EQ(low.state.phase, Phase::clear);
    Bench standing{.rule = {Direction::low, 1.0, 0.5, 0s, 0s}};
    standing.sample(1s, {good(0.5)});
    EXPECT_EQ(standing.sample(2s, {channel}), Decision::hold);
    EXPECT_EQ(standing.state.phase, Phase::present);
  }
}

TEST(VotedLimit, AnyTwoOfThreeTrip) {
  for (int lows = 0; lows < 8; ++lows) {
    SCOPED_TRACE(lows);
    Bench b{.rule = {Direction::low, 19.5, 0.5, 0s, 0s}, .scheme = Scheme::two_of_three};
    std::vector<Channel> channels;
    for (int i = 0; i < 3; ++i) channels.push_back(good((lows >> i & 1) != 0 ? 19.0 : 20.9));
    const bool two = lows == 3 || lows == 5 || lows == 6 || lows == 7;
    EXPECT_EQ(b.sample(1s, channels), two ? Decision::appears : Decision::hold);
  }
}

TEST(VotedLimit, EachChannelHasItsOwnDeadband) {
  Bench b{.rule = {Direction::low, 19.5, 0.5, 0s, 0s}, .scheme = Scheme::two_of_three};
  EXPECT_EQ(b.sample(1s, {good(19.4), good(20.9), good(20.9)}), Decision::hold);
  EXPECT_EQ(b.sample(2s, {good(19.75), good(20.9), good(20.9)}), Decision::hold); // still tripped, alone
  EXPECT_EQ(b.sample(3s, {good(19.75), good(19.4), good(20.9)}), Decision::appears);
  EXPECT_EQ(b.sample(4s, {good(19.75), good(19.75), good(20.9)}), Decision::hold);
  EXPECT_EQ(b.sample(5s, {good(20.9), good(19.75), good(20.9)}), Decision::ends);
  EXPECT_EQ(b.sample(6s, {good(19.75), good(19.75), good(19.75)}), Decision::hold); // no one is beyond the limit
}

TEST(VotedLimit, AnyChannelInsideTheDeadbandVotesAgainstClearing) {
  Bench b{.rule = {Direction::low, 19.5, 0.5, 0s, 10s}, .scheme = Scheme::two_of_three};
  EXPECT_EQ(b.sample(1s, {good(19.0), good(19.0), good(20.9)}), Decision::appears);
  b.sample(2s, {good(20.9), good(19.75), good(20.9)});
  EXPECT_EQ(b.state.phase, Phase::returning);
  b.sample(3s, {good(20.9), good(19.75), good(19.75)}); // the third was never beyond the limit
  EXPECT_EQ(b.state.phase, Phase::present);
}

TEST(VotedLimit, AFaultAmongThreeIsAVoteToTripAtOnce) {
  Bench b{.rule = {Direction::low, 19.5, 0.5, 0s, 0s}, .scheme = Scheme::two_of_three};
  EXPECT_EQ(b.sample(1s, {bad(), good(20.9), good(20.9)}), Decision::hold);
  EXPECT_EQ(b.sample(2s, {bad(), good(19.0), good(20.9)}), Decision::appears);
  EXPECT_EQ(b.sample(3s, {bad(), good(20.9), good(20.9)}), Decision::ends); // two good ones outvote one fault
  EXPECT_EQ(b.sample(4s, {bad(), bad(), good(20.9)}), Decision::appears);
}

TEST(VotedLimit, TwoFaultsTripAPair) {
  for (const Scheme scheme : {Scheme::one_of_two, Scheme::two_of_two}) {
    SCOPED_TRACE(name_of(scheme));
    Bench b{.scheme = scheme};
    EXPECT_EQ(b.sample(1s, {bad(), bad()}), Decision::hold);
    EXPECT_EQ(b.tick(4s, {bad(), bad()}), Decision::appears);
  }
}

TEST(VotedLimit, AFaultLeavesTheDecisionToTheOtherOfTwo) {
  for (const Scheme scheme : {Scheme::one_of_two, Scheme::two_of_two}) {
    SCOPED_TRACE(name_of(scheme));
    Bench b{.rule = {Direction::low, 19.5, 0.5, 0s, 0s}, .scheme = scheme};
    EXPECT_EQ(b.sample(1s, {bad(), good(20.9)}), Decision::hold);
    EXPECT_EQ(b.sample(2s, {bad(), good(19.0)}), Decision::appears);
    EXPECT_EQ(b.sample(3s, {bad(), good(20.9)}), Decision::ends);
  }
}

TEST(VotedLimit, AChannelThatDiesWhileTrippedDoesNotEndTheAlarm) {
  Bench b{.scheme = Scheme::one_of_two};
  b.sample(1s, {good(18.0), good(20.9)});
  EXPECT_EQ(b.tick(4s, {good(18.0), good(20.9)}), Decision::appears);
  b.sample(5s, {bad(), good(20.9)});
  EXPECT_EQ(b.tick(60s, {bad(), good(20.9)}), Decision::hold);
  b.sample(61s, {good(20.9), good(20.9)}); // its own good sample does
  EXPECT_EQ(b.tick(71s, {good(20.9), good(20.9)}), Decision::ends);
}

TEST(VotedLimit, AChannelThatDiesDuringTheOnDelayDoesNotCancelIt) {
  Bench b{.scheme = Scheme::one_of_two};
  b.sample(1s, {good(18.0), good(20.9)});
  b.sample(2s, {bad(), good(20.9)});
  EXPECT_EQ(b.tick(4s, {bad(), good(20.9)}), Decision::appears);
}

TEST(VotedLimit, ADelayRunsAfterTheVote) {
  Bench b{.scheme = Scheme::two_of_three};
  b.sample(1s, {good(19.0), good(20.9), good(20.9)});
  b.tick(10s, {good(19.0), good(20.9), good(20.9)}); // one channel alone starts nothing
  EXPECT_EQ(b.sample(11s, {good(19.0), good(19.0), good(20.9)}), Decision::hold);
  EXPECT_EQ(b.sample(13s, {good(20.9), good(19.0), good(19.0)}), Decision::hold); // the pair changes, the vote stands
  EXPECT_EQ(b.tick(14s, {good(20.9), good(19.0), good(19.0)}), Decision::appears);
}

TEST(VotedLimit, AMissingChannelIsAFaultedOne) {
  Bench b{.rule = {Direction::low, 19.5, 0.5, 0s, 0s}, .scheme = Scheme::two_of_three};
  EXPECT_EQ(b.sample(1s, {good(20.9), good(20.9)}), Decision::hold);
  EXPECT_EQ(b.sample(2s, {good(20.9)}), Decision::appears);
}

TEST(VotedLimit, MoreChannelsThanTheSchemeHasStopTheProgram) {
  Bench b;
  EXPECT_DEATH(b.sample(1s, {good(20.9), good(20.9)}), "channels_of");
}

TEST(ChangedLimit, ActsThroughTheDelays) {
  Bench b;
  b.sample(1s, {good(19.8)});
  b.rule.limit = 20.0;
  EXPECT_EQ(b.tick(2s, {good(19.8)}), Decision::hold);
  EXPECT_EQ(b.tick(5s, {good(19.8)}), Decision::appears);
  b.rule.limit = 18.0;
  EXPECT_EQ(b.tick(6s, {good(19.8)}), Decision::hold);
  EXPECT_EQ(b.tick(16s, {good(19.8)}), Decision::ends);
}

TEST(RestoredLimit, StaysPresentUntilGoodSamplesOutlastTheOffDelay) {
  Bench b;
  b.state = restored(b.rule, true, 100s);
  EXPECT_EQ(b.sample(101s, {bad()}), Decision::hold);
  EXPECT_EQ(b.sample(150s, {good(19.75)}), Decision::hold); // inside the deadband it counts as tripped
  EXPECT_EQ(b.state.phase, Phase::present);
  EXPECT_EQ(b.sample(151s, {good(20.9)}), Decision::hold);
  EXPECT_EQ(b.tick(160999ms, {good(20.9)}), Decision::hold);
  EXPECT_EQ(b.tick(161s, {good(20.9)}), Decision::ends);
}

TEST(RestoredLimit, AChannelThatDiedInTheAlarmHoldsItOverARestart) {
  Bench b{.scheme = Scheme::one_of_two};
  b.state = restored(b.rule, true, 100s);
  b.sample(101s, {bad(), good(20.9)});
  EXPECT_EQ(b.tick(200s, {bad(), good(20.9)}), Decision::hold);
  b.sample(201s, {good(20.9), good(20.9)});
  EXPECT_EQ(b.tick(211s, {good(20.9), good(20.9)}), Decision::ends);
}

TEST(RestoredLimit, StartsAPendingDelayAfresh) {
  Bench b;
  b.state = restored(b.rule, false, 100s);
  EXPECT_EQ(b.sample(100s, {good(19.0)}), Decision::hold);
  EXPECT_EQ(b.tick(102999ms, {good(19.0)}), Decision::hold);
  EXPECT_EQ(b.tick(103s, {good(19.0)}), Decision::appears);
}

} // namespace oxherd::alarms_limit_test
