#include "alarms/rules/not_monitored.hpp"

#include <gtest/gtest.h>

#include "alarms/alarm.hpp"
#include "alarms/rules/catalogue.hpp"

namespace oxherd::alarms_not_monitored_test {

using namespace alarms;
using namespace std::chrono_literals;

RuleInput seen(bool monitored) { return {{}, Scheme::one_of_one, monitored, true}; }

TEST(NotMonitored, AppearsAfterItsOnDelayByTheClock) {
  const NotMonitored rule; // 10 s, 5 s
  auto step = next(rule, {}, seen(false), 1s);
  EXPECT_EQ(step.decision, Decision::hold);
  EXPECT_EQ(step.state.phase, Phase::pending);
  step = next(rule, step.state, seen(false), 10999ms);
  EXPECT_EQ(step.decision, Decision::hold);
  step = next(rule, step.state, seen(false), 11s);
  EXPECT_EQ(step.decision, Decision::appears);
}

TEST(NotMonitored, AMomentOfMonitoringRestartsTheOnDelay) {
  const NotMonitored rule;
  auto step = next(rule, {}, seen(false), 1s);
  step = next(rule, step.state, seen(true), 9s);
  EXPECT_EQ(step.state.phase, Phase::clear);
  step = next(rule, step.state, seen(false), 10s);
  EXPECT_EQ(next(rule, step.state, seen(false), 19999ms).decision, Decision::hold);
  EXPECT_EQ(next(rule, step.state, seen(false), 20s).decision, Decision::appears);
}

TEST(NotMonitored, EndsOnlyAfterItsOffDelayWithoutABreak) {
  const NotMonitored rule;
  auto step = next(rule, restored(rule, true, 0s), seen(true), 1s);
  step = next(rule, step.state, seen(false), 5s);
  EXPECT_EQ(step.state.phase, Phase::present);
  step = next(rule, step.state, seen(true), 6s);
  EXPECT_EQ(next(rule, step.state, seen(true), 10999ms).decision, Decision::hold);
  EXPECT_EQ(next(rule, step.state, seen(true), 11s).decision, Decision::ends);
}

TEST(NotMonitored, WithDelaysOfZeroActsInTheSameStep) {
  const NotMonitored rule{0s, 0s};
  auto step = next(rule, {}, seen(false), 1s);
  EXPECT_EQ(step.decision, Decision::appears);
  EXPECT_EQ(next(rule, step.state, seen(true), 2s).decision, Decision::ends);
}

TEST(NotMonitored, ARestartKeepsItAndStartsAPendingDelayAfresh) {
  EXPECT_EQ(restored(NotMonitored{}, true, 7s), (NotMonitoredState{Phase::present, 7s}));
  EXPECT_EQ(restored(NotMonitored{}, false, 7s), (NotMonitoredState{Phase::clear, 7s}));
}

TEST(RuleCatalogue, HasARowForEveryKindOfRuleInTheOrderOfTheKinds) {
  const auto kinds = rule_catalogue();
  ASSERT_EQ(kinds.size(), std::variant_size_v<Rule>);
  EXPECT_EQ(kinds[Rule{Limit{}}.index()].name, "limit");
  EXPECT_EQ(kinds[Rule{NotMonitored{}}.index()].name, "not-monitored");
  EXPECT_EQ(kinds[Rule{RateOfFall{}}.index()].name, "rate-of-fall");
  EXPECT_EQ(kinds[Rule{TimeAverage{}}.index()].name, "time-average");
  EXPECT_EQ(kinds[Rule{Disagreement{}}.index()].name, "disagreement");
  EXPECT_EQ(kinds[Rule{Degraded{}}.index()].name, "degraded");
  EXPECT_EQ(kinds[Rule{TimeToLimit{}}.index()].name, "time-to-limit");
  EXPECT_EQ(kinds[Rule{Deviation{}}.index()].name, "deviation");
  EXPECT_EQ(kinds[Rule{DoorOpen{}}.index()].name, "door-open");
  EXPECT_EQ(kinds[Rule{OutputLost{}}.index()].name, "output-lost");
  for (const auto& kind : kinds) {
    EXPECT_GT(kind.help.size(), 20U) << kind.name;
    EXPECT_NE(kind.help.back(), '.') << kind.name;
  }
}

} // namespace oxherd::alarms_not_monitored_test
