#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::history_test {

using namespace store_test;

TEST(ReadingHistory, GivesTheNewestWithinTheLimitOldestFirstAndSaysWhatItLeftOut) {
  const ScratchDir dir;
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  for (int i = 0; i < 10; ++i) store->reading(reading_at(morning + std::chrono::seconds{i}, i));
  ASSERT_TRUE(committed(*store));
  const auto some = reading_history(dir.path(), everything(4));
  ASSERT_TRUE(some) << some.error().what;
  EXPECT_TRUE(some->truncated);
  ASSERT_EQ(some->readings.size(), 4U);
  for (std::size_t i = 0; i < 4; ++i) {
    EXPECT_EQ(some->readings[i].raw_V, static_cast<double>(i) + 6.0);
    EXPECT_EQ(some->readings[i].at, morning + std::chrono::seconds{i + 6});
  }
  const auto all = reading_history(dir.path(), everything(10));
  ASSERT_TRUE(all) << all.error().what;
  EXPECT_FALSE(all->truncated);
  EXPECT_EQ(all->readings.size(), 10U);
}

TEST(ReadingHistory, KeepsToTheTimesTheRoomAndTheSensorAskedFor) {
  const ScratchDir dir;
  {
    const auto store = open_store(dir.path());
    ASSERT_TRUE(store);
    for (int minute = 0; minute < 10; ++minute) {
      store->reading(reading_at(morning + std::chrono::minutes{minute}, 1.0, "cell-a", "cryo-annexe"));
      store->reading(reading_at(morning + std::chrono::minutes{minute}, 2.0, "cell-b", "cryo-annexe"));
      store->reading(reading_at(morning + std::chrono::minutes{minute}, 3.0, "cell-a", "pear-store-2"));
    }
  }
  HistoryQuery query = everything();
  query.from = morning + 2min;
  query.to = morning + 4min; // both ends belong to it
  EXPECT_EQ(reading_history(dir.path(), query)->readings.size(), 9U);
  query.room = "cryo-annexe";
  EXPECT_EQ(reading_history(dir.path(), query)->readings.size(), 6U);
  query.sensor = "cell-a";
  const auto found = reading_history(dir.path(), query);
  ASSERT_TRUE(found) << found.error().what;
  ASSERT_EQ(found->readings.size(), 3U);
  for (const auto& reading : found->readings) EXPECT_EQ(reading.raw_V, 1.0);
  query.to = query.from - 1ms;
  EXPECT_TRUE(reading_history(dir.path(), query)->readings.empty());
  query = everything();
  query.room = "nowhere";
  EXPECT_TRUE(reading_history(dir.path(), query)->readings.empty());
}

