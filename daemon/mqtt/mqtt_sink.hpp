#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <string>

#include "config/settings.hpp"
#include "daemon/sink.hpp"

namespace oxherd::daemon {

struct MqttHealth {
  bool connected = false;
  std::string trouble;         ///< the last failure in words, empty when connected
  std::uint64_t published = 0; ///< acknowledged by the broker
  std::uint64_t dropped_measurements = 0;
  std::uint64_t waiting = 0;         ///< accepted and not yet acknowledged, in memory and on disk
  std::uint64_t on_disk = 0;         ///< of these, measurements on disk
  std::uint64_t journal_waiting = 0; ///< of these, lines of the alarm journal
  std::string disk_trouble;          ///< why what waits is not on disk, in words; empty while all is well
};

/// Publishes one message, not retained, with QoS 1. `done` is called once, on any thread: with nothing when the broker
/// has acknowledged the message, else with why it has not. Where there is no connection that is at once, so that what
/// must not be lost waits with the caller. Neither call blocks, and `done` must not call back. It may be kept when the
/// sink is gone: then there is no connection.
using Publish = std::function<void(std::string topic, std::string payload, std::function<void(std::string)> done)>;

/// Publishes to a broker from a thread of its own. Retained states are kept as "latest per topic" while the broker is
/// away, so nothing of them is ever lost; measurement packs wait in a bounded queue, by another thread on disk; lines
/// of the alarm journal wait there. Never blocks the caller.
class MqttSink : public Sink {
public:
  /// Connects in the background and goes on trying. `changed`, where given, is called on the sink's own thread after
  /// each connection and each failure; it must not block nor call the sink.
  /// @param state_dir  where the alarm journal is, and where what waits is kept
  /// @param told_to    number of the journal's last line before the caller writes any, for a broker that was never told
  ///                   of one: it is told of those behind it. Absent: of those behind the end that is found.
  [[nodiscard]] static std::unique_ptr<MqttSink> start(const config::Mqtt& settings, const std::string& site,
                                                       const std::filesystem::path& state_dir,
                                                       std::function<void(const MqttHealth&)> changed = {},
                                                       std::optional<std::int64_t> told_to = {});
  ~MqttSink() override;                                ///< publishes `offline`, stores what waits; takes 3 s at most
  [[nodiscard]] virtual MqttHealth health() const = 0; ///< any thread
  [[nodiscard]] virtual Publish publisher() const = 0;
};

} // namespace oxherd::daemon
