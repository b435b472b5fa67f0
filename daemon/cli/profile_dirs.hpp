#pragma once

#include <filesystem>
#include <vector>

namespace oxherd::daemon::cli {

/// Where register maps are looked for after the `profiles/` beside the configuration file: the directories of
/// $OXHERD_PROFILES (separated by colons), then share/oxherd/profiles of the installation this program belongs to, then
/// those of the source tree this program was built in. Only directories that exist.
[[nodiscard]] std::vector<std::filesystem::path> profile_dirs();

} // namespace oxherd::daemon::cli
