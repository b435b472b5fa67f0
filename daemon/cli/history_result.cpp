#include "daemon/cli/history_result.hpp"

#include "daemon/json_text.hpp"
#include "daemon/payloads.hpp"
#include "daemon/run/answers.hpp"

namespace oxherd::daemon::cli {

std::string history_result(const ReadingHistory& history) {
  std::vector<std::string> readings;
  for (const auto& reading : history.readings) readings.push_back(stored_reading_answer(reading));
  return JsonObject{}.flag("truncated", history.truncated).json("readings", json_array(readings)).str();
}

std::string history_result(const AlarmHistory& history) {
  std::vector<std::string> records;
  for (const auto& record : history.records) records.push_back(alarm_record_payload(record));
  return JsonObject{}.flag("truncated", history.truncated).json("alarms", json_array(records)).str();
}

} // namespace oxherd::daemon::cli
