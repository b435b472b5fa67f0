// Re-derivation against the live pipeline itself: what a corrected calibration makes of recorded inputs must be, bit
// for bit, what the pipeline would have recorded had it known that calibration from the start.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "daemon/replay/rederive.hpp"
#include "daemon/store/schema.hpp"
#include "tests/daemon/room/annexe.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::replay_test {

using namespace std::chrono_literals;
using annexe_test::Annexe;
using store_test::ScratchDir;

/// A quarter of an hour in which everything that can change a reading happens once.
std::vector<ReadingRecord> eventful(Annexe& annexe) {
  std::vector<ReadingRecord> records;
  const auto keep = [&](Outcome outcome) {
    for (auto& r : outcome.readings)
      if (r.sensor == "cell-a") records.push_back(std::move(r));
  };
  annexe.start();
  keep(annexe.seconds(20));
  annexe.pressure_Pa = 97200.0;
  annexe.oxygen = 0.1932;
  keep(annexe.seconds(20));
  keep(annexe.site->take(annexe.failed(annexe.air(), drivers::BusFault::timeout)));
  keep(annexe.pass(30s)); // the ambient probe is lost, the cell as well
  for (int i = 0; i < 12; ++i) keep(annexe.site->take(annexe.cell_volts(0, 0.0)));
  auto broken = annexe.cell_volts(0, 0.0);
  broken.values[0].fault = drivers::ValueFault::not_finite;
  keep(annexe.site->take(broken));
  keep(annexe.site->take(annexe.failed(0, drivers::BusFault::exception, 2)));
  keep(annexe.seconds(20));
  return records;
}

void record_all(const std::filesystem::path& dir, const std::vector<ReadingRecord>& records) {
  const auto store = store_test::open_store(dir);
  for (const auto& r : records) store->reading(r);
  ASSERT_TRUE(store_test::committed_at_last(*store));
}

Annexe annexe_with(double span_mV) {
  Annexe annexe;
  auto& active = annexe.calibrations.at("cryo-annexe/cell-a");
  active.calibration.span.signal.value = millivolts(span_mV);
  active.at = annexe.wall - std::chrono::hours{24 * 40}; // so that drift since then counts
  return annexe;
}

ReplayTask task_for(const Annexe& annexe) {
  return {{"cryo-annexe", "cell-a", annexe.wall - 24h, annexe.wall + 24h}, "R. Finch", "span gas was mistyped", false};
}

BasisFor always(const Annexe& annexe) {
  ReadingBasis basis;
  basis.cell = annexe.settings.rooms[0].sensors[0].cell;
  basis.calibration = annexe.calibrations.at("cryo-annexe/cell-a");
  return [shared = std::make_shared<const ReadingBasis>(basis)](const RecordedOxygen&) { return shared; };
}

std::vector<RecordedOxygen> stored(const std::filesystem::path& dir, const ReplayTask& task) {
  auto database = store::open_for_reading(dir, store::measurements_schema());
  auto rows = store::OxygenRows::prepared(database.value(), task.range);
  return rows.value().next(100000).value();
}

ReplayReport run(const std::filesystem::path& dir, const ReplayTask& task, const BasisFor& basis) {
  const auto report = replay(dir, task, basis, store_test::morning, [](const ReplayReport&) { return true; });
  if (!report) ADD_FAILURE() << report.error().what;
  return report.value_or(ReplayReport{});
}

TEST(Replay, GivesToTheLastBitWhatThePipelineWouldHaveRecorded) {
  const ScratchDir dir;
  auto wrong = annexe_with(12.6), right = annexe_with(12.9);
  const auto task = task_for(wrong);
  record_all(dir.path(), eventful(wrong));
  const auto live = eventful(right);
  const auto report = run(dir.path(), task, always(right));
  EXPECT_EQ(report.examined, live.size());
  EXPECT_EQ(report.unexplained, 0u);
  EXPECT_GT(report.largest_change, 0.004);
  const auto now = stored(dir.path(), task);
  ASSERT_EQ(now.size(), live.size());
  std::uint64_t with_oxygen = 0, bad = 0, uncertain = 0;
  for (std::size_t i = 0; i < live.size(); ++i) {
    SCOPED_TRACE(i);
    EXPECT_EQ(now[i].at, live[i].at);
    EXPECT_EQ(now[i].outputs_now(), form_anew(*live[i].basis, *live[i].inputs, live[i].at));
    EXPECT_EQ(now[i].outputs_now().status, live[i].status);
    EXPECT_EQ(now[i].outputs_now().oxygen.has_value(), live[i].oxygen.has_value());
    if (live[i].oxygen) {
      EXPECT_EQ(*now[i].outputs_now().oxygen, live[i].oxygen->dry.si());
      EXPECT_EQ(*now[i].outputs_now().u_oxygen, live[i].oxygen->u_dry);
      EXPECT_EQ(*now[i].outputs_now().po2_Pa, live[i].oxygen->po2.si());
      ++with_oxygen;
    }
    bad += live[i].status == alarms::Status::failure ? 1 : 0;
    uncertain += live[i].status == alarms::Status::out_of_specification ? 1 : 0;
  }
  EXPECT_EQ(report.changed, with_oxygen);
  EXPECT_GT(with_oxygen, 50u);
  EXPECT_GT(bad, 1u) << "the failures of this quarter of an hour are among them";
  EXPECT_GT(uncertain, 10u) << "so are lost probes and signals near zero";
}

