#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "daemon/notify/parcel.hpp"
#include "daemon/store/sqlite.hpp"

namespace oxherd::daemon::notify {

/// How a parcel ended, to be noted.
struct Settled {
  std::int64_t key = 0;
  unsigned tries = 0;
  WallTime at;
  bool delivered = false; ///< else given up
  std::string trouble;
};

/// What the route of somebody last took.
struct LastDelivery {
  std::string contact, route;
  WallTime at;
};

/// notify.db in the state directory: parcels, delivered or not, and the state of the escalation. Every write is
/// synchronised before a message leaves, so that no id is ever given twice. Without room for it everything goes on from
/// memory, and the next write that succeeds has all of it. Used from one thread.
class Archive {
public:
  explicit Archive(std::filesystem::path state_dir) : dir_{std::move(state_dir)} {}

  struct Kept {
    std::string state;           ///< JSON; empty: none
    std::vector<Parcel> parcels; ///< not settled
    std::vector<LastDelivery> deliveries;
    std::int64_t last_key = 0;
  };
  /// What the last run left; an error leaves the archive to be opened by the next write.
  [[nodiscard]] tl::expected<Kept, store::DbError> open(WallTime now);

  /// One transaction: new parcels, settled ones, and the state in place of the former.
  [[nodiscard]] tl::expected<void, store::DbError> write(const std::vector<Parcel>& added,
                                                         const std::vector<Settled>& settled, const std::string& state);

private:
  [[nodiscard]] tl::expected<void, store::DbError> connect();
  [[nodiscard]] tl::expected<Kept, store::DbError> read();
  std::filesystem::path dir_;
  std::optional<store::Database> database_;
};

} // namespace oxherd::daemon::notify
