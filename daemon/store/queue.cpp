#include "daemon/store/queue.hpp"

#include <algorithm>
#include <iterator>
#include <utility>

namespace oxherd::daemon::store {
namespace {

constexpr std::size_t alarms_at_once = 500;
constexpr std::size_t measurements_at_once = 2000;

/// At once where all are taken, because whoever adds a row waits meanwhile.
template <class Row> std::deque<Queued<Row>> take_front(std::deque<Queued<Row>>& queue, std::size_t at_most) {
  if (queue.size() <= at_most) return std::exchange(queue, {});
  const auto end = queue.begin() + static_cast<std::ptrdiff_t>(at_most);
  std::deque<Queued<Row>> front{std::make_move_iterator(queue.begin()), std::make_move_iterator(end)};
  queue.erase(queue.begin(), end);
  return front;
}

template <class Row> std::vector<Queued<Row>> in_one_piece(std::deque<Queued<Row>> rows) {
  return {std::make_move_iterator(rows.begin()), std::make_move_iterator(rows.end())};
}

template <class Row> void give_back(std::deque<Queued<Row>>& queue, std::vector<Queued<Row>>& rows) {
  queue.insert(queue.begin(), std::make_move_iterator(rows.begin()), std::make_move_iterator(rows.end()));
}

template <class Row> bool is_past(const std::deque<Queued<Row>>& queue, std::uint64_t ticket) {
  return queue.empty() || queue.front().ticket > ticket;
}

} // namespace

void Queue::push(AlarmRow row) {
  const std::scoped_lock lock{mutex_};
  alarms_.push_back({++alarm_tickets_, std::move(row)});
  something_.notify_one();
}

void Queue::push(MeasurementRow row) {
  const std::scoped_lock lock{mutex_};
  measurements_.push_back({++measurement_tickets_, std::move(row)});
  drop_beyond_limit();
  if (measurements_.size() == 1 || measurements_.size() == measurements_at_once) something_.notify_one();
}

void Queue::push(CalibrationRequest request) {
  const std::scoped_lock lock{mutex_};
  calibrations_.push_back(std::move(request));
  something_.notify_one();
}

void Queue::when_committed(std::function<void(bool)> done) {
  if (!done) return;
  const std::scoped_lock lock{mutex_};
  barriers_.push_back({alarm_tickets_, measurement_tickets_, dropped_, attempts_, std::move(done)});
  something_.notify_one();
}

void Queue::close() {
  const std::scoped_lock lock{mutex_};
  closing_ = true;
  something_.notify_one();
}

std::uint64_t Queue::waiting() const {
  const std::scoped_lock lock{mutex_};
  return alarms_.size() + measurements_.size() + calibrations_.size() + in_hand_;
}

std::uint64_t Queue::dropped() const {
  const std::scoped_lock lock{mutex_};
  return dropped_;
}

void Queue::drop_beyond_limit() {
  for (; measurements_.size() > measurements_max_; ++dropped_) measurements_.pop_front();
}

bool Queue::is_urgent() const {
  return closing_ || !alarms_.empty() || !calibrations_.empty() || !barriers_.empty() ||
         measurements_.size() >= measurements_at_once;
}

Batch Queue::take() {
  std::unique_lock lock{mutex_};
  const auto urgent = [this] { return is_urgent(); };
  if (failed_) {
    something_.wait_for(lock, pace_.retry, [this] { return closing_; });
  } else {
    something_.wait_for(lock, pace_.prune, [this] { return is_urgent() || !measurements_.empty(); });
    if (!measurements_.empty()) something_.wait_for(lock, pace_.gather, urgent);
  }
  Batch batch;
  auto alarms = take_front(alarms_, alarms_at_once);
  auto measurements = take_front(measurements_, measurements_at_once);
  batch.calibrations = std::exchange(calibrations_, {});
  batch.attempt = ++attempts_;
  batch.closing = closing_;
  batch.last = closing_ && alarms_.empty() && measurements_.empty();
  in_hand_ = alarms.size() + measurements.size() + batch.calibrations.size();
  lock.unlock();
  batch.alarms = in_one_piece(std::move(alarms));
  batch.measurements = in_one_piece(std::move(measurements));
  return batch;
}

void Queue::settle(Batch batch, bool failed) {
  std::vector<std::pair<std::function<void(bool)>, bool>> answers;
  {
    const std::scoped_lock lock{mutex_};
    in_hand_ = 0;
    failed_ = failed;
    give_back(alarms_, batch.alarms);
    give_back(measurements_, batch.measurements);
    drop_beyond_limit();
    for (auto& barrier : barriers_) {
      const bool written = is_past(alarms_, barrier.alarm) && is_past(measurements_, barrier.measurement);
      const bool tried = failed && barrier.attempt < batch.attempt;
      if (written || tried) {
        answers.emplace_back(std::exchange(barrier.done, nullptr), written && barrier.dropped == dropped_);
      }
    }
    std::erase_if(barriers_, [](const Barrier& barrier) { return !barrier.done; });
  }
  for (auto& [done, written] : answers) done(written); // unlocked: it may call back into the store
}

void Queue::abandon() {
  std::vector<Barrier> barriers;
  std::vector<CalibrationRequest> calibrations;
  {
    const std::scoped_lock lock{mutex_};
    barriers = std::exchange(barriers_, {});
    calibrations = std::exchange(calibrations_, {});
  }
  for (auto& barrier : barriers) barrier.done(false);
  for (auto& request : calibrations) request.done.set_value(tl::unexpected(StoreError{"the store is closing"}));
}

} // namespace oxherd::daemon::store
