#pragma once

#include <optional>
#include <string>

#include "config/control_settings.hpp"
#include "control/aids/pull_down.hpp"
#include "control/conditions.hpp"
#include "daemon/control/facts.hpp"

namespace oxherd::daemon {

/// The dilution of a room by a purge, with what is uncertain in it.
[[nodiscard]] control::UncertainDilution dilution_of(const config::Room& room, const config::GasSupply& supply);

/// Whether oxygen falls while a purge is on, as the dilution equation says. A value type.
class PurgeWatch {
public:
  /// @param on  whether gas flows now
  /// @return the condition "oxygen-falls": fails when nothing is forecast to fall, or significantly less does
  struct Found {
    control::Truth truth = control::Truth::unknown;
    std::string words;
  };
  [[nodiscard]] Found look(const config::Room& room, const config::GasSupply& supply, const WatchedQuantities& watched,
                           bool on, Monotonic now);

private:
  struct Begin {
    control::Estimate oxygen{};
    Monotonic at{0};
  };
  std::optional<Begin> begin_{};
};

} // namespace oxherd::daemon
