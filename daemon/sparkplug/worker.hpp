#pragma once

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <filesystem>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/mqtt/connection.hpp"
#include "daemon/sparkplug/birth_number.hpp"
#include "daemon/sparkplug/edge_node.hpp"
#include "daemon/sparkplug/sink.hpp"

namespace oxherd::daemon::sparkplug {

/// What the sink's thread does: connects, subscribes, lets the edge node be born, hands over what it says and hears
/// what it is asked, and begins anew. `run` belongs to that thread, the rest may be called from any. The lock is held
/// for moments only, and never while the library or the disk is at work.
class Worker {
public:
  using Clock = std::chrono::steady_clock;

  Worker(const config::Mqtt& settings, const std::string& site, Plan plan, const std::filesystem::path& state_dir);

  void run(); ///< returns after stop()
  void stop();
  [[nodiscard]] Health health() const;
  /// Tells the edge node something that may wait for `wake`.
  template <class Tell> void tell(Tell tell) {
    const std::lock_guard hold{lock_};
    tell(node_);
  }
  void wake();      ///< looks at what there is to be sent
  void evaluated(); ///< an evaluation was completed; also wakes

private:
  struct Work {
    std::vector<ConnectionEvent> events;
    bool stopping = false, stale = false;
  };
  std::string serve();
  std::optional<std::string> await(ConnectionEvent::Kind wanted, const ConnectionSettings& with,
                                   std::chrono::milliseconds patience);
  struct Ended {
    bool lost = false; ///< else the connection may be there still, and the death is to be published
    std::string why;
  };
  Ended pump(Connection& connection);
  std::optional<Ended> handle(Connection& connection, const ConnectionEvent& event);
  void hear(const std::string& payload);
  void say_goodbye(Connection& connection, std::uint8_t number);
  enum class Waits { for_anything, for_answer, for_goodbye }; ///< the last does not end by stop()
  [[nodiscard]] Work take(Clock::time_point deadline, Waits waits);
  [[nodiscard]] std::optional<Message> next_message();
  void post(ConnectionEvent event);
  [[nodiscard]] bool is_stale() const; ///< under the lock: nothing is evaluated any more
  [[nodiscard]] std::uint8_t next_number();
  void note_connected();
  void note_failure(const std::string& why);
  [[nodiscard]] bool pause(std::chrono::milliseconds duration); ///< false when stop came meanwhile
  [[nodiscard]] bool is_stopping() const;

  const config::Mqtt settings_;
  const std::string site_, client_id_;

  mutable std::mutex lock_; ///< guards from here to `commands_passed_over_`
  std::condition_variable wake_;
  EdgeNode node_;
  std::vector<ConnectionEvent> events_;
  bool poked_ = false, stopping_ = false, connected_ = false;
  std::string trouble_;
  Clock::time_point last_evaluated_ = Clock::now();
  std::size_t on_their_way_ = 0;           ///< handed over and not yet written to the network
  std::uint64_t commands_passed_over_ = 0; ///< unread, because too many came

  BirthNumber number_; ///< this and below: the own of the thread that connects
  bool told_of_disk_ = false, told_of_command_ = false;
  std::uint64_t failures_ = 0; ///< since the last connection
  std::optional<Clock::time_point> connected_at_;
};

} // namespace oxherd::daemon::sparkplug
