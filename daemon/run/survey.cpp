#include <utility> // before Asio: std::exchange

#include "daemon/run/survey.hpp"

#include <boost/asio/post.hpp>

#include "daemon/clock.hpp"

namespace oxherd::daemon {
namespace {

constexpr std::chrono::microseconds slice_time{100}; // as that of the pass over the rooms

} // namespace

void Survey::ask(Done done) {
  next_.push_back(std::move(done));
  if (served_.empty()) begin();
}

void Survey::begin_anew() {
  if (served_.empty()) return;
  next_.insert(next_.begin(), std::make_move_iterator(served_.begin()), std::make_move_iterator(served_.end()));
  begin();
}

void Survey::begin() {
  served_ = std::exchange(next_, {});
  rooms_.clear();
  rooms_.reserve(site_.settings().rooms.size());
  boost::asio::post(loop_, [this, number = ++number_] { slice(number); });
}

void Survey::slice(std::uint64_t number) {
  if (number != number_) return;
  const auto until = std::chrono::steady_clock::now() + slice_time;
  while (rooms_.size() < site_.settings().rooms.size()) {
    rooms_.push_back(site_.status(rooms_.size(), monotonic_now(), wall_now()));
    if (std::chrono::steady_clock::now() >= until) return boost::asio::post(loop_, [this, number] { slice(number); });
  }
  const auto rooms = std::make_shared<const std::vector<RoomStatus>>(std::exchange(rooms_, {}));
  const auto served = std::exchange(served_, {});
  if (!next_.empty()) begin();
  for (const auto& done : served) done(rooms);
}

} // namespace oxherd::daemon
