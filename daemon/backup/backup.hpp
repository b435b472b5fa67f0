#pragma once

#include <filesystem>
#include <functional>
#include <string>

#include "daemon/backup/manifest.hpp"

namespace oxherd::daemon::backup {

/// What is worked on, and how much of it is done, 0 to 1.
using Progress = std::function<void(std::string_view what, double part)>;

/// Copies the records of a state directory into a new folder, beside a running daemon, which goes on writing, or
/// without one. Each database is copied as it was at one moment, then read back whole and checked. The folder gets its
/// name at the end: it is a whole backup or not there.
/// @return why not, in words: no records, no room, a damaged record
[[nodiscard]] tl::expected<Manifest, std::string> make(const std::filesystem::path& state_dir,
                                                       const std::filesystem::path& folder, std::string version,
                                                       WallTime now, const Progress& progress);

/// Reads a backup whole: every file is there with its digest, every database is sound, the audit trail is unbroken and
/// ends with the head of the manifest.
[[nodiscard]] tl::expected<Manifest, std::string> verify(const std::filesystem::path& folder, const Progress& progress);

/// What a restore has done.
struct Restored {
  Manifest manifest;
  std::filesystem::path set_aside; ///< where the files went that were in its place; empty when there were none
};
/// Verifies a backup and puts it into a state directory that no daemon uses. What is there moves into a folder beside
/// it, and is not deleted.
[[nodiscard]] tl::expected<Restored, std::string> restore(const std::filesystem::path& folder,
                                                          const std::filesystem::path& state_dir, WallTime now,
                                                          const Progress& progress);

/// Of a whole file, read in pieces.
[[nodiscard]] tl::expected<KeptFile, std::string> kept_file(const std::filesystem::path& file);

} // namespace oxherd::daemon::backup
