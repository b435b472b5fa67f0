#include <set>
#include <vector>

#include <gtest/gtest.h>

#include <rapidcheck.h>

#include "tests/daemon/mqtt/disk_model.hpp"

// Measurements and lines of the journal on their way from the outbox by the disk to a broker that comes and goes.
namespace oxherd::daemon::store_and_forward_test {

using mqtt_test::DiskModel;
using Numbers = std::vector<std::int64_t>;

constexpr std::size_t window = 4, in_memory = 30;

/// An outbox with its disk and a broker. Measurements and lines are numbered from 1 in the order of entry.
class World {
public:
  explicit World(std::size_t on_disk) : disk{on_disk} { begin(); }

  void measure() { outbox_->measurement("cell", std::to_string(++entered)); }
  void connect() {
    outbox_->connected();
    connected_ = true;
    last_measurement_ = 0;
    last_line_ = 0;
  }
  void disconnect() {
    outbox_->disconnected();
    connected_ = false;
    sent_.clear();
    acknowledged_ = without_a_gap(); // those behind one that is still owed may come again
  }
  /// The outbox hands over one message, if it has one.
  bool send() {
    const auto message = outbox_->next();
    if (!message) return false;
    sent_.push_back(*message);
    const auto number = std::stoll(message->payload);
    const bool is_line = message->topic == "journal";
    auto& last = is_line ? last_line_ : last_measurement_;
    if (number <= last) repeated_on_a_connection = true;
    last = number;
    if (!is_line && settled_.contains(number)) sent_after_settled = true;
    auto& seen = is_line ? lines : measurements;
    if (std::find(seen.begin(), seen.end(), number) == seen.end()) seen.push_back(number);
    return true;
  }
  void acknowledge(std::size_t which) {
    if (sent_.empty()) return;
    const auto sent = sent_.begin() + static_cast<std::ptrdiff_t>(which % sent_.size());
    if (sent->topic != "journal") acknowledged_.insert(std::stoll(sent->payload));
    outbox_->acknowledged(sent->id);
    sent_.erase(sent);
  }
  /// The thread of the disk takes an order, or tells what came of the one it has.
  void disk_turn() {
    if (!done_) {
      done_ = disk.carry_out(ask());
      return;
    }
    tell(std::move(*done_));
    done_.reset();
  }
  void disk_does_all() {
    if (done_) disk_turn();
    for (bool more = true; more;) {
      const auto order = ask();
      auto outcome = disk.carry_out(order);
      more = outcome.stored && order.more_to_store;
      tell(std::move(outcome));
    }
  }
  void kill() {
    // What an order under way has done is done, though nobody was told of it.
    lost_in_memory += outbox_->waiting() - outbox_->journal_waiting() - outbox_->on_disk();
    dropped_in_memory_ += outbox_->dropped_measurements() - told_dropped_;
    acknowledged_ = settled_; // the next program knows no more than the disk
    begin();
  }
  void stop() {
    if (connected_) disconnect();
    disk_does_all();
    kill();
  }
  /// A broker that stays takes everything.
  void deliver_all() {
    if (connected_) disconnect();
    connect();
    for (int idle = 0; idle < 8;) { // an order and its answer are a turn each
      idle = send() ? 0 : idle + 1;
      while (!sent_.empty()) acknowledge(0);
      disk_turn();
    }
  }
  [[nodiscard]] std::uint64_t dropped() const {
    return disk.dropped + dropped_in_memory_ + outbox_->dropped_measurements() - told_dropped_;
  }
  [[nodiscard]] std::uint64_t waiting() const { return outbox_->waiting(); }
  [[nodiscard]] std::uint64_t on_disk() const { return outbox_->on_disk(); }
  [[nodiscard]] bool connected() const { return connected_; }

