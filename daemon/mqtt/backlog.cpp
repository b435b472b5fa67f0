#include "daemon/mqtt/backlog.hpp"

#include <algorithm>
#include <iterator>
#include <utility>

namespace oxherd::daemon {

void Backlog::add(std::string topic, std::string payload) {
  fresh_.push_back({++last_, std::move(topic), std::move(payload)});
  bound();
}

std::optional<QueuedMessage> Backlog::next() {
  auto& queue = loaded_.empty() ? fresh_ : loaded_;
  if (queue.empty()) return std::nullopt;
  if (loaded_.empty()) {
    if (next_are_on_disk() && !passing_by_) return std::nullopt;
    // Stored while it is unacknowledged, it is not to be read back on this connection.
    if (!next_are_on_disk()) taken_to_ = queue.front().sequence;
  }
  auto message = std::move(queue.front());
  queue.pop_front();
  sent_.insert_or_assign(message.sequence, message);
  return message;
}

void Backlog::disconnected() {
  settled_to_ = std::max(settled_to_, settled());
  for (auto sent = sent_.rbegin(); sent != sent_.rend() && sent->first > stored_to_; ++sent)
    fresh_.push_front(std::move(sent->second));
  sent_.clear();
  loaded_.clear();
  taken_to_ = settled_to_;
  bound();
}

std::int64_t Backlog::settled() const {
  auto to = taken_to_;
  if (!loaded_.empty()) to = std::min(to, loaded_.front().sequence - 1);
  if (!sent_.empty()) to = std::min(to, sent_.begin()->first - 1);
  return to;
}

bool Backlog::wants_rows() const { return next_are_on_disk() && loaded_.size() < read_at_once / 2; }

void Backlog::order(DiskOrder& order, bool connected, bool room) {
  settled_to_ = std::max(settled_to_, settled());
  order.settled_to = settled_to_;
  if (connected && wants_rows()) order.rows_after = taken_to_;
  storing_to_ = stored_to_;
  const bool sent_at_once = room && (!next_are_on_disk() || passing_by_);
  if (fresh_.empty() || sent_at_once) return;
  // The unacknowledged ones are older, so they go first: what is on disk never has a gap that memory would have to
  // fill.
  for (auto sent = sent_.upper_bound(stored_to_); sent != sent_.end(); ++sent) order.store.push_back(sent->second);
  const auto taken = static_cast<std::ptrdiff_t>(std::min(fresh_.size(), store_at_once));
  order.store.insert(order.store.end(), fresh_.begin(), fresh_.begin() + taken);
  order.more_to_store = fresh_.size() > store_at_once;
  storing_to_ = order.store.back().sequence;
}

void Backlog::take(DiskOutcome& outcome) {
  if (outcome.stored && storing_to_ > stored_to_) {
    stored_to_ = storing_to_;
    while (!fresh_.empty() && fresh_.front().sequence <= stored_to_) fresh_.pop_front();
  }
  storing_to_ = stored_to_;
  on_disk_ = outcome.on_disk;
  dropped_ += outcome.dropped;
  passing_by_ = !outcome.readable;
  if (outcome.rows &&
      outcome.rows->after == taken_to_) { // else a connection ended meanwhile, and they are asked for anew
    auto& rows = *outcome.rows;
    if (!rows.messages.empty()) taken_to_ = rows.messages.back().sequence;
    if (rows.all) taken_to_ = std::max(taken_to_, stored_to_);
    std::move(rows.messages.begin(), rows.messages.end(), std::back_inserter(loaded_));
  }
  bound();
}

std::size_t Backlog::in_memory_alone() const {
  return fresh_.size() + static_cast<std::size_t>(std::distance(sent_.upper_bound(stored_to_), sent_.end()));
}

void Backlog::bound() {
  if (fresh_.size() <= memory_max_) return;
  // What an order under way is about to store is not given up.
  const auto oldest =
      std::find_if(fresh_.begin(), fresh_.end(), [&](const QueuedMessage& m) { return m.sequence > storing_to_; });
  const auto too_many = static_cast<std::ptrdiff_t>(fresh_.size() - memory_max_);
  const auto given_up = std::min<std::ptrdiff_t>(too_many, std::distance(oldest, fresh_.end()));
  fresh_.erase(oldest, oldest + given_up);
  dropped_ += static_cast<std::uint64_t>(given_up);
}

} // namespace oxherd::daemon
