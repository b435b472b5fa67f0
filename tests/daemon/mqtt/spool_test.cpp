#include "daemon/mqtt/spool.hpp"

#include <fstream>
#include <limits>
#include <vector>

#include <gtest/gtest.h>

#include "tests/daemon/store/small_disk.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::spool_test {

using store_test::ScratchDir;
using Numbers = std::vector<std::int64_t>;

constexpr auto from_the_first = std::numeric_limits<std::int64_t>::min();

/// Measurements with these numbers, their payloads as long as real ones.
std::vector<QueuedMessage> numbered(std::int64_t first, std::int64_t last) {
  std::vector<QueuedMessage> messages;
  for (auto i = first; i <= last; ++i)
    messages.push_back({i, "oxherd/larkfield/cryo-annexe/cell-a", std::to_string(i) + " " + std::string(400, 'x')});
  return messages;
}

void put(Spool& spool, std::int64_t first, std::int64_t last) {
  const auto done = spool.put(numbered(first, last));
  EXPECT_TRUE(done) << done.error().what;
}

/// The numbers of everything behind one, as read in pieces of a hundred.
Numbers behind(Spool& spool, std::int64_t after = from_the_first) {
  Numbers numbers;
  for (;;) {
    const auto rows = spool.read(after, 100);
    EXPECT_TRUE(rows) << rows.error().what;
    if (!rows) return numbers;
    for (const auto& m : rows->messages) numbers.push_back(m.sequence);
    if (rows->all) return numbers;
    after = numbers.back();
  }
}

Numbers from_to(std::int64_t first, std::int64_t last) {
  Numbers numbers;
  for (; first <= last; ++first) numbers.push_back(first);
  return numbers;
}

TEST(Spool, GivesBackWhatWasPutInItsOrderAndForgetsWhatIsSettled) {
  const ScratchDir dir;
  Spool spool{dir.path(), 1000};
  put(spool, 21, 40);
  put(spool, 1, 20); // unacknowledged on a connection that was lost
  const auto rows = spool.read(from_the_first, 1);
  ASSERT_TRUE(rows);
  EXPECT_FALSE(rows->all);
  ASSERT_EQ(rows->messages.size(), 1U);
  EXPECT_EQ(rows->messages[0].topic, "oxherd/larkfield/cryo-annexe/cell-a");
  EXPECT_EQ(rows->messages[0].payload, numbered(1, 1)[0].payload);
  EXPECT_EQ(behind(spool), from_to(1, 40));
  EXPECT_EQ(behind(spool, 35), from_to(36, 40));
  ASSERT_TRUE(spool.settle(30));
  EXPECT_EQ(behind(spool), from_to(31, 40));
  EXPECT_EQ(spool.count(), 10U);
  EXPECT_EQ(spool.dropped(), 0U);
}

TEST(Spool, NumbersWhatAnEarlierRunLeftBeforeItsOwn) {
  const ScratchDir dir;
  for (int run = 0; run < 3; ++run) {
    Spool spool{dir.path(), 1000};
    put(spool, 1, 10);
    EXPECT_EQ(behind(spool), from_to(1 - 10 * run, 10));
  }
  Spool spool{dir.path(), 1000};
  ASSERT_TRUE(spool.open());
  EXPECT_EQ(spool.count(), 30U);
  ASSERT_TRUE(spool.settle(-5));
  put(spool, 1, 1);
  EXPECT_EQ(behind(spool), from_to(-4, 1));
  EXPECT_EQ(spool.count(), 6U);
}

TEST(Spool, DropsTheOldestBeyondItsBoundAndCountsThem) {
  const ScratchDir dir;
  {
    Spool spool{dir.path(), 100};
    put(spool, 1, 80);
    put(spool, 81, 250);
    EXPECT_EQ(behind(spool), from_to(151, 250));
    EXPECT_EQ(spool.dropped(), 150U);
    EXPECT_EQ(spool.count(), 100U);
  }
  Spool smaller{dir.path(), 10};
  put(smaller, 1, 1);
  EXPECT_EQ(behind(smaller), from_to(-8, 1));
  EXPECT_EQ(smaller.dropped(), 91U);
}

TEST(Spool, KeepsHowFarTheBrokerHasTheJournal) {
  const ScratchDir dir;
  {
    Spool spool{dir.path(), 100};
    ASSERT_TRUE(spool.open());
    EXPECT_EQ(spool.cursor(), std::nullopt);
    ASSERT_TRUE(spool.keep_cursor(0));
    EXPECT_EQ(spool.cursor(), 0);
    ASSERT_TRUE(spool.keep_cursor(4711));
  }
  Spool spool{dir.path(), 100};
  ASSERT_TRUE(spool.open());
  EXPECT_EQ(spool.cursor(), 4711);
}

