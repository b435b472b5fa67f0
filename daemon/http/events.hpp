#pragma once

#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace oxherd::daemon::http {

/// One server-sent event as it goes over the line, shared by all who get it.
using Event = std::shared_ptr<const std::string>;
/// @param data  one line of JSON
[[nodiscard]] Event event(std::string_view name, std::string_view data);

/// What one listener has not been sent yet. Bounded: whoever reads too slowly is let go, and begins anew with all that
/// stands then.
class Subscription {
public:
  static constexpr std::size_t waiting_max_bytes = std::size_t{8} * 1024 * 1024; ///< more than a thousand rooms at once
  explicit Subscription(std::function<void()> wake) : wake_{std::move(wake)} {}

  void add(const Event& event);
  /// All that waits, as one text; empty: nothing.
  [[nodiscard]] std::string take();
  [[nodiscard]] bool overrun() const { return overrun_; }

private:
  std::deque<Event> waiting_;
  std::size_t bytes_ = 0;
  bool overrun_ = false;
  std::function<void()> wake_;
};

/// What every listener of the stream gets: first all that stands, then what changes. One thread.
class EventHub {
public:
  explicit EventHub(std::string hello) : hello_{std::move(hello)} {}

  void subscribe(const std::shared_ptr<Subscription>& subscription);
  void room(const std::string& name, std::string json); ///< kept, for those who come later
  void room_removed(const std::string& name);
  void tell(std::string_view name, std::string_view json);
  [[nodiscard]] const std::string* room_json(const std::string& name) const;
  [[nodiscard]] std::size_t listeners() const;

private:
  void to_all(const Event& event);

  std::string hello_; ///< JSON
  struct Kept {
    std::string json;
    Event event;
  };
  std::map<std::string, Kept> rooms_;
  std::vector<std::weak_ptr<Subscription>> listeners_;
};

} // namespace oxherd::daemon::http
