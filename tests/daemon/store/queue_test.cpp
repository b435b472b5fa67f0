#include "daemon/store/queue.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon::queue_test {

using namespace std::chrono_literals;
using store::Batch;
using store::Queue;

constexpr store::Pace at_once{.gather = 0ms, .retry = 0ms, .prune = 0ms, .close = 0ms};

store::MeasurementRow measurement(double raw) {
  SampleRecord sample;
  sample.raw = raw;
  return sample;
}

store::AlarmRow alarm(std::int64_t sequence) {
  store::AlarmRow row;
  row.record.sequence = sequence;
  return row;
}

std::vector<double> raws_of(const Batch& batch) {
  std::vector<double> raws;
  for (const auto& queued : batch.measurements) raws.push_back(std::get<SampleRecord>(queued.row).raw);
  return raws;
}

std::vector<std::int64_t> sequences_of(const Batch& batch) {
  std::vector<std::int64_t> sequences;
  for (const auto& queued : batch.alarms) sequences.push_back(queued.row.record.sequence);
  return sequences;
}

Batch written() { return {}; } // nothing is given back

TEST(StoreQueue, DropsTheOldestMeasurementsOnlyAndCountsThem) {
  Queue queue{3, at_once};
  for (int i = 1; i <= 5; ++i) {
    queue.push(measurement(i));
    queue.push(alarm(i));
  }
  EXPECT_EQ(queue.dropped(), 2U);
  EXPECT_EQ(queue.waiting(), 8U);
  const Batch batch = queue.take();
  EXPECT_EQ(raws_of(batch), (std::vector<double>{3, 4, 5}));
  EXPECT_EQ(sequences_of(batch), (std::vector<std::int64_t>{1, 2, 3, 4, 5}));
}

TEST(StoreQueue, KeepsAlarmRecordsWhateverTheirNumber) {
  Queue queue{1, at_once};
  for (int i = 1; i <= 30000; ++i) queue.push(alarm(i));
  std::int64_t next = 1;
  for (Batch batch = queue.take(); !batch.alarms.empty(); batch = queue.take()) {
    for (const auto sequence : sequences_of(batch)) ASSERT_EQ(sequence, next++);
    queue.settle(written(), false);
  }
  EXPECT_EQ(next, 30001);
  EXPECT_EQ(queue.dropped(), 0U);
}

TEST(StoreQueue, PutsWhatWasNotWrittenBackInFrontAndDropsTheOldestBeyondTheLimit) {
  Queue queue{3, at_once};
  for (int i = 1; i <= 3; ++i) queue.push(measurement(i));
  queue.push(alarm(1));
  Batch batch = queue.take();
  EXPECT_EQ(queue.waiting(), 4U); // in hand counts as waiting
  queue.push(measurement(4));
  queue.push(alarm(2));
  queue.settle(std::move(batch), true);
  EXPECT_EQ(queue.dropped(), 1U);
  batch = queue.take();
  EXPECT_EQ(raws_of(batch), (std::vector<double>{2, 3, 4}));
  EXPECT_EQ(sequences_of(batch), (std::vector<std::int64_t>{1, 2}));
}

/// Collects the answers of when_committed.
struct Answers {
  std::vector<bool> got;
  std::function<void(bool)> slot() {
    return [this](bool well) { got.push_back(well); };
  }
};

TEST(StoreQueue, AnswersOnlyWhenAllThatWasQueuedBeforeIsWritten) {
  Queue queue{10000, at_once};
  Answers answers;
  for (int i = 1; i <= 3000; ++i) queue.push(measurement(i)); // more than one batch
  queue.when_committed(answers.slot());
  queue.push(measurement(3001));
  static_cast<void>(queue.take());
  queue.settle(written(), false);
  EXPECT_TRUE(answers.got.empty());
  static_cast<void>(queue.take());
  queue.settle(written(), false);
  EXPECT_EQ(answers.got, std::vector<bool>{true});
}

TEST(StoreQueue, AnswersFalseAsSoonAsAnAttemptFailedButNotToWhoAskedDuringIt) {
  Queue queue{10, at_once};
  Answers before;
  Answers during;
  queue.push(alarm(1));
  queue.when_committed(before.slot());
  Batch batch = queue.take();
  queue.when_committed(during.slot());
  queue.settle(std::move(batch), true);
  EXPECT_EQ(before.got, std::vector<bool>{false});
  EXPECT_TRUE(during.got.empty());
  static_cast<void>(queue.take());
  queue.settle(written(), false);
  EXPECT_EQ(during.got, std::vector<bool>{true});
  EXPECT_EQ(before.got.size(), 1U);
}

TEST(StoreQueue, AnswersFalseWhenSomeOfItWasDropped) {
  Queue queue{2, at_once};
  Answers answers;
  queue.push(measurement(1));
  queue.when_committed(answers.slot());
  queue.push(measurement(2));
  queue.push(measurement(3));
  static_cast<void>(queue.take());
  queue.settle(written(), false);
  EXPECT_EQ(answers.got, std::vector<bool>{false});
}

TEST(StoreQueue, AnswersFalseWhenTheStoreEnds) {
  Queue queue{2, at_once};
  Answers answers;
  queue.when_committed(answers.slot());
  store::CalibrationRequest request;
  auto calibrated = request.done.get_future();
  queue.push(std::move(request));
  queue.abandon();
  EXPECT_EQ(answers.got, std::vector<bool>{false});
  EXPECT_FALSE(calibrated.get());
}

TEST(StoreQueue, SaysWhichBatchIsTheLast) {
  Queue queue{10000, at_once};
  for (int i = 1; i <= 3000; ++i) queue.push(measurement(i));
  EXPECT_FALSE(queue.take().closing);
  queue.settle(written(), false);
  queue.push(measurement(3001));
  for (int i = 1; i <= 600; ++i) queue.push(alarm(i));
  queue.close();
  const Batch first = queue.take();
  EXPECT_TRUE(first.closing);
  EXPECT_FALSE(first.last);
  EXPECT_TRUE(queue.take().last);
}

} // namespace oxherd::daemon::queue_test
