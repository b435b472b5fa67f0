#include "daemon/mqtt/outbox.hpp"

#include <algorithm>
#include <set>
#include <utility>
#include <vector>

namespace oxherd::daemon {

void Outbox::measurement(std::string topic, std::string payload) { backlog_.add(std::move(topic), std::move(payload)); }

void Outbox::state(std::string topic, std::string payload) {
  remember(topic, payload);
  if (!connected_) return; // connected() brings it
  const auto same = [&](const Message& m) { return m.kind == Kind::state && m.topic == topic; };
  const auto due = std::find_if(retained_.begin(), retained_.end(), same);
  if (due != retained_.end())
    due->payload = std::move(payload);
  else
    retained_.push_back({Kind::state, std::move(topic), std::move(payload)});
}

void Outbox::change(std::string topic, std::string payload) {
  remember(topic, payload);
  retained_.push_back({Kind::change, std::move(topic), std::move(payload)});
  // Twice the topics: with more topics than the limit, sorting out at every change would cost each of them all.
  if (retained_.size() > std::max(limits_.changes, 2 * latest_.size())) keep_newest_changes();
}

void Outbox::letter(std::string topic, std::string payload, std::function<void(bool)> settled) {
  if (!connected_) return settled(false);
  letters_.push_back({Kind::letter, std::move(topic), std::move(payload), std::move(settled)});
}

void Outbox::connected() {
  connected_ = true;
  backlog_.connected();
  // A change that was sent again may be older than what its topic has come to: only the latest payload counts as due.
  std::map<std::string, const std::string*> due;
  for (const auto& message : retained_) due[message.topic] = &message.payload;
  std::vector<std::pair<std::uint64_t, const std::string*>> missing;
  for (const auto& [topic, latest] : latest_) {
    const auto last = due.find(topic);
    if (last == due.end() || *last->second != latest.payload) missing.emplace_back(latest.order, &topic);
  }
  std::sort(missing.begin(), missing.end());
  for (const auto& [order, topic] : missing) retained_.push_back({Kind::state, *topic, latest_.at(*topic).payload});
}

void Outbox::disconnected() {
  connected_ = false;
  // From the newest to the oldest, each to the front: the order of the first sending is kept.
  for (auto sent = in_flight_.rbegin(); sent != in_flight_.rend(); ++sent) {
    const auto kind = sent->second.kind;
    if (kind == Kind::measurement || kind == Kind::line) continue;
    (kind == Kind::letter ? letters_ : retained_).push_front(std::move(sent->second));
  }
  in_flight_.clear();
  journal_.disconnected();
  backlog_.disconnected();
  for (const auto& letter : std::exchange(letters_, {})) letter.settled(false);
  std::erase_if(retained_, [](const Message& m) { return m.kind == Kind::state; }); // the latest come with connected()
}

std::optional<Outgoing> Outbox::next() {
  if (!connected_ || in_flight_.size() >= limits_.window) return std::nullopt;
  if (!retained_.empty()) return next_of(retained_);
  if (!letters_.empty()) return next_of(letters_);
  if (auto line = next_of(Kind::line, journal_.next())) {
    line->topic = journal_topic_;
    return line;
  }
  return next_of(Kind::measurement, backlog_.next());
}

std::optional<Outgoing> Outbox::next_of(std::deque<Message>& queue) {
  const auto& message = queue.front();
  Outgoing out{++last_id_, message.topic, message.payload, message.kind != Kind::letter};
  in_flight_.emplace(last_id_, std::move(queue.front()));
  queue.pop_front();
  return out;
}

std::optional<Outgoing> Outbox::next_of(Kind kind, std::optional<QueuedMessage> message) {
  if (!message) return std::nullopt;
  in_flight_.emplace(++last_id_, Message{kind, {}, {}, {}, message->sequence});
  return Outgoing{last_id_, std::move(message->topic), std::move(message->payload), false};
}

void Outbox::acknowledged(std::uint64_t id) {
  const auto sent = in_flight_.extract(id);
  if (sent.empty()) return;
  ++published_;
  const auto& message = sent.mapped();
  if (message.kind == Kind::measurement) backlog_.acknowledged(message.sequence);
  if (message.kind == Kind::line) journal_.acknowledged(message.sequence);
  if (message.settled) message.settled(true);
}

DiskOrder Outbox::order() {
  DiskOrder order;
  backlog_.order(order, connected_, connected_ && in_flight_.size() < limits_.window);
  journal_.order(order, connected_);
  return order;
}

void Outbox::take(DiskOutcome outcome) {
  backlog_.take(outcome);
  journal_.take(outcome);
}

bool Outbox::all_sent() const {
  return in_flight_.empty() && retained_.empty() && letters_.empty() && journal_.nothing_at_hand() &&
         backlog_.nothing_at_hand();
}

std::uint64_t Outbox::waiting() const {
  const auto sent = std::count_if(in_flight_.begin(), in_flight_.end(), [](const auto& one) {
    return one.second.kind != Kind::measurement && one.second.kind != Kind::line;
  });
  return retained_.size() + letters_.size() + static_cast<std::uint64_t>(sent) + journal_.waiting() +
         backlog_.in_memory_alone() + backlog_.on_disk();
}

void Outbox::remember(const std::string& topic, const std::string& payload) {
  latest_[topic] = {payload, ++last_order_};
}

void Outbox::keep_newest_changes() {
  std::set<std::string> seen;
  std::deque<Message> kept;
  for (auto message = retained_.rbegin(); message != retained_.rend(); ++message)
    if (seen.insert(message->topic).second) kept.push_front(std::move(*message));
  retained_ = std::move(kept);
}

} // namespace oxherd::daemon
