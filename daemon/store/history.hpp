#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/store/store.hpp"

namespace oxherd::daemon {

/// Nothing bounds the memory of an answer but this.
inline constexpr int query_limit_max = 1'000'000;

struct HistoryQuery {
  std::optional<std::string> room, sensor, alarm;
  std::string alarm_prefix;   ///< alarms: those whose names begin so
  WallTime from, to;          ///< both belong to it
  bool as_recorded = false;   ///< readings: the values recorded first, although a derivation superseded them
  bool with_standing = false; ///< alarms: also what is recorded before `from` of those that were not normal then, from
                              ///< where each was last normal
  std::optional<std::int64_t> before; ///< only records older than the one of this number: `next` of the answer before
  int limit = 1000;                   ///< 1 to query_limit_max; of more the newest are given, and `truncated` tells
};

/// A stored reading, flat, SI.
struct StoredReading {
  WallTime at;
  std::string room, sensor, quality, status, reasons;
  std::optional<double> oxygen{}, u_oxygen{}, oxygen_wet{}, po2_Pa{}, raw_V{}, temperature_K{}, humidity{},
      pressure_Pa{};
  std::optional<double> carbon_dioxide{}, over_pressure_Pa{};
  std::optional<double> u_temperature_K{}, u_pressure_Pa{}, u_carbon_dioxide{}, u_over_pressure_Pa{};
  std::optional<std::int64_t>
      derivation{}; ///< the newest that superseded what was recorded; its values are given, unless `as_recorded`
};

struct ReadingHistory {
  std::vector<StoredReading> readings; ///< oldest first, as recorded: a clock set back does not reorder them
  bool truncated = false;
  std::optional<std::int64_t> next; ///< what to ask for as `before` for those left out; empty: all are given
};
struct AlarmHistory {
  std::vector<AlarmRecord> records; ///< by sequence number
  bool truncated = false;
  std::optional<std::int64_t> next; ///< as above
};

/// Read-only queries on a connection of their own; safe beside a running daemon and without one.
[[nodiscard]] tl::expected<ReadingHistory, StoreError> reading_history(const std::filesystem::path& state_dir,
                                                                       const HistoryQuery& query);
[[nodiscard]] tl::expected<AlarmHistory, StoreError> alarm_history(const std::filesystem::path& state_dir,
                                                                   const HistoryQuery& query);

/// What a reader who has the journal up to a line finds behind it.
struct JournalLines {
  std::vector<AlarmRecord> records; ///< by sequence number
  std::int64_t last = 0;            ///< sequence number of the journal's last line; 0: it has none
};
/// Reads on in the journal again and again, and keeps its connection for that: opening costs more than reading. What
/// was moved away under its name is let go. Used by one thread at a time.
class JournalReader {
public:
  explicit JournalReader(std::filesystem::path state_dir);
  ~JournalReader();
  JournalReader(JournalReader&&) noexcept;
  JournalReader& operator=(JournalReader&&) noexcept;

  /// The first `most` lines behind that of the sequence number `after`.
  [[nodiscard]] tl::expected<JournalLines, StoreError> after(std::int64_t after, int most);

private:
  struct Opened;
  [[nodiscard]] tl::expected<void, StoreError> open();

  std::filesystem::path state_dir_;
  std::unique_ptr<Opened> opened_;
};
/// The same once.
[[nodiscard]] tl::expected<JournalLines, StoreError> journal_after(const std::filesystem::path& state_dir,
                                                                   std::int64_t after, int most);

/// Whether any reading of the room was ever recorded, so that a mistyped name does not pass for a quiet room.
[[nodiscard]] tl::expected<bool, StoreError> knows_room(const std::filesystem::path& state_dir,
                                                        const std::string& room);

/// The minutes since 1970, ascending, in which readings were recorded and are still kept; both ends may lie within one.
[[nodiscard]] tl::expected<std::vector<std::int64_t>, StoreError>
recorded_minutes(const std::filesystem::path& state_dir, WallTime from, WallTime to);

} // namespace oxherd::daemon
