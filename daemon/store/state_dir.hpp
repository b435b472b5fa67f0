#pragma once

#include <filesystem>
#include <string>

#include <tl/expected.hpp>

namespace oxherd::daemon::store {

/// The state directory, made when missing (mode 0750) and held by this process alone: its file `lock` is locked as long
/// as this object lives and names the process. The kernel drops the lock with the process, however it ends.
class StateDir {
public:
  /// The error says who holds the directory, or why it cannot be made or written.
  [[nodiscard]] static tl::expected<StateDir, std::string> claim(const std::filesystem::path& path);
  StateDir(StateDir&& other) noexcept;
  StateDir& operator=(StateDir&&) = delete;
  StateDir(const StateDir&) = delete;
  StateDir& operator=(const StateDir&) = delete;
  ~StateDir();

private:
  explicit StateDir(int lock) : lock_{lock} {}
  int lock_; ///< descriptor of the locked file; -1 when moved from
};

} // namespace oxherd::daemon::store
