#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "daemon/store/chain_findings.hpp"
#include "daemon/store/journal.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::audit_test {

using cli_test::run_words;
using nlohmann::json;
using store_test::ScratchDir;

/// Three lines of a journal.
void write_three(const std::filesystem::path& dir) {
  auto journal = store::Journal::open(dir);
  ASSERT_TRUE(journal) << journal.error().what;
  for (std::int64_t n = 1; n <= 3; ++n) {
    const store::Queued<store::AlarmRow> row{
        0, {store_test::line(n), store_test::snapshot(alarms::State::unacknowledged)}};
    ASSERT_TRUE(journal->write({&row, 1}));
  }
}

void alter(const std::filesystem::path& dir, const std::string& sql) {
  auto database = store::Database::open(dir / "journal.sqlite", store::Database::Mode::create);
  ASSERT_TRUE(database && database->run(sql));
}

TEST(AuditCommand, TellsTheHeadOfAnUnbrokenTrailAndWhatToDoWithIt) {
  const ScratchDir dir;
  write_three(dir.path());
  const auto got = run_words({"audit", "--state-dir", dir.path().string()});
  EXPECT_EQ(got.code, 0) << got.err;
  const auto head = examine_chain(dir.path(), {}, {}).value().head.value();
  for (const auto& words : {std::string{"as it was written"}, text_of(head), std::string{"journal lines        3"},
                            std::string{"Note the head outside of this machine"}})
    EXPECT_NE(got.out.find(words), std::string::npos) << words << " in\n" << got.out;
  EXPECT_EQ(run_words({"audit", "--expect", text_of(head), "--state-dir", dir.path().string()}).code, 0);
}

TEST(AuditCommand, NamesWhatWasAlteredAndEndsWithOne) {
  const ScratchDir dir;
  write_three(dir.path());
  alter(dir.path(), "UPDATE journal SET comment = 'x' WHERE sequence = 2; DELETE FROM journal WHERE sequence = 3");
  const auto got = run_words({"audit", "--state-dir", dir.path().string()});
  EXPECT_EQ(got.code, 1);
  for (const auto* words :
       {"NOT AS IT WAS WRITTEN: 2 breaks", "journal line 2 was changed", "journal line 3 was taken out"})
    EXPECT_NE(got.out.find(words), std::string::npos) << words << " in\n" << got.out;

  const auto answer = json::parse(run_words({"audit", "--json", "--state-dir", dir.path().string()}).out);
  EXPECT_EQ(answer["unbroken"], false);
  EXPECT_EQ(answer["break_count"], 2);
  EXPECT_EQ(answer["breaks"][0]["kind"], "journal");
  EXPECT_EQ(answer["breaks"][1]["number"], 3);
}

TEST(AuditCommand, TellsAnEndThatWasCutOffByAHeadThatWasNoted) {
  const ScratchDir dir;
  write_three(dir.path());
  const auto noted = text_of(examine_chain(dir.path(), {}, {}).value().head.value());
  alter(dir.path(), "DELETE FROM journal WHERE sequence = 3; DELETE FROM chain WHERE position = 3");
  EXPECT_EQ(run_words({"audit", "--state-dir", dir.path().string()}).code, 0);
  const auto got = run_words({"audit", "--expect", noted, "--state-dir", dir.path().string()});
  EXPECT_EQ(got.code, 1);
  EXPECT_NE(got.out.find("link 3 is not reached"), std::string::npos) << got.out;
}

TEST(AuditCommand, RefusesAHeadThatIsNoneAndAFolderWithoutRecords) {
  const ScratchDir dir;
  const auto wrong = run_words({"audit", "--expect", "9f86", "--state-dir", dir.path().string()});
  EXPECT_EQ(wrong.code, 2);
  EXPECT_NE(wrong.err.find("--expect"), std::string::npos) << wrong.err;
  const auto none = run_words({"audit", "--state-dir", dir.path().string()});
  EXPECT_EQ(none.code, 1);
  EXPECT_NE(none.err.find("does not exist"), std::string::npos) << none.err;
}

} // namespace oxherd::daemon::audit_test
