#include "daemon/mqtt/journal_queue.hpp"

#include <algorithm>
#include <iterator>
#include <utility>

namespace oxherd::daemon {

std::optional<QueuedMessage> JournalQueue::next() {
  if (loaded_.empty()) return std::nullopt;
  auto line = std::move(loaded_.front());
  loaded_.pop_front();
  sent_.insert(line.sequence);
  return line;
}

void JournalQueue::disconnected() {
  if (!settled_to_) return;
  settled_to_ = taken_to_ = settled();
  loaded_.clear();
  sent_.clear();
}

std::int64_t JournalQueue::settled() const {
  auto to = taken_to_;
  if (!loaded_.empty()) to = std::min(to, loaded_.front().sequence - 1);
  if (!sent_.empty()) to = std::min(to, *sent_.begin() - 1);
  return to;
}

bool JournalQueue::wants_lines() const {
  return settled_to_ && last_ > taken_to_ && loaded_.size() < static_cast<std::size_t>(read_at_once / 2);
}

void JournalQueue::order(DiskOrder& order, bool connected) const {
  if (!settled_to_) return; // how far the broker has it comes with the first answer
  order.lines_settled = settled();
  order.lines_after = taken_to_;
  order.lines_most = connected && loaded_.size() < static_cast<std::size_t>(read_at_once / 2) ? read_at_once : 0;
}

void JournalQueue::take(DiskOutcome& outcome) {
  if (!outcome.lines) return;
  auto& lines = *outcome.lines;
  last_ = lines.last;
  if (!settled_to_) settled_to_ = taken_to_ = lines.after;
  if (last_ < settled()) { // begun anew, since nothing could be saved of a damaged one: all of it is news
    loaded_.clear();
    sent_.clear();
    settled_to_ = taken_to_ = 0;
    return;
  }
  if (lines.after != taken_to_ || lines.messages.empty()) return; // a connection ended meanwhile: asked for anew
  taken_to_ = lines.messages.back().sequence;
  std::move(lines.messages.begin(), lines.messages.end(), std::back_inserter(loaded_));
}

std::uint64_t JournalQueue::waiting() const {
  return settled_to_ && last_ > settled() ? static_cast<std::uint64_t>(last_ - settled()) : 0;
}

} // namespace oxherd::daemon