  DiskModel disk;
  std::int64_t entered = 0;
  Numbers measurements, lines; ///< as the broker first saw them
  bool repeated_on_a_connection = false, sent_after_settled = false;
  std::uint64_t lost_in_memory = 0; ///< by kills

private:
  void begin() {
    disk.restart();
    told_dropped_ = 0;
    outbox_.emplace(OutboxLimits{.measurements = in_memory, .window = window});
    outbox_->expect_disk();
    sent_.clear();
    done_.reset();
    connected_ = false;
  }
  /// What is acknowledged up to some measurement, and all before it.
  [[nodiscard]] std::set<std::int64_t> without_a_gap() const {
    std::set<std::int64_t> numbers;
    for (const auto number : measurements) {
      if (!acknowledged_.contains(number)) break;
      numbers.insert(number);
    }
    return numbers;
  }
  DiskOrder ask() {
    settling_ = without_a_gap();
    return outbox_->order();
  }
  /// What was settled when the order was given is so on disk too: never to be seen again.
  void tell(DiskOutcome outcome) {
    if (outcome.trouble.empty()) settled_.merge(settling_);
    told_dropped_ += outcome.dropped;
    outbox_->take(std::move(outcome));
  }
  std::optional<Outbox> outbox_;
  std::optional<DiskOutcome> done_;
  std::vector<Outgoing> sent_;
  std::set<std::int64_t> acknowledged_, settling_, settled_;
  std::int64_t last_measurement_ = 0, last_line_ = 0;      ///< on this connection
  std::uint64_t dropped_in_memory_ = 0, told_dropped_ = 0; ///< by outboxes of before; on disk, to this one
  bool connected_ = false;
};

Numbers from_to(std::int64_t first, std::int64_t last) {
  Numbers numbers;
  for (; first <= last; ++first) numbers.push_back(first);
  return numbers;
}

TEST(StoreAndForward, LeavesTheDiskAloneWhileTheBrokerKeepsUp) {
  World world{1000};
  world.disk_does_all();
  world.connect();
  world.disk_does_all();
  for (int i = 0; i < 100; ++i) {
    world.measure();
    while (world.send()) world.acknowledge(0);
    if (i % 10 == 0) world.disk_does_all();
    ASSERT_EQ(world.disk.size(), 0U);
  }
  EXPECT_EQ(world.measurements, from_to(1, 100));
  EXPECT_EQ(world.waiting(), 0U);
}

TEST(StoreAndForward, PutsWhatASlowBrokerHasNotTakenOnDisk) {
  World world{1000};
  world.connect();
  world.disk_does_all();
  for (int i = 0; i < 10; ++i) world.measure();
  while (world.send()) {}
  world.disk_does_all();
  EXPECT_EQ(world.disk.size(), 10U) << "the four that are under way and those behind them";
  world.kill();
  EXPECT_EQ(world.lost_in_memory, 0U);
  world.deliver_all();
  EXPECT_EQ(world.measurements, from_to(1, 10));
}

TEST(StoreAndForward, DoesNotReadBackWhatIsUnderWayAlready) {
  World world{1000};
  world.connect();
  world.disk_does_all();
  for (int i = 0; i < 10; ++i) world.measure();
  while (world.send()) {}
  world.disk_does_all();
  world.disk_does_all();
  for (int i = 0; i < 20; ++i) {
    world.acknowledge(0);
    while (world.send()) {}
    world.disk_does_all();
  }
  EXPECT_FALSE(world.repeated_on_a_connection);
  EXPECT_EQ(world.measurements, from_to(1, 10));
  EXPECT_EQ(world.disk.size(), 0U);
}

TEST(StoreAndForward, DeliversInOrderOverAStopAKillAndABrokerThatWasAway) {
  World world{1000};
  for (int i = 0; i < 10; ++i) world.measure();
  world.stop();
  for (int i = 0; i < 10; ++i) world.measure();
  world.disk_does_all();
  world.kill();
  for (int i = 0; i < 10; ++i) world.measure();
  world.deliver_all();
  EXPECT_EQ(world.measurements, from_to(1, 30));
  EXPECT_EQ(world.disk.size(), 0U);
}

TEST(StoreAndForward, DropsTheOldestOnDiskAndThenTheOldestInMemoryAndCountsThem) {
  World world{20};
  for (int i = 0; i < 50; ++i) {
    world.measure();
    if (i % 10 == 9) world.disk_does_all();
  }
  EXPECT_EQ(world.dropped(), 30U);
  world.disk.fails = true;
  for (int i = 0; i < 50; ++i) {
    world.measure();
    world.disk_does_all();
  }
  EXPECT_EQ(world.dropped(), 50U);
  world.disk.fails = false;
  world.deliver_all();
  EXPECT_EQ(world.measurements, from_to(81, 100)) << "the disk has room for the newest twenty";
  EXPECT_EQ(world.dropped(), 80U);
}

TEST(StoreAndForward, DeliversWhatIsInMemoryWhileTheDiskDoesNotWork) {
  World world{1000};
  for (int i = 0; i < 5; ++i) world.measure();
  world.stop();
  world.disk.fails = true;
  world.connect();
  for (int i = 0; i < 5; ++i) world.measure();
  world.disk_does_all();
  while (world.send()) world.acknowledge(0);
  EXPECT_EQ(world.measurements, from_to(6, 10)) << "what is on disk cannot be read";
  world.disk.fails = false;
  world.deliver_all();
  EXPECT_EQ(world.measurements, (Numbers{6, 7, 8, 9, 10, 1, 2, 3, 4, 5}));
}

TEST(StoreAndForward, TellsTheJournalFromItsEndAtTheVeryFirstStartAndEveryLineFromThenOn) {
  World world{10};
  world.disk.lines = 500;
  world.disk_does_all();
  world.disk.lines = 510;
  world.deliver_all();
  world.disk.lines = 800; // while the daemon is away, and more than are read at once
  world.kill();
  world.disk.lines = 805;
  world.deliver_all();
  EXPECT_EQ(world.lines, from_to(501, 805));
}

TEST(StoreAndForward, TellsTheWholeOfAJournalThatWasBegunAnew) {
  World world{10};
  world.disk.lines = 5;
  world.disk_does_all();
  world.disk.lines = 8;
  world.deliver_all();
  world.disk.lines = 2; // the file was lost
  world.deliver_all();
  EXPECT_EQ(world.lines, (Numbers{6, 7, 8, 1, 2}));
}

/// A day at 1 Hz of three cells and an air probe. The broker is away, the daemon is killed in the middle.
TEST(StoreAndForward, KeepsADayWithoutABroker) {
  constexpr int sensors = 4, day_s = 86400;
  World world{sensors * day_s};
  std::size_t most_in_memory = 0;
  for (int second = 0; second < day_s; ++second) {
    for (int i = 0; i < sensors; ++i) world.measure();
    if (second % 600 == 0) ++world.disk.lines;
    most_in_memory = std::max<std::size_t>(most_in_memory, world.waiting() - world.on_disk());
    world.disk_does_all();
    if (second == day_s / 2) world.kill();
  }
  EXPECT_EQ(world.disk.size(), static_cast<std::size_t>(sensors * day_s));
  EXPECT_EQ(world.dropped(), 0U);
  EXPECT_EQ(world.lost_in_memory, 0U);
  EXPECT_LE(most_in_memory, sensors + 144U) << "and lines, which the journal keeps";
}

/// One random step. @param fails  whether the disk may
void step(World& world, bool fails) {
  const auto what = *rc::gen::inRange(0, 100);
  if (what < 4) return world.connected() ? world.disconnect() : world.connect();
  if (what < 5) return world.kill();
  if (what < 6) return world.stop();
  if (what < 10) {
    ++world.disk.lines;
    return;
  }
  if (what < 14) {
    world.disk.fails = fails && *rc::gen::arbitrary<bool>();
    return;
  }
  if (what < 45) return world.measure();
  if (what < 65) return static_cast<void>(world.send());
  if (what < 80) return world.acknowledge(*rc::gen::inRange<std::size_t>(0, window));
  world.disk_turn();
}

TEST(StoreAndForwardProperties, EverythingComesInOrderAndNothingIsLostButWhatIsCounted) {
  EXPECT_TRUE(rc::check("whatever broker, disk and program do", [] {
    World world{*rc::gen::element<std::size_t>(5, 1000)};
    world.disk_does_all(); // the journal is told from here on
    const auto steps = *rc::gen::inRange(0, 300);
    for (int i = 0; i < steps; ++i) step(world, false);
    world.deliver_all();
    RC_ASSERT(std::is_sorted(world.measurements.begin(), world.measurements.end()));
    RC_ASSERT(!world.repeated_on_a_connection);
    RC_ASSERT(!world.sent_after_settled);
    const auto lost = static_cast<std::uint64_t>(world.entered) - world.measurements.size();
    RC_ASSERT(lost <= world.dropped() + world.lost_in_memory);
    RC_ASSERT(world.lines == from_to(1, world.disk.lines));
    RC_ASSERT(world.disk.size() == 0U);
  }));
}

TEST(StoreAndForwardProperties, ADiskThatFailsNowAndThenCostsNoMoreThanWhatIsCounted) {
  EXPECT_TRUE(rc::check("whatever broker, disk and program do", [] {
    World world{1000};
    world.disk_does_all();
    const auto steps = *rc::gen::inRange(0, 300);
    for (int i = 0; i < steps; ++i) step(world, true);
    world.disk.fails = false;
    world.deliver_all();
    const auto lost = static_cast<std::uint64_t>(world.entered) - world.measurements.size();
    RC_ASSERT(lost <= world.dropped() + world.lost_in_memory);
    RC_ASSERT(world.lines == from_to(1, world.disk.lines));
  }));
}

} // namespace oxherd::daemon::store_and_forward_test
