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

} // namespace oxherd::daemon::bus_worker_test
