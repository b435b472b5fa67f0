#pragma once

#include <cstdint>
#include <filesystem>

namespace oxherd::daemon::store {

/// A file that holds disk space in reserve. On a full disk it is deleted, which makes room for opening the database and
/// for alarm records; measurements wait until it stands again, so they cannot eat what it gave.
class Ballast {
public:
  /// Room for some thousand alarm records with their write-ahead log.
  static constexpr std::int64_t bytes = std::int64_t{8} << 20U;

  explicit Ballast(const std::filesystem::path& state_dir) : file_{state_dir / "ballast"} {}
  /// Makes the file unless it stands in full. False when there is no room for it; any other hindrance is left to the
  /// databases beside it, which will meet and report it.
  [[nodiscard]] bool restore() const;
  /// Deletes it. False when there was none.
  [[nodiscard]] bool release() const;

private:
  std::filesystem::path file_;
};

} // namespace oxherd::daemon::store
