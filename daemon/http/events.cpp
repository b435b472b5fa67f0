#include "daemon/http/events.hpp"

#include <algorithm>

#include <fmt/core.h>

namespace oxherd::daemon::http {

Event event(std::string_view name, std::string_view data) {
  return std::make_shared<const std::string>(fmt::format("event: {}\ndata: {}\n\n", name, data));
}

void Subscription::add(const Event& event) {
  if (overrun_) return;
  if (bytes_ + event->size() > waiting_max_bytes) {
    overrun_ = true;
    waiting_.clear();
  } else {
    waiting_.push_back(event);
    bytes_ += event->size();
  }
  if (wake_) wake_();
}

std::string Subscription::take() {
  std::string text;
  text.reserve(bytes_);
  for (const auto& event : waiting_) text += *event;
  waiting_.clear();
  bytes_ = 0;
  return text;
}

void EventHub::subscribe(const std::shared_ptr<Subscription>& subscription) {
  subscription->add(std::make_shared<const std::string>("retry: 2000\n\n"));
  subscription->add(event("hello", hello_));
  for (const auto& [name, kept] : rooms_) subscription->add(kept.event);
  listeners_.push_back(subscription);
}

void EventHub::room(const std::string& name, std::string json) {
  auto told = event("room", json);
  to_all(told);
  rooms_[name] = {std::move(json), std::move(told)};
}

void EventHub::room_removed(const std::string& name) { rooms_.erase(name); }

void EventHub::tell(std::string_view name, std::string_view json) {
  if (!listeners_.empty()) to_all(event(name, json));
}

const std::string* EventHub::room_json(const std::string& name) const {
  const auto found = rooms_.find(name);
  return found == rooms_.end() ? nullptr : &found->second.json;
}

std::size_t EventHub::listeners() const {
  return static_cast<std::size_t>(
      std::count_if(listeners_.begin(), listeners_.end(), [](const auto& one) { return !one.expired(); }));
}

void EventHub::to_all(const Event& event) {
  std::erase_if(listeners_, [](const auto& one) { return one.expired(); });
  for (const auto& weak : listeners_)
    if (const auto one = weak.lock()) one->add(event);
}

} // namespace oxherd::daemon::http
