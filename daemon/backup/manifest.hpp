#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "daemon/store/chain_findings.hpp"

namespace oxherd::daemon::backup {

/// In the folder of a backup, written last.
inline constexpr const char* manifest_name = "backup.json";

/// What of a state directory is kept: databases are copied as they are at one moment, page by page; other files whole.
struct Part {
  std::string_view name;
  bool is_database;
};
inline constexpr std::array parts{Part{"journal.sqlite", true}, Part{"measurements.sqlite", true},
                                  Part{"notify.db", true}, Part{"users.json", false}, Part{"programs.json", false}};

/// One file of a backup.
struct KeptFile {
  std::string name;
  std::uint64_t bytes = 0;
  std::string sha256;
};

/// Which file, and what the system says of it.
[[nodiscard]] tl::unexpected<std::string> failed(const std::filesystem::path& file, const std::error_code& why);

/// What a backup is made of.
struct Manifest {
  WallTime made;
  std::string version; ///< of oxherd
  std::vector<KeptFile> files;
  std::optional<ChainHead> head; ///< of the audit trail in it
};

[[nodiscard]] std::string manifest_text(const Manifest& manifest);
/// The error says what is wrong with it. Takes only names of `parts`.
[[nodiscard]] tl::expected<Manifest, std::string> manifest_from(std::string_view text);

} // namespace oxherd::daemon::backup
