#pragma once

#include <array>
#include <string>
#include <string_view>

#include "daemon/store/sqlite.hpp"

namespace oxherd::daemon::store {

/// What is linked.
enum class LinkKind { journal, calibration };
inline constexpr std::array all_link_kinds{LinkKind::journal, LinkKind::calibration};
[[nodiscard]] std::string_view name_of(LinkKind kind); ///< as in the table: "journal"

/// Where a chain begins.
inline constexpr std::string_view chain_beginning = "0000000000000000000000000000000000000000000000000000000000000000";

/// A record as it is hashed: every column of its row that there was when the chain was introduced, see
/// Statement::row_bytes. Bind its number and step.
[[nodiscard]] std::string_view linked_row_sql(LinkKind kind);

/// The hash of a link, in hexadecimal: SHA-256 of the former link's hash, "\njournal\n" or "\ncalibration\n", and the
/// row. A record that is changed, taken out, put in or moved afterwards no longer fits.
[[nodiscard]] std::string link_hash(std::string_view former, LinkKind kind, std::string_view row);

/// Writes the chain of the audit trail: one link for every line of the journal and every calibration record.
///
/// Whoever can write the file can make a whole new chain. Only a head that was noted elsewhere shows that, and shows
/// that nothing was cut off at the end.
class Chain {
public:
  [[nodiscard]] static tl::expected<Chain, DbError> prepared(Database& database);

  /// Links a record that has just been written, within the same transaction: both are there or neither.
  [[nodiscard]] tl::expected<void, DbError> add(LinkKind kind, std::int64_t number);

private:
  struct Statements {
    Statement journal_row, calibration_row, head, link;
  };
  explicit Chain(Statements statements) : statements_{std::move(statements)} {}
  Statements statements_;
};

/// Links what a version without a chain, or the salvage of a damaged file, has left, in one transaction. Where there is
/// a link already nothing is done: what is missing then was not written by the program.
[[nodiscard]] tl::expected<void, DbError> link_what_is_there(Database& database);

} // namespace oxherd::daemon::store
