// The bus thread against a scripted bus: what it posts, in which order, and how it stops.
#include <gtest/gtest.h>

#include "tests/daemon/bus/scripted_bus.hpp"

namespace oxherd::daemon::bus_worker_test {

TEST(BusWorker, PollsEveryDeviceOfItsBusAgainAndAgain) {
  auto control = std::make_shared<ScriptedBus::Control>();
  Inbox inbox;
  BusWorker worker{
      "plant", std::make_unique<ScriptedBus>(control), {task(0, 11, 5ms), task(1, 12, 5ms)}, inbox.callbacks()};
  const auto polls = inbox.polls(6);
  int first = 0, second = 0;
  for (const auto& p : polls) {
    (p.sensor.sensor == 0 ? first : second) += 1;
    ASSERT_EQ(p.values.size(), 1U);
    EXPECT_EQ(p.values[0].raw, 0x1234);
    EXPECT_FALSE(p.error);
  }
  EXPECT_GE(first, 2);
  EXPECT_GE(second, 2);
  EXPECT_TRUE(worker.health().connected);
}

TEST(BusWorker, AsksEveryDeviceOnceAtTheStartInTheOrderOfItsTasks) {
  auto control = std::make_shared<ScriptedBus::Control>();
  Inbox inbox;
  BusWorker worker{"plant",
                   std::make_unique<ScriptedBus>(control),
                   {task(2, 11, 10h), task(0, 12, 30h), task(1, 13, 20h)},
                   inbox.callbacks()};
  std::vector<std::size_t> order;
  for (const auto& poll : inbox.polls(3)) order.push_back(poll.sensor.sensor);
  EXPECT_EQ(order, (std::vector<std::size_t>{2, 0, 1}));
}

TEST(BusWorker, PostsAFailedPollWithItsError) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->dead = true;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {task(0, 11, 5ms)}, inbox.callbacks()};
  const auto polls = inbox.polls(1);
  ASSERT_TRUE(polls[0].error);
  EXPECT_EQ(polls[0].error->detail, "no reply");
  EXPECT_EQ(polls[0].values[0].fault, drivers::ValueFault::not_read);
  EXPECT_FALSE(worker.health().connected);
  EXPECT_EQ(worker.health().trouble, "no reply");
}

TEST(BusWorker, WritesAnOutputBeforeTheNextPoll) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->hold = true;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {task(0, 11, 1ms)}, inbox.callbacks()};
  {
    Lock lock{control->mutex};
    ASSERT_TRUE(control->changed.wait_for(lock, deadline, [&] { return control->reading; }));
    worker.write({0, 31, true, 7, 0, 100ms}); // decided while a read is under way
    control->hold = false;
    control->changed.notify_all();
  }
  EXPECT_FALSE(inbox.writes(1)[0].error);
  const Lock lock{control->mutex};
  ASSERT_GE(control->calls.size(), 2U);
  EXPECT_EQ(control->calls[0], "read 11");
  EXPECT_EQ(control->calls[1], "coil 7 off");
}

TEST(BusWorker, WritesOnlyTheNewestValueOfAnOutput) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->hold = true;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {task(0, 11, 1h)}, inbox.callbacks()};
  {
    Lock lock{control->mutex};
    ASSERT_TRUE(control->changed.wait_for(lock, deadline, [&] { return control->reading; }));
    worker.write({0, 31, false, 10, 1, 100ms});
    worker.write({0, 31, false, 10, 2, 100ms});
    worker.write({1, 31, true, 0, 1, 100ms});
    control->hold = false;
    control->changed.notify_all();
  }
  ASSERT_EQ(inbox.writes(2).size(), 2U);
  const Lock lock{control->mutex};
  EXPECT_EQ(control->calls, (std::vector<std::string>{"read 11", "register 10 2", "coil 0 on", "read 31", "read 31"}))
      << "both are told before either is asked";
}

TEST(BusWorker, AsksAfterEachWriteWhatTheDeviceAndTheContactHold) {
  auto control = std::make_shared<ScriptedBus::Control>();
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  OutputWrite write{3, 31, true, 7, 1, 100ms};
  write.contact = OutputWrite::Contact{33, drivers::Table::discrete_input, 2};
  write.decided = std::chrono::steady_clock::now();
  worker.write(write);
  const auto result = inbox.writes(1)[0];
  EXPECT_EQ(result.output, 3U);
  EXPECT_EQ(result.held, 0x1234U) << "what the bus read, whatever was written";
  EXPECT_EQ(result.contact, true);
  EXPECT_FALSE(result.asking_error);
  EXPECT_TRUE(result.took);
  const Lock lock{control->mutex};
  EXPECT_EQ(control->calls, (std::vector<std::string>{"coil 7 on", "read 31", "read 33"}));
}

TEST(BusWorker, QuestionsAboutOutputsAndDuePollsTakeTurns) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->hold = true;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {task(0, 11, 1ms)}, inbox.callbacks()};
  {
    Lock lock{control->mutex};
    ASSERT_TRUE(control->changed.wait_for(lock, deadline, [&] { return control->reading; }));
    for (std::size_t output = 0; output < 5; ++output) worker.write({output, 31, true, 7, 1, 100ms});
  }
  {
    const Lock lock{control->mutex};
    control->hold = false;
    control->slow = 3ms; // each read takes longer than the period of the sensor
    control->changed.notify_all();
  }
  ASSERT_EQ(inbox.writes(5).size(), 5U);
  const Lock lock{control->mutex};
  int in_a_row = 0;
  for (const auto& call : control->calls) {
    in_a_row = call == "read 31" ? in_a_row + 1 : 0;
    EXPECT_LE(in_a_row, 1) << "a poll that was due waited for two questions";
  }
}

