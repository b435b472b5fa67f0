#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

namespace oxherd::daemon::cli {

// What a room's answer says of its use, each as a few words for a person.

[[nodiscard]] std::string regime_said_by(const nlohmann::json& room);   ///< "since 08:15 by R. Okafor: unloading"
[[nodiscard]] std::string door_words(const nlohmann::json& room);       ///< "door closed"
[[nodiscard]] std::string entry_lock_words(const nlohmann::json& room); ///< "entry lock withheld: ..."
/// The safety alarms that judge nothing at present; empty: all of them do.
[[nodiscard]] std::string not_in_force_words(const nlohmann::json& room);

} // namespace oxherd::daemon::cli
