// A bus that takes several requests at once: what is asked together, and what by itself.
#include <algorithm>

#include <gtest/gtest.h>

#include "tests/daemon/bus/scripted_bus.hpp"

namespace oxherd::daemon::bus_worker_test {

using Calls = std::vector<std::string>;

TEST(BusTogether, AsksAsManyAtOnceAsTheBusTakesAndThoseOfADeviceNeverApart) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->requests_at_once = 3;
  auto of_two = task(2, 13, 10h);
  of_two.device.map.points.push_back({.address = 900});
  Inbox inbox;
  BusWorker worker{"plant",
                   std::make_unique<ScriptedBus>(control),
                   {task(0, 11, 10h), task(1, 12, 10h), of_two, task(3, 14, 10h)},
                   inbox.callbacks()};
  for (const auto& poll : inbox.polls(4)) {
    EXPECT_FALSE(poll.error);
    for (const auto& value : poll.values) EXPECT_EQ(value.raw, 0x1234);
  }
  const Lock lock{control->mutex};
  EXPECT_EQ(control->calls, (Calls{"together 11 12", "together 13 13 14"}));
}

TEST(BusTogether, AsksByItselfWhatTheOthersLeftOpenAndPostsWhatItSaysThen) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->requests_at_once = 8;
  control->silent_among_others = 12;
  Inbox inbox;
  BusWorker worker{"plant",
                   std::make_unique<ScriptedBus>(control),
                   {task(0, 11, 10h), task(1, 12, 10h), task(2, 13, 10h)},
                   inbox.callbacks()};
  const auto polls = inbox.polls(3);
  EXPECT_EQ(polls.back().sensor.sensor, 1U);
  EXPECT_TRUE(std::none_of(polls.begin(), polls.end(), [](const Poll& poll) { return poll.error.has_value(); }));
  const Lock lock{control->mutex};
  EXPECT_EQ(control->calls, (Calls{"together 11 12 13", "read 12"}));
}

TEST(BusTogether, ADeviceThatFailedDoesNotKeepTheOthersWaitingAgain) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->requests_at_once = 8;
  control->dead = true;
  Inbox inbox;
  BusWorker worker{
      "plant", std::make_unique<ScriptedBus>(control), {task(0, 11, 5ms), task(1, 12, 5ms)}, inbox.callbacks()};
  for (const auto& poll : inbox.polls(6)) EXPECT_EQ(poll.error.value().detail, "no reply");
  Lock lock{control->mutex};
  EXPECT_EQ(std::count(control->calls.begin(), control->calls.end(), "together 11 12"), 1);
  control->dead = false;
  lock.unlock();
  const auto heard = inbox.polls(12);
  EXPECT_FALSE(heard.back().error);
}

TEST(BusTogether, ADecisionGoesBeforeWhatIsAskedByItself) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->requests_at_once = 8;
  control->dead = true; // so that all are asked by themselves, one after the other
  control->hold = true;
  Inbox inbox;
  BusWorker worker{"plant",
                   std::make_unique<ScriptedBus>(control),
                   {task(0, 11, 10h), task(1, 12, 10h), task(2, 13, 10h)},
                   inbox.callbacks()};
  {
    Lock lock{control->mutex};
    ASSERT_TRUE(control->changed.wait_for(lock, deadline, [&] { return control->reading; }));
  }
  worker.write({.output = 0, .unit = 31, .is_coil = true, .address = 4, .value = 1});
  {
    const Lock lock{control->mutex};
    control->hold = false;
    control->changed.notify_all();
  }
  static_cast<void>(inbox.polls(3));
  const Lock lock{control->mutex};
  ASSERT_GE(control->calls.size(), 3U);
  EXPECT_EQ(Calls(control->calls.begin(), control->calls.begin() + 3),
            (Calls{"together 11 12 13", "read 11", "coil 4 on"}));
}

/// What was written to coils, without the writes that gather() begins with and all questions.
Calls writes_of(ScriptedBus::Control& control) {
  const Lock lock{control.mutex};
  Calls writes;
  for (const auto& call : control.calls)
    if (!call.starts_with("read")) writes.push_back(call);
  return writes;
}

