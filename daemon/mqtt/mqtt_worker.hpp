#pragma once

#include <chrono>
#include <condition_variable>
#include <filesystem>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/mqtt/connection.hpp"
#include "daemon/mqtt/mqtt_sink.hpp"
#include "daemon/mqtt/outbox.hpp"
#include "daemon/mqtt/spool_keeper.hpp"

namespace oxherd::daemon {

/// What the sink's threads do. `run` connects, hands over, settles, waits and connects again; `run_disk` keeps on disk
/// what waits. Each belongs to a thread of its own, the rest may be called from any. The lock is held for moments only,
/// and never while the library or the disk is at work.
class MqttWorker {
public:
  using Clock = std::chrono::steady_clock;

  MqttWorker(const config::Mqtt& settings, const std::string& site, const std::filesystem::path& state_dir,
             std::function<void(const MqttHealth&)> changed, std::optional<std::int64_t> told_to);

  void run(); ///< returns after stop()
  void stop();
  void run_disk() { keeper_.run(); } ///< returns after stop_disk(), when what waits is stored
  void stop_disk() { keeper_.stop(); }
  [[nodiscard]] MqttHealth health() const;
  void publish(std::string topic, std::string payload, std::function<void(std::string)> done); ///< see Publish
  /// Puts something into the outbox and wakes the thread.
  template <class Fill> void add(Fill fill) {
    const std::lock_guard hold{lock_};
    fill(outbox_);
    poke();
  }
  /// The same of what may wait for flush(): to wake the thread costs more than a message.
  template <class Fill> void add_for_later(Fill fill) {
    const std::lock_guard hold{lock_};
    fill(outbox_);
    has_later_ = true;
  }
  void flush(); ///< wakes the thread if something has waited for that

private:
  /// What there is to do: taken under the lock, done without it.
  struct Work {
    std::vector<ConnectionEvent> events;
    std::vector<Outgoing> messages;
    bool stopping = false;
  };
  void poke() { ///< under the lock
    poked_ = true;
    wake_.notify_one();
  }
  std::string serve();
  std::optional<std::string> await_answer(const ConnectionSettings& with);
  std::optional<std::string> pump(Connection& connection);
  void say_goodbye(Connection& connection);
  Work take(Clock::time_point deadline);
  std::optional<std::string> handle(Connection& connection, const Work& work);
  void post(ConnectionEvent event);
  [[nodiscard]] DiskOrder disk_order();
  bool disk_done(DiskOutcome outcome);
  void note_connected();
  void note_failure(const std::string& why);
  [[nodiscard]] bool pause(std::chrono::milliseconds duration); ///< false when stop came meanwhile
  [[nodiscard]] bool all_sent() const;
  [[nodiscard]] bool is_stopping() const;

  const config::Mqtt settings_;
  const std::string client_id_, status_topic_;
  const std::function<void(const MqttHealth&)> changed_;

  mutable std::mutex lock_; ///< guards from here to `disk_trouble_`
  std::condition_variable wake_;
  Outbox outbox_;
  std::vector<ConnectionEvent> events_;
  bool poked_ = false, has_later_ = false, stopping_ = false, connected_ = false;
  std::string trouble_, disk_trouble_;

  SpoolKeeper keeper_;
  bool leaving_ = false, goodbye_acknowledged_ = false; ///< these and below: the own of the thread that connects
  std::uint64_t failures_ = 0;                          ///< since the last connection
  std::uint64_t dropped_before_ = 0;                    ///< when it was lost
  std::optional<Clock::time_point> connected_at_;
};

} // namespace oxherd::daemon
