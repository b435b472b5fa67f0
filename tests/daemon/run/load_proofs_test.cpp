// What a start reads back of the proof tests of outputs.
#include "daemon/outputs/proof_test.hpp"
#include "daemon/run/daemon.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::load_proofs_test {

using namespace std::chrono_literals;
using store_test::morning;

AlarmRecord proof(std::int64_t sequence, const std::string& output, const char* event) {
  AlarmRecord record;
  record.sequence = sequence;
  record.at = morning + std::chrono::minutes{sequence};
  record.alarm = journal_name_of(output);
  record.event = event;
  record.author = "R. Finch";
  return record;
}

config::Output named(const char* name, config::OutputKind kind) {
  config::Output output;
  output.name = name;
  output.kind = std::move(kind);
  return output;
}

TEST(LoadProofs, GivesTheLastAnswerForEachOutputThatCanBeProved) {
  const store_test::ScratchDir dir;
  {
    const auto store = store_test::open_store(dir.path());
    ASSERT_TRUE(store);
    store->alarm(proof(1, "horn", proof_worked), {}, {});
    store->alarm(proof(2, "beacon", proof_failed), {}, {});
    store->alarm(proof(3, "horn", proof_begun), {}, {});
    store->alarm(proof(4, "horn", proof_failed), {}, {});
    store->alarm(proof(5, "heartbeat", proof_worked), {}, {});
    store->alarm(proof(6, "long-gone", proof_worked), {}, {});
    store_test::write_alarm(*store, 7);
  }
  config::Settings settings;
  settings.outputs = {named("horn", config::Sounder{}), named("beacon", config::Beacon{}),
                      named("heartbeat", config::Heartbeat{}), named("new-horn", config::Sounder{})};
  const auto proofs = load_proofs(dir.path(), settings);
  ASSERT_EQ(proofs.size(), 2U);
  EXPECT_TRUE(proofs.at("horn").failed);
  EXPECT_EQ(proofs.at("horn").answered, morning + 4min);
  EXPECT_EQ(proofs.at("horn").worked, morning + 1min);
  EXPECT_TRUE(proofs.at("beacon").failed);
  EXPECT_FALSE(proofs.at("beacon").worked);
}

TEST(LoadProofs, CountsEveryOutputAsNeverProvedWhereNothingCanBeRead) {
  const store_test::ScratchDir dir;
  config::Settings settings;
  settings.outputs = {named("horn", config::Sounder{})};
  EXPECT_TRUE(load_proofs(dir.path(), settings).empty());
}

} // namespace oxherd::daemon::load_proofs_test
