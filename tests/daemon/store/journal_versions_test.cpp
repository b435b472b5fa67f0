// A journal as each older version left it: its alarms, regimes and lines go on in this one, and its trail is linked.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "daemon/store/chain_findings.hpp"
#include "daemon/store/journal.hpp"
#include "daemon/store/schema.hpp"
#include "tests/daemon/calibration/records.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::journal_versions_test {

using store::Journal;
using store_test::line;
using store_test::morning;
using store_test::ScratchDir;
using store_test::snapshot;

/// The columns that alarm_state got after the first version, with the step that added each.
struct Column {
  std::size_t steps;
  const char* name;
  const char* value;
};
constexpr Column later_columns[] = {{3, "shelved_by", "'R. Okafor'"},
                                    {3, "shelved_because", "'cell on order'"},
                                    {3, "shelved_once", "1"},
                                    {3, "first_out", "1"},
                                    {5, "shown", "'shelved'"}};

void write_old_journal(const std::filesystem::path& dir, std::size_t steps) {
  const auto& schema = store::journal_schema();
  auto old = store::Database::open(dir / schema.file_name, store::Database::Mode::create);
  ASSERT_TRUE(old);
  for (std::size_t i = 0; i < steps; ++i) ASSERT_TRUE(old->run(schema.steps[i]));
  const auto at = morning.time_since_epoch().count();
  std::string names, values;
  for (const auto& column : later_columns) {
    if (steps < column.steps) continue;
    names += fmt::format(", {}", column.name);
    values += fmt::format(", {}", column.value);
  }
  const auto done = old->run(fmt::format(
      "PRAGMA application_id={0}; PRAGMA user_version={1};"
      "INSERT INTO journal VALUES(41, {2}, 'cryo-annexe', 'low-oxygen', 'raised', 'normal', 'unacknowledged', '', '', "
      "'', 'critical', 0.19, 0.003, 0.195, '/', 'LOW OXYGEN'),"
      "(42, {2}, 'pear-store-2', '', 'regime', '', '', 'sealed-low-oxygen', 'mira', 'loaded', '', NULL, NULL, NULL, "
      "'', "
      "'sealed');"
      "INSERT INTO alarm_state(room, alarm, beneath, present, tripped_while_suppressed, since, shelved_until{3}) VALUES"
      "('cryo-annexe', 'low-oxygen', 'acknowledged', 1, 0, {2}, {4}{5})",
      schema.application_id, steps, at, names, at + 3'600'000, values));
  ASSERT_TRUE(done) << done.error().what;
}

TEST(JournalOfAnOlderVersion, GoesOnWithItsAlarmsRegimesAndLines) {
  const auto versions = store::journal_schema().steps.size();
  ASSERT_GE(versions, 6U);
  for (std::size_t steps = 1; steps < versions; ++steps) {
    SCOPED_TRACE(steps);
    const ScratchDir dir;
    write_old_journal(dir.path(), steps);
    for (std::int64_t start = 0; start < 2; ++start) { // the second finds it up to date
      auto journal = Journal::open(dir.path());
      ASSERT_TRUE(journal) << journal.error().what;
      const auto remembered = journal->remembered(morning + std::chrono::minutes{1});
      ASSERT_TRUE(remembered) << remembered.error().what;
      EXPECT_EQ(remembered->last_sequence, 42 + start);
      ASSERT_EQ(remembered->alarms.size(), 1U + (start == 1 ? 1U : 0U));
      const auto& low = remembered->alarms.front();
      EXPECT_EQ(low.recorded.beneath, alarms::State::acknowledged);
      EXPECT_TRUE(low.recorded.present);
      EXPECT_EQ(low.shelved_until, morning + std::chrono::hours{1});
      EXPECT_EQ(low.shelved.by, steps >= 3 ? "R. Okafor" : "");
      ASSERT_EQ(remembered->regimes.size(), 1U);
      EXPECT_EQ(remembered->regimes[0].by, "mira");
      EXPECT_EQ(remembered->regimes[0].regime, alarms::Regime::sealed_low_oxygen);
      auto next = line(43 + start, morning + std::chrono::minutes{2});
      auto of_next = snapshot(alarms::State::unacknowledged);
      of_next.room = next.room = "pear-store-2";
      const store::Queued<store::AlarmRow> row{0, {next, of_next}};
      ASSERT_TRUE(journal->write({&row, 1}));
      ASSERT_TRUE(journal->add(example_records::adjustment(start + 1, example_records::day(2026, 3, 1))));
    }
    const auto findings = examine_chain(dir.path(), {}, {});
    ASSERT_TRUE(findings) << findings.error().what;
    EXPECT_EQ(findings->break_count, 0);
    EXPECT_EQ(findings->journal_lines, 4);
    EXPECT_EQ(findings->head.value().position, 6) << "four lines and two calibrations";
  }
}

TEST(JournalOfANewerVersion, IsRefusedWithWhatToDoAndLeftAsItIs) {
  const ScratchDir dir;
  const auto versions = store::journal_schema().steps.size();
  write_old_journal(dir.path(), versions);
  {
    auto newer = store::Database::open(dir.path() / "journal.sqlite", store::Database::Mode::create);
    ASSERT_TRUE(newer->run(fmt::format("PRAGMA user_version={}", versions + 1)));
  }
  const auto journal = Journal::open(dir.path());
  ASSERT_FALSE(journal);
  EXPECT_NE(journal.error().what.find("use the newer oxherd"), std::string::npos) << journal.error().what;
  auto newer = store::Database::open(dir.path() / "journal.sqlite", store::Database::Mode::read);
  EXPECT_EQ(newer->integer("SELECT count(*) FROM journal").value_or(-1), 2);
}

} // namespace oxherd::daemon::journal_versions_test
