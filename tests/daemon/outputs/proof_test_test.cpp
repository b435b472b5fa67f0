// Proof tests of outputs: driven, confirmed at both edges, answered by a person, overtaken by real alarms.
#include <gtest/gtest.h>

#include "daemon/outputs/output_keeper.hpp"
#include "tests/daemon/room/annexe.hpp"

namespace oxherd::daemon::proof_test_test {

using namespace std::chrono_literals;

/// A watched room with one output, whose device answers at once and holds what it is told unless it is stuck.
struct Bench {
  annexe_test::Annexe annexe;
  std::optional<OutputKeeper> keeper;
  std::optional<OutputValue> stuck_at;
  OutputValue holds = 99;

  explicit Bench(config::OutputKind kind) {
    config::Output output{"horn", "plant", 31, 1000ms, std::move(kind)};
    annexe.settings.outputs = {output};
    annexe.start();
    static_cast<void>(annexe.seconds(3));
    keeper.emplace(annexe.settings);
    go(0ms);
  }
  void go(std::chrono::milliseconds time) {
    for (auto passed = 0ms; passed <= time; passed += 250ms) {
      for (const auto& write : keeper->due(*annexe.site, annexe.now, {})) {
        holds = stuck_at.value_or(write.what.value);
        keeper->written({0, write.what.value, {}, holds}, annexe.now);
      }
      if (passed < time) {
        if (annexe.now.count() % 1000 == 0) static_cast<void>(annexe.site->take(annexe.air_poll()));
        if (annexe.now.count() % 1000 == 0) static_cast<void>(annexe.site->take(annexe.cell_poll(0, annexe.oxygen)));
        static_cast<void>(annexe.pass(250ms));
      }
    }
  }
  auto begin(alarms::Monotonic duration = 10s) {
    return keeper->begin_proof(0, "Mira", duration, *annexe.site, annexe.now);
  }
  auto answer(bool worked) { return keeper->answer_proof(0, worked, "Mira", "heard at both doors", annexe.now); }
};

/// Why something was refused; empty when it was not.
std::string why(const tl::expected<ProofNote, std::string>& result) { return result ? std::string{} : result.error(); }

const config::OutputKind horn = config::Sounder{{}, {true, 5}}, lamp = config::Beacon{{}, {true, 6}};

TEST(ProofTest, DrivesAHornForItsTimeAndIsRecordedAsWorkedByAPersonsWord) {
  Bench bench{horn};
  EXPECT_EQ(bench.holds, 0U);
  const auto begun = bench.begin();
  ASSERT_TRUE(begun) << begun.error();
  EXPECT_EQ(begun->event, "proof-test-begun");
  EXPECT_NE(begun->text.find("PROOF TEST of horn: it sounds for 10 s"), std::string::npos) << begun->text;
  bench.go(9750ms);
  EXPECT_EQ(bench.holds, 1U);
  EXPECT_NE(why(bench.answer(true)).find("still runs"), std::string::npos);
  bench.go(250ms);
  EXPECT_EQ(bench.holds, 0U);
  const auto answered = bench.answer(true);
  ASSERT_TRUE(answered) << answered.error();
  EXPECT_EQ(answered->event, "proof-test-worked");
  EXPECT_EQ(answered->comment, "heard at both doors");
  EXPECT_NE(answered->text.find("confirmed the warning and confirmed its end"), std::string::npos) << answered->text;
  EXPECT_NE(why(bench.answer(true)).find("no test"), std::string::npos);
}

TEST(ProofTest, DropsARelayAndFlashesABeacon) {
  Bench relay{config::AlarmRelay{"cryo-annexe", 4}};
  EXPECT_EQ(relay.holds, 1U);
  ASSERT_TRUE(relay.begin(3s));
  relay.go(250ms);
  EXPECT_EQ(relay.holds, 0U);
  relay.go(3s);
  EXPECT_EQ(relay.holds, 1U);
  EXPECT_TRUE(relay.answer(true));
  Bench beacon{lamp};
  ASSERT_TRUE(beacon.begin(3s));
  bool on = false, off = false;
  for (int i = 0; i < 8; ++i) {
    beacon.go(250ms);
    (beacon.holds != 0 ? on : off) = true;
  }
  EXPECT_TRUE(on && off);
  beacon.go(2s);
  EXPECT_TRUE(beacon.answer(true));
}

TEST(ProofTest, ABeaconWithAContactIsLitSteadilySoThatASlowContactCanConfirmIt) {
  Bench bench{lamp};
  bench.annexe.settings.outputs[0].feedback = config::Feedback{33, drivers::Table::discrete_input, 2, 200ms};
  bench.keeper.emplace(bench.annexe.settings);
  bool shown = false; // by a contact that follows only after it was asked
  const auto run = [&](int beats) {
    for (int i = 0; i < beats; ++i) {
      for (const auto& write : bench.keeper->due(*bench.annexe.site, bench.annexe.now, {})) {
        WriteResult result{0, write.what.value, {}, write.what.value};
        result.contact = std::exchange(shown, write.what.value != 0);
        bench.keeper->written(result, bench.annexe.now);
      }
      bench.annexe.now += 250ms;
    }
  };
  run(8);
  const auto begun = bench.begin(3s);
  ASSERT_TRUE(begun) << begun.error();
  EXPECT_NE(begun->text.find("it is lit steadily for 3 s"), std::string::npos) << begun->text;
  run(20);
  const auto answered = bench.answer(true);
  EXPECT_TRUE(answered) << answered.error();
}

TEST(ProofTest, CannotHaveWorkedWithoutTheDevicesConfirmationAtBothEdges) {
  Bench never{horn};
  never.stuck_at = 0;
  ASSERT_TRUE(never.begin());
  never.go(11s);
  EXPECT_NE(why(never.answer(true)).find("never confirmed"), std::string::npos);
  const auto failed = never.answer(false);
  ASSERT_TRUE(failed);
  EXPECT_EQ(failed->event, "proof-test-failed");
  Bench stays{horn};
  ASSERT_TRUE(stays.begin());
  stays.go(5s);
  stays.stuck_at = 1;
  stays.go(6s);
  EXPECT_NE(why(stays.answer(true)).find("has not confirmed"), std::string::npos);
  stays.stuck_at.reset();
  stays.go(2s);
  EXPECT_TRUE(stays.answer(true)) << "it let go in the end";
}

TEST(ProofTest, ARealAlarmWinsAndEndsIt) {
  Bench bench{lamp};
  ASSERT_TRUE(bench.begin(30s));
  EXPECT_TRUE(bench.keeper->end_proofs(*bench.annexe.site, bench.annexe.now).empty());
  bench.annexe.oxygen = 0.17;
  bench.go(6s);
  const auto ended = bench.keeper->end_proofs(*bench.annexe.site, bench.annexe.now);
  ASSERT_EQ(ended.size(), 1U);
  EXPECT_EQ(ended[0].event, "proof-test-unanswered");
  EXPECT_NE(ended[0].text.find("a real alarm came"), std::string::npos);
  EXPECT_NE(why(bench.begin()).find("a real alarm"), std::string::npos) << "none begins while it warns";
}

TEST(ProofTest, ProvesNothingWhenNobodyAnswersInTime) {
  Bench bench{horn};
  ASSERT_TRUE(bench.begin());
  const auto end = bench.annexe.now + 10s + 10min;
  EXPECT_TRUE(bench.keeper->end_proofs(*bench.annexe.site, end - 1ms).empty());
  const auto ended = bench.keeper->end_proofs(*bench.annexe.site, end);
  ASSERT_EQ(ended.size(), 1U);
  EXPECT_EQ(ended[0].event, "proof-test-unanswered");
  EXPECT_TRUE(bench.keeper->end_proofs(*bench.annexe.site, end).empty());
}

TEST(ProofTest, IsRefusedWhereThereIsNothingToSeeOrATestRunsOrItsTimeIsOdd) {
  EXPECT_NE(why(Bench{config::Heartbeat{10}}.begin()).find("nothing to see"), std::string::npos);
  Bench bench{horn};
  EXPECT_NE(why(bench.begin(2s)).find("3 s to 60 s"), std::string::npos);
  EXPECT_NE(why(bench.begin(61s)).find("3 s to 60 s"), std::string::npos);
  ASSERT_TRUE(bench.begin());
  EXPECT_NE(why(bench.begin()).find("by Mira waits"), std::string::npos);
  EXPECT_EQ(bench.keeper->abandon_proofs().at(0).event, "proof-test-unanswered");
  EXPECT_TRUE(bench.begin());
}

AlarmRecord answer_at(WallTime at, const char* event, const char* author) {
  AlarmRecord record;
  record.at = at;
  record.event = event;
  record.author = author;
  return record;
}

TEST(ProofRecord, KnowsTheLastAnswerAndWhenTheNextProofIsDue) {
  const WallTime day{std::chrono::days{20000}};
  const auto every = std::chrono::days{90};
  ProofRecord record;
  EXPECT_EQ(record.due(every, day), day) << "never proved: due at once";
  EXPECT_FALSE(record.due(std::nullopt, day));
  record.take(answer_at(day, "proof-test-begun", "Mira"));
  EXPECT_FALSE(record.answered);
  record.take(answer_at(day, "proof-test-worked", "Mira"));
  EXPECT_EQ(record.due(every, day), day + every);
  EXPECT_FALSE(record.failed);
  record.take(answer_at(day + 24h, "proof-test-failed", "R. Okafor"));
  EXPECT_TRUE(record.failed);
  EXPECT_EQ(record.by, "R. Okafor");
  EXPECT_EQ(record.worked, day);
  record.take(answer_at(day + 25h, "proof-test-unanswered", "Mira"));
  EXPECT_EQ(record.by, "R. Okafor") << "no answer, no change";
}

} // namespace oxherd::daemon::proof_test_test
