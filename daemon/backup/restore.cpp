#include <fmt/core.h>

#include "daemon/backup/backup.hpp"
#include "daemon/store/state_dir.hpp"
#include "daemon/time_text.hpp"
#include "daemon/whole_file.hpp"

namespace oxherd::daemon::backup {
namespace {

namespace fs = std::filesystem;

/// Copied under another name first, so that a state directory never holds half a file; digests as in the manifest.
tl::expected<void, std::string> bring(const fs::path& folder, const KeptFile& file, const fs::path& to) {
  std::error_code why;
  if (!fs::copy_file(folder / file.name, to, fs::copy_options::overwrite_existing, why)) return failed(to, why);
  fs::permissions(to,
                  file.name == "users.json" ? fs::perms::owner_read | fs::perms::owner_write
                                            : fs::perms::owner_read | fs::perms::owner_write | fs::perms::group_read,
                  why);
  if (why) return failed(to, why);
  const auto there = kept_file(to);
  if (!there) return tl::unexpected(there.error());
  if (there->sha256 != file.sha256)
    return tl::unexpected(fmt::format("{} was not written as it was read: is the disk sound?", to.string()));
  why = give_to_owner_of_folder(to);
  if (why) return failed(to, why);
  return {};
}

/// Moves what is there into a folder of its own. @return the folder; empty: there was nothing
tl::expected<fs::path, std::string> set_aside(const fs::path& state_dir, WallTime now) {
  const auto aside = state_dir / ("before-restore-" + rfc3339(now));
  bool any = false;
  for (const auto& part : parts)
    for (const char* suffix : {"", "-wal", "-shm"}) {
      const auto file = state_dir / (std::string{part.name} + suffix);
      std::error_code why;
      if (!fs::exists(file, why)) continue;
      fs::create_directories(aside, why);
      if (!why) fs::rename(file, aside / file.filename(), why);
      if (why) return failed(file, why);
      any = true;
    }
  return any ? aside : fs::path{};
}

} // namespace

tl::expected<Restored, std::string> restore(const fs::path& folder, const fs::path& state_dir, WallTime now,
                                            const Progress& progress) {
  auto manifest = verify(folder, progress);
  if (!manifest) return tl::unexpected(manifest.error());
  const auto claimed = store::StateDir::claim(state_dir);
  if (!claimed) return tl::unexpected(claimed.error());
  const auto fresh_name = [&](const KeptFile& file) { return state_dir / (file.name + ".restored"); };
  for (const auto& file : manifest->files) {
    progress("writes " + file.name, 0.0);
    if (auto done = bring(folder, file, fresh_name(file)); !done) return tl::unexpected(done.error());
  }
  // Everything is on the disk and right: only names change from here on.
  auto aside = set_aside(state_dir, now);
  if (!aside) return tl::unexpected(aside.error());
  for (const auto& file : manifest->files) {
    std::error_code why;
    fs::rename(fresh_name(file), state_dir / file.name, why);
    if (why) return failed(state_dir / file.name, why);
  }
  return Restored{std::move(*manifest), std::move(*aside)};
}

} // namespace oxherd::daemon::backup
