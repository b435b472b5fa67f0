#include "daemon/notify/archive.hpp"

#include <array>

#include "daemon/store/schema.hpp"

namespace oxherd::daemon::notify {
namespace {

using store::DbError;

constexpr std::array<std::string_view, 1> archive_steps{R"sql(
CREATE TABLE escalation(one INTEGER PRIMARY KEY CHECK(one = 1), state TEXT NOT NULL) STRICT;
CREATE TABLE parcel(
  key INTEGER PRIMARY KEY, id TEXT NOT NULL, number INTEGER NOT NULL, kind TEXT NOT NULL, route TEXT NOT NULL,
  contact TEXT NOT NULL, address TEXT NOT NULL, brief TEXT NOT NULL, payload TEXT NOT NULL, urgent INTEGER NOT NULL,
  created INTEGER NOT NULL, tries INTEGER NOT NULL, settled INTEGER, delivered INTEGER, trouble TEXT NOT NULL
) STRICT;
CREATE INDEX parcel_open ON parcel(key) WHERE settled IS NULL;
)sql"};

const store::Schema& archive_schema() {
  static constexpr store::Schema schema{"notify.db", 0x4f78684e, "FULL", archive_steps};
  return schema;
}

/// Delivered messages are kept for the auditor, not for ever (proposal of the project).
constexpr std::chrono::days kept_for{366};

std::int64_t ms_since_epoch(WallTime t) { return t.time_since_epoch().count(); }
WallTime wall_from(std::int64_t ms) { return WallTime{std::chrono::milliseconds{ms}}; }

} // namespace

tl::expected<void, DbError> Archive::connect() {
  if (database_) return {};
  auto opened = store::open_file(dir_, archive_schema());
  if (!opened) return tl::unexpected(opened.error());
  database_.emplace(std::move(opened->database));
  return {};
}

tl::expected<Archive::Kept, DbError> Archive::open(WallTime now) {
  if (auto connected = connect(); !connected) return tl::unexpected(connected.error());
  auto old = database_->prepare("DELETE FROM parcel WHERE settled < ?1");
  if (!old) return tl::unexpected(old.error());
  old->bind(1, ms_since_epoch(now - kept_for));
  static_cast<void>(old->run()); // on a full disk they stay a little longer
  return read();
}

tl::expected<Archive::Kept, DbError> Archive::read() {
  Kept kept;
  auto state = database_->prepare("SELECT state FROM escalation");
  if (!state) return tl::unexpected(state.error());
  const auto found = state->step();
  if (!found) return tl::unexpected(found.error());
  if (*found) kept.state = state->text(0);
  auto rows = database_->prepare("SELECT key, id, number, kind, route, contact, address, brief, payload, urgent, "
                                 "created, tries, trouble FROM parcel WHERE settled IS NULL ORDER BY key");
  if (!rows) return tl::unexpected(rows.error());
  for (;;) {
    const auto row = rows->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) break;
    Parcel p;
    p.key = rows->integer(0);
    p.id = rows->text(1);
    p.number = rows->integer(2);
    p.kind = rows->text(3);
    p.route = rows->text(4);
    p.contact = rows->text(5);
    p.address = rows->text(6);
    p.brief = rows->text(7);
    p.payload = rows->text(8);
    p.urgent = rows->integer(9) != 0;
    p.created = wall_from(rows->integer(10));
    p.tries = static_cast<unsigned>(rows->integer(11));
    p.trouble = rows->text(12);
    kept.parcels.push_back(std::move(p));
  }
  auto last = database_->prepare("SELECT contact, route, max(settled) FROM parcel WHERE delivered = 1 GROUP BY 1, 2");
  if (!last) return tl::unexpected(last.error());
  for (;;) {
    const auto row = last->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) break;
    kept.deliveries.push_back({last->text(0), last->text(1), wall_from(last->integer(2))});
  }
  const auto key = database_->integer("SELECT coalesce(max(key), 0) FROM parcel");
  if (!key) return tl::unexpected(key.error());
  kept.last_key = *key;
  return kept;
}

tl::expected<void, DbError> Archive::write(const std::vector<Parcel>& added, const std::vector<Settled>& settled,
                                           const std::string& state) {
  if (auto connected = connect(); !connected) return connected;
  auto transaction = store::Transaction::begin(*database_);
  if (!transaction) return tl::unexpected(transaction.error());
  auto insert = database_->prepare("INSERT OR REPLACE INTO parcel(key, id, number, kind, route, contact, address, "
                                   "brief, payload, urgent, created, tries, trouble) "
                                   "VALUES(?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13)");
  if (!insert) return tl::unexpected(insert.error());
  for (const auto& p : added) {
    insert->bind(1, p.key)
        .bind(2, std::string_view{p.id})
        .bind(3, p.number)
        .bind(4, std::string_view{p.kind})
        .bind(5, std::string_view{p.route})
        .bind(6, std::string_view{p.contact});
    insert->bind(7, std::string_view{p.address})
        .bind(8, std::string_view{p.brief})
        .bind(9, std::string_view{p.payload})
        .bind(10, std::int64_t{p.urgent ? 1 : 0});
    insert->bind(11, ms_since_epoch(p.created)).bind(12, std::int64_t{p.tries}).bind(13, std::string_view{p.trouble});
    if (auto done = insert->run(); !done) return done;
  }
  auto update = database_->prepare("UPDATE parcel SET settled=?2, delivered=?3, tries=?4, trouble=?5 WHERE key=?1");
  if (!update) return tl::unexpected(update.error());
  for (const auto& s : settled) {
    update->bind(1, s.key).bind(2, ms_since_epoch(s.at)).bind(3, std::int64_t{s.delivered ? 1 : 0});
    update->bind(4, std::int64_t{s.tries}).bind(5, std::string_view{s.trouble});
    if (auto done = update->run(); !done) return done;
  }
  auto keep = database_->prepare("INSERT OR REPLACE INTO escalation(one, state) VALUES(1, ?1)");
  if (!keep) return tl::unexpected(keep.error());
  keep->bind(1, std::string_view{state});
  if (auto done = keep->run(); !done) return done;
  return transaction->commit();
}

} // namespace oxherd::daemon::notify
