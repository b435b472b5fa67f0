#include "tests/simulation/drill/measurement_watch.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "daemon/store/rollup.hpp"
#include "daemon/store/sqlite.hpp"

namespace oxherd::drill {
namespace {

using daemon::store::Database;

/// Of each table, looked at at a start; all of them are at the end of a run.
constexpr std::size_t rows_at_the_end = 200;

tl::expected<Database, daemon::store::DbError> opened(const std::filesystem::path& state_dir, Database::Mode mode) {
  return Database::open(state_dir / "measurements.sqlite", mode);
}

/// Every reading is in one step of a minute, and every step of an hour is made of them.
std::string look_at_steps(Database& file) {
  constexpr auto far = daemon::WallTime{std::chrono::hours{24 * 36500}};
  constexpr daemon::store::RollupKeep all{std::chrono::hours{24 * 36500}, std::chrono::hours{24 * 36500}};
  for (;;) {
    const auto more = daemon::store::roll_up_next(file, far, all);
    if (!more) return "the readings cannot be rolled up: " + more.error().what;
    if (!*more) break;
  }
  for (const auto step : {daemon::store::minute_ms, daemon::store::hour_ms}) {
    const auto wrong = file.integer(
        fmt::format("SELECT count(*) FROM (SELECT sensor, at / {0} * {0} AS start, count(*) AS n FROM reading GROUP BY "
                    "sensor, start) r FULL JOIN (SELECT * FROM rollup WHERE step = {0}) m ON m.sensor = r.sensor AND "
                    "m.start = r.start WHERE m.readings IS NOT r.n",
                    step));
    if (!wrong) return "the steps cannot be read: " + wrong.error().what;
    if (*wrong > 0) return fmt::format("{} steps of {} s do not have the readings of their time", *wrong, step / 1000);
  }
  return {};
}

} // namespace

void MeasurementWatch::handed(const daemon::Outcome& outcome) {
  for (const auto& sample : outcome.samples)
    waiting_.push_back({true, sample.at.time_since_epoch().count(), sample.room + "/" + sample.sensor});
  for (const auto& reading : outcome.readings)
    waiting_.push_back({false, reading.at.time_since_epoch().count(), reading.room + "/" + reading.sensor});
}

void MeasurementWatch::gave_way(std::uint64_t in_all) {
  for (; gave_way_ < in_all && !waiting_.empty(); ++gave_way_, ++dropped_) waiting_.pop_front();
}

void MeasurementWatch::waiting(std::uint64_t rows) {
  for (; waiting_.size() > rows; waiting_.pop_front())
    (waiting_.front().is_sample ? samples_ : readings_).push_back(waiting_.front());
}

void MeasurementWatch::left() {
  lost_waiting_ += waiting_.size();
  waiting_.clear();
  gave_way_ = 0;
}

std::string MeasurementWatch::difference(const std::filesystem::path& state_dir, const Rows& rows, std::size_t from,
                                         bool samples) {
  auto file = opened(state_dir, Database::Mode::read);
  if (!file) return "the measurements cannot be read: " + file.error().what;
  constexpr auto of_samples = "SELECT x.at, s.room || '/' || s.name FROM sample x JOIN channel c ON c.id = x.channel "
                              "JOIN sensor s ON s.id = c.sensor WHERE x.rowid > ? ORDER BY x.rowid";
  constexpr auto of_readings = "SELECT x.at, s.room || '/' || s.name FROM reading x JOIN sensor s ON s.id = x.sensor "
                               "WHERE x.rowid > ? ORDER BY x.rowid";
  auto found = file->prepare(samples ? of_samples : of_readings);
  if (!found) return "the measurements cannot be read: " + found.error().what;
  found->bind(1, static_cast<std::int64_t>(from)); // none is ever deleted, so that they are numbered from 1
  const auto* what = samples ? "sample" : "reading";
  for (std::size_t i = from;; ++i) {
    const auto row = found->step();
    if (!row) return "the measurements cannot be read: " + row.error().what;
    if (!*row && i == rows.size()) return {};
    if (!*row) return fmt::format("{} {}s were recorded, and {} are read back", rows.size(), what, i);
    if (i == rows.size()) return fmt::format("there is a {} behind the {} that were recorded", what, i);
    if (found->integer(0) != rows[i].at_ms || found->text(1) != rows[i].of)
      return fmt::format("{} {} is of {} at {} ms, and was recorded of {} at {} ms", what, i, found->text(1),
                         found->integer(0), rows[i].of, rows[i].at_ms);
  }
}

std::string MeasurementWatch::look_at_end(const std::filesystem::path& state_dir) {
  if (std::exchange(may_lack_, false)) {
    auto file = opened(state_dir, Database::Mode::read);
    if (!file) return "the measurements cannot be read: " + file.error().what;
    for (auto* rows : {&samples_, &readings_}) {
      const auto count =
          file->integer(rows == &samples_ ? "SELECT count(*) FROM sample" : "SELECT count(*) FROM reading");
      if (!count) return "the measurements cannot be read: " + count.error().what;
      const auto there = std::min(static_cast<std::size_t>(*count), rows->size());
      lost_with_power_ += rows->size() - there;
      rows->resize(there);
    }
  }
  const auto from = [](const Rows& rows) { return rows.size() - std::min(rows.size(), rows_at_the_end); };
  auto why = difference(state_dir, samples_, from(samples_), true);
  return why.empty() ? difference(state_dir, readings_, from(readings_), false) : why;
}

std::string MeasurementWatch::look_at_all(const std::filesystem::path& state_dir) const {
  for (const bool samples : {true, false})
    if (auto why = difference(state_dir, samples ? samples_ : readings_, 0, samples); !why.empty()) return why;
  auto file = opened(state_dir, Database::Mode::create);
  return file ? look_at_steps(*file) : "the measurements cannot be opened: " + file.error().what;
}

} // namespace oxherd::drill
