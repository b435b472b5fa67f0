#include "daemon/store/writer.hpp"

#include <algorithm>
#include <type_traits>
#include <utility>

#include <fmt/core.h>

#include "daemon/clock.hpp"
#include "daemon/log.hpp"

namespace oxherd::daemon::store {
namespace {

/// A disk that damages every new file must not be filled with files set aside.
constexpr int replacements_max = 3;

/// While the civil clock is doubted, nothing is deleted by it.
constexpr RollupKeep keep_all_steps{std::chrono::hours{24 * 36500}, std::chrono::hours{24 * 36500}};

Moment moment_now() {
  const auto steady = std::chrono::steady_clock::now().time_since_epoch();
  return {wall_now(), std::chrono::duration_cast<std::chrono::milliseconds>(steady)};
}

} // namespace

Writer::Writer(StateDir claimed, const std::filesystem::path& state_dir, const config::Store& settings, Pace pace)
    : state_dir_{state_dir}, settings_{settings}, pace_{pace}, claimed_{std::move(claimed)}, ballast_{state_dir},
      queue_{static_cast<std::size_t>(std::max(1, settings.queue_max)), pace} {}

tl::expected<std::shared_ptr<Writer>, StoreError> Writer::open(const std::filesystem::path& state_dir,
                                                               const config::Store& settings, Pace pace, WallTime now) {
  auto claimed = StateDir::claim(state_dir);
  if (!claimed) return tl::unexpected(StoreError{claimed.error()});
  // NOLINTNEXTLINE(cppcoreguidelines-owning-memory): the constructor is private
  std::shared_ptr<Writer> writer{new Writer{std::move(*claimed), state_dir, settings, pace}};
  if (const auto opened = writer->open_files(now); !opened) return tl::unexpected(StoreError{opened.error().what});
  return writer;
}

tl::expected<void, DbError> Writer::open_files(WallTime now) {
  const auto remember = [this, now](Journal& journal) -> tl::expected<void, DbError> {
    auto remembered = journal.remembered(now);
    if (!remembered) return tl::unexpected(remembered.error());
    remembered_ = std::move(*remembered);
    return {};
  };
  if (auto done = attempt(journal_, remember); !done) return done;
  const auto opened = attempt(measurements_, [](Measurements&) { return tl::expected<void, DbError>{}; });
  // Alarms come first: without room for measurements the daemon starts all the same and says so.
  if (!note(measurements_trouble_, opened) && opened.error().trouble != Trouble::full) return opened;
  if (!ballast_.restore()) log::error("disk full: {} has no room for the reserve of 8 MiB", state_dir_.string());
  return {};
}

template <class File> tl::expected<void, DbError> Writer::replace(std::optional<File>& file) {
  file.reset(); // first: closing removes the -wal file of the old name
  auto fresh = File::replace(state_dir_);
  if (!fresh) return tl::unexpected(fresh.error());
  file.emplace(std::move(*fresh));
  return {};
}

template <class File, class Action>
tl::expected<void, DbError> Writer::attempt(std::optional<File>& file, Action action) {
  const auto once = [&]() -> tl::expected<void, DbError> {
    if (!file) {
      auto opened = File::open(state_dir_);
      if (!opened) return tl::unexpected(opened.error());
      file.emplace(std::move(*opened));
    }
    return action(*file);
  };
  auto done = once();
  if (done) return done;
  if (done.error().trouble == Trouble::damaged && replaced_++ < replacements_max) {
    if (auto replaced = replace(file); !replaced) return replaced;
    return once();
  }
  // The reserve is for the journal, and for opening: a cleanly closed file needs room even to be read.
  const bool may_release = std::is_same_v<File, Journal> || !file;
  if (done.error().trouble == Trouble::full && may_release && ballast_.release()) {
    log::warning("{}: the reserve of 8 MiB is given up for alarm records", done.error().what);
    return once();
  }
  return done;
}

bool Writer::note(std::string& trouble, const tl::expected<void, DbError>& result) {
  std::string before;
  {
    const std::scoped_lock lock{mutex_};
    before = std::exchange(trouble, result ? std::string{} : result.error().what);
  }
  if (!result && before.empty()) log::error("store: {}", result.error().what);
  if (result && !before.empty())
    log::warning("store: writes again after \"{}\"; {} measurements dropped so far", before, queue_.dropped());
  return result.has_value();
}

tl::expected<void, DbError> Writer::write_calibrations(std::vector<CalibrationRequest> requests) {
  tl::expected<void, DbError> result;
  for (auto& request : requests) {
    std::int64_t number = 0;
    auto done = attempt(journal_, [&](Journal& journal) {
      return journal.add(request.record).map([&](std::int64_t given) { number = given; });
    });
    if (!done) result = done;
    if (done)
      request.done.set_value(number);
    else
      request.done.set_value(tl::unexpected(StoreError{done.error().what}));
  }
  return result;
}

tl::expected<void, DbError> Writer::write_measurements(const std::vector<Queued<MeasurementRow>>& rows) {
  if (!ballast_.restore())
    return tl::unexpected(DbError{Trouble::full, fmt::format("disk full: {} has no room for the reserve of 8 MiB; make "
                                                             "room on its file system, measurements wait for it",
                                                             state_dir_.string())});
  return attempt(measurements_, [&](Measurements& measurements) { return measurements.write(rows); });
}

bool Writer::write(Batch& batch) {
  bool well = true;
  if (!batch.alarms.empty()) {
    well = note(journal_trouble_, attempt(journal_, [&](Journal& journal) { return journal.write(batch.alarms); }));
    if (well) batch.alarms.clear();
  }
  // Its callers are told themselves; what alarm records last met stays the journal's state of health.
  if (!batch.calibrations.empty()) static_cast<void>(write_calibrations(std::exchange(batch.calibrations, {})));
  if (!batch.measurements.empty()) {
    const bool written = note(measurements_trouble_, write_measurements(batch.measurements));
    if (written) batch.measurements.clear();
    well = well && written;
  }
  return well;
}

tl::expected<Cutoffs, DbError> Writer::cutoffs(Measurements& measurements, WallTime today) {
  const auto free_bytes = measurements.free_bytes();
  if (!free_bytes) return tl::unexpected(free_bytes.error());
  const auto room = disk_room(state_dir_);
  const bool shortened = room.free_share < settings_.keep_free;
  bool before = false;
  {
    const std::scoped_lock lock{mutex_};
    room_ = room;
    before = std::exchange(shortened_, shortened);
  }
  if (shortened && !before)
    log::warning("store: {:.1f} % of the file system of {} is free, less than store.keep_free: the oldest measurements "
                 "are deleted before their time; make room, or keep them for less long",
                 100.0 * room.free_share, state_dir_.string());
  if (before && !shortened) log::warning("store: there is room again, measurements are kept for their time");
  if (must_shorten(room, settings_.keep_free, *free_bytes)) return Cutoffs{today, today};
  if (!clock_believed_) return Cutoffs{WallTime{}, WallTime{}}; // nothing is that old
  return Cutoffs{today - settings_.keep_raw, today - settings_.keep_readings};
}

void Writer::keep_house_when_due(const Moment& now) {
  if (!well_ || now.steady < prune_at_ || !measurements_) return;
  prune_at_ = now.steady + pace_.prune;
  clock_believed_ = clock_.believes(now.civil, now.steady);
  const RollupKeep keep = clock_believed_ ? RollupKeep{.minutes = settings_.keep_minutes} : keep_all_steps;
  const auto pruned = attempt(measurements_, [&](Measurements& measurements) -> tl::expected<void, DbError> {
    const auto too_old = cutoffs(measurements, now.civil);
    if (!too_old) return tl::unexpected(too_old.error());
    const auto rows = measurements.prune(*too_old);
    if (!rows) return tl::unexpected(rows.error());
    if (*rows > 0) log::debug("store: {} rows older than the time to keep removed", *rows);
    return measurements.roll_up(now.civil, pace_.roll, keep);
  });
  static_cast<void>(note(measurements_trouble_, pruned));
}

bool Writer::turn() {
  Batch batch = queue_.take();
  const bool closing = batch.closing;
  const bool last = batch.last;
  well_ = write(batch);
  queue_.settle(std::move(batch), !well_);
  return !last && (!closing || well_);
}

void Writer::run() {
  while (turn()) keep_house_when_due(moment_now());
  if (const auto lost = queue_.waiting(); lost > 0)
    log::error("store: closing with {} records that could not be written: {}", lost, health().trouble);
  measurements_.reset();
  journal_.reset();
  queue_.abandon();
  finished_.set_value();
}

StoreHealth Writer::health() const {
  StoreHealth health;
  health.dropped_measurements = queue_.dropped();
  health.waiting = queue_.waiting();
  const std::scoped_lock lock{mutex_};
  health.trouble = journal_trouble_.empty() ? measurements_trouble_ : journal_trouble_;
  health.writing = health.trouble.empty();
  if (room_) {
    health.bytes = room_->bytes;
    health.free_share = room_->free_share;
  }
  health.shortened = shortened_;
  return health;
}

} // namespace oxherd::daemon::store
