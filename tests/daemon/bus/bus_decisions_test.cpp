// Decisions on a bus with a unit that does not answer: tried at once, and not at the expense of the others.
#include <algorithm>

#include <gtest/gtest.h>

#include "tests/daemon/bus/scripted_bus.hpp"

namespace oxherd::daemon::bus_worker_test {

TEST(BusDecisions, TriesADecisionAtOnceThoughItsUnitIsLeftAlone) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->deaf = true;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  worker.write({0, 31, true, 7, 1, 500ms});
  EXPECT_TRUE(inbox.writes(1)[0].error);
  const auto failed = std::chrono::steady_clock::now();
  {
    const Lock lock{control->mutex};
    control->deaf = false;
  }
  worker.write(decision(0, 31, 7));
  const auto results = inbox.writes(2);
  EXPECT_FALSE(results[1].error) << "it was told, and not put off";
  EXPECT_LT(std::chrono::steady_clock::now() - failed, 2s) << "four time-outs";
}

TEST(BusDecisions, OneLostReplyCostsADecisionOneTimeOut) {
  auto control = std::make_shared<ScriptedBus::Control>();
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  {
    const Lock lock{control->mutex};
    control->replies_lost = 1;
  }
  const auto decided = std::chrono::steady_clock::now();
  worker.write(decision(0, 31, 7));
  const auto results = inbox.writes(1);
  EXPECT_FALSE(results[0].error) << "and nothing is told of the first try";
  EXPECT_TRUE(results[0].held);
  EXPECT_LT(std::chrono::steady_clock::now() - decided, 2s) << "its unit was not left alone";
  const Lock lock{control->mutex};
  EXPECT_EQ(control->calls, (std::vector<std::string>{"coil 7 off", "coil 7 off", "read 31"}));
}

TEST(BusDecisions, OneThatIsRefusedIsNotWrittenAgain) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->refuses = true;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {task(0, 11, 20ms)}, inbox.callbacks()};
  worker.write(decision(0, 31, 7));
  EXPECT_TRUE(inbox.writes(1)[0].error);
  inbox.polls(inbox.polls(1).size() + 2); // the thread went round
  const Lock lock{control->mutex};
  EXPECT_EQ(std::count(control->calls.begin(), control->calls.end(), "coil 7 off"), 1);
}

TEST(BusDecisions, WhatIsOnlyRepeatedWaitsWhereItsReplyIsLost) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->replies_lost = 1;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  worker.write({0, 31, true, 7, 0, 500ms});
  EXPECT_TRUE(inbox.writes(1)[0].error);
}

TEST(BusDecisions, ADecisionTriedInVainTwiceWaitsThenWithTheOthersAndIsTriedOnceMore) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->deaf = true;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  auto write = decision(0, 31, 7);
  write.timeout = 50ms;
  worker.write(write);
  ASSERT_EQ(inbox.writes(2).size(), 2U) << "after twice at once, and when its unit is tried again";
  const Lock lock{control->mutex};
  EXPECT_EQ(control->calls, (std::vector<std::string>{"coil 7 off", "coil 7 off", "coil 7 off"}));
}

TEST(BusDecisions, DecisionsForAUnitThatDoesNotAnswerComeAfterThoseForTheOthers) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->deaf_unit = 31;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {task(0, 11, 1h)}, inbox.callbacks()};
  ASSERT_EQ(inbox.polls(1).size(), 1U);
  worker.write({0, 31, true, 1, 1, 500ms});
  ASSERT_TRUE(inbox.writes(1)[0].error);
  gather(*control, worker, [&] {
    for (std::uint16_t coil = 1; coil <= 2; ++coil) worker.write(decision(coil, 31, coil));
    worker.write(decision(3, 32, 3));
  });
  ASSERT_EQ(inbox.writes(5).size(), 5U);
  const Lock lock{control->mutex};
  ASSERT_GE(control->calls.size(), 3U);
  EXPECT_EQ(control->calls[0], "coil 3 off");
  EXPECT_EQ(control->calls[1], "coil 1 off") << "though it does not answer";
  EXPECT_EQ(std::count(control->calls.begin(), control->calls.end(), "coil 2 off"), 1);
}

TEST(BusDecisions, ComeBeforeWhatIsOnlyRepeatedAndNeverAfterItsOldValue) {
  auto control = std::make_shared<ScriptedBus::Control>();
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {task(0, 11, 1h)}, inbox.callbacks()};
  ASSERT_EQ(inbox.polls(1).size(), 1U);
  gather(*control, worker, [&] {
    for (std::uint16_t coil = 1; coil <= 4; ++coil) worker.write({coil, 31, true, coil, 1, 500ms});
    control->at_next_coil = [&] { worker.write(decision(4, 31, 4)); };
  });
  ASSERT_EQ(inbox.writes(5).size(), 5U);
  const Lock lock{control->mutex};
  ASSERT_GE(control->calls.size(), 4U);
  const std::vector<std::string> first{control->calls.begin(), control->calls.begin() + 4};
  EXPECT_EQ(first, (std::vector<std::string>{"coil 1 on", "coil 4 off", "coil 2 on", "coil 3 on"}));
  EXPECT_EQ(std::count(control->calls.begin(), control->calls.end(), "coil 4 on"), 0);
}

TEST(BusDecisions, LeavesAUnitWithALongTimeOutAloneForTwoSecondsAtMost) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->deaf = true;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  worker.write({0, 31, true, 7, 1, 20s});
  EXPECT_TRUE(inbox.writes(1)[0].error);
  const auto failed = std::chrono::steady_clock::now();
  {
    const Lock lock{control->mutex};
    control->deaf = false;
  }
  worker.write({0, 31, true, 7, 0, 20s});
  const auto results = inbox.writes(3);
  EXPECT_TRUE(results.back().held);
  EXPECT_GE(std::chrono::steady_clock::now() - failed, 1900ms);
}

TEST(BusDecisions, ARepetitionDoesNotTakeTheHasteFromADecision) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->hold = true;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {task(0, 11, 1h)}, inbox.callbacks()};
  {
    Lock lock{control->mutex};
    ASSERT_TRUE(control->changed.wait_for(lock, deadline, [&] { return control->reading; }));
    worker.write(decision(0, 31, 7));
    worker.write({0, 31, true, 7, 0, 500ms});
    control->hold = false;
    control->changed.notify_all();
  }
  EXPECT_TRUE(inbox.writes(1)[0].took) << "it is still told as decided";
}

} // namespace oxherd::daemon::bus_worker_test