TEST(Replay, KeepsTheOldValuesWithAuthorAndReason) {
  const ScratchDir dir;
  auto wrong = annexe_with(12.6);
  const auto right = annexe_with(12.9);
  const auto task = task_for(wrong);
  record_all(dir.path(), eventful(wrong));
  const auto before = stored(dir.path(), task);
  const auto report = run(dir.path(), task, always(right));
  ASSERT_TRUE(report.derivation);
  const auto after = stored(dir.path(), task);
  for (std::size_t i = 0; i < before.size(); ++i) {
    EXPECT_EQ(after[i].outputs, before[i].outputs);
    EXPECT_FALSE(before[i].later);
    if (!after[i].later) continue;
    EXPECT_EQ(after[i].later->by.author, "R. Finch");
    EXPECT_EQ(after[i].later->by.reason, "span gas was mistyped");
    EXPECT_EQ(after[i].later->by.id, *report.derivation);
  }
  const auto history = store_test::readings_in(dir.path());
  EXPECT_EQ(std::ranges::count_if(history, [](const auto& r) { return r.derivation.has_value(); }),
            static_cast<std::ptrdiff_t>(report.changed))
      << "the history shows the values that stand now";
  EXPECT_EQ(*history.front().oxygen, *after.front().outputs_now().oxygen);
}

TEST(Replay, IsUndoneByAnotherAndDoesNothingTwice) {
  const ScratchDir dir;
  auto wrong = annexe_with(12.6);
  const auto right = annexe_with(12.9);
  const auto task = task_for(wrong);
  record_all(dir.path(), eventful(wrong));
  const auto first = run(dir.path(), task, always(right));
  EXPECT_EQ(run(dir.path(), task, always(right)).changed, 0u);
  const auto back = run(dir.path(), task, always(wrong));
  EXPECT_EQ(back.changed, first.changed);
  EXPECT_EQ(*back.derivation, *first.derivation + 1);
  for (const auto& r : stored(dir.path(), task)) EXPECT_EQ(r.outputs_now(), r.outputs);
}

TEST(Replay, TriedDryWritesNothing) {
  const ScratchDir dir;
  auto wrong = annexe_with(12.6);
  const auto right = annexe_with(12.9);
  auto task = task_for(wrong);
  task.dry_run = true;
  record_all(dir.path(), eventful(wrong));
  const auto report = run(dir.path(), task, always(right));
  EXPECT_GT(report.changed, 0u);
  EXPECT_FALSE(report.derivation);
  for (const auto& r : stored(dir.path(), task)) EXPECT_FALSE(r.later);
}

TEST(Replay, TouchesNothingOutsideItsSensorAndTime) {
  const ScratchDir dir;
  auto wrong = annexe_with(12.6);
  const auto right = annexe_with(12.9);
  const auto records = eventful(wrong);
  record_all(dir.path(), records);
  auto task = task_for(wrong);
  task.range.sensor = "cell-b";
  EXPECT_EQ(run(dir.path(), task, always(right)).examined, 0u);
  task.range.sensor = "cell-a";
  task.range.from = records[5].at;
  task.range.to = records[9].at;
  EXPECT_EQ(run(dir.path(), task, always(right)).examined, 5u);
  std::size_t changed = 0;
  for (const auto& r : stored(dir.path(), task_for(wrong))) changed += r.later ? 1 : 0;
  EXPECT_EQ(changed, 5u);
}

TEST(Replay, WorksBesideAWriterThatGoesOn) {
  const ScratchDir dir;
  auto wrong = annexe_with(12.6);
  const auto right = annexe_with(12.9);
  const auto records = eventful(wrong);
  const auto store = store_test::open_store(dir.path());
  for (const auto& r : records) store->reading(r);
  ASSERT_TRUE(store_test::committed_at_last(*store));
  auto task = task_for(wrong);
  EXPECT_GT(run(dir.path(), task, always(right)).changed, 0u);
  for (const auto& r : records) store->reading(r);
  EXPECT_TRUE(store_test::committed_at_last(*store));
  EXPECT_EQ(stored(dir.path(), task).size(), 2 * records.size());
}

TEST(RecordedOxygen, IsFoundByTimeAndTravelsAsTextUnharmed) {
  const ScratchDir dir;
  auto wrong = annexe_with(12.6);
  const auto right = annexe_with(12.9);
  const auto records = eventful(wrong);
  record_all(dir.path(), records);
  run(dir.path(), task_for(wrong), always(right));
  const auto at = [&](WallTime t) { return oxygen_at(dir.path(), "cryo-annexe", "cell-a", t).value(); };
  EXPECT_FALSE(at(records.front().at - 1ms));
  EXPECT_FALSE(oxygen_at(dir.path(), "cryo-annexe", "cell-x", records.back().at).value());
  EXPECT_FALSE(at(records.back().at + 48h)) << "a day old at most";
  for (const std::size_t i : {std::size_t{3}, std::size_t{25}, records.size() - 1}) {
    const auto found = at(records[i].at + 1ms);
    ASSERT_TRUE(found);
    EXPECT_EQ(found->at, records[i].at);
    const auto again = recorded_from(recorded_text(*found));
    ASSERT_TRUE(again) << again.error();
    EXPECT_EQ(recorded_text(*again), recorded_text(*found));
    EXPECT_EQ(form_anew(again->basis_now(), again->inputs, again->at), found->outputs_now());
    EXPECT_EQ(form_anew(*again->basis, again->inputs, again->at), found->outputs);
  }
  EXPECT_FALSE(recorded_from("{}"));
  EXPECT_FALSE(recorded_from("[1"));
}

} // namespace oxherd::daemon::replay_test
