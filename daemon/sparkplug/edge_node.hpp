#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "alarms/time.hpp"
#include "daemon/sparkplug/payload.hpp"
#include "daemon/sparkplug/room_metrics.hpp"

namespace oxherd::daemon::sparkplug {

/// What is to be handed to the broker; never retained.
struct Message {
  std::string topic, payload;
  int qos = 0;
};

/// A site as an edge node of Sparkplug 3.0, each of its rooms a device: what it says in which order, and what it does
/// when it is asked. It keeps the current value of every metric, so that it can be born at any time; a value goes out
/// when it differs from the one before (2.2). Values of a room wait for each other for a time; what is urgent takes
/// along all that waits. Nothing waits that could not go out now: who comes back is told by a birth what is.
/// Holds no lock and no clock.
/// @checked tests/daemon/sparkplug/edge_node_test.cpp
class EdgeNode {
public:
  /// More values than this do not wait: a birth with the current ones takes their place.
  static constexpr std::size_t waiting_max = 20000;
  /// A message is cut here.
  static constexpr std::size_t metrics_per_message = 500;
  /// What is older than what is known by up to this is out of date and says nothing; by more, the clock was set back.
  static constexpr std::chrono::milliseconds late_at_most{1000};
  /// Births that others ask for are at least this far apart. Project's proposal.
  static constexpr std::chrono::milliseconds births_apart{1000};

  /// @param longest  how long a value may wait for others of its room
  EdgeNode(const std::string& group, const std::string& site, Plan plan, std::chrono::milliseconds longest);

  void take(const ReadingRecord& reading, alarms::Monotonic now);
  void take(const RoomStatus& room, alarms::Monotonic now);
  void take(const AlarmStatus& alarm, WallTime at, alarms::Monotonic now);
  /// So many evaluations are completed: a sign of life at most every ten seconds.
  void evaluated(std::uint64_t count, alarms::Monotonic now, WallTime wall);

  [[nodiscard]] const std::string& command_topic() const { return command_topic_; }
  /// The will of a connection, and what is published before it is closed on purpose.
  [[nodiscard]] Message death(std::uint8_t bd_seq, WallTime now) const;
  /// Commands can be heard on a connection whose will has this number: it is time to be born.
  void begin(std::uint8_t bd_seq);
  void end(); ///< the connection is lost or given up

  enum class Heard { rebirth, nothing_to_do, not_understood };
  /// Somebody published to `command_topic`. Only a rebirth is obeyed. `told`: what is to be said of the rest, once.
  Heard hear(std::string_view payload, std::string& told);

  /// The next message, if there is one now.
  [[nodiscard]] std::optional<Message> next(alarms::Monotonic now, WallTime wall);

  [[nodiscard]] std::uint64_t commands_ignored() const { return commands_ignored_; }
  [[nodiscard]] std::uint64_t births() const { return births_; }

private:
  struct Change {
    std::size_t metric = 0;
    Sampled sampled;
  };
  struct Device {
    RoomPlan plan;
    std::string birth_topic, data_topic;
    std::vector<Sampled> current; ///< of each metric; without a time: nothing was ever said of it
    std::deque<Change> waiting;
    std::optional<alarms::Monotonic> due; ///< when what waits goes out
    bool is_born = false;
    std::unordered_map<std::string, std::size_t> metrics;
    /// Of each sensor: which metric is what a reading says at that place, if any.
    std::unordered_map<std::string, std::vector<std::optional<std::size_t>>> sensors;
  };
  Device* device(const std::string& room);
  void say_of_sensor(Device& device, const std::string& sensor, WallTime at, alarms::Monotonic now);
  void say(Device& device, const std::vector<Named>& values, WallTime at, alarms::Monotonic now);
  void say(Device& device, std::size_t metric, const Said& said, WallTime at, alarms::Monotonic now);
  void give_up_what_waits();
  [[nodiscard]] std::uint8_t next_seq();
  [[nodiscard]] Message born(alarms::Monotonic now, WallTime wall);
  [[nodiscard]] Message born(Device& device, WallTime wall);
  [[nodiscard]] std::optional<Message> node_data(WallTime wall);
  [[nodiscard]] std::optional<Message> device_data(alarms::Monotonic now, WallTime wall);

  const std::string birth_topic_, data_topic_, death_topic_, command_topic_;
  const std::chrono::milliseconds longest_;
  std::vector<Definition> node_metrics_; ///< of the node itself
  std::vector<Sampled> node_current_;
  std::vector<Device> devices_;
  std::unordered_map<std::string, std::size_t> device_of_;
  std::vector<Said> said_; ///< kept for its memory

  std::optional<std::uint8_t> bd_seq_; ///< of the connection that there is
  bool wants_birth_ = false;
  std::optional<alarms::Monotonic> last_birth_;
  std::size_t devices_born_ = 0; ///< of the birth that is under way or over
  std::size_t next_device_ = 0;  ///< whose turn it is to give data
  std::uint8_t last_seq_ = 0;
  std::size_t waiting_ = 0; ///< of all devices
  bool sign_of_life_waits_ = false;
  std::optional<alarms::Monotonic> next_sign_of_life_;
  std::uint64_t commands_ignored_ = 0, births_ = 0;
};

} // namespace oxherd::daemon::sparkplug