TEST(BusWorker, AsksAboutEveryOutputThoughTheFirstAreWrittenAgainAndAgain) {
  auto control = std::make_shared<ScriptedBus::Control>();
  Inbox inbox;
  std::mutex mutex;
  std::condition_variable changed;
  std::optional<int> asked_second; // after how many answers about the first
  BusWorker* again = nullptr;      // what is told, once it is there, is told again before the next question
  int first = 0;
  auto callbacks = inbox.callbacks();
  callbacks.written = [&](const WriteResult& result) {
    const Lock lock{mutex};
    if (result.output == 1 && !asked_second) asked_second = first;
    if (result.output == 0 && ++first < 50) again->write({0, 31, true, 7, 1, 100ms});
    if (result.output == 0 && first == 1) again->write({1, 31, true, 8, 1, 100ms});
    changed.notify_all();
  };
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, callbacks};
  {
    const Lock lock{mutex};
    again = &worker;
    worker.write({0, 31, true, 7, 1, 100ms});
  }
  Lock lock{mutex};
  ASSERT_TRUE(changed.wait_for(lock, deadline, [&] { return asked_second.has_value(); }));
  EXPECT_EQ(asked_second, 1) << "it had its turn, and did not wait until the other was left in peace";
}

TEST(BusWorker, AQuestionThatFailsIsNoConfirmation) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->dead = true; // writes are accepted, reads are not answered
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  worker.write({0, 31, true, 7, 1, 100ms});
  const auto result = inbox.writes(1)[0];
  EXPECT_FALSE(result.error);
  EXPECT_FALSE(result.held);
  ASSERT_TRUE(result.asking_error);
  EXPECT_EQ(result.asking_error->detail, "no reply");
  EXPECT_FALSE(result.took) << "it was no decision";
}

TEST(BusWorker, LeavesAUnitThatDoesNotAnswerAloneForAWhileAndPollsMeanwhile) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->deaf = true;
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {task(0, 11, 5ms)}, inbox.callbacks()};
  worker.write({0, 31, true, 7, 1, 50ms});
  EXPECT_TRUE(inbox.writes(1)[0].error);
  const auto failed = std::chrono::steady_clock::now();
  {
    const Lock lock{control->mutex};
    control->deaf = false; // it would answer again, but is not asked yet
  }
  worker.write({0, 31, true, 7, 1, 50ms});
  worker.write({0, 31, true, 7, 0, 50ms});
  const auto polls_before = inbox.polls(1).size();
  static_cast<void>(inbox.polls(polls_before + 3)); // the sensors go on
  auto results = inbox.writes(3);
  EXPECT_TRUE(results[1].error) << "said at once, and not tried";
  for (int i = 0; i < 3 && !results.back().held; ++i) results = inbox.writes(results.size() + 1);
  EXPECT_EQ(results.back().value, 0U) << "the newest value";
  EXPECT_GE(std::chrono::steady_clock::now() - failed, 190ms) << "four time-outs";
}

TEST(BusWorker, WritesTwoRegistersAtOnceAndReadsThemBackAsOneValue) {
  auto control = std::make_shared<ScriptedBus::Control>();
  Inbox inbox;
  BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  OutputWrite write{0, 31, false, 7, 0x00020001, 100ms};
  write.count = 2;
  worker.write(write);
  EXPECT_EQ(inbox.writes(1)[0].held, 0x12341234U);
  const Lock lock{control->mutex};
  EXPECT_EQ(control->calls, (std::vector<std::string>{"registers 7 2 1", "read 31"}));
}

TEST(BusWorker, StopsWithoutWaitingForARunningRequest) {
  auto control = std::make_shared<ScriptedBus::Control>();
  control->hold = true; // the read would take the whole deadline
  Inbox inbox;
  const auto started = std::chrono::steady_clock::now();
  {
    BusWorker worker{"plant", std::make_unique<ScriptedBus>(control), {task(0, 11, 1ms)}, inbox.callbacks()};
    Lock lock{control->mutex};
    ASSERT_TRUE(control->changed.wait_for(lock, deadline, [&] { return control->reading; }));
  }
  EXPECT_LT(std::chrono::steady_clock::now() - started, deadline) << "the destructor interrupted the read";
  EXPECT_TRUE(control->interrupted);
}

TEST(BusWorker, ShowsProgressWhileIdle) {
  auto control = std::make_shared<ScriptedBus::Control>();
  Inbox inbox;
  BusWorker worker{"outputs", std::make_unique<ScriptedBus>(control), {}, inbox.callbacks()};
  worker.write({0, 31, true, 0, 1, 100ms});
  ASSERT_EQ(inbox.writes(1).size(), 1U);
  const auto before = worker.progress();
  worker.write({0, 31, true, 0, 0, 100ms});
  ASSERT_EQ(inbox.writes(2).size(), 2U);
  EXPECT_GE(worker.progress(), before);
}

} // namespace oxherd::daemon::bus_worker_test
