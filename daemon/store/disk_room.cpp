#include "daemon/store/disk_room.hpp"

#include <algorithm>

namespace oxherd::daemon::store {
namespace {

/// Within the file: an hour and more of a thousand sensors. Of a small file system a hundredth.
constexpr std::uint64_t enough_bytes = std::uint64_t{512} << 20U;

bool is_of_a_database(const std::filesystem::path& file) {
  const auto name = file.filename().string();
  return name.find(".sqlite") != std::string::npos || name.find(".db") != std::string::npos;
}

} // namespace

DiskRoom disk_room(const std::filesystem::path& state_dir) {
  DiskRoom room;
  std::error_code failed;
  const auto space = std::filesystem::space(state_dir, failed);
  if (!failed && space.capacity > 0) {
    room.capacity = space.capacity;
    room.free_share = static_cast<double>(space.available) / static_cast<double>(space.capacity);
  }
  std::filesystem::directory_iterator files{state_dir, failed};
  for (; !failed && files != std::filesystem::directory_iterator{}; files.increment(failed)) {
    std::error_code gone; // a log may be removed meanwhile
    if (!is_of_a_database(files->path())) continue;
    if (const auto bytes = files->file_size(gone); !gone) room.bytes += bytes;
  }
  return room;
}

bool must_shorten(const DiskRoom& room, double keep_free, std::int64_t free_bytes) {
  if (room.free_share >= keep_free) return false;
  return static_cast<std::uint64_t>(free_bytes) < std::min(enough_bytes, room.capacity / 100);
}

} // namespace oxherd::daemon::store
