#include <set>
#include <vector>

#include <gtest/gtest.h>

#include "drivers/poll.hpp"

namespace oxherd::schedule_test {

using namespace drivers;
using namespace std::chrono_literals;
using std::chrono::milliseconds;

constexpr Schedule every_second{.every = 1000ms, .back_off_max = 30000ms};

TEST(Schedule, KeepsItsGridWhateverAPollTakes) {
  ScheduleState state{.due = 250ms};
  for (int beat = 1; beat <= 10000; ++beat) {
    const milliseconds ended = state.due + milliseconds{beat * 37 % 999}; // any time before the next beat
    state = after_poll(every_second, state, true, ended);
    ASSERT_EQ(state.due, 250ms + beat * 1000ms);
  }
}

TEST(Schedule, SpreadsFewDevicesEvenlyOverTheirPeriod) {
  for (std::size_t i = 0; i < 8; ++i)
    EXPECT_EQ(share_of_period(1000ms, i, 8, turn_one_by_one), 125ms * static_cast<int>(i));
  EXPECT_EQ(share_of_period(1000ms, 0, 1, turn_one_by_one), 0ms);
}

TEST(Schedule, AsksManyDevicesInTurnsOfFiftyMilliseconds) {
  std::vector<int> in_turn(20);
  for (std::size_t i = 0; i < 100; ++i) {
    const auto share = share_of_period(1000ms, i, 100, turn_one_by_one);
    ASSERT_EQ(share % 50ms, 0ms);
    ++in_turn.at(static_cast<std::size_t>(share / 50ms));
  }
  EXPECT_EQ(in_turn, std::vector<int>(20, 5));
  std::set<milliseconds> at_once;
  for (std::size_t i = 0; i < 100; ++i) at_once.insert(share_of_period(1000ms, i, 100, turn_at_once));
  EXPECT_EQ(at_once, (std::set<milliseconds>{0ms, 250ms, 500ms, 750ms}));
  EXPECT_EQ(share_of_period(20ms, 9, 10, turn_one_by_one), 0ms); // a period shorter than a turn is one turn
}

TEST(Schedule, AsksEachDeviceAtOnceAtTheStartAndSpreadsThemFromThenOn) {
  const std::vector<Schedule> devices(4, every_second);
  auto states = at_start(devices, 7000ms);
  std::vector<long> then;
  for (std::size_t i = 0; i < states.size(); ++i) {
    EXPECT_LE(states[i].due, 7000ms) << i;
    then.push_back(after_poll(devices[i], states[i], true, 7020ms).due.count());
  }
  EXPECT_EQ(then, (std::vector<long>{8000, 7250, 7500, 7750}));
  EXPECT_TRUE(at_start({}, 7000ms).empty());
}

TEST(Schedule, AsksEachOnceInOrderAndThenWhoeverIsDueFirst) {
  const std::vector<ScheduleState> states{{.due = 900ms}, {.due = 300ms}, {.due = 600ms}};
  EXPECT_EQ(next_due(states, 0), 0U);
  EXPECT_EQ(next_due(states, 2), 2U);
  EXPECT_EQ(next_due(states, 3), 1U);
}

TEST(Schedule, NamesWhoIsDueBesidesOne) {
  using Indices = std::vector<std::size_t>;
  const std::vector<ScheduleState> states{
      {.due = 900ms}, {.due = 300ms}, {.due = 600ms}, {.due = 300ms}, {.due = 1200ms}};
  EXPECT_EQ(due_besides(states, 5, 1, 1000ms), (Indices{3, 2, 0}));
  EXPECT_EQ(due_besides(states, 5, 1, 299ms), Indices{});
  EXPECT_EQ(due_besides(states, 1, 1, 2000ms), (Indices{2, 3, 4}))
      << "in the first round: those whose turn comes after";
  auto failing = states;
  failing[3].failures_in_a_row = 1;
  EXPECT_EQ(due_besides(failing, 5, 1, 1000ms), (Indices{2, 0}));
}

TEST(Schedule, SkipsBeatsThatHavePassed) {
  EXPECT_EQ(after_poll(every_second, {.due = 5000ms}, true, 5999ms).due, 6000ms);
  EXPECT_EQ(after_poll(every_second, {.due = 5000ms}, true, 6000ms).due, 7000ms); // the one at 6000 is now, not ahead
  EXPECT_EQ(after_poll(every_second, {.due = 5000ms}, true, 8400ms).due, 9000ms);
}

TEST(Schedule, DoublesThePauseWithEachFailureAfterTheFirstUpToTheMost) {
  ScheduleState state{};
  std::vector<long> pauses_s;
  for (int failure = 0; failure < 9; ++failure) {
    const milliseconds before = state.due;
    state = after_poll(every_second, state, false, before + 500ms);
    pauses_s.push_back((state.due - before) / 1000ms);
  }
  EXPECT_EQ(pauses_s, (std::vector<long>{1, 2, 4, 8, 16, 30, 30, 30, 30}));
}

TEST(Schedule, ReturnsToItsGridWithTheFirstAnswer) {
  ScheduleState state{.due = 250ms};
  for (int failure = 0; failure < 4; ++failure) state = after_poll(every_second, state, false, state.due + 700ms);
  EXPECT_EQ(state.failures_in_a_row, 4);
  EXPECT_EQ(state.due, 15250ms);
  state = after_poll(every_second, state, true, state.due + 20ms);
  EXPECT_EQ(state.due, 16250ms);
  EXPECT_EQ(state.failures_in_a_row, 0);
  state = after_poll(every_second, state, false, state.due + 20ms);
  EXPECT_EQ(state.due, 17250ms) << "the back-off begins anew";
}

TEST(Schedule, LeavesALineToItsOtherDevicesThoughADeadOneTakesLongerThanItsPeriod) {
  // Four seconds of waiting at a period of one: the pause counts from the end of the poll.
  const ScheduleState state = after_poll(every_second, {.due = 0ms, .failures_in_a_row = 2}, false, 4000ms);
  EXPECT_EQ(state.due, 8000ms);
}

TEST(Schedule, NeverPausesLessThanOnePeriod) {
  const Schedule slow{.every = 60000ms, .back_off_max = 30000ms};
  EXPECT_EQ(after_poll(slow, {.due = 0ms, .failures_in_a_row = 7}, false, 10ms).due, 60000ms);
}

TEST(Schedule, EnduresAMillionFailures) {
  ScheduleState state{};
  for (int failure = 0; failure < 1000000; ++failure) state = after_poll(every_second, state, false, state.due);
  const milliseconds before = state.due;
  EXPECT_EQ(after_poll(every_second, state, false, before).due - before, 30000ms);
}

} // namespace oxherd::schedule_test
