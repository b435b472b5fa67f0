#include "daemon/replay/rederive.hpp"

#include <algorithm>
#include <cmath>

#include "daemon/room/gas_reading.hpp"
#include "daemon/store/oxygen_inputs.hpp"
#include "daemon/store/rollup.hpp"
#include "daemon/store/rows.hpp"
#include "daemon/store/schema.hpp"

namespace oxherd::daemon {
namespace {

using store::Database;
using store::DbError;
using store::Statement;
using store::Transaction;

constexpr int readings_a_piece = 2000;

tl::unexpected<StoreError> as_store_error(const DbError& error) { return tl::unexpected(StoreError{error.what}); }

/// Writes superseding readings; the derivation's own row comes with the first of them.
class DerivationWriter {
public:
  static tl::expected<DerivationWriter, DbError> prepared(Database& database, const ReplayTask& task, WallTime now) {
    auto row = database.prepare("INSERT INTO rederived VALUES(?,?,?,?,?,?,?,?,?,?,?)");
    if (!row) return tl::unexpected(row.error());
    auto head = database.prepare("INSERT INTO derivation VALUES(NULL,?,?,?,?,?,?,?)");
    if (!head) return tl::unexpected(head.error());
    auto bases = store::OxygenInputWriter::prepared(database);
    if (!bases) return tl::unexpected(bases.error());
    return DerivationWriter{database, task, now, std::move(*row), std::move(*head), std::move(*bases)};
  }

  struct Row {
    std::int64_t reading;
    SharedBasis basis;
    OxygenOutputs outputs;
  };
  /// @param oldest  not after the first of them: what was rolled up from then on is no longer right
  tl::expected<void, DbError> write(const std::vector<Row>& rows, WallTime oldest) {
    if (rows.empty()) return {};
    auto transaction = Transaction::begin(*database_);
    if (!transaction) return tl::unexpected(transaction.error());
    if (!id_)
      if (auto done = start(); !done) return done;
    for (const auto& row : rows)
      if (auto done = write_row(row); !done) return done;
    if (auto done = store::roll_up_again_from(*database_, oldest); !done) return done;
    return transaction->commit();
  }
  [[nodiscard]] std::optional<std::int64_t> id() const { return id_; }

private:
  DerivationWriter(Database& database, const ReplayTask& task, WallTime now, Statement row, Statement head,
                   store::OxygenInputWriter bases)
      : database_{&database}, task_{&task}, now_{now}, row_{std::move(row)}, head_{std::move(head)},
        bases_{std::move(bases)} {}

  tl::expected<void, DbError> start() {
    const auto& range = task_->range;
    const auto done = head_.bind(1, now_.time_since_epoch().count())
                          .bind(2, std::string_view{task_->author})
                          .bind(3, std::string_view{task_->reason})
                          .bind(4, std::string_view{range.room})
                          .bind(5, std::string_view{range.sensor})
                          .bind(6, range.from.time_since_epoch().count())
                          .bind(7, range.to.time_since_epoch().count())
                          .run();
    if (done) id_ = database_->last_rowid();
    return done;
  }
  tl::expected<void, DbError> write_row(const Row& row) {
    const auto basis = bases_.basis_id(*database_, row.basis);
    if (!basis) return tl::unexpected(basis.error());
    const auto& o = row.outputs;
    row_.bind(1, row.reading).bind(2, *id_).bind(3, *basis).bind(4, alarms::name_of(o.status));
    int position = 5;
    for (const auto& value : {o.oxygen, o.u_oxygen, o.oxygen_wet, o.u_oxygen_wet, o.po2_Pa, o.u_po2_Pa})
      row_.bind(position++, value);
    return (o.reasons.empty() ? row_.bind_null(position) : row_.bind(position, std::string_view{o.reasons})).run();
  }

  Database* database_;
  const ReplayTask* task_;
  WallTime now_;
  Statement row_, head_;
  store::OxygenInputWriter bases_;
  std::optional<std::int64_t> id_;
};

/// A clock that was set back lets rows stand out of order.
WallTime oldest_of(const std::vector<RecordedOxygen>& piece) {
  return std::min_element(piece.begin(), piece.end(),
                          [](const RecordedOxygen& a, const RecordedOxygen& b) { return a.at < b.at; })
      ->at;
}

/// What this piece of readings becomes.
std::vector<DerivationWriter::Row> formed(const std::vector<RecordedOxygen>& piece, const BasisFor& basis_for,
                                          ReplayReport& report) {
  std::vector<DerivationWriter::Row> rows;
  for (const auto& recorded : piece) {
    ++report.examined;
    const auto& before = recorded.outputs_now();
    if (form_anew(recorded.basis_now(), recorded.inputs, recorded.at) != before) ++report.unexplained;
    auto basis = basis_for(recorded);
    auto after = form_anew(*basis, recorded.inputs, recorded.at);
    if (after == before) continue;
    ++report.changed;
    if (after.oxygen && before.oxygen)
      report.largest_change = std::max(report.largest_change, std::abs(*after.oxygen - *before.oxygen));
    rows.push_back({recorded.reading, std::move(basis), std::move(after)});
  }
  return rows;
}

} // namespace

OxygenOutputs form_anew(const ReadingBasis& basis, const OxygenInputs& inputs, WallTime at) {
  const auto reading = oxygen_reading(basis, inputs, at);
  ReadingRecord record;
  record.oxygen = reading.oxygen;
  record.reasons = inputs.other_reasons;
  record.reasons.insert(record.reasons.end(), reading.reasons.begin(), reading.reasons.end());
  record.status = alarms::gravest(record.reasons);
  auto row = store::flattened(record);
  return {row.status,       row.oxygen, row.u_oxygen, row.oxygen_wet,
          row.u_oxygen_wet, row.po2_Pa, row.u_po2_Pa, std::move(row.reasons)};
}

tl::expected<ReplayReport, StoreError> replay(const std::filesystem::path& state_dir, const ReplayTask& task,
                                              const BasisFor& basis_for, WallTime now,
                                              const std::function<bool(const ReplayReport&)>& told) {
  auto reader = store::open_for_reading(state_dir, store::measurements_schema());
  if (!reader) return as_store_error(reader.error());
  auto rows = store::OxygenRows::prepared(*reader, task.range);
  if (!rows) return as_store_error(rows.error());
  std::optional<Database> database;
  std::optional<DerivationWriter> writer;
  if (!task.dry_run) {
    auto opened = store::open_beside(state_dir, store::measurements_schema());
    if (!opened) return as_store_error(opened.error());
    database.emplace(std::move(*opened));
    auto prepared = DerivationWriter::prepared(*database, task, now);
    if (!prepared) return as_store_error(prepared.error());
    writer.emplace(std::move(*prepared));
  }
  ReplayReport report;
  for (;;) {
    const auto piece = rows->next(readings_a_piece);
    if (!piece) return as_store_error(piece.error());
    if (piece->empty()) break;
    const auto superseding = formed(*piece, basis_for, report);
    if (writer)
      if (const auto done = writer->write(superseding, oldest_of(*piece)); !done) return as_store_error(done.error());
    report.progress = rows->progress();
    if (writer) report.derivation = writer->id();
    if (!told(report)) return report;
  }
  report.progress = 1.0;
  return report;
}

} // namespace oxherd::daemon
