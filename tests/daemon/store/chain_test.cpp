// The chain of the audit trail. What is altered is altered with SQL, as whoever may write the file would.
#include "daemon/store/chain_findings.hpp"

#include <gtest/gtest.h>

#include "daemon/store/journal.hpp"
#include "daemon/store/schema.hpp"
#include "tests/daemon/calibration/records.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::chain_test {

using store::Journal;
using store_test::line;
using store_test::morning;
using store_test::ScratchDir;
using store_test::snapshot;

/// A journal of some lines, two calibrations among them.
class ATrail : public ::testing::Test {
protected:
  void SetUp() override {
    write_lines(1, 20);
    add_calibration(1);
    write_lines(21, 40);
    add_calibration(2);
    write_lines(41, 50);
  }
  void write_lines(std::int64_t first, std::int64_t last) {
    auto journal = Journal::open(dir_.path());
    ASSERT_TRUE(journal) << journal.error().what;
    for (std::int64_t n = first; n <= last; ++n) {
      const store::Queued<store::AlarmRow> row{
          0, {line(n, morning + std::chrono::seconds{n}), snapshot(alarms::State::unacknowledged)}};
      ASSERT_TRUE(journal->write({&row, 1}));
    }
  }
  void add_calibration(std::int64_t number) {
    auto journal = Journal::open(dir_.path());
    ASSERT_TRUE(journal) << journal.error().what;
    ASSERT_EQ(journal->add(example_records::adjustment(number, example_records::day(2026, 3, 1))).value_or(-1), number);
  }
  void alter(const std::string& sql) {
    auto database = store::Database::open(dir_.path() / "journal.sqlite", store::Database::Mode::create);
    ASSERT_TRUE(database);
    const auto done = database->run(sql);
    ASSERT_TRUE(done) << sql << ": " << done.error().what;
  }
  [[nodiscard]] ChainFindings found(const std::optional<ChainHead>& noted = {}) const {
    auto findings = examine_chain(dir_.path(), noted, {});
    EXPECT_TRUE(findings) << findings.error().what;
    return findings.value_or(ChainFindings{});
  }
  /// "journal 7" for each break.
  [[nodiscard]] std::vector<std::string> breaks(const std::optional<ChainHead>& noted = {}) const {
    std::vector<std::string> places;
    for (const auto& one : found(noted).breaks)
      places.push_back((one.kind.empty() ? "chain" : one.kind) + " " + std::to_string(one.number));
    return places;
  }
  using Places = std::vector<std::string>;
  ScratchDir dir_;
};

TEST_F(ATrail, IsUnbrokenAsItWasWritten) {
  const auto findings = found();
  EXPECT_EQ(findings.break_count, 0);
  EXPECT_EQ(findings.journal_lines, 50);
  EXPECT_EQ(findings.calibration_records, 2);
  EXPECT_EQ(findings.head.value().position, 52);
  EXPECT_EQ(findings.first, morning + std::chrono::seconds{1});
  EXPECT_EQ(findings.last, morning + std::chrono::seconds{50});
}

// Worked out by hand and hashed with `printf ... | sha256sum` of GNU coreutils: the beginning, "journal", one row.
TEST(LinkHash, IsTheDigestOfFormerLinkKindAndRow) {
  EXPECT_EQ(store::link_hash(store::chain_beginning, store::LinkKind::journal, "i1;t4:roomn"),
            "b0f1128beb8d6445c47bcbbc9d3e6d45eb36009ec9e69809ebed88c0bc2a4b6d");
}

TEST_F(ATrail, TellsAChangeInAnyColumnOfAnyRecord) {
  const std::string texts[] = {"room",   "alarm",   "event",    "from_state", "to_state", "cause",
                               "author", "comment", "priority", "unit",       "message"};
  for (const auto& column : texts) {
    const auto where = " WHERE sequence = 17";
    alter("UPDATE journal SET " + column + " = " + column + " || 'x'" + where);
    EXPECT_EQ(breaks(), Places{"journal 17"}) << column;
    alter("UPDATE journal SET " + column + " = substr(" + column + ", 1, length(" + column + ") - 1)" + where);
    ASSERT_EQ(breaks(), Places{}) << column << " is as it was again";
  }
  for (const std::string column : {"at", "value", "expanded", "limit_value"}) {
    alter("CREATE TABLE kept AS SELECT " + column + " AS was FROM journal WHERE sequence = 50");
    alter("UPDATE journal SET " + column + " = " + column + (column == "at" ? " + 1" : " * 1.0000001") +
          " WHERE sequence = 50");
    EXPECT_EQ(breaks(), Places{"journal 50"}) << column;
    alter("UPDATE journal SET " + column + " = (SELECT was FROM kept) WHERE sequence = 50; DROP TABLE kept");
    ASSERT_EQ(breaks(), Places{}) << column << " is as it was again";
  }
  alter("UPDATE journal SET value = NULL WHERE sequence = 3");
  alter("UPDATE calibration_record SET author = 'somebody' WHERE number = 2");
  alter("UPDATE calibration_record SET record = replace(record, '0', '1') WHERE number = 1");
  EXPECT_EQ(breaks(), (Places{"journal 3", "calibration 1", "calibration 2"}));
}