TEST(ReadingHistory, GivesEveryValueThatWasStored) {
  const ScratchDir dir;
  ReadingRecord given = reading_at(morning, 0.0119);
  given.oxygen.emplace();
  given.oxygen->dry = DryFraction::from_si(0.2081);
  given.oxygen->wet = WetFraction::from_si(0.2052);
  given.oxygen->po2 = OxygenPartialPressure::from_si(20480.0);
  given.oxygen->u_dry = 0.0011;
  given.temperature_K = 285.4;
  given.humidity = 0.88;
  given.pressure_Pa = 99800.0;
  given.carbon_dioxide = 0.0009;
  given.over_pressure_Pa = -12.0;
  given.u_temperature_K = 0.15;
  given.u_pressure_Pa = 60.0;
  given.u_carbon_dioxide = 0.00003;
  given.u_over_pressure_Pa = 1.5;
  given.status = alarms::Status::out_of_specification;
  given.reasons = {{alarms::Status::out_of_specification, "pressure probe lost: standard atmosphere used"},
                   {alarms::Status::maintenance_required, "calibration overdue"}};
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  store->reading(given);
  ReadingRecord failed = reading_at(morning + 1s);
  failed.raw_V.reset();
  failed.status = alarms::Status::failure;
  store->reading(failed);
  ASSERT_TRUE(committed(*store));
  const auto readings = readings_in(dir.path());
  ASSERT_EQ(readings.size(), 2U);
  const auto& read = readings[0];
  EXPECT_EQ(read.at, given.at);
  EXPECT_EQ(read.room, "cryo-annexe");
  EXPECT_EQ(read.sensor, "cell-a");
  EXPECT_EQ(read.status, "out_of_specification");
  EXPECT_EQ(read.quality, "uncertain");
  EXPECT_EQ(read.reasons, "pressure probe lost: standard atmosphere used; calibration overdue");
  EXPECT_EQ(read.oxygen, 0.2081);
  EXPECT_EQ(read.u_oxygen, 0.0011);
  EXPECT_EQ(read.oxygen_wet, 0.2052);
  EXPECT_EQ(read.po2_Pa, 20480.0);
  EXPECT_EQ(read.raw_V, 0.0119);
  EXPECT_EQ(read.temperature_K, 285.4);
  EXPECT_EQ(read.humidity, 0.88);
  EXPECT_EQ(read.pressure_Pa, 99800.0);
  EXPECT_EQ(read.carbon_dioxide, 0.0009);
  EXPECT_EQ(read.over_pressure_Pa, -12.0);
  EXPECT_EQ(read.u_temperature_K, 0.15);
  EXPECT_EQ(read.u_pressure_Pa, 60.0);
  EXPECT_EQ(read.u_carbon_dioxide, 0.00003);
  EXPECT_EQ(read.u_over_pressure_Pa, 1.5);
  const auto& bad = readings[1];
  EXPECT_EQ(bad.status, "failure");
  EXPECT_EQ(bad.quality, "bad");
  EXPECT_EQ(bad.reasons, "");
  EXPECT_FALSE(bad.oxygen || bad.u_oxygen || bad.oxygen_wet || bad.po2_Pa || bad.raw_V || bad.temperature_K ||
               bad.humidity || bad.pressure_Pa || bad.carbon_dioxide || bad.over_pressure_Pa ||
               bad.u_over_pressure_Pa || bad.u_temperature_K);
}

TEST(AlarmHistory, GivesTheNewestWithinTheLimitInTheOrderOfTheirSequenceNumbers) {
  const ScratchDir dir;
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  for (int i = 1; i <= 10; ++i) {
    AlarmRecord record = line(i, morning - std::chrono::minutes{i}); // a clock that runs backwards
    record.alarm = i % 2 == 0 ? "low-oxygen" : "not-monitored";
    store->alarm(record, snapshot(record.to), {});
  }
  ASSERT_TRUE(committed(*store));
  const auto some = alarm_history(dir.path(), everything(3));
  ASSERT_TRUE(some) << some.error().what;
  EXPECT_TRUE(some->truncated);
  ASSERT_EQ(some->records.size(), 3U);
  for (int i = 0; i < 3; ++i) EXPECT_EQ(some->records[static_cast<std::size_t>(i)].sequence, i + 8);
  HistoryQuery query = everything();
  query.alarm = "low-oxygen";
  const auto named = alarm_history(dir.path(), query);
  ASSERT_TRUE(named) << named.error().what;
  EXPECT_FALSE(named->truncated);
  EXPECT_EQ(named->records.size(), 5U);
  query.from = morning - 4min;
  query.to = morning - 2min;
  EXPECT_EQ(alarm_history(dir.path(), query)->records.size(), 2U);
  query.room = "bay-3";
  EXPECT_TRUE(alarm_history(dir.path(), query)->records.empty());
}

TEST(AlarmHistory, IsReadOnFromALineByWhoeverHasTheLinesBefore) {
  const ScratchDir dir;
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  const auto of_nothing = journal_after(dir.path(), 0, 10);
  ASSERT_TRUE(of_nothing) << of_nothing.error().what;
  EXPECT_EQ(of_nothing->last, 0);
  EXPECT_TRUE(of_nothing->records.empty());
  for (int i = 1; i <= 10; ++i) store->alarm(line(i, morning - std::chrono::minutes{i}), {}, {});
  ASSERT_TRUE(committed(*store));
  std::vector<std::int64_t> got;
  for (std::int64_t after = 3; after < 10; after = got.back()) {
    const auto lines = journal_after(dir.path(), after, 4);
    ASSERT_TRUE(lines) << lines.error().what;
    EXPECT_EQ(lines->last, 10);
    ASSERT_FALSE(lines->records.empty());
    for (const auto& record : lines->records) got.push_back(record.sequence);
  }
  EXPECT_EQ(got, (std::vector<std::int64_t>{4, 5, 6, 7, 8, 9, 10}));
  EXPECT_TRUE(journal_after(dir.path(), 10, 4)->records.empty());
}

