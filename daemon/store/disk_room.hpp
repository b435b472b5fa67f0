#pragma once

#include <cstdint>
#include <filesystem>

namespace oxherd::daemon::store {

/// How much room there is for records.
struct DiskRoom {
  std::uint64_t bytes = 0;    ///< of the databases in the state directory, with their write-ahead logs
  std::uint64_t capacity = 0; ///< of the file system; 0: not known
  double free_share = 1.0;    ///< of the capacity, for a program without privileges
};
[[nodiscard]] DiskRoom disk_room(const std::filesystem::path& state_dir);

/// Whether the oldest measurements must go before their time. They leave room within their file, which does not become
/// smaller; once there is enough of it, nothing more goes.
/// @param keep_free   share of the file system that is to stay free
/// @param free_bytes  within the file of measurements
[[nodiscard]] bool must_shorten(const DiskRoom& room, double keep_free, std::int64_t free_bytes);

} // namespace oxherd::daemon::store
