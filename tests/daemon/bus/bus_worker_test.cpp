// The bus thread against a scripted bus: what it posts, in which order, and how it stops.
#include <atomic>
#include <condition_variable>
#include <mutex>

#include <gtest/gtest.h>

#include "daemon/bus/bus_worker.hpp"

namespace oxherd::daemon::bus_worker_test {

using namespace std::chrono_literals;
using Lock = std::unique_lock<std::mutex>;
constexpr auto deadline = 10s;

/// A bus that answers every read with 0x1234, and whose reads can be held until released or interrupted.
class ScriptedBus : public drivers::RegisterBus {
public:
  struct Control {
    std::mutex mutex;
    std::condition_variable changed;
    bool hold = false, interrupted = false, reading = false;
    bool dead = false;
    bool deaf = false;                 ///< coils are not written
    std::chrono::milliseconds slow{0}; ///< what a read takes at least
    std::vector<std::string> calls;
  };
  explicit ScriptedBus(std::shared_ptr<Control> control) : control_{std::move(control)} {}

  tl::expected<std::vector<std::uint16_t>, drivers::BusError> read(int unit, drivers::Span span,
                                                                   std::chrono::milliseconds) override {
    Lock lock{control_->mutex};
    control_->calls.push_back("read " + std::to_string(unit));
    control_->reading = true;
    control_->changed.notify_all();
    control_->changed.wait_for(lock, deadline, [&] { return !control_->hold || control_->interrupted; });
    control_->reading = false;
    if (control_->slow > 0ms) control_->changed.wait_for(lock, control_->slow, [&] { return control_->interrupted; });
    if (control_->dead || control_->interrupted)
      return tl::unexpected(drivers::BusError{drivers::BusFault::timeout, 0, "no reply"});
    return std::vector<std::uint16_t>(span.count, 0x1234);
  }
  tl::expected<void, drivers::BusError> write_coil(int, std::uint16_t address, bool on,
                                                   std::chrono::milliseconds) override {
    const Lock lock{control_->mutex};
    control_->calls.push_back("coil " + std::to_string(address) + (on ? " on" : " off"));
    if (control_->deaf) return tl::unexpected(drivers::BusError{drivers::BusFault::timeout, 0, "no reply"});
    return {};
  }
  tl::expected<void, drivers::BusError> write_register(int, std::uint16_t address, std::uint16_t value,
                                                       std::chrono::milliseconds) override {
    const Lock lock{control_->mutex};
    control_->calls.push_back("register " + std::to_string(address) + " " + std::to_string(value));
    return {};
  }
  tl::expected<void, drivers::BusError> write_registers(int, std::uint16_t address,
                                                        const std::vector<std::uint16_t>& values,
                                                        std::chrono::milliseconds) override {
    const Lock lock{control_->mutex};
    std::string call = "registers " + std::to_string(address);
    for (const auto value : values) call += " " + std::to_string(value);
    control_->calls.push_back(call);
    return {};
  }
  void interrupt() override {
    const Lock lock{control_->mutex};
    control_->interrupted = true;
    control_->changed.notify_all();
  }

private:
  std::shared_ptr<Control> control_;
};

/// Collects what a worker posts and lets a test wait for it.
class Inbox {
public:
  BusWorker::Callbacks callbacks() {
    return {[this](Poll p) { put(polls_, std::move(p)); }, [this](WriteResult w) { put(writes_, std::move(w)); }};
  }
  std::vector<Poll> polls(std::size_t n) { return wait(polls_, n); }
  std::vector<WriteResult> writes(std::size_t n) { return wait(writes_, n); }

private:
  template <class T> void put(std::vector<T>& list, T item) {
    const Lock lock{mutex_};
    list.push_back(std::move(item));
    changed_.notify_all();
  }
  template <class T> std::vector<T> wait(std::vector<T>& list, std::size_t n) {
    Lock lock{mutex_};
    EXPECT_TRUE(changed_.wait_for(lock, deadline, [&] { return list.size() >= n; }));
    return list;
  }
  std::mutex mutex_;
  std::condition_variable changed_;
  std::vector<Poll> polls_;
  std::vector<WriteResult> writes_;
};

BusTask task(std::size_t sensor, int unit, std::chrono::milliseconds every) {
  BusTask t;
  t.sensor = {0, sensor};
  t.device.unit = unit;
  t.device.map.points = {drivers::Point{}};
  t.device.retries = 0;
  t.schedule = {every, 1000ms};
  return t;
}

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
  bool asked_second = false;
  BusWorker* again = nullptr; // what is told, once it is there, is told again before the next question
  int first = 0;
  auto callbacks = inbox.callbacks();
  callbacks.written = [&](const WriteResult& result) {
    const Lock lock{mutex};
    asked_second = asked_second || result.output == 1;
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
  ASSERT_TRUE(changed.wait_for(lock, deadline, [&] { return asked_second; }));
  EXPECT_LT(first, 5) << "it had its turn, and did not wait until the other was left in peace";
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
