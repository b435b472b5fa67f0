#include "daemon/backup/backup.hpp"

#include <fstream>
#include <sstream>
#include <vector>

#include <fmt/core.h>

#include "daemon/digest.hpp"
#include "daemon/store/sqlite.hpp"
#include "daemon/whole_file.hpp"

namespace oxherd::daemon::backup {
namespace {

namespace fs = std::filesystem;
using store::Database;

tl::expected<void, std::string> copy_database(const fs::path& from, const fs::path& to, const Progress& progress) {
  auto source = Database::open(from, Database::Mode::read);
  if (!source) return tl::unexpected(source.error().what);
  const auto name = from.filename().string();
  const auto copied = source->copy_to(to, [&](double part) { progress("copies " + name, part); });
  if (!copied) return tl::unexpected(copied.error().what);
  return {};
}

/// Reads every page and every index of a database that nobody writes.
tl::expected<void, std::string> check_database(const fs::path& file) {
  auto database = Database::open(file, Database::Mode::read_fixed);
  if (!database) return tl::unexpected(database.error().what);
  const auto verdict = database->text("PRAGMA integrity_check(1)");
  if (!verdict) return tl::unexpected(verdict.error().what);
  if (*verdict != "ok") return tl::unexpected(fmt::format("{} is damaged: {}", file.string(), *verdict));
  return {};
}

tl::expected<std::optional<ChainHead>, std::string>
unbroken_head(const fs::path& folder, const std::optional<ChainHead>& noted, const Progress& progress) {
  const auto found = examine_chain(folder, noted, [&](double part) { progress("follows the audit trail", part); });
  if (!found) return tl::unexpected(found.error().what);
  if (found->break_count > 0)
    return tl::unexpected(fmt::format("the audit trail is not as it was written ({} {} {}): `oxherd audit` tells all",
                                      found->breaks.front().kind, found->breaks.front().number,
                                      found->breaks.front().what));
  return found->head;
}

/// Everything but the last step, in a folder that has not got its name yet.
tl::expected<Manifest, std::string> fill(const fs::path& state_dir, const fs::path& folder, Manifest manifest,
                                         const Progress& progress) {
  for (const auto& part : parts) {
    const auto from = state_dir / part.name, to = folder / part.name;
    std::error_code why;
    if (!fs::exists(from, why)) continue;
    if (part.is_database) {
      if (auto done = copy_database(from, to, progress); !done) return tl::unexpected(done.error());
      progress(fmt::format("reads {} back", part.name), 0.0);
      if (auto sound = check_database(to); !sound) return tl::unexpected(sound.error());
    } else if (!fs::copy_file(from, to, why))
      return failed(from, why);
    auto kept = kept_file(to);
    if (!kept) return tl::unexpected(kept.error());
    manifest.files.push_back(std::move(*kept));
  }
  auto head = unbroken_head(folder, std::nullopt, progress);
  if (!head) return tl::unexpected(head.error());
  manifest.head = std::move(*head);
  if (auto written = write_whole_file(folder / manifest_name, manifest_text(manifest)); !written)
    return tl::unexpected(written.error());
  return manifest;
}

} // namespace

tl::expected<KeptFile, std::string> kept_file(const fs::path& file) {
  std::ifstream in{file, std::ios::binary};
  if (!in) return tl::unexpected(fmt::format("{} cannot be read", file.string()));
  KeptFile kept{file.filename().string(), 0, {}};
  Digest digest;
  std::vector<char> piece(std::size_t{1} << 20U);
  while (in.read(piece.data(), static_cast<std::streamsize>(piece.size())) || in.gcount() > 0) {
    const auto size = static_cast<std::size_t>(in.gcount());
    digest.add({piece.data(), size});
    kept.bytes += size;
  }
  if (in.bad()) return tl::unexpected(fmt::format("{} cannot be read to its end", file.string()));
  kept.sha256 = digest.hex();
  return kept;
}

tl::expected<Manifest, std::string> make(const fs::path& state_dir, const fs::path& folder, std::string version,
                                         WallTime now, const Progress& progress) {
  std::error_code why;
  if (!fs::exists(state_dir / parts.front().name, why))
    return tl::unexpected(fmt::format("no records in {}: give the daemon's --state-dir", state_dir.string()));
  if (fs::exists(folder, why))
    return tl::unexpected(fmt::format("{} is there already: name a new folder", folder.string()));
  const fs::path fresh = folder.string() + ".part";
  fs::remove_all(fresh, why); // of an attempt that was cut short
  if (!fs::create_directories(fresh, why)) return failed(fresh, why);
  fs::permissions(fresh, fs::perms::owner_all, why); // the hashes of passwords are in it
  auto made = fill(state_dir, fresh, Manifest{now, std::move(version), {}, {}}, progress);
  if (made) {
    fs::rename(fresh, folder, why);
    if (!why) return made;
    made = failed(folder, why);
  }
  fs::remove_all(fresh, why);
  return made;
}

tl::expected<Manifest, std::string> verify(const fs::path& folder, const Progress& progress) {
  std::ifstream in{folder / manifest_name};
  if (!in) return tl::unexpected(fmt::format("{} is no backup: it has no {}", folder.string(), manifest_name));
  std::ostringstream text;
  text << in.rdbuf();
  auto manifest = manifest_from(text.str());
  if (!manifest) return tl::unexpected(fmt::format("{}: {}", (folder / manifest_name).string(), manifest.error()));
  for (const auto& wanted : manifest->files) {
    progress("reads " + wanted.name, 0.0);
    const auto there = kept_file(folder / wanted.name);
    if (!there) return tl::unexpected(there.error());
    if (there->bytes != wanted.bytes || there->sha256 != wanted.sha256)
      return tl::unexpected(
          fmt::format("{} is not the file that was backed up: its digest differs", (folder / wanted.name).string()));
  }
  for (const auto& part : parts)
    if (std::error_code why; part.is_database && fs::exists(folder / part.name, why))
      if (auto sound = check_database(folder / part.name); !sound) return tl::unexpected(sound.error());
  if (auto head = unbroken_head(folder, manifest->head, progress); !head) return tl::unexpected(head.error());
  return manifest;
}

} // namespace oxherd::daemon::backup
