#include "tests/daemon/store/small_disk.hpp"
#include "tests/daemon/store/store_fixture.hpp"

#include <algorithm>
#include <fstream>
#include <set>

#include <fcntl.h>
#include <sys/statvfs.h>
#include <sys/wait.h>
#include <unistd.h>

namespace oxherd::daemon::store_faults_test {

using namespace store_test;

unsigned long long free_bytes(const std::filesystem::path& place) {
  struct statvfs space {};
  EXPECT_EQ(::statvfs(place.c_str(), &space), 0);
  return space.f_bavail * space.f_frsize;
}

std::vector<std::int64_t> sequences_in(const std::filesystem::path& dir) {
  std::vector<std::int64_t> sequences;
  for (const auto& record : journal_in(dir)) sequences.push_back(record.sequence);
  return sequences;
}

std::vector<std::int64_t> one_to(std::int64_t last) {
  std::vector<std::int64_t> sequences;
  for (std::int64_t i = 1; i <= last; ++i) sequences.push_back(i);
  return sequences;
}

/// Writes without end and tells the pipe each number whose alarm line and reading are acknowledged as committed.
void write_until_killed(const std::filesystem::path& dir, int pipe) {
  auto store = Store::open(dir, keep_all());
  if (!store) ::_exit(1);
  for (std::int64_t i = (*store)->remembered().last_sequence + 1;; ++i) {
    write_alarm(**store, i);
    (*store)->reading(reading_at(morning + std::chrono::milliseconds{i}));
    (*store)->when_committed([pipe, i](bool written) {
      if (written && ::write(pipe, &i, sizeof i) != static_cast<ssize_t>(sizeof i)) ::_exit(1);
    });
    if ((*store)->health().waiting > 1000) static_cast<void>(committed(**store)); // do not fill the memory
  }
}

TEST(StoreFaults, LosesNothingThatWasAcknowledgedWhenTheProcessIsKilled) {
  const ScratchDir dir;
  std::set<std::int64_t> acknowledged;
  for (int round = 0; round < 10; ++round) {
    SCOPED_TRACE(round);
    int pipe[2];
    ASSERT_EQ(::pipe(pipe), 0);
    const pid_t child = ::fork();
    if (child == 0) {
      ::close(pipe[0]);
      write_until_killed(dir.path(), pipe[1]);
    }
    ::close(pipe[1]);
    std::int64_t number = 0;
    for (int i = 0; i < 50 + 17 * round && ::read(pipe[0], &number, sizeof number) == sizeof number; ++i)
      acknowledged.insert(number);
    ::kill(child, SIGKILL);
    while (::read(pipe[0], &number, sizeof number) == sizeof number) acknowledged.insert(number); // told before it died
    ::close(pipe[0]);
    int status = 0;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    ASSERT_TRUE(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL) << "the child ended by itself";
    const auto sequences = sequences_in(dir.path()); // read with the log the dead writer left
    ASSERT_FALSE(acknowledged.empty());
    EXPECT_GE(static_cast<std::int64_t>(sequences.size()), *acknowledged.rbegin());
    EXPECT_EQ(sequences, one_to(static_cast<std::int64_t>(sequences.size()))); // no gap, nothing twice
    std::set<std::int64_t> read;
    for (const auto& reading : readings_in(dir.path())) read.insert((reading.at - morning).count());
    EXPECT_TRUE(std::includes(read.begin(), read.end(), acknowledged.begin(), acknowledged.end()));
  }
  EXPECT_GE(acknowledged.size(), 500U);
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  EXPECT_GE(store->remembered().last_sequence, *acknowledged.rbegin());
}

/// Fills the disk beneath a running store and makes room again; alarms and measurements go on meanwhile.
int live_through_a_full_disk(const std::filesystem::path& place) {
  if (!mount_small_disk(place, "size=24m")) return cannot_mount;
  config::Store settings = keep_all();
  settings.queue_max = 100;
  const auto store = open_store(place / "state", settings);
  if (!store) return 1;
  store->reading(reading_at(morning));
  write_alarm(*store, 1);
  EXPECT_TRUE(committed(*store));
  Filler filler{place / "filler"};
  // The reserve is given up for alarms: they are still written, measurements are not.
  std::int64_t sequence = 1;
  bool released = false;
  std::uint64_t pushed = 1;
  for (; !released && sequence < 3000; ++sequence) {
    write_alarm(*store, sequence + 1);
    store->reading(reading_at(morning + std::chrono::seconds{pushed++}));
    static_cast<void>(committed(*store));
    released = !std::filesystem::exists(place / "state" / "ballast");
    filler.fill(); // others take what a checkpoint may have left
  }
  EXPECT_TRUE(released);
  const auto health = store->health();
  EXPECT_FALSE(health.writing);
  EXPECT_EQ(health.trouble.rfind("disk full: ", 0), 0U) << health.trouble;
  // Once the journal has used up what it had, its lines wait in memory: nothing of it is lost.
  filler.fill();
  for (const auto end = sequence + 5000;
       sequence < end && store->health().trouble.find("journal") == std::string::npos;) {
    write_alarm(*store, ++sequence);
    static_cast<void>(committed(*store));
    filler.fill(); // an attempt to take the reserve back may have held room a moment ago
  }
  EXPECT_NE(store->health().trouble.find("journal.sqlite cannot grow"), std::string::npos) << store->health().trouble;
  for (int i = 0; i < 200; ++i) write_alarm(*store, ++sequence);
  for (int i = 0; i < 200; ++i) store->reading(reading_at(morning + std::chrono::seconds{pushed++}));
  EXPECT_FALSE(committed(*store));
  EXPECT_GE(store->health().dropped_measurements, 100U);
  EXPECT_GE(store->health().waiting, 200U);
  EXPECT_FALSE(journal_in(place / "state").empty()); // reading goes on
  filler.make_room();
  EXPECT_TRUE(committed_at_last(*store));
  EXPECT_TRUE(store->health().writing) << store->health().trouble;
  EXPECT_TRUE(std::filesystem::exists(place / "state" / "ballast"));
  EXPECT_EQ(sequences_in(place / "state"), one_to(sequence));
  EXPECT_EQ(readings_in(place / "state").size() + store->health().dropped_measurements, pushed);
  return 0;
}

TEST(StoreFaults, KeepsAlarmRecordsThroughAFullDiskAndGoesOnByItselfWhenThereIsRoom) {
  const ScratchDir dir;
  const int code = exit_code_of_child([&] { return live_through_a_full_disk(dir.path()); });
  if (code == cannot_mount) GTEST_SKIP() << "no small disk can be mounted here";
  EXPECT_EQ(code, 0);
}

int start_on_a_full_disk(const std::filesystem::path& place) {
  if (!mount_small_disk(place, "size=24m")) return cannot_mount;
  const auto state = place / "state";
  {
    const auto store = open_store(state);
    if (!store) return 1;
    write_alarm(*store, 1);
  }
  Filler filler{place / "filler"};
  EXPECT_EQ(sequences_in(state), one_to(1)); // an audit must not wait for room
  {
    const auto store = open_store(state); // the reserve makes it possible
    if (!store) return 1;
    EXPECT_EQ(store->remembered().last_sequence, 1);
    write_alarm(*store, 2);
    EXPECT_TRUE(committed(*store));
  }
  std::filesystem::remove(state / "ballast");
  filler.fill();
  EXPECT_LT(free_bytes(place), 4096U);
  const auto refused = Store::open(state, keep_all());
  if (refused) return 2;
  EXPECT_EQ(refused.error().what.rfind("disk full: ", 0), 0U) << refused.error().what;
  filler.make_room();
  EXPECT_EQ(sequences_in(state), one_to(2));
  return 0;
}

TEST(StoreFaults, StartsOnAFullDiskByItsReserveAndNamesTheFullDiskWhenThatIsGone) {
  const ScratchDir dir;
  const int code = exit_code_of_child([&] { return start_on_a_full_disk(dir.path()); });
  if (code == cannot_mount) GTEST_SKIP() << "no small disk can be mounted here";
  EXPECT_EQ(code, 0);
}

int look_into_a_read_only_file_system(const std::filesystem::path& place) {
  if (!mount_small_disk(place, "size=24m")) return cannot_mount;
  {
    const auto store = open_store(place);
    if (!store) return 1;
    write_alarm(*store, 1);
    store->reading(reading_at(morning));
  }
  if (::mount(nullptr, place.c_str(), nullptr, MS_REMOUNT | MS_RDONLY, "size=24m") != 0) return cannot_mount;
  const auto refused = Store::open(place, keep_all());
  if (refused) return 2;
  EXPECT_EQ(refused.error().what,
            "cannot use the state directory: cannot write " + (place / "lock").string() + ": Read-only file system");
  EXPECT_EQ(sequences_in(place), one_to(1));
  EXPECT_EQ(readings_in(place).size(), 1U);
  return 0;
}

TEST(StoreFaults, ReadsButDoesNotStartOnAReadOnlyFileSystem) {
  const ScratchDir dir;
  const int code = exit_code_of_child([&] { return look_into_a_read_only_file_system(dir.path()); });
  if (code == cannot_mount) GTEST_SKIP() << "no small disk can be mounted here";
  EXPECT_EQ(code, 0);
}

/// Overwrites bytes of a file; negative offsets count from its end.
void scribble(const std::filesystem::path& file, std::int64_t offset, std::size_t size) {
  std::fstream stream{file, std::ios::in | std::ios::out | std::ios::binary};
  stream.seekp(offset, offset < 0 ? std::ios::end : std::ios::beg);
  const std::string noise(size, '\xa5');
  stream.write(noise.data(), static_cast<std::streamsize>(noise.size()));
  ASSERT_TRUE(stream.good());
}

std::vector<std::filesystem::path> set_aside_in(const std::filesystem::path& dir) {
  std::vector<std::filesystem::path> found;
  for (const auto& entry : std::filesystem::directory_iterator{dir})
    if (entry.path().filename().string().find(".damaged-") != std::string::npos) found.push_back(entry.path());
  return found;
}

/// A store that was used and closed.
void fill_and_close(const std::filesystem::path& dir) {
  const auto store = open_store(dir);
  ASSERT_TRUE(store);
  for (int i = 1; i <= 500; ++i) write_alarm(*store, i);
  for (int i = 0; i < 2000; ++i) store->reading(reading_at(morning + std::chrono::seconds{i}));
}

TEST(StoreFaults, MovesAFileThatIsNoDatabaseAsideAndStartsANewOne) {
  for (const char* name : {"measurements.sqlite", "journal.sqlite"}) {
    SCOPED_TRACE(name);
    const ScratchDir dir;
    fill_and_close(dir.path());
    scribble(dir.path() / name, 0, 64);
    testing::internal::CaptureStderr();
    const auto store = open_store(dir.path());
    const std::string said = testing::internal::GetCapturedStderr();
    ASSERT_TRUE(store);
    const auto aside = set_aside_in(dir.path());
    ASSERT_EQ(aside.size(), 1U);
    EXPECT_NE(said.find("error damaged: " + (dir.path() / name).string()), std::string::npos) << said;
    EXPECT_NE(said.find(aside[0].string()), std::string::npos) << said;
    write_alarm(*store, 501);
    store->reading(reading_at(morning));
    EXPECT_TRUE(committed(*store));
    const bool journal_is_new = std::string_view{name} == "journal.sqlite";
    EXPECT_EQ(sequences_in(dir.path()).size(), journal_is_new ? 1U : 501U);
    EXPECT_EQ(readings_in(dir.path()).size(), journal_is_new ? 2001U : 1U);
  }
}

/// Where the middle one begins of the pages that hold this text.
std::streamoff page_in_the_midst_of(const std::filesystem::path& file, std::string_view text) {
  constexpr std::size_t page = 4096;
  std::ifstream in{file, std::ios::binary};
  const std::string bytes{std::istreambuf_iterator<char>{in}, {}};
  std::vector<std::size_t> found;
  for (std::size_t at = 0; at < bytes.size(); at += page)
    if (std::string_view{bytes}.substr(at, page).find(text) != std::string_view::npos) found.push_back(at);
  EXPECT_GE(found.size(), 3U);
  return found.empty() ? 0 : static_cast<std::streamoff>(found[found.size() / 2]);
}

TEST(StoreFaults, TakesWhatCanStillBeReadOfADamagedJournalIntoTheNewOne) {
  const ScratchDir dir;
  fill_and_close(dir.path());
  // A page among the journal's own: the states of the alarms lie elsewhere, the last line on a later page.
  scribble(dir.path() / "journal.sqlite", page_in_the_midst_of(dir.path() / "journal.sqlite", "LOW OXYGEN in"), 4096);
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  EXPECT_EQ(set_aside_in(dir.path()).size(), 1U);
  ASSERT_EQ(store->remembered().alarms.size(), 1U);
  EXPECT_EQ(store->remembered().alarms[0].recorded.beneath, alarms::State::unacknowledged);
  EXPECT_EQ(store->remembered().last_sequence, 501); // numbers go on, after a line that says so
  const auto lines = journal_in(dir.path());
  EXPECT_GE(lines.size(), 300U); // of 500 lines, some twenty to a page
  EXPECT_LT(lines.size(), 500U);
  EXPECT_EQ(lines.front().sequence, 1);
  EXPECT_EQ(lines.back().event, "journal-damaged");
}

TEST(StoreFaults, ReplacesAFileThatTurnsOutDamagedAtWork) {
  const ScratchDir dir;
  fill_and_close(dir.path());
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  auto other = store::Database::open(dir.path() / "measurements.sqlite", store::Database::Mode::create);
  ASSERT_TRUE(other);
  ASSERT_TRUE(other->run("PRAGMA user_version = 1")); // makes the writer forget the pages it holds
  const auto size = std::filesystem::file_size(dir.path() / "measurements.sqlite");
  scribble(dir.path() / "measurements.sqlite", 4096, static_cast<std::size_t>(size) - 4096);
  store->reading(reading_at(morning + 1h, 0.5));
  write_alarm(*store, 501);
  EXPECT_TRUE(committed(*store));
  EXPECT_GE(set_aside_in(dir.path()).size(), 1U);
  EXPECT_TRUE(store->health().writing) << store->health().trouble;
  const auto left = readings_in(dir.path());
  ASSERT_EQ(left.size(), 1U);
  EXPECT_EQ(left[0].raw_V, 0.5);
  EXPECT_EQ(sequences_in(dir.path()), one_to(501));
}

TEST(StoreFaults, RefusesAFileOfAnotherProgramOrOfANewerVersionAndLeavesItAlone) {
  for (const char* change : {"PRAGMA application_id = 7", "PRAGMA user_version = 99"}) {
    SCOPED_TRACE(change);
    const ScratchDir dir;
    fill_and_close(dir.path());
    {
      auto database = store::Database::open(dir.path() / "journal.sqlite", store::Database::Mode::create);
      ASSERT_TRUE(database && database->run(change));
    }
    const auto refused = Store::open(dir.path(), keep_all());
    ASSERT_FALSE(refused);
    EXPECT_NE(refused.error().what.find("journal.sqlite"), std::string::npos) << refused.error().what;
    EXPECT_FALSE(alarm_history(dir.path(), everything()));
    EXPECT_TRUE(set_aside_in(dir.path()).empty());
  }
}

TEST(StoreFaults, ReadsHistoryBesideAWriterThatHoldsATransactionOpen) {
  const ScratchDir dir;
  fill_and_close(dir.path());
  auto writer = store::Database::open(dir.path() / "measurements.sqlite", store::Database::Mode::create);
  ASSERT_TRUE(writer);
  auto transaction = store::Transaction::begin(*writer);
  ASSERT_TRUE(transaction);
  ASSERT_TRUE(writer->run("DELETE FROM reading"));
  EXPECT_EQ(readings_in(dir.path()).size(), 2000U);
}

} // namespace oxherd::daemon::store_faults_test
