#include "daemon/http/places.hpp"

#include <utility>

namespace oxherd::daemon::http {

bool Places::make_room() {
  if (taken_ < limit_) return true;
  if (waiting_.empty()) return false;
  const auto end = std::move(waiting_.begin()->second);
  waiting_.erase(waiting_.begin());
  end();
  return true;
}

std::uint64_t Places::waits(std::function<void()> end) {
  waiting_.emplace(++last_ticket_, std::move(end));
  return last_ticket_;
}

} // namespace oxherd::daemon::http
