#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>

#include "config/settings.hpp"
#include "daemon/sink.hpp"
#include "daemon/sparkplug/metric.hpp"

namespace oxherd::daemon::sparkplug {

struct Health {
  bool connected = false;
  std::string trouble;                ///< the last failure in words, empty when connected
  std::uint64_t births = 0;           ///< of the edge node, since the start
  std::uint64_t commands_ignored = 0; ///< likewise: what others asked for besides a rebirth
};

/// Publishes rooms as Sparkplug B over a connection of its own, whose will is the death of the edge node, on a thread
/// of its own. Keeps the current values only: while the broker is away nothing waits. Never blocks the caller.
class SparkplugSink : public Sink {
public:
  /// Connects in the background and goes on trying.
  /// @param settings   with `sparkplug`
  /// @param state_dir  where the number of the last birth is kept
  [[nodiscard]] static std::unique_ptr<SparkplugSink> start(const config::Mqtt& settings, const std::string& site,
                                                            Plan plan, const std::filesystem::path& state_dir);
  ~SparkplugSink() override;                       ///< publishes the death; takes 2 s at most
  [[nodiscard]] virtual Health health() const = 0; ///< any thread
};

} // namespace oxherd::daemon::sparkplug
