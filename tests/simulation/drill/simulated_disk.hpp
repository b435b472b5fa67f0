#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

namespace oxherd::drill {

/// A folder of its own whose disk can fail, for all of SQLite in this program as long as it lives. Files are the
/// machine's; what is not synchronised is kept beside them, so that a power loss can take it back. One at a time.
class SimulatedDisk {
public:
  SimulatedDisk();
  ~SimulatedDisk();
  SimulatedDisk(const SimulatedDisk&) = delete;
  SimulatedDisk& operator=(const SimulatedDisk&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

  /// What a write or a synchronisation meets.
  enum class State {
    well,
    full, ///< nothing more fits but what the daemon's reserve gives back
    read_only,
    failing,
    left ///< the program that wrote is gone: its connections close and change nothing any more
  };
  State state = State::well;

  /// Takes back what was written since the last synchronisation of each file, but for a part that had come through.
  /// Every connection is closed by then.
  void lose_power(std::uint64_t salt);
  /// Overwrites some bytes of a file, as a bad sector would.
  void damage(const std::string& file, std::uint64_t salt);

  // For the file functions beneath.
  struct Before {
    std::int64_t offset = 0, size = 0; ///< of the file before
    std::string bytes;
  };
  /// Zero: go on. Else SQLite's code for what is wrong.
  [[nodiscard]] int met_by_write();
  std::map<std::string, std::vector<Before>> unsynchronised;
  int system_error = 0; ///< of the last failure

private:
  std::filesystem::path path_;
};

} // namespace oxherd::drill