TEST(BusTogether, WritesAsManyAtOnceAsTheBusTakesDecisionsFirst) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->requests_at_once = 3;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  gather(*control, worker, [&] {
    worker.write({0, 31, true, 1, 1, 500ms});
    for (std::uint16_t coil = 2; coil <= 5; ++coil) worker.write(decision(coil, 31, coil));
    OutputWrite valve{6, 31, false, 7, 0x12345678, 500ms};
    valve.count = 2;
    worker.write(valve);
  });
  for (const auto& result : inbox.writes(7)) {
    EXPECT_FALSE(result.error);
    const bool was_decided = result.output >= 2 && result.output <= 5;
    EXPECT_EQ(result.took.has_value(), was_decided) << result.output;
  }
  EXPECT_EQ(writes_of(*control), (Calls{"write together 2:0 3:0 4:0", "write together 5:0 1:1 7:4660:22136"}));
}

TEST(BusTogether, WritesByItselfWhatTheOthersLeftOpenAndTellsWhatItSaysThen) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->requests_at_once = 8;
  control->silent_among_others = 32;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  gather(*control, worker, [&] {
    for (std::uint16_t coil = 1; coil <= 4; ++coil) worker.write(decision(coil, coil < 3 ? 31 : 32, coil));
  });
  for (const auto& result : inbox.writes(5)) EXPECT_FALSE(result.error);
  EXPECT_EQ(writes_of(*control), (Calls{"write together 1:0 2:0 3:0 4:0", "coil 3 off", "coil 4 off"}));
}

TEST(BusTogether, AUnitThatDidNotAnswerIsWrittenToByItselfWhenItIsTriedAgain) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->requests_at_once = 8;
  control->deaf_unit = 33;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  worker.write({0, 33, true, 7, 1, 1ms}); // it is left alone for 4 ms each time
  ASSERT_TRUE(inbox.writes(1)[0].error);
  const auto tries = [&] {
    const auto writes = writes_of(*control);
    return std::count(writes.begin(), writes.end(), "coil 7 on");
  };
  for (std::size_t round = 1; tries() < 10 && round < 100000; ++round) {
    worker.write({0, 33, true, 7, 1, 1ms});
    worker.write(decision(1, 31, 1));
    inbox.writes(1 + 2 * round);
  }
  EXPECT_GE(tries(), 10);
  for (const auto& call : writes_of(*control))
    EXPECT_FALSE(call.starts_with("write together")) << call << ": the others would have waited its time-out";
}

TEST(BusTogether, AUnitThatDoesNotAnswerIsToldOfAfterTwoTriesAndKeepsTheOthersWaitingOnce) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->requests_at_once = 8;
  control->deaf_unit = 33;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  gather(*control, worker, [&] {
    for (std::uint16_t coil = 1; coil <= 3; ++coil) worker.write(decision(coil, coil == 2 ? 33 : 31, coil));
  });
  const auto results = inbox.writes(4);
  EXPECT_EQ(std::count_if(results.begin(), results.end(), [](const auto& r) { return r.error.has_value(); }), 1);
  EXPECT_EQ(writes_of(*control), (Calls{"write together 1:0 2:0 3:0", "coil 2 off"}));
  for (std::uint16_t coil = 1; coil <= 3; ++coil) worker.write(decision(coil, coil == 2 ? 33 : 31, coil));
  inbox.writes(7);
  for (const auto& call : writes_of(*control))
    EXPECT_EQ(call.find("together") != std::string::npos && call.find(" 2:") != std::string::npos,
              call == "write together 1:0 2:0 3:0")
        << call << ": while it does not answer it is written to by itself";
}

TEST(BusTogether, TwoValuesOfOneOutputNeverGoOutAtOnceForTheyMayOvertakeEachOther) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->requests_at_once = 8;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  gather(*control, worker, [&] {
    worker.write(decision(1, 31, 1));
    worker.write(decision(2, 31, 2));
    control->while_gathered = [&] {
      auto newer = decision(1, 31, 1);
      newer.value = 1;
      worker.write(newer);
    };
  });
  ASSERT_EQ(inbox.writes(3).size(), 3U);
  EXPECT_EQ(writes_of(*control), (Calls{"coil 1 off", "write together 1:1 2:0"}));
}

} // namespace oxherd::daemon::bus_worker_test
