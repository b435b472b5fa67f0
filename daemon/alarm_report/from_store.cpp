#include "daemon/alarm_report/from_store.hpp"

#include <fmt/core.h>

#include "daemon/alarm_report/payload.hpp"
#include "daemon/alarm_report/watched.hpp"

namespace oxherd::daemon {

tl::expected<std::string, StoreError> alarm_report_of(const std::filesystem::path& state_dir,
                                                      const AlarmReportQuery& query) {
  HistoryQuery wanted;
  wanted.room = query.room;
  wanted.from = query.from;
  wanted.to = query.to;
  wanted.with_standing = true;
  wanted.limit = query_limit_max;
  const auto journal = alarm_history(state_dir, wanted);
  if (!journal) return tl::unexpected(journal.error());
  if (journal->truncated)
    return tl::unexpected(StoreError{
        fmt::format("the journal holds more than {} records of that time: ask for less of it", wanted.limit)});
  if (query.room && journal->records.empty()) {
    const auto known = knows_room(state_dir, *query.room);
    if (!known) return tl::unexpected(known.error());
    if (!*known)
      return tl::unexpected(StoreError{
          fmt::format("nothing was ever recorded of a room \"{}\": `oxherd status` names the rooms", *query.room)});
  }
  const auto minutes = recorded_minutes(state_dir, query.from, query.to);
  if (!minutes) return tl::unexpected(minutes.error());
  const alarm_report::Stretch period{query.from, query.to};
  const auto watched = alarm_report::watched_stretches(*minutes, journal->records, period);
  return alarm_report::report_payload(alarm_report::performance(journal->records, period, watched));
}

} // namespace oxherd::daemon
