#pragma once

#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/bus/output_write.hpp"

namespace oxherd::daemon {

/// Whether this is the word of a module that it took what an output is left holding, and not what became of a write
/// before it.
[[nodiscard]] bool took_drop(const WriteResult& result, OutputValue left_holding);

/// A relay, lock or actuator of the settings before that the next ones leave as it is, which may be energised.
struct GivenUp {
  std::string what;               ///< its name, device and coil, for a person
  std::optional<std::string> bus; ///< of the next settings, by which it is still reached; empty: by none
  OutputWrite drop;               ///< its number lies beyond those of the next outputs
};

/// The alarm relays, entry locks and actuators whose coil or register no output of the next settings writes. A bus is
/// the same when it leads to the same place, whatever its name. Pure.
[[nodiscard]] std::vector<GivenUp> given_up(const config::Settings& before, const config::Settings& next);
[[nodiscard]] std::string to_string(const GivenUp& output); ///< as a warning

} // namespace oxherd::daemon
