// Decisions on a bus with a unit that does not answer: tried at once, and not at the expense of the others.
#include <algorithm>

#include <gtest/gtest.h>

#include "tests/daemon/bus/scripted_bus.hpp"

namespace oxherd::daemon::bus_worker_test {

/// A decision for a relay, as it is at an alarm or a stop.
OutputWrite decision(std::size_t output, int unit, std::uint16_t coil) {
  OutputWrite write{output, unit, true, coil, 0, 10s};
  write.decided = std::chrono::steady_clock::now();
  return write;
}

/// Lets what is written meanwhile wait together: the bus is held in the question after a write to coil 9 of unit 32.
void gather(ScriptedBus::Control& control, BusWorker& worker, const std::function<void()>& write) {
  {
    const Lock lock{control.mutex};
    control.hold = true;
  }
  worker.write({9, 32, true, 9, 1, 500ms});
  Lock lock{control.mutex};
  ASSERT_TRUE(control.changed.wait_for(lock, deadline, [&] { return control.reading; }));
  control.calls.clear();
  write();
  control.hold = false;
  control.changed.notify_all();
}

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

TEST(BusDecisions, ADecisionTriedInVainWaitsThenWithTheOthersAndIsTriedOnceMore) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->deaf = true;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  auto write = decision(0, 31, 7);
  write.timeout = 50ms;
  worker.write(write);
  ASSERT_EQ(inbox.writes(2).size(), 2U) << "at once, and when its unit is tried again";
  const Lock lock{control->mutex};
  EXPECT_EQ(control->calls, (std::vector<std::string>{"coil 7 off", "coil 7 off"}));
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
