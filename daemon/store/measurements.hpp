#pragma once

#include <filesystem>
#include <map>
#include <span>
#include <unordered_map>

#include "daemon/store/oxygen_inputs.hpp"
#include "daemon/store/queue.hpp"
#include "daemon/store/rollup.hpp"
#include "daemon/store/sqlite.hpp"

namespace oxherd::daemon::store {

/// Rows before these times are too old to keep.
struct Cutoffs {
  WallTime samples, readings;
};

/// measurements.sqlite, open for writing. Belongs to the writer thread once it runs.
class Measurements {
public:
  [[nodiscard]] static tl::expected<Measurements, DbError> open(const std::filesystem::path& state_dir);
  /// After a page turned out damaged at work: moves the file aside and opens a new one.
  [[nodiscard]] static tl::expected<Measurements, DbError> replace(const std::filesystem::path& state_dir);

  /// One transaction.
  [[nodiscard]] tl::expected<void, DbError> write(std::span<const Queued<MeasurementRow>> rows);

  /// Removes the oldest minute of each table if it is older than its cutoff, at most some ten thousand rows; returns
  /// how many. Called once a second this keeps up with any rate of writing, and a clock that is years ahead for a
  /// while costs an hour of the oldest records per minute, not all of them.
  [[nodiscard]] tl::expected<std::int64_t, DbError> prune(const Cutoffs& cutoffs);

  /// Rolls up what is complete, for at most so long; called once a second this keeps up, and what a derivation changed
  /// is made anew within hours.
  [[nodiscard]] tl::expected<void, DbError> roll_up(WallTime now, std::chrono::milliseconds at_most,
                                                    const RollupKeep& keep = {});

  /// Bytes in the file that hold nothing: what is written goes there before the file grows.
  [[nodiscard]] tl::expected<std::int64_t, DbError> free_bytes();

private:
  struct Statements {
    Statement add_sensor, find_sensor, add_channel, find_channel, sample, reading, sample_mark, reading_mark;
  };
  struct Span {
    std::int64_t first, last;
  };
  using Marks = std::map<std::int64_t, Span>; ///< by minute
  Measurements(Database database, Statements statements, OxygenInputWriter oxygen_inputs)
      : database_{std::move(database)}, statements_{std::move(statements)}, oxygen_inputs_{std::move(oxygen_inputs)} {}
  [[nodiscard]] static tl::expected<Measurements, DbError> prepared(Database database);
  [[nodiscard]] tl::expected<void, DbError> write_rows(std::span<const Queued<MeasurementRow>> rows);
  [[nodiscard]] tl::expected<void, DbError> insert(const SampleRecord& sample);
  [[nodiscard]] tl::expected<void, DbError> insert(const ReadingRow& reading);
  [[nodiscard]] tl::expected<std::int64_t, DbError> sensor_id(const std::string& room, const std::string& sensor);
  [[nodiscard]] tl::expected<std::int64_t, DbError> channel_id(const SampleRecord& sample);
  [[nodiscard]] tl::expected<std::int64_t, DbError> prune_table(std::string_view table, WallTime cutoff);

  Database database_;
  Statements statements_;
  OxygenInputWriter oxygen_inputs_;
  std::unordered_map<std::string, std::int64_t> sensors_, channels_; ///< known ids, forgotten after a rollback
  Marks sample_marks_, reading_marks_;                               ///< of the transaction at work
};

/// The minute since 1970 that a time belongs to.
[[nodiscard]] std::int64_t minute_of(WallTime t);

} // namespace oxherd::daemon::store