TEST_F(ATrail, TellsWhatWasTakenOutPutInOrMoved) {
  alter("DELETE FROM journal WHERE sequence = 30");
  EXPECT_EQ(breaks(), Places{"journal 30"});
  alter(
      "INSERT INTO journal SELECT 60, at, room, alarm, event, from_state, to_state, cause, author, comment, priority, "
      "value, expanded, limit_value, unit, message FROM journal WHERE sequence = 29");
  EXPECT_EQ(breaks(), (Places{"journal 30", "journal 60"}));
  alter("DELETE FROM journal WHERE sequence = 60; UPDATE journal SET sequence = 30 WHERE sequence = 50");
  EXPECT_EQ(breaks(), (Places{"journal 30", "journal 50"}));
}

TEST_F(ATrail, TellsLinksThatWereTakenOutOrForged) {
  alter("DELETE FROM chain WHERE position BETWEEN 10 AND 12; DELETE FROM journal WHERE sequence BETWEEN 10 AND 12");
  EXPECT_EQ(breaks(), Places{"chain 10"});
  alter("UPDATE chain SET hash = replace(hash, 'a', 'b') WHERE position = 40");
  const auto both = breaks();
  EXPECT_EQ(both.size(), 3U) << "the link that was forged, and the one that rests on it";
}

TEST_F(ATrail, IsCutOffOrMadeAnewUnnoticedOnlyWithoutANotedHead) {
  const auto noted = found().head;
  alter("DELETE FROM journal WHERE sequence > 45; DELETE FROM chain WHERE kind = 'journal' AND number > 45");
  EXPECT_EQ(breaks(), Places{}) << "nothing in the file itself can tell";
  EXPECT_EQ(breaks(noted), Places{"chain 52"});
  // The whole chain is made anew over an altered line.
  alter("UPDATE journal SET author = 'somebody' WHERE sequence = 5; DELETE FROM chain");
  write_lines(46, 60);
  EXPECT_EQ(breaks(), Places{});
  EXPECT_EQ(breaks(noted), Places{"chain 52"});
}

TEST_F(ATrail, HoldsANotedHeadWhileItGrows) {
  const auto noted = found().head;
  write_lines(51, 90);
  EXPECT_EQ(breaks(noted), Places{});
  ChainHead other = *noted;
  other.hash.back() = other.hash.back() == '0' ? '1' : '0';
  EXPECT_EQ(breaks(other), Places{"chain 52"});
}

TEST_F(ATrail, OfAnOlderVersionIsLinkedOnceAsItIs) {
  alter("DROP TABLE chain; PRAGMA user_version = 5");
  const auto before = examine_chain(dir_.path(), {}, {});
  ASSERT_FALSE(before);
  EXPECT_NE(before.error().what.find("start this version's daemon once"), std::string::npos) << before.error().what;
  write_lines(51, 52);
  const auto findings = found();
  EXPECT_EQ(findings.break_count, 0);
  EXPECT_EQ(findings.head.value().position, 54);
}

TEST_F(ATrail, GivesNoLinkToWhatWasPutInWhileNoDaemonRan) {
  alter(
      "INSERT INTO journal SELECT 51, at, room, alarm, event, from_state, to_state, cause, author, comment, priority, "
      "value, expanded, limit_value, unit, message FROM journal WHERE sequence = 29");
  write_lines(52, 53);
  EXPECT_EQ(breaks(), Places{"journal 51"});
}

TEST_F(ATrail, LinksALineWhoseNumberWasTaken) {
  write_lines(50, 50);
  const auto findings = found();
  EXPECT_EQ(findings.break_count, 0);
  EXPECT_EQ(findings.journal_lines, 51);
}

TEST_F(ATrail, TellsNoMoreBreaksThanAPersonReads) {
  write_lines(51, 300);
  alter("UPDATE journal SET comment = 'x'");
  const auto findings = found();
  EXPECT_EQ(findings.break_count, 300);
  EXPECT_EQ(findings.breaks.size(), breaks_told);
}

TEST(ChainHeadText, ReadsWhatItWritesAndNothingElse) {
  const ChainHead head{1204, std::string(64, 'a')};
  const auto again = chain_head_from(text_of(head)).value();
  EXPECT_EQ(again.position, 1204);
  EXPECT_EQ(again.hash, head.hash);
  for (const auto* text : {"", "12", "12:", ":", "0:aaaa", "-1:aaaa", "12:AAAA", "x:aaaa", "12:aaaa"})
    EXPECT_FALSE(chain_head_from(text)) << text;
  EXPECT_FALSE(chain_head_from("12:" + std::string(63, 'a') + "g"));
  EXPECT_FALSE(chain_head_from("12:" + std::string(65, 'a')));
}

} // namespace oxherd::daemon::chain_test
