#pragma once

#include <optional>
#include <string>

#include "control/duty.hpp"
#include "daemon/control/facts.hpp"
#include "daemon/room/ambient.hpp"

namespace oxherd::daemon {

/// A process value as a loop may use it.
struct ProcessReading {
  std::optional<double> value; ///< SI; empty: it cannot be used
  bool uncertain = false;      ///< it may be used, and nothing is to be learned from it
  std::string trouble;         ///< why empty or uncertain
};

/// @param settings, states  for probes that stand in other rooms, see AmbientSources
/// @checked tests/daemon/control/process_value_test.cpp
[[nodiscard]] ProcessReading process_value(control::ProcessValue value, const ControlView& view,
                                           const config::Settings& settings, const AmbientSources& sources,
                                           const SensorStates& states, Monotonic now);

/// A person's unit of a process value: what SI numbers are multiplied with after the offset is taken off.
struct ShownUnit {
  double scale = 1.0, offset = 0.0;
  std::string_view symbol;
  int decimals = 1;
};
[[nodiscard]] ShownUnit shown_unit_of(control::ProcessValue value);
/// "19.50 %", "812 ppm", "21.3 °C".
[[nodiscard]] std::string text_of(control::ProcessValue value, double si);

} // namespace oxherd::daemon
