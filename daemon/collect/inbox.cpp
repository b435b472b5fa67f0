#include "daemon/collect/inbox.hpp"

namespace oxherd::daemon::collect {
namespace {

std::size_t bytes_of(const Delivery& delivery) {
  return sizeof(Delivery) + delivery.topic.size() + delivery.payload.size();
}

} // namespace

bool Inbox::put(Delivery delivery) {
  const std::lock_guard hold{mutex_};
  if (deliveries_.empty()) first_at_ = Clock::now();
  bytes_ += bytes_of(delivery);
  deliveries_.push_back(std::move(delivery));
  if (deliveries_.size() == 1 || enough()) wake_.notify_one();
  was_full_ = full();
  return !was_full_;
}

bool Inbox::enough() const {
  return stopping_ || bytes_ >= limits_.batch_bytes || deliveries_.size() >= limits_.batch_messages;
}

std::vector<Delivery> Inbox::take(std::chrono::milliseconds at_most) {
  std::vector<Delivery> batch;
  bool has_room_again = false;
  {
    std::unique_lock hold{mutex_};
    if (!wake_.wait_for(hold, at_most, [&] { return !deliveries_.empty() || stopping_; })) return batch;
    wake_.wait_until(hold, first_at_ + limits_.flush_every, [&] { return enough(); });
    for (std::size_t bytes = 0; !deliveries_.empty() && bytes < limits_.batch_bytes;) {
      bytes += bytes_of(deliveries_.front());
      batch.push_back(std::move(deliveries_.front()));
      deliveries_.pop_front();
    }
    for (const auto& one : batch) bytes_ -= bytes_of(one);
    first_at_ = Clock::now();
    has_room_again = was_full_ && bytes_ < limits_.bytes_max / 2;
    if (has_room_again) was_full_ = false;
  }
  if (has_room_again) drained_();
  return batch;
}

void Inbox::stop() {
  const std::lock_guard hold{mutex_};
  stopping_ = true;
  wake_.notify_all();
}

std::size_t Inbox::waiting() const {
  const std::lock_guard hold{mutex_};
  return deliveries_.size();
}

} // namespace oxherd::daemon::collect
