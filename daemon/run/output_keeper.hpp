#pragma once

#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/bus/bus_worker.hpp"
#include "daemon/room/site.hpp"

namespace oxherd::daemon {

struct OutputHealth {
  std::string name, bus;
  bool written = false; ///< the last write was confirmed by the device
  std::string trouble;  ///< why not
};

/// Decides what every output should show and when it must be written: at once when its value changes, and again every
/// period, so that the module's own communication time-out can tell a living daemon from a dead one. Pure.
class OutputKeeper {
public:
  explicit OutputKeeper(const config::Settings& settings);

  struct Write {
    std::string bus;
    OutputWrite what;
  };
  [[nodiscard]] std::vector<Write> due(const Site& site, Monotonic now);
  /// Every alarm relay to trip: for an orderly stop, after which nobody monitors.
  [[nodiscard]] std::vector<Write> trip_all() const;
  void written(const WriteResult& result);
  [[nodiscard]] const std::vector<OutputHealth>& health() const { return health_; }

private:
  struct Planned {
    config::Output settings;
    std::optional<std::size_t> room; ///< of an alarm relay
    std::chrono::milliseconds timeout{500};
    std::optional<std::uint16_t> last;
    Monotonic last_at{0};
  };
  [[nodiscard]] static std::uint16_t wanted(const Planned& output, const Site& site);
  [[nodiscard]] Write write_of(std::size_t i, std::uint16_t value) const;

  std::vector<Planned> outputs_;
  std::vector<OutputHealth> health_;
};

} // namespace oxherd::daemon