TEST(JournalReader, SeesWhatIsWrittenLaterOnTheSameConnection) {
  const ScratchDir dir;
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  JournalReader reader{dir.path()};
  for (int i = 1; i <= 3; ++i) {
    store->alarm(line(i, morning), {}, {});
    ASSERT_TRUE(committed(*store));
    const auto lines = reader.after(i - 1, 10);
    ASSERT_TRUE(lines) << lines.error().what;
    EXPECT_EQ(lines->last, i);
    ASSERT_EQ(lines->records.size(), 1U);
    EXPECT_EQ(lines->records[0].sequence, i);
  }
}

TEST(JournalReader, LetsGoOfAJournalThatWasMovedAway) {
  const ScratchDir dir, aside;
  JournalReader reader{dir.path()};
  EXPECT_FALSE(reader.after(0, 10)) << "there is none yet";
  {
    const auto store = open_store(dir.path());
    ASSERT_TRUE(store);
    for (int i = 1; i <= 5; ++i) store->alarm(line(i, morning), {}, {});
    ASSERT_TRUE(committed(*store));
    ASSERT_EQ(reader.after(0, 10)->last, 5);
  }
  for (const char* suffix : {"", "-wal", "-shm"})
    if (const auto file = "journal.sqlite" + std::string{suffix}; std::filesystem::exists(dir.path() / file))
      std::filesystem::rename(dir.path() / file, aside.path() / file);
  EXPECT_FALSE(reader.after(0, 10)) << "it was moved away";
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  store->alarm(line(1, morning), {}, {});
  ASSERT_TRUE(committed(*store));
  const auto lines = reader.after(0, 10);
  ASSERT_TRUE(lines) << lines.error().what;
  EXPECT_EQ(lines->last, 1);
}

TEST(AlarmHistory, IsReadPageByPageWithoutAGapOrARepetition) {
  const ScratchDir dir;
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  for (int i = 1; i <= 10; ++i) store->alarm(line(i, morning - std::chrono::minutes{i}), {}, {});
  ASSERT_TRUE(committed(*store));
  HistoryQuery query = everything(4);
  std::vector<std::int64_t> got;
  for (int pages = 1;; ++pages) {
    const auto page = alarm_history(dir.path(), query);
    ASSERT_TRUE(page) << page.error().what;
    for (auto record = page->records.rbegin(); record != page->records.rend(); ++record)
      got.push_back(record->sequence);
    EXPECT_EQ(page->truncated, page->next.has_value());
    if (!page->next) {
      EXPECT_EQ(pages, 3);
      break;
    }
    query.before = page->next;
  }
  EXPECT_EQ(got, (std::vector<std::int64_t>{10, 9, 8, 7, 6, 5, 4, 3, 2, 1}));
}

TEST(ReadingHistory, IsReadPageByPageWithoutAGapOrARepetition) {
  const ScratchDir dir;
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  for (int i = 0; i < 10; ++i) {
    auto reading = reading_at(morning + std::chrono::seconds{i});
    store->reading(reading);
    reading.sensor = "cell-b"; // a page of one sensor skips those of the other
    store->reading(reading);
  }
  ASSERT_TRUE(committed(*store));
  HistoryQuery query = everything(4);
  query.sensor = "cell-a";
  std::vector<WallTime> got;
  for (int pages = 1;; ++pages) {
    const auto page = reading_history(dir.path(), query);
    ASSERT_TRUE(page) << page.error().what;
    for (auto reading = page->readings.rbegin(); reading != page->readings.rend(); ++reading)
      got.push_back(reading->at);
    EXPECT_EQ(page->truncated, page->next.has_value());
    if (!page->next) {
      EXPECT_EQ(pages, 3);
      break;
    }
    query.before = page->next;
  }
  ASSERT_EQ(got.size(), 10U);
  for (int i = 0; i < 10; ++i) EXPECT_EQ(got[static_cast<std::size_t>(i)], morning + std::chrono::seconds{9 - i}) << i;
}

