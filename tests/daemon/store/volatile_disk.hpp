#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <mutex>
#include <random>
#include <string>
#include <variant>
#include <vector>

/// A disk whose power can be cut, for the tests of whatever keeps records with SQLite.
namespace oxherd::daemon::store_test {

/// SQLite's default file system while this lives. What a program writes is seen by every reader at once, as by the
/// system's cache, but is on the disk only once it was synchronised. Any thread.
class VolatileDisk {
public:
  VolatileDisk();
  ~VolatileDisk();
  VolatileDisk(const VolatileDisk&) = delete;
  VolatileDisk& operator=(const VolatileDisk&) = delete;

  /// After so many more writes, flushes, truncations and deletions the power fails: each of them is refused from then
  /// on.
  void cut_after(std::uint64_t operations);
  [[nodiscard]] bool is_cut() const;
  [[nodiscard]] std::uint64_t operations() const; ///< counted since the last start
  /// Leaves in the files what is on the disk, and of what was not synchronised all, nothing, or some of its sectors in
  /// any order. Only deletions are in order: they are on the disk with whatever was synchronised after them. Then the
  /// power is back. No file may be open.
  void lose_power(std::mt19937_64& random);

  struct Write {
    std::int64_t offset;
    std::string bytes;
  };
  struct Truncate {
    std::int64_t size;
  };
  struct Delete {};
  using Change = std::variant<Write, Truncate, Delete>;
  /// One file: what is on the disk, and what came since, in order.
  struct File {
    std::string durable;
    bool exists = true; ///< on the disk
    std::vector<Change> pending;
  };

  // For the file system's functions.
  [[nodiscard]] std::shared_ptr<File> find(const std::filesystem::path& path);
  [[nodiscard]] bool add(File& file, Change change); ///< false: there is no power
  [[nodiscard]] bool synchronise(File& file);

private:
  [[nodiscard]] bool count_one();
  mutable std::mutex mutex_; ///< guards all below
  std::map<std::filesystem::path, std::shared_ptr<File>> files_;
  std::uint64_t operations_ = 0, cut_at_ = UINT64_MAX;
};

} // namespace oxherd::daemon::store_test
