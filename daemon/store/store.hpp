#pragma once

#include <atomic>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "config/settings.hpp"
#include "daemon/calibration/record.hpp"
#include "daemon/sink.hpp"

namespace oxherd::daemon {

struct StoreError {
  std::string what; ///< what failed, on which file, what to do
};

/// What a start needs to know from the last run.
struct Remembered {
  std::vector<AlarmSnapshot> alarms;
  std::vector<RegimeStatement> regimes; ///< the last of each room that a person made
  std::int64_t last_sequence = 0;       ///< of the alarm journal
};

struct StoreHealth {
  bool writing = true; ///< the last transaction succeeded
  std::string trouble; ///< "disk full: ..." when not
  std::uint64_t dropped_measurements = 0;
  std::uint64_t waiting = 0;            ///< records queued
  std::optional<std::uint64_t> bytes{}; ///< of all databases in the state directory; empty: not known, or not yet
  std::optional<double> free_share{};   ///< of the file system they lie on; likewise
  bool shortened = false;               ///< it is short of room: the oldest measurements go before their time
};

/// SQLite in the state directory: journal.sqlite (alarm journal, alarm states, calibrations; synchronous FULL) and
/// measurements.sqlite (raw samples, readings; synchronous NORMAL), both WAL. One writer thread; queries open their own
/// read connection. Alarm records are kept in memory and retried until written; measurements are dropped oldest first.
/// A full disk: a reserve of 8 MiB, the file `ballast`, is given up for the alarm records; everything is written again
/// by itself once there is room.
class Store : public Sink {
public:
  /// Takes the directory's lock (a second daemon is refused with the first one's process id), opens, checks and
  /// migrates the files. A damaged file is moved aside, named in the log, and a new one started.
  [[nodiscard]] static tl::expected<std::unique_ptr<Store>, StoreError> open(const std::filesystem::path& state_dir,
                                                                             const config::Store& settings);
  ~Store() override; ///< writes what is queued, for at most a few seconds

  [[nodiscard]] virtual const Remembered& remembered() const = 0;
  /// Blocks until it is on the disk; not for the decision thread. `number` of the record is not looked at.
  /// @return the number it was given
  [[nodiscard]] virtual tl::expected<std::int64_t, StoreError> add(const CalibrationRecord& record) = 0;
  /// Every record of every cell, in the order of recording. Blocks.
  [[nodiscard]] virtual tl::expected<std::vector<CalibrationRecord>, StoreError> calibrations() = 0;
  /// Any thread. Calls `done` once, on the writer thread: with true when everything queued before the call is
  /// committed, with false as soon as an attempt to write it failed, some of it was dropped or the store closes. Alarm
  /// records are retried all the same; health() says what the trouble is.
  virtual void when_committed(std::function<void(bool written)> done) = 0;
  [[nodiscard]] virtual StoreHealth health() const = 0; ///< any thread
};

/// Store::calibrations from the files of a state directory, beside a running daemon or without one.
[[nodiscard]] tl::expected<std::vector<CalibrationRecord>, StoreError>
calibration_records(const std::filesystem::path& state_dir);

} // namespace oxherd::daemon
