#include "tests/simulation/drill/simulated_disk.hpp"

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <fstream>
#include <new>
#include <stdexcept>

#include <sqlite3.h>
#include <unistd.h>

#include "tests/simulation/drill/chance.hpp"

namespace oxherd::drill {
namespace {

SimulatedDisk* only_disk = nullptr; ///< the one there is
sqlite3_vfs* beneath = nullptr;

/// A file of SQLite with the machine's own behind it, in the memory that follows.
struct File {
  sqlite3_file base;
  const char* name;
};
sqlite3_file* own(sqlite3_file* file) { return reinterpret_cast<sqlite3_file*>(reinterpret_cast<File*>(file) + 1); }

std::vector<SimulatedDisk::Before>* kept_of(sqlite3_file* file) {
  const char* name = reinterpret_cast<File*>(file)->name;
  return name == nullptr ? nullptr : &only_disk->unsynchronised[name];
}

/// Keeps what a change is about to take away.
int keep(sqlite3_file* file, sqlite3_int64 offset, sqlite3_int64 length) {
  auto* kept = kept_of(file);
  if (kept == nullptr) return SQLITE_OK;
  sqlite3_int64 size = 0;
  if (const int code = own(file)->pMethods->xFileSize(own(file), &size); code != SQLITE_OK) return code;
  SimulatedDisk::Before before{offset, size, {}};
  const auto there = std::clamp<sqlite3_int64>(before.size - offset, 0, length);
  before.bytes.resize(static_cast<std::size_t>(there));
  if (there > 0)
    if (const int code =
            own(file)->pMethods->xRead(own(file), before.bytes.data(), static_cast<int>(there), before.offset);
        code != SQLITE_OK)
      return code;
  kept->push_back(std::move(before));
  return SQLITE_OK;
}

int close_file(sqlite3_file* file) {
  return own(file)->pMethods == nullptr ? SQLITE_OK : own(file)->pMethods->xClose(own(file));
}
int read_file(sqlite3_file* file, void* to, int length, sqlite3_int64 offset) {
  return own(file)->pMethods->xRead(own(file), to, length, offset);
}
int write_file(sqlite3_file* file, const void* from, int length, sqlite3_int64 offset) {
  if (const int code = only_disk->met_by_write(); code != SQLITE_OK) return code;
  if (const int code = keep(file, offset, length); code != SQLITE_OK) return code;
  return own(file)->pMethods->xWrite(own(file), from, length, offset);
}
int truncate_file(sqlite3_file* file, sqlite3_int64 size) {
  if (const int code = only_disk->met_by_write(); code != SQLITE_OK) return code;
  sqlite3_int64 now = 0;
  if (const int code = own(file)->pMethods->xFileSize(own(file), &now); code != SQLITE_OK) return code;
  if (now > size)
    if (const int code = keep(file, size, now - size); code != SQLITE_OK) return code;
  return own(file)->pMethods->xTruncate(own(file), size);
}
int synchronise(sqlite3_file* file, int /*flags*/) {
  const bool is_full = only_disk->state == SimulatedDisk::State::full; // what was taken can be synchronised
  if (!is_full && only_disk->met_by_write() != SQLITE_OK) return SQLITE_IOERR_FSYNC;
  if (auto* kept = kept_of(file)) kept->clear();
  return SQLITE_OK; // the machine's own disk need not wait
}
int size_of_file(sqlite3_file* file, sqlite3_int64* size) { return own(file)->pMethods->xFileSize(own(file), size); }
int lock_file(sqlite3_file* file, int level) { return own(file)->pMethods->xLock(own(file), level); }
int unlock_file(sqlite3_file* file, int level) { return own(file)->pMethods->xUnlock(own(file), level); }
int is_reserved(sqlite3_file* file, int* out) { return own(file)->pMethods->xCheckReservedLock(own(file), out); }
int control_file(sqlite3_file* file, int what, void* with) {
  return own(file)->pMethods->xFileControl(own(file), what, with);
}
int sector_size(sqlite3_file* file) { return own(file)->pMethods->xSectorSize(own(file)); }
/// Nothing is promised: a write may be torn, and whatever comes beside it in a sector may be lost.
int characteristics(sqlite3_file* /*file*/) { return 0; }
int map_shared(sqlite3_file* file, int page, int size, int extend, void volatile** out) {
  return own(file)->pMethods->xShmMap(own(file), page, size, extend, out);
}
int lock_shared(sqlite3_file* file, int offset, int n, int flags) {
  return own(file)->pMethods->xShmLock(own(file), offset, n, flags);
}
void barrier(sqlite3_file* file) { own(file)->pMethods->xShmBarrier(own(file)); }
int unmap_shared(sqlite3_file* file, int remove) { return own(file)->pMethods->xShmUnmap(own(file), remove); }

const sqlite3_io_methods methods = [] {
  sqlite3_io_methods m{};
  m.iVersion = 2; // with shared memory, without mapped pages
  m.xClose = close_file;
  m.xRead = read_file;
  m.xWrite = write_file;
  m.xTruncate = truncate_file;
  m.xSync = synchronise;
  m.xFileSize = size_of_file;
  m.xLock = lock_file;
  m.xUnlock = unlock_file;
  m.xCheckReservedLock = is_reserved;
  m.xFileControl = control_file;
  m.xSectorSize = sector_size;
  m.xDeviceCharacteristics = characteristics;
  m.xShmMap = map_shared;
  m.xShmLock = lock_shared;
  m.xShmBarrier = barrier;
  m.xShmUnmap = unmap_shared;
  return m;
}();

int open_file(sqlite3_vfs* /*vfs*/, const char* name, sqlite3_file* file, int flags, int* flags_out) {
  auto* opened = new (file) File{{nullptr}, name};
  own(file)->pMethods = nullptr;
  const int code = beneath->xOpen(beneath, name, own(file), flags, flags_out);
  if (own(file)->pMethods != nullptr) opened->base.pMethods = &methods;
  return code;
}
int remove_file(sqlite3_vfs* /*vfs*/, const char* name, int /*synchronised*/) {
  if (const int code = only_disk->met_by_write(); code != SQLITE_OK) return SQLITE_IOERR_DELETE;
  only_disk->unsynchronised.erase(name);
  return beneath->xDelete(beneath, name, 0);
}
int last_error(sqlite3_vfs* /*vfs*/, int /*size*/, char* /*text*/) { return only_disk->system_error; }

sqlite3_vfs* faulty() {
  static sqlite3_vfs vfs = [] {
    sqlite3_vfs v = *beneath;
    v.pNext = nullptr;
    v.zName = "drill";
    v.szOsFile = static_cast<int>(sizeof(File)) + beneath->szOsFile;
    v.xOpen = open_file;
    v.xDelete = remove_file;
    v.xGetLastError = last_error;
    return v;
  }();
  return &vfs;
}

} // namespace

SimulatedDisk::SimulatedDisk() {
  if (only_disk != nullptr) throw std::logic_error("one simulated disk at a time");
  std::error_code none;
  const std::filesystem::path memory = "/dev/shm"; // quicker where there is one
  const auto place = std::filesystem::is_directory(memory, none) ? memory : std::filesystem::temp_directory_path();
  std::string name = (place / "oxherd-drill-XXXXXX").string();
  if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("cannot make a folder in " + place.string());
  path_ = name;
  if (beneath == nullptr) beneath = sqlite3_vfs_find(nullptr);
  only_disk = this;
  sqlite3_vfs_register(faulty(), 1);
}

SimulatedDisk::~SimulatedDisk() {
  sqlite3_vfs_unregister(faulty());
  sqlite3_vfs_register(beneath, 1);
  only_disk = nullptr;
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}

int SimulatedDisk::met_by_write() {
  switch (state) {
  case State::well: return SQLITE_OK;
  case State::full: system_error = ENOSPC; return std::filesystem::exists(path_ / "ballast") ? SQLITE_FULL : SQLITE_OK;
  case State::read_only: system_error = EROFS; return SQLITE_IOERR_WRITE;
  case State::failing:
  case State::left: system_error = EIO; return SQLITE_IOERR_WRITE;
  }
  return SQLITE_OK;
}

void SimulatedDisk::lose_power(std::uint64_t salt) {
  for (auto& [name, changes] : unsynchronised) {
    const auto through = changes.empty() ? 0 : mixed(salt ^ changes.size()) % (changes.size() + 1);
    std::fstream file{name, std::ios::binary | std::ios::in | std::ios::out};
    std::error_code gone;
    for (; file && changes.size() > through; changes.pop_back()) {
      const auto& before = changes.back();
      file.seekp(before.offset);
      file.write(before.bytes.data(), static_cast<std::streamsize>(before.bytes.size()));
      file.flush();
      std::filesystem::resize_file(name, static_cast<std::uintmax_t>(before.size), gone);
    }
    changes.clear();
    if (name.ends_with("-wal")) std::filesystem::remove(name.substr(0, name.size() - 4) + "-shm", gone); // was memory
  }
}

void SimulatedDisk::damage(const std::string& file, std::uint64_t salt) {
  const auto name = path_ / file;
  std::error_code gone;
  const auto size = std::filesystem::file_size(name, gone);
  if (gone || size < 512) return;
  std::fstream bytes{name, std::ios::binary | std::ios::in | std::ios::out};
  Chance chance{salt};
  for (int i = chance.whole(1, 6); i > 0; --i) {
    bytes.seekp(static_cast<std::streamoff>(chance.bits() % (size - 256)));
    for (int b = 0; b < 256; ++b) bytes.put(static_cast<char>(chance.bits()));
  }
}

} // namespace oxherd::drill