TEST(AlarmHistory, GivesTheLinesWhoseAlarmBeginsWithAPrefix) {
  const ScratchDir dir;
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  int sequence = 0;
  for (const char* name :
       {"output/horn", "output", "output/", "output-lost", "output0", "output/beacon", "low-oxygen"}) {
    AlarmRecord record = line(++sequence);
    record.alarm = name;
    store->alarm(record, {}, {});
  }
  ASSERT_TRUE(committed(*store));
  HistoryQuery query = everything();
  query.alarm_prefix = "output/";
  const auto history = alarm_history(dir.path(), query);
  ASSERT_TRUE(history) << history.error().what;
  std::vector<std::string> names;
  for (const auto& record : history->records) names.push_back(record.alarm);
  EXPECT_EQ(names, (std::vector<std::string>{"output/horn", "output/", "output/beacon"}));
}

TEST(AlarmHistory, ReachesBackToWhereEachAlarmWasLastNormalWhenAsked) {
  const ScratchDir dir;
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  using alarms::State;
  const auto write = [&](std::int64_t sequence, int minute, const char* name, State to, const char* event) {
    AlarmRecord record = line(sequence, morning + std::chrono::minutes{minute});
    record.alarm = name;
    record.event = event;
    record.to = to;
    store->alarm(record, snapshot(to), {});
  };
  write(1, 0, "low-oxygen", State::unacknowledged, "transition");
  write(2, 1, "low-oxygen", State::normal, "transition");
  write(3, 2, "low-oxygen", State::unacknowledged, "transition");
  write(4, 3, "high-co2", State::normal, "transition");
  write(5, 4, "door-open", State::shelved, "shelve");
  write(6, 5, "door-open", State::normal, "transition-suppressed"); // beneath: it is still shelved
  write(7, 20, "low-oxygen", State::acknowledged, "acknowledge");
  ASSERT_TRUE(committed(*store));
  HistoryQuery query = everything();
  query.from = morning + 10min;
  const auto numbers = [&] {
    std::vector<std::int64_t> out;
    const auto history = alarm_history(dir.path(), query);
    if (!history) ADD_FAILURE() << history.error().what;
    if (history)
      for (const auto& record : history->records) out.push_back(record.sequence);
    return out;
  };
  EXPECT_EQ(numbers(), (std::vector<std::int64_t>{7}));
  query.with_standing = true;
  EXPECT_EQ(numbers(), (std::vector<std::int64_t>{3, 5, 6, 7}));
  query.alarm = "low-oxygen";
  EXPECT_EQ(numbers(), (std::vector<std::int64_t>{3, 7}));
}

TEST(RecordedMinutes, AreThoseWithReadingsOfAnyRoom) {
  const ScratchDir dir;
  const auto store = open_store(dir.path());
  ASSERT_TRUE(store);
  for (const int minute : {0, 1, 7}) store->reading(reading_at(morning + std::chrono::minutes{minute}));
  ASSERT_TRUE(committed(*store));
  const auto minutes = recorded_minutes(dir.path(), morning + 1min, morning + 1h);
  ASSERT_TRUE(minutes) << minutes.error().what;
  ASSERT_EQ(minutes->size(), 2U);
  EXPECT_EQ((*minutes)[1] - (*minutes)[0], 6);
  EXPECT_TRUE(knows_room(dir.path(), "cryo-annexe").value());
  EXPECT_FALSE(knows_room(dir.path(), "cryo-anexe").value());
}

TEST(History, SaysWhatToDoWhereNothingWasEverRecorded) {
  const ScratchDir dir;
  const auto readings = reading_history(dir.path(), everything());
  ASSERT_FALSE(readings);
  EXPECT_EQ(readings.error().what, "no records here: " + (dir.path() / "measurements.sqlite").string() +
                                       " does not exist; give the daemon's --state-dir");
  EXPECT_FALSE(alarm_history(dir.path(), everything()));
  EXPECT_TRUE(std::filesystem::is_empty(dir.path())); // asking leaves nothing behind
}

TEST(History, RefusesALimitThatMakesNoSense) {
  const ScratchDir dir;
  { ASSERT_TRUE(open_store(dir.path())); }
  for (const int limit : {0, -5, 1'000'001}) {
    EXPECT_FALSE(reading_history(dir.path(), everything(limit))) << limit;
    EXPECT_FALSE(alarm_history(dir.path(), everything(limit))) << limit;
  }
  EXPECT_TRUE(alarm_history(dir.path(), everything(1'000'000)));
}

} // namespace oxherd::daemon::history_test
