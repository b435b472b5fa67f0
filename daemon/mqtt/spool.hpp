#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <span>
#include <string>

#include <tl/expected.hpp>

#include "daemon/mqtt/disk_order.hpp"
#include "daemon/store/sqlite.hpp"

namespace oxherd::daemon {

/// mqtt.sqlite in the state directory: the measurements that wait for the broker, and how far the broker has the alarm
/// journal. Bounded: the oldest measurements give way. Each call is one transaction and opens the file where it is not
/// open yet. A damaged file is moved aside and a new one begun; what it held counts as dropped. Leaves the last 16 MiB
/// of the disk to the alarm journal. The file belongs to one Spool at a time. Used from one thread.
class Spool {
public:
  /// @param rows_max  measurements on disk, 1 or more
  Spool(std::filesystem::path state_dir, std::size_t rows_max)
      : dir_{std::move(state_dir)}, rows_max_{static_cast<std::int64_t>(rows_max)} {}

  [[nodiscard]] tl::expected<void, store::DbError> open();
  [[nodiscard]] tl::expected<void, store::DbError> put(std::span<const QueuedMessage> messages);
  /// Removes everything up to this sequence number.
  [[nodiscard]] tl::expected<void, store::DbError> settle(std::int64_t up_to);
  /// The oldest ones behind a sequence number, `most` of them.
  [[nodiscard]] tl::expected<DiskOutcome::Rows, store::DbError> read(std::int64_t after, std::size_t most);
  /// Notes how far the broker has the journal.
  [[nodiscard]] tl::expected<void, store::DbError> keep_cursor(std::int64_t sequence);

  [[nodiscard]] bool is_open() const { return database_.has_value(); }
  [[nodiscard]] std::optional<std::int64_t> cursor() const { return cursor_; } ///< as kept; empty: never noted
  [[nodiscard]] std::uint64_t count() const { return static_cast<std::uint64_t>(count_); }
  [[nodiscard]] std::uint64_t dropped() const { return dropped_; } ///< by this Spool

private:
  [[nodiscard]] tl::expected<void, store::DbError> take_over(store::Database database);
  [[nodiscard]] tl::expected<void, store::DbError> replace();
  template <class Action> [[nodiscard]] auto attempt(Action action) -> decltype(action());
  [[nodiscard]] tl::expected<std::int64_t, store::DbError> drop_oldest(std::int64_t excess);
  [[nodiscard]] tl::expected<void, store::DbError> note_count(std::int64_t count);
  [[nodiscard]] std::int64_t on_disk(std::int64_t sequence) const;

  const std::filesystem::path dir_;
  const std::int64_t rows_max_;
  std::optional<store::Database> database_;
  std::optional<std::int64_t> base_; ///< greatest key when first opened: sequence 1 becomes the next
  std::optional<std::int64_t> cursor_;
  std::int64_t count_ = 0;
  std::uint64_t dropped_ = 0;
  int replaced_ = 0;
};

} // namespace oxherd::daemon
