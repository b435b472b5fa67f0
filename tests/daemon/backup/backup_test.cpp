#include "daemon/backup/backup.hpp"

#include <atomic>
#include <fstream>
#include <sstream>
#include <thread>

#include <gtest/gtest.h>

#include "daemon/store/state_dir.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::backup_test {

namespace fs = std::filesystem;
using store_test::committed;
using store_test::morning;
using store_test::open_store;
using store_test::reading_at;
using store_test::ScratchDir;
using store_test::write_alarm;

const backup::Progress quietly = [](std::string_view, double) {};

std::string text_in(const fs::path& file) {
  std::ifstream in{file, std::ios::binary};
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

void write(const fs::path& file, const std::string& text) { std::ofstream{file, std::ios::binary} << text; }

/// A state directory with alarms and readings, and a place for a backup of it.
class ABackup : public ::testing::Test {
protected:
  void SetUp() override {
    record(1, 40);
    write(state() / "users.json", "{}\n");
  }
  void record(std::int64_t first, std::int64_t last) {
    const auto store = open_store(state());
    ASSERT_TRUE(store);
    for (std::int64_t n = first; n <= last; ++n) {
      write_alarm(*store, n);
      store->reading(reading_at(morning + std::chrono::seconds{n * 30}));
    }
    ASSERT_TRUE(committed(*store));
  }
  [[nodiscard]] fs::path state() const { return dir_.path() / "state"; }
  [[nodiscard]] fs::path folder() const { return dir_.path() / "kept" / "one"; }
  [[nodiscard]] tl::expected<backup::Manifest, std::string> made() const {
    return backup::make(state(), folder(), "0.1.0", morning, quietly);
  }
  static std::size_t readings_in(const fs::path& state_dir) {
    return reading_history(state_dir, store_test::everything()).value().readings.size();
  }
  static std::size_t alarms_in(const fs::path& state_dir) {
    return alarm_history(state_dir, store_test::everything()).value().records.size();
  }

  ScratchDir dir_;
};

TEST_F(ABackup, HoldsEveryRecordAndIsWhole) {
  const auto manifest = made();
  ASSERT_TRUE(manifest) << manifest.error();
  EXPECT_EQ(manifest->head.value().position, 40);
  EXPECT_EQ(alarms_in(folder()), 40U);
  EXPECT_EQ(readings_in(folder()), 40U) << "readings are found by the numbers of their rows, which stay";
  EXPECT_EQ(text_in(folder() / "users.json"), "{}\n");
  for (const auto& entry : fs::directory_iterator{folder()})
    EXPECT_FALSE(entry.path().string().ends_with("-wal")) << "each database is one file";
  EXPECT_EQ(fs::status(folder()).permissions(), fs::perms::owner_all);

  const auto read = backup::verify(folder(), quietly);
  ASSERT_TRUE(read) << read.error();
  EXPECT_EQ(read->made, morning);
  EXPECT_EQ(read->version, "0.1.0");
  EXPECT_EQ(read->files.size(), manifest->files.size());
}

TEST_F(ABackup, IsOfOneMomentWhileTheDaemonGoesOnWriting) {
  std::atomic<bool> done{false};
  std::thread writer{[&] {
    const auto store = open_store(state());
    for (std::int64_t n = 41; store && !done; ++n) {
      write_alarm(*store, n);
      store->reading(reading_at(morning + std::chrono::seconds{n * 30}));
      if (!committed(*store)) break;
    }
  }};
  const auto manifest = made();
  done = true;
  writer.join();
  ASSERT_TRUE(manifest) << manifest.error();
  EXPECT_TRUE(backup::verify(folder(), quietly));
  EXPECT_GE(alarms_in(folder()), 40U);
  EXPECT_LE(alarms_in(folder()), alarms_in(state()));
  EXPECT_EQ(examine_chain(state(), manifest->head, {}).value().break_count, 0)
      << "its head is in the chain that went on";
}

TEST_F(ABackup, IsNotThereWhenItCouldNotBeMade) {
  fs::create_directories(folder());
  const auto there = made();
  ASSERT_FALSE(there);
  EXPECT_NE(there.error().find("is there already"), std::string::npos) << there.error();
  fs::remove(folder());

  const auto none = backup::make(dir_.path() / "nowhere", folder(), "0.1.0", morning, quietly);
  ASSERT_FALSE(none);
  EXPECT_NE(none.error().find("no records"), std::string::npos) << none.error();

  auto database = store::Database::open(state() / "journal.sqlite", store::Database::Mode::create);
  ASSERT_TRUE(database && database->run("UPDATE journal SET author = 'somebody' WHERE sequence = 7"));
  const auto altered = made();
  ASSERT_FALSE(altered);
  EXPECT_NE(altered.error().find("audit trail"), std::string::npos) << altered.error();
  EXPECT_FALSE(fs::exists(folder()));
  EXPECT_FALSE(fs::exists(folder().string() + ".part"));
}

TEST_F(ABackup, ReplacesWhatAnAttemptThatWasKilledHasLeft) {
  fs::create_directories(folder().string() + ".part");
  write(folder().string() + ".part/journal.sqlite", "half");
  ASSERT_TRUE(made());
  EXPECT_TRUE(backup::verify(folder(), quietly));
}

TEST_F(ABackup, IsRefusedWhenAnyByteOfItIsAnother) {
  const auto manifest = made().value();
  for (const auto& file : manifest.files) {
    const auto path = folder() / file.name;
    const auto before = text_in(path);
    auto after = before;
    after[after.size() / 2] = static_cast<char>(after[after.size() / 2] ^ 1);
    write(path, after);
    const auto read = backup::verify(folder(), quietly);
    ASSERT_FALSE(read) << file.name;
    EXPECT_NE(read.error().find(file.name), std::string::npos) << read.error();
    EXPECT_FALSE(backup::restore(folder(), dir_.path() / "elsewhere", morning, quietly));
    EXPECT_FALSE(fs::exists(dir_.path() / "elsewhere")) << "nothing is touched before the backup is known to be whole";
    write(path, before);
  }
  ASSERT_TRUE(backup::verify(folder(), quietly));
  fs::remove(folder() / "measurements.sqlite");
  EXPECT_FALSE(backup::verify(folder(), quietly));
}

TEST_F(ABackup, IsRefusedWithoutAManifestThatCanBeRead) {
  ASSERT_TRUE(made());
  const auto good = text_in(folder() / "backup.json");
  for (
      const std::string& text :
      {std::string{}, std::string{"{}"}, std::string{"[1,2]"}, std::string(10000, '['),
       std::string{R"({"oxherd":"1","made":"soon","head":null,"files":[]})"},
       std::string{R"({"oxherd":"1","made":"2026-03-01T08:00:00Z","head":"12","files":[]})"},
       std::string{
           R"({"oxherd":"1","made":"2026-03-01T08:00:00Z","head":null,"files":[{"name":"../x","bytes":1,"sha256":""}]})"}}) {
    write(folder() / "backup.json", text);
    const auto read = backup::verify(folder(), quietly);
    ASSERT_FALSE(read) << text.substr(0, 60);
    EXPECT_FALSE(read.error().empty());
  }
  write(folder() / "backup.json", good);
  EXPECT_TRUE(backup::verify(folder(), quietly));
  EXPECT_NE(backup::verify(dir_.path(), quietly).error().find("is no backup"), std::string::npos);
}

TEST_F(ABackup, BringsTheRecordsBackAsTheyWereAndKeepsWhatWasThere) {
  ASSERT_TRUE(made());
  record(41, 60);
  const auto restored = backup::restore(folder(), state(), morning, quietly);
  ASSERT_TRUE(restored) << restored.error();
  EXPECT_EQ(alarms_in(state()), 40U);
  EXPECT_EQ(readings_in(state()), 40U);
  EXPECT_EQ(alarms_in(restored->set_aside), 60U) << "nothing is deleted";
  record(41, 45); // and the daemon goes on with them
  EXPECT_EQ(alarms_in(state()), 45U);
  EXPECT_EQ(examine_chain(state(), restored->manifest.head, {}).value().break_count, 0);
}

TEST_F(ABackup, GoesIntoAFreshStateDirectory) {
  ASSERT_TRUE(made());
  const auto other = dir_.path() / "other";
  const auto restored = backup::restore(folder(), other, morning, quietly);
  ASSERT_TRUE(restored) << restored.error();
  EXPECT_TRUE(restored->set_aside.empty());
  EXPECT_EQ(alarms_in(other), 40U);
  EXPECT_EQ(fs::status(other / "users.json").permissions(), fs::perms::owner_read | fs::perms::owner_write);
}

TEST_F(ABackup, IsNotRestoredUnderARunningDaemon) {
  ASSERT_TRUE(made());
  const auto held = store::StateDir::claim(state());
  ASSERT_TRUE(held);
  const auto restored = backup::restore(folder(), state(), morning, quietly);
  ASSERT_FALSE(restored);
  EXPECT_NE(restored.error().find("stop it first"), std::string::npos) << restored.error();
  EXPECT_EQ(alarms_in(state()), 40U);
}

} // namespace oxherd::daemon::backup_test
