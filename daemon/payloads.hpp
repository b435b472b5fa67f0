#pragma once

#include <string>

#include "daemon/store/history.hpp"
#include "daemon/store/trend.hpp"

namespace oxherd::daemon {

/// Payload of the retained `P/<room>/alarms/<alarm>`; also one element of `alarms` in the room's answer.
[[nodiscard]] std::string alarm_payload(const AlarmStatus& alarm);

/// Payload of the retained `P/<room>/state`: the summary, without sensors, with `monitored` and the caution.
[[nodiscard]] std::string room_payload(const RoomStatus& room);

/// The whole room, sensors and alarms included, as the control socket answers it.
[[nodiscard]] std::string room_answer(const RoomStatus& room);
[[nodiscard]] std::string room_level_payload(const RoomLevel& level);

/// One reading as it comes, for the stream of events.
[[nodiscard]] std::string live_reading_payload(const ReadingRecord& reading);

/// One stored reading and one line of the alarm journal, as `history --json` prints them.
[[nodiscard]] std::string stored_reading_payload(const StoredReading& reading);
[[nodiscard]] std::string alarm_record_payload(const AlarmRecord& record);

/// The result of a history request, from the running daemon or from its files: {"truncated":...,"readings":[...]}, or
/// "alarms" in place of "readings".
[[nodiscard]] std::string history_payload(const ReadingHistory& history);
[[nodiscard]] std::string history_payload(const AlarmHistory& history);
/// Steps as columns, for a plot:
/// {"from_ms":...,"to_ms":...,"step_ms":...,"at_ms":[...],"mean":[...],"min":[...],"max":[...],"bad":[...]}.
[[nodiscard]] std::string trend_payload(const Trend& trend);

} // namespace oxherd::daemon
