#pragma once

#include <filesystem>
#include <future>
#include <memory>
#include <mutex>
#include <optional>
#include <string>

#include "daemon/store/ballast.hpp"
#include "daemon/store/clock_trust.hpp"
#include "daemon/store/disk_room.hpp"
#include "daemon/store/journal.hpp"
#include "daemon/store/measurements.hpp"
#include "daemon/store/queue.hpp"
#include "daemon/store/state_dir.hpp"

namespace oxherd::daemon::store {

/// Store::open with a pace of one's own; tests hurry.
[[nodiscard]] tl::expected<std::unique_ptr<Store>, StoreError> open_paced(const std::filesystem::path& state_dir,
                                                                          const config::Store& settings, Pace pace);

/// A time on both clocks.
struct Moment {
  WallTime civil;
  std::chrono::milliseconds steady; ///< on a clock that nobody sets
};

/// Writes what is queued. `run` is the body of the writer thread; queue() and health() are for any thread.
class Writer {
public:
  /// Claims the directory and opens both files. On a full disk the measurements may open later.
  /// @param now  up to when the ages of remembered alarms count
  [[nodiscard]] static tl::expected<std::shared_ptr<Writer>, StoreError>
  open(const std::filesystem::path& state_dir, const config::Store& settings, Pace pace, WallTime now);

  void run(); ///< turn after turn, until closed
  /// Waits for something to do and does it once; false: nothing more will come. For a simulated clock, instead of run.
  [[nodiscard]] bool turn();
  /// Prunes and rolls up if the last turn went well and it is time; after each turn.
  void keep_house_when_due(const Moment& now);
  [[nodiscard]] Queue& queue() { return queue_; }
  [[nodiscard]] StoreHealth health() const;
  [[nodiscard]] const Remembered& remembered() const { return remembered_; } ///< as it was when opened
  [[nodiscard]] std::future<void> finished() { return finished_.get_future(); }

private:
  Writer(StateDir claimed, const std::filesystem::path& state_dir, const config::Store& settings, Pace pace);
  [[nodiscard]] tl::expected<void, DbError> open_files(WallTime now);
  [[nodiscard]] bool write(Batch& batch);
  [[nodiscard]] tl::expected<void, DbError> write_calibrations(std::vector<CalibrationRequest> requests);
  [[nodiscard]] tl::expected<void, DbError> write_measurements(const std::vector<Queued<MeasurementRow>>& rows);
  /// What is too old to keep, or has to go because the disk is short of room.
  [[nodiscard]] tl::expected<Cutoffs, DbError> cutoffs(Measurements& measurements, WallTime today);
  /// Runs `action` on an open file; opens, makes room or replaces a damaged file first where that may help.
  template <class File, class Action>
  [[nodiscard]] tl::expected<void, DbError> attempt(std::optional<File>& file, Action action);
  template <class File> [[nodiscard]] tl::expected<void, DbError> replace(std::optional<File>& file);
  /// Keeps and logs the first of a run of failures, and its end. Returns whether all is well.
  bool note(std::string& trouble, const tl::expected<void, DbError>& result);

  const std::filesystem::path state_dir_;
  const config::Store settings_;
  const Pace pace_;
  StateDir claimed_;
  Ballast ballast_;
  Queue queue_;
  Remembered remembered_;
  std::optional<Journal> journal_;
  std::optional<Measurements> measurements_;
  std::chrono::milliseconds prune_at_ = std::chrono::milliseconds::min();
  bool well_ = true; ///< the last turn
  ClockTrust clock_;
  bool clock_believed_ = true; ///< at the last housekeeping
  int replaced_ = 0;
  std::promise<void> finished_;
  mutable std::mutex mutex_; ///< guards the two texts, which are empty when all is well, and what follows
  std::string journal_trouble_, measurements_trouble_;
  std::optional<DiskRoom> room_; ///< empty: not looked at yet
  bool shortened_ = false;
};

} // namespace oxherd::daemon::store
