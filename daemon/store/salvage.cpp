#include "daemon/store/salvage.hpp"

#include <chrono>

#include <fmt/core.h>

#include "daemon/log.hpp"

namespace oxherd::daemon::store {
namespace {

/// The columns that the damaged file has of a table: it may be older than the fresh one.
std::string columns_of(Database& fresh, std::string_view table) {
  auto rows = fresh.prepare("SELECT group_concat(name) FROM pragma_table_info(?, 'damaged')");
  if (!rows) return {};
  const auto row = rows->bind(1, table).step();
  return row && *row ? rows->text(0) : std::string{};
}

/// One statement either takes a whole table or, at a damaged page, nothing.
bool take_over(Database& fresh, std::string_view table) {
  const auto columns = columns_of(fresh, table);
  if (columns.empty()) {
    log::error("table {} cannot be recovered: the damaged file has none", table);
    return false;
  }
  const auto done =
      fresh.run(fmt::format("INSERT OR IGNORE INTO main.{0}({1}) SELECT {1} FROM damaged.{0}", table, columns));
  if (done)
    log::warning("table {} recovered: {} rows", table, fresh.changes());
  else
    log::error("table {} cannot be recovered: {}", table, done.error().what);
  return done.has_value();
}

std::int64_t now_ms() {
  return std::chrono::duration_cast<std::chrono::milliseconds>(std::chrono::system_clock::now().time_since_epoch())
      .count();
}

/// The journal in pieces of a hundred lines, so that a damaged page costs its neighbourhood only.
void take_over_journal(Database& fresh) {
  constexpr std::int64_t piece = 100;
  constexpr std::int64_t lines_max = 100'000'000; // a larger number is damage
  const auto last =
      fresh.integer("SELECT coalesce((SELECT sequence FROM damaged.journal ORDER BY sequence DESC LIMIT 1), 0)");
  if (!last || *last > lines_max)
    return log::error("the alarm journal cannot be recovered: {}", last ? "impossible numbers" : last.error().what);
  std::int64_t taken = 0;
  bool whole = true;
  for (std::int64_t first = 0; first <= *last; first += piece) {
    const auto done = fresh.run(fmt::format("INSERT INTO main.journal SELECT * FROM damaged.journal WHERE sequence "
                                            "BETWEEN {} AND {}",
                                            first, first + piece - 1));
    taken += done ? fresh.changes() : 0;
    whole = whole && done.has_value();
  }
  log::warning("alarm journal: {} lines recovered, the last number was {}", taken, *last);
  if (whole) return;
  // Says in the journal itself that lines are missing, and keeps the numbers going on from the old ones.
  const auto said = fresh.run(
      fmt::format("INSERT INTO main.journal VALUES({}, {}, '', '', 'journal-damaged', 'normal', 'normal', '', '', '', "
                  "'high', NULL, NULL, NULL, '', 'lines before this one are missing: see the damaged file')",
                  *last + 1, now_ms()));
  if (!said) log::error("{}", said.error().what);
}

} // namespace

void salvage_journal(Database& fresh, const std::filesystem::path& damaged) {
  auto attach = fresh.prepare("ATTACH ? AS damaged");
  if (!attach) return log::error("nothing can be recovered: {}", attach.error().what);
  const std::string name = damaged.string();
  if (const auto done = attach->bind(1, std::string_view{name}).run(); !done)
    return log::error("nothing can be recovered: {}", done.error().what);
  take_over(fresh, "alarm_state");
  take_over(fresh, "calibration_record");
  take_over_journal(fresh);
  if (const auto done = fresh.run("DETACH damaged"); !done) log::error("{}", done.error().what);
}

} // namespace oxherd::daemon::store
