#pragma once

#include <functional>
#include <memory>
#include <vector>

#include <boost/asio/io_context.hpp>

#include "daemon/room/site.hpp"

namespace oxherd::daemon {

/// How every room stands, taken on the decision loop a slice at a time: a thousand rooms take many milliseconds, and no
/// relay may wait because somebody looks. One survey runs at a time, and whoever asks during it is served by the next,
/// so that what one has just done is always in it.
class Survey {
public:
  using Rooms = std::shared_ptr<const std::vector<RoomStatus>>;
  using Done = std::function<void(Rooms)>;

  /// Both outlive it.
  Survey(boost::asio::io_context& loop, const Site& site) : loop_{loop}, site_{site} {}

  void ask(Done done); ///< `done` runs on the loop, never within this call
  void begin_anew();   ///< the rooms are others: after a reload

private:
  void begin();
  void slice(std::uint64_t number);

  boost::asio::io_context& loop_;
  const Site& site_;
  std::vector<Done> served_, next_; ///< those the running survey is for, and those the next one is for
  std::vector<RoomStatus> rooms_;
  std::uint64_t number_ = 0; ///< of the running survey; slices of an older one end
};

} // namespace oxherd::daemon
