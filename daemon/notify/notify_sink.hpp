#pragma once

#include <filesystem>
#include <future>
#include <map>
#include <memory>
#include <thread>

#include "config/settings.hpp"
#include "daemon/notify/worker.hpp"
#include "daemon/sink.hpp"

namespace oxherd::daemon {

/// Tells people of alarms, and somebody outside that the daemon is alive, from a thread of its own. Never blocks the
/// caller.
class NotifySink : public Sink {
public:
  /// Starts the thread; what the last run did not deliver goes on. `publish`: by the broker, empty without one.
  NotifySink(const config::Settings& settings, const std::filesystem::path& state_dir, Publish publish = {});
  ~NotifySink() override; ///< waits 2 s at most; what is not delivered stays on the disk
  NotifySink(const NotifySink&) = delete;
  NotifySink& operator=(const NotifySink&) = delete;

  /// After a reload: the escalations go on.
  void configure(const config::Settings& settings, Publish publish = {});

  void alarm(const AlarmRecord& record, const AlarmSnapshot& snapshot, const AlarmStatus& status) override;
  void standing(const AlarmStatus& status) override;
  void removed(const std::string& room, const std::string& alarm) override;
  void evaluated(std::uint64_t count, alarms::Monotonic now, WallTime wall) override;

  /// What `oxherd notify` asks for; the answers come on the thread of the sink.
  void test(const std::string& contact, notify::Answer answer);
  void answer_test(std::int64_t number, const std::string& by, notify::Answer answer);
  [[nodiscard]] notify::NotifyHealth health() const; ///< any thread

private:
  void index(const config::Settings& settings);
  void tell(const AlarmStatus& status);

  std::map<std::pair<std::string, std::string>, config::AlarmSettings> alarms_; ///< by room and alarm
  std::shared_ptr<notify::Worker> worker_;
  std::future<void> finished_;
  std::thread thread_;
};

/// What people are told of an alarm that has these settings; without them its numbers have no unit.
[[nodiscard]] notify::Facts facts_of(const AlarmStatus& status, const config::AlarmSettings* settings);

} // namespace oxherd::daemon
