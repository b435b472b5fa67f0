#include "daemon/store/recorded_oxygen.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "daemon/store/basis_text.hpp"
#include "daemon/store/measurements.hpp"
#include "daemon/store/oxygen_inputs.hpp"
#include "daemon/store/schema.hpp"

namespace oxherd::daemon {
namespace store {
namespace {

/// Marks looked through backwards for the last reading: a day of minutes.
constexpr int minutes_looked_back = 24 * 60;

/// Columns: 0-3 the reading, 4-11 its outputs and basis, then its inputs, then its newest derivation.
std::string recorded_columns() {
  return fmt::format("SELECT r.rowid, r.at, s.room, s.name, r.status, r.oxygen, r.u_oxygen, r.oxygen_wet, "
                     "r.u_oxygen_wet, r.po2_Pa, r.u_po2_Pa, r.reasons, i.basis, {}, d.id, d.at, d.author, d.reason, "
                     "x.status, x.oxygen, x.u_oxygen, x.oxygen_wet, x.u_oxygen_wet, x.po2_Pa, x.u_po2_Pa, x.reasons, "
                     "x.basis FROM reading r CROSS JOIN sensor s ON s.id = r.sensor CROSS JOIN oxygen_input i ON "
                     "i.reading = r.rowid LEFT JOIN rederived x ON x.reading = r.rowid AND x.derivation = (SELECT "
                     "max(derivation) FROM rederived WHERE reading = r.rowid) LEFT JOIN derivation d ON d.id = "
                     "x.derivation ",
                     input_columns);
}

constexpr int column_outputs = 4, column_basis = 12, column_inputs = 13,
              column_derivation = column_inputs + input_column_count, column_later = column_derivation + 4,
              column_later_basis = column_later + 8;

WallTime wall_in(const Statement& row, int column) { return WallTime{std::chrono::milliseconds{row.integer(column)}}; }

OxygenOutputs outputs_in(const Statement& row, int first) {
  return {alarms::status_named(row.text(first)).value_or(alarms::Status::failure),
          row.optional_real(first + 1),
          row.optional_real(first + 2),
          row.optional_real(first + 3),
          row.optional_real(first + 4),
          row.optional_real(first + 5),
          row.optional_real(first + 6),
          row.text(first + 7)};
}

tl::expected<RecordedOxygen, DbError> recorded_in(const Statement& row, Bases& bases) {
  RecordedOxygen recorded;
  recorded.reading = row.integer(0);
  recorded.at = wall_in(row, 1);
  recorded.room = row.text(2);
  recorded.sensor = row.text(3);
  recorded.outputs = outputs_in(row, column_outputs);
  auto basis = bases.at(row.integer(column_basis));
  if (!basis) return tl::unexpected(basis.error());
  recorded.basis = std::move(*basis);
  auto inputs = inputs_in(row, column_inputs);
  if (!inputs) return tl::unexpected(inputs.error());
  recorded.inputs = std::move(*inputs);
  if (row.is_null(column_derivation)) return recorded;
  auto later_basis = bases.at(row.integer(column_later_basis));
  if (!later_basis) return tl::unexpected(later_basis.error());
  recorded.later = {{row.integer(column_derivation), wall_in(row, column_derivation + 1),
                     row.text(column_derivation + 2), row.text(column_derivation + 3)},
                    std::move(*later_basis),
                    outputs_in(row, column_later)};
  return recorded;
}

tl::expected<std::optional<RecordedOxygen>, DbError> last_before(Database& database, const std::string& room,
                                                                 const std::string& sensor, WallTime at) {
  auto marks =
      database.prepare("SELECT first, last FROM reading_mark WHERE minute BETWEEN ? AND ? ORDER BY minute DESC");
  if (!marks) return tl::unexpected(marks.error());
  auto rows = database.prepare(recorded_columns() +
                               "WHERE r.rowid BETWEEN ? AND ? AND r.at <= ? AND s.room = ? AND s.name = ? ORDER BY "
                               "r.at DESC, r.rowid DESC LIMIT 1");
  if (!rows) return tl::unexpected(rows.error());
  auto bases = Bases::prepared(database);
  if (!bases) return tl::unexpected(bases.error());
  marks->bind(1, minute_of(at) - minutes_looked_back).bind(2, minute_of(at));
  for (;;) {
    const auto more = marks->step();
    if (!more) return tl::unexpected(more.error());
    if (!*more) return std::nullopt;
    const auto found = rows->bind(1, marks->integer(0))
                           .bind(2, marks->integer(1))
                           .bind(3, at.time_since_epoch().count())
                           .bind(4, std::string_view{room})
                           .bind(5, std::string_view{sensor})
                           .step();
    if (!found) return tl::unexpected(found.error());
    if (!*found) continue;
    auto recorded = recorded_in(*rows, *bases);
    if (!recorded) return tl::unexpected(recorded.error());
    return std::optional{std::move(*recorded)};
  }
}

} // namespace

tl::expected<Bases, DbError> Bases::prepared(Database& database) {
  auto find = database.prepare("SELECT text FROM basis WHERE id = ?");
  if (!find) return tl::unexpected(find.error());
  return Bases{std::move(*find)};
}

tl::expected<SharedBasis, DbError> Bases::at(std::int64_t id) {
  if (const auto known = known_.find(id); known != known_.end()) return known->second;
  const auto found = find_.bind(1, id).step();
  if (!found) return tl::unexpected(found.error());
  if (!*found) return tl::unexpected(DbError{Trouble::damaged, fmt::format("basis {} is missing", id)});
  auto basis = basis_from(find_.text(0));
  find_.reset();
  if (!basis) return tl::unexpected(DbError{Trouble::other, basis.error()});
  auto shared = std::make_shared<const ReadingBasis>(std::move(*basis));
  known_.emplace(id, shared);
  return shared;
}

tl::expected<OxygenRows, DbError> OxygenRows::prepared(Database& database, const OxygenRange& range) {
  auto marks = database.prepare("SELECT min(first), max(last) FROM reading_mark WHERE minute BETWEEN ? AND ?");
  if (!marks) return tl::unexpected(marks.error());
  const auto found = marks->bind(1, minute_of(range.from)).bind(2, minute_of(range.to)).step();
  if (!found) return tl::unexpected(found.error());
  const bool none = marks->is_null(0);
  auto rows = database.prepare(recorded_columns() +
                               "WHERE r.rowid > ?1 AND r.rowid <= ?2 AND r.at BETWEEN ?3 AND ?4 AND s.room = ?5 AND "
                               "s.name = ?6 ORDER BY r.rowid LIMIT ?7");
  if (!rows) return tl::unexpected(rows.error());
  auto bases = Bases::prepared(database);
  if (!bases) return tl::unexpected(bases.error());
  return OxygenRows{std::move(*rows), std::move(*bases), range, none ? 1 : marks->integer(0),
                    none ? 0 : marks->integer(1)};
}

tl::expected<std::vector<RecordedOxygen>, DbError> OxygenRows::next(int limit) {
  std::vector<RecordedOxygen> piece;
  if (after_ >= last_) return piece;
  rows_.bind(1, after_)
      .bind(2, last_)
      .bind(3, range_.from.time_since_epoch().count())
      .bind(4, range_.to.time_since_epoch().count())
      .bind(5, std::string_view{range_.room})
      .bind(6, std::string_view{range_.sensor})
      .bind(7, std::int64_t{limit});
  for (;;) {
    const auto more = rows_.step();
    if (!more) return tl::unexpected(more.error());
    if (!*more) break;
    auto recorded = recorded_in(rows_, bases_);
    if (!recorded) return tl::unexpected(recorded.error());
    piece.push_back(std::move(*recorded));
  }
  after_ = piece.empty() ? last_ : piece.back().reading;
  return piece;
}

double OxygenRows::progress() const {
  if (last_ < first_) return 1.0;
  return static_cast<double>(after_ - first_ + 1) / static_cast<double>(last_ - first_ + 1);
}

} // namespace store

tl::expected<std::optional<RecordedOxygen>, StoreError>
oxygen_at(const std::filesystem::path& state_dir, const std::string& room, const std::string& sensor, WallTime at) {
  auto database = store::open_for_reading(state_dir, store::measurements_schema());
  if (!database) return tl::unexpected(StoreError{database.error().what});
  auto found = store::last_before(*database, room, sensor, at);
  if (!found) return tl::unexpected(StoreError{found.error().what});
  return std::move(*found);
}

} // namespace oxherd::daemon
