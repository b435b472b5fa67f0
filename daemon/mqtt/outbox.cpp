#include "daemon/mqtt/outbox.hpp"

#include <algorithm>
#include <set>
#include <utility>
#include <vector>

namespace oxherd::daemon {

void Outbox::measurement(std::string topic, std::string payload) {
  measurements_.push_back({Kind::measurement, std::move(topic), std::move(payload)});
  bound_measurements();
}

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
    auto& queue = sent->second.kind == Kind::measurement ? measurements_
                  : sent->second.kind == Kind::letter    ? letters_
                                                         : retained_;
    queue.push_front(std::move(sent->second));
  }
  in_flight_.clear();
  for (const auto& letter : std::exchange(letters_, {})) letter.settled(false);
  std::erase_if(retained_, [](const Message& m) { return m.kind == Kind::state; }); // the latest come with connected()
  bound_measurements();
}

std::optional<Outgoing> Outbox::next() {
  if (!connected_ || in_flight_.size() >= limits_.window) return std::nullopt;
  auto& queue = !retained_.empty() ? retained_ : !letters_.empty() ? letters_ : measurements_;
  if (queue.empty()) return std::nullopt;
  const auto& message = queue.front();
  Outgoing out{++last_id_, message.topic, message.payload, message.kind == Kind::state || message.kind == Kind::change};
  in_flight_.emplace(last_id_, std::move(queue.front()));
  queue.pop_front();
  return out;
}

void Outbox::acknowledged(std::uint64_t id) {
  const auto sent = in_flight_.extract(id);
  if (sent.empty()) return;
  ++published_;
  if (sent.mapped().settled) sent.mapped().settled(true);
}

std::size_t Outbox::waiting() const {
  return retained_.size() + letters_.size() + measurements_.size() + in_flight_.size();
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

void Outbox::bound_measurements() {
  for (; measurements_.size() > limits_.measurements; ++dropped_) measurements_.pop_front();
}

} // namespace oxherd::daemon
