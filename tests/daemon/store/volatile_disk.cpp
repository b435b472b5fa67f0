#include "tests/daemon/store/volatile_disk.hpp"

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <string_view>

#include <sqlite3.h>

namespace oxherd::daemon::store_test {
namespace {

using Change = VolatileDisk::Change;
constexpr std::int64_t sector = 512;

VolatileDisk* the_disk = nullptr; // SQLite has one default file system at a time
sqlite3_vfs* real_vfs = nullptr;
sqlite3_vfs volatile_vfs{};

/// What SQLite holds of an open file; the real one lies behind it in the same block.
struct OpenFile {
  sqlite3_file base;
  std::shared_ptr<VolatileDisk::File>* file; ///< null: a temporary file, which no power loss has to leave
  sqlite3_file* real;
};
OpenFile& of(sqlite3_file* file) { return *reinterpret_cast<OpenFile*>(file); }
const sqlite3_io_methods& real_of(sqlite3_file* file) { return *of(file).real->pMethods; }

int close_file(sqlite3_file* file) {
  delete of(file).file; // NOLINT(cppcoreguidelines-owning-memory): SQLite owns the block it lies in
  return real_of(file).xClose(of(file).real);
}
int read_file(sqlite3_file* file, void* data, int size, sqlite3_int64 at) {
  return real_of(file).xRead(of(file).real, data, size, at);
}
int write_file(sqlite3_file* file, const void* data, int size, sqlite3_int64 at) {
  if (of(file).file != nullptr) {
    const std::string bytes{static_cast<const char*>(data), static_cast<std::size_t>(size)};
    if (!the_disk->add(**of(file).file, VolatileDisk::Write{at, bytes})) return SQLITE_IOERR_WRITE;
  }
  return real_of(file).xWrite(of(file).real, data, size, at);
}
int truncate_file(sqlite3_file* file, sqlite3_int64 size) {
  if (of(file).file != nullptr && !the_disk->add(**of(file).file, VolatileDisk::Truncate{size}))
    return SQLITE_IOERR_TRUNCATE;
  return real_of(file).xTruncate(of(file).real, size);
}
int sync_file(sqlite3_file* file, int /*flags*/) {
  return of(file).file == nullptr || the_disk->synchronise(**of(file).file) ? SQLITE_OK : SQLITE_IOERR_FSYNC;
}
int size_of(sqlite3_file* file, sqlite3_int64* size) { return real_of(file).xFileSize(of(file).real, size); }
int lock_file(sqlite3_file* file, int level) { return real_of(file).xLock(of(file).real, level); }
int unlock_file(sqlite3_file* file, int level) { return real_of(file).xUnlock(of(file).real, level); }
int is_reserved(sqlite3_file* file, int* out) { return real_of(file).xCheckReservedLock(of(file).real, out); }
int control_file(sqlite3_file* file, int what, void* out) {
  return real_of(file).xFileControl(of(file).real, what, out);
}
int sector_size(sqlite3_file* file) { return real_of(file).xSectorSize(of(file).real); }
int characteristics(sqlite3_file* file) { return real_of(file).xDeviceCharacteristics(of(file).real); }
int shm_map(sqlite3_file* file, int page, int size, int extend, void volatile** out) {
  return real_of(file).xShmMap(of(file).real, page, size, extend, out);
}
int shm_lock(sqlite3_file* file, int at, int n, int flags) {
  return real_of(file).xShmLock(of(file).real, at, n, flags);
}
void shm_barrier(sqlite3_file* file) { real_of(file).xShmBarrier(of(file).real); }
int shm_unmap(sqlite3_file* file, int remove) { return real_of(file).xShmUnmap(of(file).real, remove); }

constexpr sqlite3_io_methods methods{
    2,         close_file,  read_file,   write_file,   truncate_file, sync_file,       size_of,
    lock_file, unlock_file, is_reserved, control_file, sector_size,   characteristics, shm_map,
    shm_lock,  shm_barrier, shm_unmap,   nullptr,      nullptr};

int open_file(sqlite3_vfs*, const char* name, sqlite3_file* file, int flags, int* out_flags) {
  OpenFile& opened = of(file);
  opened.base.pMethods = nullptr; // nothing to close when it cannot be opened
  opened.file = nullptr;
  opened.real = reinterpret_cast<sqlite3_file*>(&opened + 1);
  constexpr int kept = SQLITE_OPEN_MAIN_DB | SQLITE_OPEN_MAIN_JOURNAL | SQLITE_OPEN_WAL;
  std::shared_ptr<VolatileDisk::File> found;
  if (name != nullptr && (flags & kept) != 0) found = the_disk->find(name); // before the real one makes it
  const int code = real_vfs->xOpen(real_vfs, name, opened.real, flags, out_flags);
  if (code != SQLITE_OK) return code;
  if (found) opened.file = new std::shared_ptr<VolatileDisk::File>{std::move(found)}; // NOLINT: see close_file
  opened.base.pMethods = &methods;
  return SQLITE_OK;
}

int delete_file(sqlite3_vfs*, const char* name, int sync_dir) {
  if (std::filesystem::exists(name)) {
    const auto file = the_disk->find(name);
    if (!the_disk->add(*file, VolatileDisk::Delete{})) return SQLITE_IOERR_DELETE;
    if (sync_dir != 0 && !the_disk->synchronise(*file)) return SQLITE_IOERR_DELETE;
  }
  return real_vfs->xDelete(real_vfs, name, sync_dir);
}

void write_at(std::string& content, std::int64_t offset, std::string_view bytes) {
  const auto end = static_cast<std::size_t>(offset) + bytes.size();
  if (content.size() < end) content.resize(end, '\0');
  content.replace(static_cast<std::size_t>(offset), bytes.size(), bytes);
}

/// Puts a change on the disk: all of it, or of a write each sector by itself that `survives`.
template <class Survives> void apply(VolatileDisk::File& file, const Change& change, Survives survives) {
  if (const auto* write = std::get_if<VolatileDisk::Write>(&change)) {
    const auto end = write->offset + static_cast<std::int64_t>(write->bytes.size());
    for (auto at = write->offset; at < end;) {
      const auto next = std::min(end, (at / sector + 1) * sector);
      const auto part = std::string_view{write->bytes}.substr(static_cast<std::size_t>(at - write->offset),
                                                              static_cast<std::size_t>(next - at));
      if (survives()) {
        write_at(file.durable, at, part);
        file.exists = true;
      }
      at = next;
    }
    return;
  }
  if (const auto* cut = std::get_if<VolatileDisk::Truncate>(&change); cut != nullptr && survives())
    file.durable.resize(static_cast<std::size_t>(cut->size), '\0');
}

std::vector<Change>::iterator deletion_in(VolatileDisk::File& file) {
  return std::ranges::find_if(
      file.pending, [](const Change& change) { return std::holds_alternative<VolatileDisk::Delete>(change); });
}

/// File systems keep the order of what befalls names: with whatever is synchronised, deletions before it are on the
/// disk.
void delete_for_good(VolatileDisk::File& file) {
  for (auto deletion = deletion_in(file); deletion != file.pending.end(); deletion = deletion_in(file)) {
    file.pending.erase(file.pending.begin(), std::next(deletion));
    file.durable.clear();
    file.exists = false;
  }
}

} // namespace

VolatileDisk::VolatileDisk() {
  if (the_disk != nullptr) std::abort(); // one at a time
  real_vfs = sqlite3_vfs_find(nullptr);
  volatile_vfs = *real_vfs;
  volatile_vfs.zName = "volatile";
  volatile_vfs.szOsFile = static_cast<int>(sizeof(OpenFile)) + real_vfs->szOsFile;
  volatile_vfs.xOpen = open_file;
  volatile_vfs.xDelete = delete_file;
  the_disk = this;
  sqlite3_vfs_register(&volatile_vfs, 1);
}

VolatileDisk::~VolatileDisk() {
  sqlite3_vfs_unregister(&volatile_vfs);
  sqlite3_vfs_register(real_vfs, 1);
  the_disk = nullptr;
}

void VolatileDisk::cut_after(std::uint64_t operations) {
  const std::scoped_lock lock{mutex_};
  cut_at_ = operations_ + operations;
}

bool VolatileDisk::is_cut() const {
  const std::scoped_lock lock{mutex_};
  return operations_ > cut_at_;
}

std::uint64_t VolatileDisk::operations() const {
  const std::scoped_lock lock{mutex_};
  return operations_;
}

bool VolatileDisk::count_one() { return ++operations_ <= cut_at_; }

std::shared_ptr<VolatileDisk::File> VolatileDisk::find(const std::filesystem::path& path) {
  const std::scoped_lock lock{mutex_};
  auto& file = files_[path];
  if (file) return file;
  file = std::make_shared<File>();
  file->exists = std::filesystem::exists(path);
  std::ifstream in{path, std::ios::binary};
  file->durable.assign(std::istreambuf_iterator<char>{in}, {});
  return file;
}

bool VolatileDisk::add(File& file, Change change) {
  const std::scoped_lock lock{mutex_};
  const bool is_done = count_one();
  // The operation in which the power fails may be half done.
  if (operations_ - 1 <= cut_at_) file.pending.push_back(std::move(change));
  return is_done;
}

bool VolatileDisk::synchronise(File& file) {
  const std::scoped_lock lock{mutex_};
  if (!count_one()) return false;
  for (auto& [path, other] : files_) delete_for_good(*other);
  for (const auto& change : file.pending) apply(file, change, [] { return true; });
  file.pending.clear();
  return true;
}

void VolatileDisk::lose_power(std::mt19937_64& random) {
  const std::scoped_lock lock{mutex_};
  for (auto& [path, file] : files_) {
    // All that was not synchronised, none of it, or each sector as it happens.
    constexpr double survival[] = {0.0, 1.0, 0.5, 0.9};
    std::bernoulli_distribution survives{survival[random() % 4]};
    if (const auto deletion = deletion_in(*file); deletion != file->pending.end()) {
      if (random() % 2 == 0)
        delete_for_good(*file);
      else
        file->pending.erase(deletion, file->pending.end()); // what came then is another file of that name
    }
    for (const auto& change : file->pending) apply(*file, change, [&] { return survives(random); });
    std::filesystem::remove(path);
    std::filesystem::remove(path.string() + "-shm"); // memory
    if (file->exists) std::ofstream{path, std::ios::binary} << file->durable;
  }
  files_.clear();
  operations_ = 0;
  cut_at_ = UINT64_MAX;
}

} // namespace oxherd::daemon::store_test
