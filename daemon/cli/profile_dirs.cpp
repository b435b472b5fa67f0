#include "daemon/cli/profile_dirs.hpp"

#include <cstdlib>
#include <string_view>
#include <system_error>

namespace oxherd::daemon::cli {

std::vector<std::filesystem::path> profile_dirs() {
  std::vector<std::filesystem::path> wanted;
  const char* environment = std::getenv("OXHERD_PROFILES");
  std::string_view listed = environment == nullptr ? "" : environment;
  while (!listed.empty()) {
    const auto end = std::min(listed.find(':'), listed.size());
    if (end > 0) wanted.emplace_back(listed.substr(0, end));
    listed.remove_prefix(std::min(end + 1, listed.size()));
  }
  std::error_code ignored;
  const auto program = std::filesystem::read_symlink("/proc/self/exe", ignored);
  const auto folder = program.parent_path();
  wanted.push_back(folder.parent_path() / "share/oxherd/profiles");
  // build/NAME/bin/oxherd of a source tree, or build/bin/oxherd
  wanted.push_back(folder.parent_path().parent_path() / "config/profiles");
  wanted.push_back(folder.parent_path().parent_path().parent_path() / "config/profiles");

  std::vector<std::filesystem::path> out;
  for (const auto& dir : wanted)
    if (std::filesystem::is_directory(dir, ignored)) out.push_back(dir);
  return out;
}

} // namespace oxherd::daemon::cli