TEST(Spool, BelongsToOneAtATime) {
  const ScratchDir dir;
  auto first = std::make_unique<Spool>(dir.path(), 100);
  put(*first, 1, 1);
  Spool second{dir.path(), 100};
  const auto refused = second.open();
  ASSERT_FALSE(refused);
  EXPECT_NE(refused.error().what.find("locked"), std::string::npos) << refused.error().what;
  first.reset();
  EXPECT_TRUE(second.open());
}

TEST(Spool, GivesTheDiskBackOnceABigBacklogIsSettled) {
  const ScratchDir dir;
  const auto size = [&] { return std::filesystem::file_size(dir.path() / "mqtt.sqlite"); };
  {
    Spool spool{dir.path(), 100000};
    for (int i = 0; i < 100; ++i) put(spool, 1 + 500 * i, 500 + 500 * i);
  }
  EXPECT_GT(size(), 20'000'000U);
  RecordProperty("bytes_per_message", static_cast<int>(size() / 50000));
  {
    Spool spool{dir.path(), 100000};
    ASSERT_TRUE(spool.open());
    ASSERT_TRUE(spool.settle(0));
  }
  EXPECT_LT(size(), 100'000U);
}

TEST(Spool, MovesADamagedFileAsideBeginsANewOneAndKnowsTheJournalStill) {
  const ScratchDir dir;
  {
    Spool spool{dir.path(), 10000};
    put(spool, 1, 1000);
    ASSERT_TRUE(spool.keep_cursor(17));
  }
  {
    std::fstream file{dir.path() / "mqtt.sqlite", std::ios::in | std::ios::out | std::ios::binary};
    file.seekp(100000);
    for (int i = 0; i < 100000; ++i) file.put('x');
  }
  Spool spool{dir.path(), 10000};
  const auto opened = spool.open();
  ASSERT_TRUE(opened) << opened.error().what;
  EXPECT_EQ(spool.count(), 0U);
  EXPECT_EQ(spool.cursor(), 17);
  put(spool, 1, 5);
  EXPECT_EQ(behind(spool), from_to(1, 5));
  int aside = 0;
  for (const auto& entry : std::filesystem::directory_iterator{dir.path()})
    if (entry.path().filename().string().rfind("mqtt.sqlite.damaged-", 0) == 0) ++aside;
  EXPECT_GE(aside, 1);
}

TEST(Spool, SurvivesAPageThatTurnsOutDamagedAtWork) {
  const ScratchDir dir;
  {
    Spool spool{dir.path(), 100000};
    for (int i = 0; i < 100; ++i) put(spool, 1 + 500 * i, 500 + 500 * i); // more than is held in memory
    ASSERT_TRUE(spool.keep_cursor(17));
  }
  Spool spool{dir.path(), 100000};
  ASSERT_TRUE(spool.open());
  {
    std::fstream file{dir.path() / "mqtt.sqlite", std::ios::in | std::ios::out | std::ios::binary};
    file.seekp(8192); // behind the schema
    for (int i = 0; i < 400000; ++i) file.put('x');
  }
  const auto rows = spool.read(from_the_first, 1000);
  ASSERT_TRUE(rows) << rows.error().what;
  EXPECT_EQ(rows->messages.size(), 0U);
  EXPECT_EQ(spool.dropped(), 50000U);
  EXPECT_EQ(spool.count(), 0U);
  put(spool, 1, 5);
  EXPECT_EQ(behind(spool), from_to(1, 5));
  EXPECT_EQ(spool.cursor(), 17);
}

/// The last 16 MiB are the journal's; reading goes on.
int live_on_a_full_disk(const std::filesystem::path& place) {
  if (!store_test::mount_small_disk(place, "size=24m")) return store_test::cannot_mount;
  Spool spool{place, 10000};
  put(spool, 1, 100);
  store_test::Filler filler{place / "filler"};
  const auto refused = spool.put(numbered(101, 200));
  EXPECT_FALSE(refused);
  if (!refused) {
    EXPECT_EQ(refused.error().what.rfind("disk full: ", 0), 0U) << refused.error().what;
  }
  EXPECT_EQ(behind(spool), from_to(1, 100));
  EXPECT_FALSE(spool.settle(40)) << "even that needs room";
  EXPECT_EQ(behind(spool), from_to(1, 100));
  filler.make_room();
  put(spool, 101, 200);
  EXPECT_TRUE(spool.settle(40));
  EXPECT_EQ(behind(spool), from_to(41, 200));
  EXPECT_EQ(spool.dropped(), 0U);
  EXPECT_EQ(spool.count(), 160U);
  return 0;
}

TEST(Spool, LeavesAFullDiskToTheAlarmJournalAndWritesAgainWhenThereIsRoom) {
  const ScratchDir dir;
  const int code = store_test::exit_code_of_child([&] { return live_on_a_full_disk(dir.path()); });
  if (code == store_test::cannot_mount) GTEST_SKIP() << "no small disk can be mounted here";
  EXPECT_EQ(code, 0);
}

} // namespace oxherd::daemon::spool_test
