#pragma once

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <functional>
#include <future>
#include <mutex>
#include <vector>

#include "daemon/store/rows.hpp"
#include "daemon/store/store.hpp"

namespace oxherd::daemon::store {

/// A row with its number in the order of arrival.
template <class Row> struct Queued {
  std::uint64_t ticket = 0;
  Row row;
};

/// A calibration on its way in, with the caller who waits for it.
struct CalibrationRequest {
  CalibrationRecord record;
  std::promise<tl::expected<std::int64_t, StoreError>> done;
};

/// What the writer takes on at once.
struct Batch {
  std::vector<Queued<AlarmRow>> alarms;
  std::vector<Queued<MeasurementRow>> measurements;
  std::vector<CalibrationRequest> calibrations;
  std::uint64_t attempt = 0; ///< number of this batch
  bool closing = false;      ///< nothing more will be queued
  bool last = false;         ///< and nothing is queued behind this batch
};

/// How the writer paces itself.
struct Pace {
  std::chrono::milliseconds gather{500}; ///< measurements wait this long for company; alarm records do not
  std::chrono::milliseconds retry{1000}; ///< after a failure
  std::chrono::milliseconds prune{1000}; ///< wakes at least this often, to remove a little of what is too old
  std::chrono::milliseconds close{5000}; ///< the destructor waits this long for the last writes
  std::chrono::milliseconds roll{100};   ///< of each pruning pace, for making minutes and hours of readings
};

/// Between the callers and the writer thread. Measurements beyond the limit push the oldest out and are counted; alarm
/// records are kept whatever their number. `take`, `settle` and `abandon` belong to the writer thread, the rest to any.
class Queue {
public:
  Queue(std::size_t measurements_max, Pace pace) : measurements_max_{measurements_max}, pace_{pace} {}

  void push(AlarmRow row);
  void push(MeasurementRow row);
  void push(CalibrationRequest request);
  /// `done` gets true once everything queued before is committed, false as soon as an attempt at it failed.
  void when_committed(std::function<void(bool)> done);
  void close();
  [[nodiscard]] std::uint64_t waiting() const; ///< rows queued or being written
  [[nodiscard]] std::uint64_t dropped() const; ///< measurements

  /// Waits for something to do, at most for the pruning pace; after a failure for the retry pace.
  [[nodiscard]] Batch take();
  /// Rows still in the batch were not written: they go back to the front.
  void settle(Batch batch, bool failed);
  /// Nothing more is written: tells everyone who waits.
  void abandon();

private:
  /// Someone who waits for all that was queued before.
  struct Barrier {
    std::uint64_t alarm, measurement; ///< tickets of the last ones queued before
    std::uint64_t dropped;            ///< drops counted by then
    std::uint64_t attempt;            ///< batches taken by then
    std::function<void(bool)> done;
  };
  void drop_beyond_limit();
  [[nodiscard]] bool is_urgent() const;

  const std::size_t measurements_max_;
  const Pace pace_;
  mutable std::mutex mutex_;
  std::condition_variable something_;
  std::deque<Queued<AlarmRow>> alarms_;
  std::deque<Queued<MeasurementRow>> measurements_;
  std::vector<CalibrationRequest> calibrations_;
  std::vector<Barrier> barriers_;
  std::uint64_t alarm_tickets_ = 0, measurement_tickets_ = 0, dropped_ = 0, attempts_ = 0, in_hand_ = 0;
  bool closing_ = false, failed_ = false;
};

} // namespace oxherd::daemon::store
