#include "tests/daemon/store/store_fixture.hpp"

#include <cmath>
#include <limits>

#include <sys/stat.h>
#include <unistd.h>

#include <fmt/core.h>

#include "daemon/calibration/record_json.hpp"
#include "daemon/store/schema.hpp"

namespace oxherd::daemon::store_test {

TEST(Store, RemembersAlarmsAcknowledgementsAndTheSequenceOverARestart) {
  const ScratchDir dir;
  {
    const auto store = open_store(dir.path());
    ASSERT_TRUE(store);
    EXPECT_TRUE(store->remembered().alarms.empty());
    EXPECT_EQ(store->remembered().last_sequence, 0);
    write_alarm(*store, 1);
    write_alarm(*store, 2, alarms::State::acknowledged);
    AlarmSnapshot other = snapshot(alarms::State::latched_unacknowledged);
    other.room = "pear-store-2";
    other.recorded.present = false;
    other.recorded.tripped_while_suppressed = true;
    other.recorded.shelved_remaining = 1h;
    other.recorded.shelved_once = true;
    other.shelved = {"R. Okafor", "door work"};
    other.out_of_service = {"mira", "cell C"};
    other.first_out = true;
    other.decided_since = morning - 2h;
    other.shown = alarms::State::suppressed_by_design;
    store->alarm(line(3), other, {});
  }
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  EXPECT_EQ(store->remembered().last_sequence, 3);
  ASSERT_EQ(store->remembered().alarms.size(), 2U);
  const auto& first = store->remembered().alarms[0];
  EXPECT_EQ(first.room, "cryo-annexe");
  EXPECT_EQ(first.alarm, "low-oxygen");
  EXPECT_EQ(first.recorded.beneath, alarms::State::acknowledged);
  EXPECT_TRUE(first.recorded.present);
  EXPECT_FALSE(first.recorded.tripped_while_suppressed);
  EXPECT_EQ(first.since, morning);
  const auto& second = store->remembered().alarms[1];
  EXPECT_EQ(second.room, "pear-store-2");
  EXPECT_EQ(second.recorded.beneath, alarms::State::latched_unacknowledged);
  EXPECT_FALSE(second.recorded.present);
  EXPECT_TRUE(second.recorded.tripped_while_suppressed);
  EXPECT_TRUE(second.recorded.shelved_once);
  EXPECT_EQ(second.shelved, (Suppressor{"R. Okafor", "door work"}));
  EXPECT_EQ(second.out_of_service, (Suppressor{"mira", "cell C"}));
  EXPECT_TRUE(second.first_out);
  EXPECT_FALSE(first.first_out);
  EXPECT_EQ(second.decided_since, morning - 2h);
  EXPECT_FALSE(first.decided_since);
  EXPECT_EQ(second.shown, alarms::State::suppressed_by_design);
}

/// A journal as the version wrote it that knew so many steps of the schema, with one alarm that is shelved and one that
/// is acknowledged.
void write_old_journal(const std::filesystem::path& dir, std::size_t steps) {
  auto old = store::Database::open(dir / store::journal_schema().file_name, store::Database::Mode::create);
  ASSERT_TRUE(old);
  for (std::size_t i = 0; i < steps; ++i) ASSERT_TRUE(old->run(store::journal_schema().steps[i]));
  ASSERT_TRUE(old->run(
      fmt::format("PRAGMA application_id={}; PRAGMA user_version={}", store::journal_schema().application_id, steps)));
  const auto columns = "(room, alarm, beneath, present, tripped_while_suppressed, since, shelved_until)";
  ASSERT_TRUE(
      old->run(fmt::format("INSERT INTO alarm_state{} VALUES('bay-3', 'high-co2', 'unacknowledged', 1, 0, "
                           "{}, {})",
                           columns, morning.time_since_epoch().count(), (morning + 1h).time_since_epoch().count())));
  ASSERT_TRUE(
      old->run(fmt::format("INSERT INTO alarm_state{} VALUES('cryo-annexe', 'low-oxygen', 'acknowledged', 1, 0, "
                           "{}, NULL)",
                           columns, morning.time_since_epoch().count())));
  ASSERT_TRUE(old->run(fmt::format("INSERT INTO journal VALUES(7, {}, 'cryo-annexe', 'low-oxygen', 'acknowledge', "
                                   "'unacknowledged', 'acknowledged', 'acknowledge', 'mira', '', 'critical', NULL, "
                                   "NULL, NULL, '/', 'LOW OXYGEN')",
                                   morning.time_since_epoch().count())));
}

TEST(Store, BringsTheJournalOfEveryOlderVersionUpToDateAndKeepsItsAlarms) {
  for (std::size_t steps = 1; steps < store::journal_schema().steps.size(); ++steps) {
    SCOPED_TRACE(steps);
    const ScratchDir dir;
    write_old_journal(dir.path(), steps);
    for (int start = 0; start < 2; ++start) { // the second finds it up to date
      const auto store = open_store(dir.path());
      ASSERT_TRUE(store);
      EXPECT_EQ(store->remembered().last_sequence, 7);
      ASSERT_EQ(store->remembered().alarms.size(), 2U);
      const auto& shelved = store->remembered().alarms[0];
      EXPECT_EQ(shelved.recorded.beneath, alarms::State::unacknowledged);
      EXPECT_EQ(shelved.shown, alarms::State::shelved);
      EXPECT_TRUE(shelved.shelved.by.empty()) << "nobody wrote it down then";
      const auto& acknowledged = store->remembered().alarms[1];
      EXPECT_EQ(acknowledged.recorded.beneath, alarms::State::acknowledged);
      EXPECT_EQ(acknowledged.shown, alarms::State::acknowledged);
      EXPECT_TRUE(acknowledged.recorded.present);
      EXPECT_EQ(acknowledged.since, morning);
    }
    auto journal = store::Database::open(dir.path() / store::journal_schema().file_name, store::Database::Mode::read);
    ASSERT_TRUE(journal);
    EXPECT_EQ(journal->text("SELECT sql FROM sqlite_schema WHERE type = 'index' AND tbl_name = 'journal'").value_or(""),
              "CREATE INDEX journal_by_alarm ON journal(alarm)")
        << "a start must not read a journal of years";
  }
}

TEST(Store, RemembersWhatPersonsLastSaidOfEachRoom) {
  const ScratchDir dir;
  const auto said = [](std::int64_t sequence, const std::string& room, const char* event, const char* regime,
                       const char* author) {
    AlarmRecord record;
    record.at = morning + std::chrono::minutes{sequence};
    record.sequence = sequence;
    record.room = room;
    record.event = event;
    record.cause = regime;
    record.author = author;
    record.comment = "because";
    return record;
  };
  {
    const auto store = open_store(dir.path());
    ASSERT_TRUE(store);
    store->room_event(said(1, "pear-store-2", "regime", "occupied", "R. Okafor"));
    store->room_event(said(2, "bay-3", "regime", "occupied", "mira"));
    store->room_event(said(3, "pear-store-2", "regime", "sealed-low-oxygen", "mira"));
    store->room_event(said(4, "pear-store-2", "regime-refused", "occupied", "R. Okafor"));
    store->room_event(said(5, "pear-store-2", "opened", "", ""));
    store->room_event(said(6, "bay-3", "people-seen", "", ""));
    store->room_event(said(7, "bay-3", "regime", "occupied", "mira"));
    store->room_event(said(8, "pear-store-2", "entry-lock-withheld", "", ""));
  }
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  EXPECT_TRUE(store->remembered().alarms.empty()) << "a line about a room is no alarm";
  EXPECT_EQ(store->remembered().last_sequence, 8);
  ASSERT_EQ(store->remembered().regimes.size(), 2U);
  const auto& pears = store->remembered().regimes[1];
  EXPECT_EQ(pears.room, "pear-store-2");
  EXPECT_EQ(pears.regime, alarms::Regime::sealed_low_oxygen);
  EXPECT_EQ(pears.since, morning + 3min);
  EXPECT_EQ(pears.by, "mira");
  EXPECT_EQ(pears.comment, "because");
  EXPECT_TRUE(pears.broken);
  EXPECT_FALSE(store->remembered().regimes[0].broken) << "somebody has said what it is since";
}

Remembered remembered_at(const std::filesystem::path& dir, WallTime now) {
  auto journal = store::Journal::open(dir);
  if (!journal) {
    ADD_FAILURE() << journal.error().what;
    return {};
  }
  auto remembered = journal->remembered(now);
  if (!remembered) ADD_FAILURE() << remembered.error().what;
  return remembered.value_or(Remembered{});
}

TEST(Store, CountsAgesInCivilTimeAndNeverProlongsAShelvingWhenTheClockWentBack) {
  const ScratchDir dir;
  {
    const auto store = open_store(dir.path());
    ASSERT_TRUE(store);
    AlarmSnapshot shelved = snapshot(alarms::State::unacknowledged);
    shelved.shelved_until = morning + 8h;
    store->alarm(line(1), shelved, {});
    AlarmSnapshot out = snapshot(alarms::State::normal);
    out.alarm = "not-monitored";
    out.recorded.out_of_service_remaining = 1h; // given as a remainder only
    store->alarm(line(2), out, {});
  }
  struct Row {
    std::chrono::milliseconds later, age, shelved, out_of_service;
  };
  for (const Row row :
       {Row{0ms, 0ms, 8h, 1h}, Row{30min, 30min, 7h + 30min, 30min}, Row{9h, 9h, 0ms, 0ms}, Row{-2h, 0ms, 8h, 1h}}) {
    SCOPED_TRACE(row.later.count());
    const auto alarms = remembered_at(dir.path(), morning + row.later).alarms;
    ASSERT_EQ(alarms.size(), 2U);
    EXPECT_EQ(alarms[0].recorded.age, row.age);
    EXPECT_EQ(alarms[0].recorded.shelved_remaining, std::optional{alarms::Monotonic{row.shelved}});
    EXPECT_FALSE(alarms[0].recorded.out_of_service_remaining);
    EXPECT_EQ(alarms[1].recorded.out_of_service_remaining, std::optional{alarms::Monotonic{row.out_of_service}});
    EXPECT_FALSE(alarms[1].recorded.shelved_remaining);
  }
}

TEST(Store, KeepsEveryFieldOfALineOfTheJournal) {
  const ScratchDir dir;
  AlarmRecord full = line(7);
  full.event = "acknowledge-refused";
  full.from = alarms::State::returned_to_normal_unacknowledged;
  full.to = alarms::State::suppressed_by_design;
  full.author = "Björn \"the vent\" O'Neill; DROP TABLE journal";
  full.comment = "two\nlines";
  AlarmRecord bare = line(8);
  bare.value = bare.expanded = bare.limit = std::nullopt;
  {
    const auto store = open_store(dir.path());
    ASSERT_TRUE(store);
    store->alarm(full, snapshot(full.to), {});
    store->alarm(bare, {}, {}); // a line about no alarm of its own
  }
  const auto lines = journal_in(dir.path());
  ASSERT_EQ(lines.size(), 2U);
  const auto& read = lines[0];
  EXPECT_EQ(read.at, full.at);
  EXPECT_EQ(read.sequence, 7);
  EXPECT_EQ(read.room, full.room);
  EXPECT_EQ(read.alarm, full.alarm);
  EXPECT_EQ(read.event, full.event);
  EXPECT_EQ(read.from, full.from);
  EXPECT_EQ(read.to, full.to);
  EXPECT_EQ(read.cause, full.cause);
  EXPECT_EQ(read.author, full.author);
  EXPECT_EQ(read.comment, full.comment);
  EXPECT_EQ(read.priority, full.priority);
  EXPECT_EQ(read.value, full.value);
  EXPECT_EQ(read.expanded, full.expanded);
  EXPECT_EQ(read.limit, full.limit);
  EXPECT_EQ(read.unit, full.unit);
  EXPECT_EQ(read.text, full.text);
  EXPECT_FALSE(lines[1].value || lines[1].expanded || lines[1].limit);
  EXPECT_EQ(remembered_at(dir.path(), morning).alarms.size(), 1U);
}

TEST(Store, KeepsALineWhoseSequenceNumberIsTakenUnderTheNextFreeOne) {
  const ScratchDir dir;
  {
    const auto store = open_store(dir.path());
    ASSERT_TRUE(store);
    write_alarm(*store, 5);
    write_alarm(*store, 5, alarms::State::acknowledged);
    EXPECT_TRUE(committed(*store));
  }
  const auto lines = journal_in(dir.path());
  ASSERT_EQ(lines.size(), 2U);
  EXPECT_EQ(lines[0].sequence, 5);
  EXPECT_EQ(lines[0].to, alarms::State::unacknowledged);
  EXPECT_EQ(lines[1].sequence, 6);
  EXPECT_EQ(lines[1].to, alarms::State::acknowledged);
}

TEST(Store, NeverStoresWhatIsNotAFiniteNumber) {
  const ScratchDir dir;
  const double nan = std::numeric_limits<double>::quiet_NaN();
  {
    const auto store = open_store(dir.path());
    ASSERT_TRUE(store);
    AlarmRecord record = line(1);
    record.value = nan;
    record.expanded = std::numeric_limits<double>::infinity();
    store->alarm(record, snapshot(record.to), {});
    ReadingRecord reading = reading_at(morning, nan);
    reading.pressure_Pa = 99800.0;
    reading.u_pressure_Pa = nan;
    store->reading(reading);
    SampleRecord sample{morning, "cryo-annexe", "cell-a", "oxygen", nan, nan, alarms::Status::ok, ""};
    store->sample(sample);
    EXPECT_TRUE(committed(*store));
  }
  const auto lines = journal_in(dir.path());
  ASSERT_EQ(lines.size(), 1U);
  EXPECT_FALSE(lines[0].value || lines[0].expanded);
  EXPECT_EQ(lines[0].limit, 0.195);
  const auto readings = readings_in(dir.path());
  ASSERT_EQ(readings.size(), 1U);
  EXPECT_FALSE(readings[0].raw_V);
  EXPECT_EQ(readings[0].pressure_Pa, 99800.0);
  // Of a sample nothing would tell that its value is missing, were it not for its status.
  auto database = store::Database::open(dir.path() / "measurements.sqlite", store::Database::Mode::read);
  ASSERT_TRUE(database);
  EXPECT_EQ(database->text("SELECT status || ', ' || fault FROM sample WHERE si IS NULL AND raw IS NULL").value_or(""),
            "failure, not a finite number");
}

CalibrationRecord calibrated(WallTime at, double span_V, const std::string& serial = "LK-0007") {
  CalibrationRecord record;
  record.performed = at;
  record.recorded = at + 1min;
  record.room = "cryo-annexe";
  record.sensor = "cell-a";
  record.serial = serial;
  record.model = "concentration";
  record.author = "R. Finch";
  record.reason = "fresh air, door open";
  compensation::Calibration calibration;
  calibration.span.signal = {Signal::from_si(span_V), 2e-5};
  calibration.span.gas.temperature = {celsius(21.0), 0.3};
  calibration.span.gas.humidity = {percent_humidity(45.0), 0.02};
  calibration.span.gas.pressure = {kilopascals(99.8), 30.0};
  calibration.zero = {millivolts(0.4), 1e-5};
  record.points.emplace_back().values = calibration.span;
  record.calibration = calibration;
  return record;
}

TEST(Store, NumbersCalibrationRecordsAndGivesEachBackWhole) {
  const ScratchDir dir;
  auto first = calibrated(morning, 0.0126), second = calibrated(morning + 48h, 0.0124, "LK-0008");
  second.warnings = {"the door was open"};
  {
    const auto store = open_store(dir.path());
    ASSERT_TRUE(store);
    EXPECT_EQ(store->add(first).value(), 1);
    EXPECT_EQ(store->add(second).value(), 2);
  }
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  second.supersedes = 1;
  EXPECT_EQ(store->add(second).value(), 3) << "numbers go on after a restart";
  const auto found = store->calibrations();
  ASSERT_TRUE(found) << found.error().what;
  ASSERT_EQ(found->size(), 3U);
  first.number = 1;
  second.number = 3;
  EXPECT_EQ(to_json((*found)[0]), to_json(first));
  EXPECT_EQ(to_json((*found)[2]), to_json(second));
  EXPECT_EQ((*found)[1].number, 2);
}

TEST(Store, RefusesACalibrationWithAValueThatIsNotANumber) {
  const ScratchDir dir;
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  auto broken = calibrated(morning, 0.0126);
  broken.calibration->span.gas.pressure.u_si = std::numeric_limits<double>::quiet_NaN();
  const auto added = store->add(broken);
  ASSERT_FALSE(added);
  EXPECT_NE(added.error().what.find("calibration of cryo-annexe/cell-a cannot be recorded"), std::string::npos)
      << added.error().what;
  EXPECT_TRUE(store->calibrations().value().empty());
}

TEST(Store, MakesItsDirectoryForItsOwnUserAndGroupOnly) {
  const ScratchDir dir;
  const auto state = dir.path() / "lib" / "oxherd";
  const mode_t before = ::umask(0);
  const auto store = open_store(state);
  ::umask(before);
  ASSERT_TRUE(store);
  struct stat seen {};
  ASSERT_EQ(::stat(state.c_str(), &seen), 0);
  EXPECT_EQ(seen.st_mode & 07777U, 0750U);
}

TEST(Store, RefusesASecondOneOnTheSameDirectoryAndNamesTheFirst) {
  const ScratchDir dir;
  const auto first = open_store(dir.path());
  ASSERT_TRUE(first);
  const auto second = Store::open(dir.path(), keep_all());
  ASSERT_FALSE(second);
  EXPECT_EQ(second.error().what, "another oxherd (process " + std::to_string(::getpid()) + ") is using " +
                                     dir.path().string() + ": stop it first or give another --state-dir");
}

TEST(Store, MayBeOpenedAgainOnceTheFirstIsGone) {
  const ScratchDir dir;
  { ASSERT_TRUE(open_store(dir.path())); }
  EXPECT_TRUE(open_store(dir.path()));
}

TEST(Store, WritesWhatIsQueuedBeforeItCloses) {
  const ScratchDir dir;
  {
    const auto store = open_store(dir.path());
    ASSERT_TRUE(store);
    for (int i = 0; i < 5000; ++i) store->reading(reading_at(morning + std::chrono::milliseconds{i}));
    for (int i = 1; i <= 1200; ++i) write_alarm(*store, i);
  }
  EXPECT_EQ(readings_in(dir.path()).size(), 5000U);
  EXPECT_EQ(journal_in(dir.path()).size(), 1200U);
}

TEST(Store, AnswersEveryoneWhoWaitsForACommit) {
  const ScratchDir dir;
  std::atomic<int> answers = 0;
  {
    const auto store = open_store(dir.path());
    ASSERT_TRUE(store);
    for (int i = 1; i <= 50; ++i) {
      write_alarm(*store, i);
      store->when_committed([&](bool written) { answers += written ? 1 : 1000; });
    }
    EXPECT_TRUE(committed(*store));
    EXPECT_EQ(answers, 50);
    const auto health = store->health();
    EXPECT_TRUE(health.writing);
    EXPECT_EQ(health.trouble, "");
    EXPECT_EQ(health.dropped_measurements, 0U);
  }
}

} // namespace oxherd::daemon::store_test
