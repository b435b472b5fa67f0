#pragma once

#include <chrono>
#include <functional>
#include <future>
#include <string_view>
#include <thread>
#include <utility>

#include "daemon/named_thread.hpp"

namespace oxherd::daemon {

/// A thread that is left behind when it does not end in time: what it is inside of cannot be interrupted. What it uses
/// is its own.
class BoundedThread {
public:
  BoundedThread(std::string_view name, std::function<void()> body) {
    std::packaged_task<void()> work{std::move(body)};
    finished_ = work.get_future();
    thread_ = named_thread(name, std::move(work));
  }
  [[nodiscard]] bool ends_within(std::chrono::milliseconds patience) {
    const bool ended = finished_.wait_for(patience) == std::future_status::ready;
    ended ? thread_.join() : thread_.detach();
    return ended;
  }

private:
  std::future<void> finished_;
  std::thread thread_;
};

} // namespace oxherd::daemon
