#include "daemon/store/chain.hpp"

#include <fmt/core.h>

#include "daemon/digest.hpp"

namespace oxherd::daemon::store {

std::string_view name_of(LinkKind kind) { return kind == LinkKind::journal ? "journal" : "calibration"; }

std::string_view linked_row_sql(LinkKind kind) {
  if (kind == LinkKind::journal)
    return "SELECT sequence, at, room, alarm, event, from_state, to_state, cause, author, comment, priority, value, "
           "expanded, limit_value, unit, message FROM journal WHERE sequence = ?";
  return "SELECT number, room, sensor, serial, act, performed, recorded, author, record FROM calibration_record WHERE "
         "number = ?";
}

std::string link_hash(std::string_view former, LinkKind kind, std::string_view row) {
  return sha256_of(fmt::format("{}\n{}\n{}", former, name_of(kind), row));
}

tl::expected<Chain, DbError> Chain::prepared(Database& database) {
  auto journal_row = database.prepare(linked_row_sql(LinkKind::journal));
  if (!journal_row) return tl::unexpected(journal_row.error());
  auto calibration_row = database.prepare(linked_row_sql(LinkKind::calibration));
  if (!calibration_row) return tl::unexpected(calibration_row.error());
  auto head = database.prepare("SELECT hash FROM chain ORDER BY position DESC LIMIT 1");
  if (!head) return tl::unexpected(head.error());
  auto link = database.prepare("INSERT INTO chain SELECT coalesce(max(position), 0) + 1, ?1, ?2, ?3 FROM chain");
  if (!link) return tl::unexpected(link.error());
  return Chain{Statements{std::move(*journal_row), std::move(*calibration_row), std::move(*head), std::move(*link)}};
}

tl::expected<void, DbError> Chain::add(LinkKind kind, std::int64_t number) {
  // The head is asked for each time: what was linked in a transaction that came to nothing is no link.
  const auto found = statements_.head.step();
  if (!found) return tl::unexpected(found.error());
  const auto former = *found ? statements_.head.text(0) : std::string{chain_beginning};
  statements_.head.reset();

  auto& row = kind == LinkKind::journal ? statements_.journal_row : statements_.calibration_row;
  const auto written = row.bind(1, number).step();
  if (!written) return tl::unexpected(written.error());
  if (!*written)
    return tl::unexpected(
        DbError{Trouble::other, fmt::format("{} record {} is not there to be linked", name_of(kind), number)});
  const auto hash = link_hash(former, kind, row.row_bytes());
  row.reset();
  return statements_.link.bind(1, name_of(kind)).bind(2, number).bind(3, std::string_view{hash}).run();
}

tl::expected<void, DbError> link_what_is_there(Database& database) {
  const auto links = database.integer("SELECT count(*) FROM (SELECT 1 FROM chain LIMIT 1)");
  if (!links) return tl::unexpected(links.error());
  if (*links > 0) return {};
  auto transaction = Transaction::begin(database);
  if (!transaction) return tl::unexpected(transaction.error());
  auto chain = Chain::prepared(database);
  if (!chain) return tl::unexpected(chain.error());
  for (const auto kind : all_link_kinds) {
    auto numbers =
        database.prepare(kind == LinkKind::journal ? "SELECT sequence FROM journal ORDER BY sequence"
                                                   : "SELECT number FROM calibration_record ORDER BY number");
    if (!numbers) return tl::unexpected(numbers.error());
    for (;;) {
      const auto row = numbers->step();
      if (!row) return tl::unexpected(row.error());
      if (!*row) break;
      if (auto done = chain->add(kind, numbers->integer(0)); !done) return done;
    }
  }
  return transaction->commit();
}

} // namespace oxherd::daemon::store
