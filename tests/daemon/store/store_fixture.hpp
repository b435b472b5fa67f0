#pragma once

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <future>
#include <string>

#include <gtest/gtest.h>

#include "daemon/store/history.hpp"
#include "daemon/store/store.hpp"
#include "daemon/store/writer.hpp"

namespace oxherd::daemon::store_test {

using namespace std::chrono_literals;

/// A directory of its own that goes with the test.
class ScratchDir {
public:
  ScratchDir() {
    std::string name = (std::filesystem::temp_directory_path() / "oxherd-store-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) std::abort();
    path_ = name;
  }
  ~ScratchDir() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  ScratchDir(const ScratchDir&) = delete;
  ScratchDir& operator=(const ScratchDir&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

private:
  std::filesystem::path path_;
};

inline WallTime wall(std::int64_t ms) { return WallTime{std::chrono::milliseconds{ms}}; }
inline WallTime wall_now() { return std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now()); }
/// 2026-03-01T08:00:00Z.
inline constexpr WallTime morning{std::chrono::milliseconds{1772352000000}};

/// Keeps everything: the fixed times of these tests grow old.
inline config::Store keep_all() {
  constexpr std::chrono::hours for_ever{24 * 36500};
  return {.keep_raw = for_ever, .keep_readings = for_ever, .keep_minutes = for_ever, .keep_free = 0.0};
}
inline constexpr store::Pace hurried{.gather = 5ms, .retry = 10ms, .prune = 10ms, .close = 5000ms};

inline std::unique_ptr<Store> open_store(const std::filesystem::path& dir, config::Store settings = keep_all()) {
  auto opened = store::open_paced(dir, settings, hurried);
  if (!opened) {
    ADD_FAILURE() << opened.error().what;
    return nullptr;
  }
  return std::move(*opened);
}

/// What when_committed answers; a failure of the test when it does not within half a minute.
inline bool committed(Store& store) {
  auto answer = std::make_shared<std::promise<bool>>();
  auto future = answer->get_future();
  store.when_committed([answer](bool written) { answer->set_value(written); });
  if (future.wait_for(30s) == std::future_status::ready) return future.get();
  ADD_FAILURE() << "when_committed was not called";
  return false;
}

/// Asks again after every failed attempt, until all is written or half a minute is over.
inline bool committed_at_last(Store& store) {
  for (const auto end = std::chrono::steady_clock::now() + 30s; std::chrono::steady_clock::now() < end;)
    if (committed(store)) return true;
  return false;
}

inline AlarmRecord line(std::int64_t sequence, WallTime at = morning) {
  AlarmRecord record;
  record.at = at;
  record.sequence = sequence;
  record.room = "cryo-annexe";
  record.alarm = "low-oxygen";
  record.event = "transition";
  record.to = alarms::State::unacknowledged;
  record.cause = "condition";
  record.priority = alarms::Priority::critical;
  record.value = 0.184;
  record.expanded = 0.003;
  record.limit = 0.195;
  record.unit = "/";
  record.text = "LOW OXYGEN in cryo-annexe";
  return record;
}

inline AlarmSnapshot snapshot(alarms::State beneath, WallTime since = morning) {
  AlarmSnapshot alarm;
  alarm.room = "cryo-annexe";
  alarm.alarm = "low-oxygen";
  alarm.recorded.beneath = beneath;
  alarm.recorded.present = true;
  alarm.since = since;
  return alarm;
}

inline void write_alarm(Store& store, std::int64_t sequence, alarms::State to = alarms::State::unacknowledged) {
  AlarmRecord record = line(sequence);
  record.to = to;
  store.alarm(record, snapshot(to), {});
}

inline ReadingRecord reading_at(WallTime at, double raw_V = 0.0119, const std::string& sensor = "cell-a",
                                const std::string& room = "cryo-annexe") {
  ReadingRecord reading;
  reading.at = at;
  reading.room = room;
  reading.sensor = sensor;
  reading.raw_V = raw_V;
  return reading;
}

inline HistoryQuery everything(int limit = 100000) {
  HistoryQuery query;
  query.from = wall(0);
  query.to = wall(4102444800000); // 2100-01-01
  query.limit = limit;
  return query;
}

inline std::vector<AlarmRecord> journal_in(const std::filesystem::path& dir) {
  const auto history = alarm_history(dir, everything());
  if (!history) ADD_FAILURE() << history.error().what;
  return history ? history->records : std::vector<AlarmRecord>{};
}

inline std::vector<StoredReading> readings_in(const std::filesystem::path& dir) {
  const auto history = reading_history(dir, everything());
  if (!history) ADD_FAILURE() << history.error().what;
  return history ? history->readings : std::vector<StoredReading>{};
}

} // namespace oxherd::daemon::store_test
