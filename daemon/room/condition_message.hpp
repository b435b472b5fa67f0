#pragma once

#include <optional>
#include <string>

#include "alarms/texts.hpp"
#include "config/settings.hpp"

namespace oxherd::daemon {

/// What an alarm whose condition stands says, by its rule.
/// @param value  the number held against the limit; absent when there is none now
/// @param f      room, since, emergency and reason are filled in; numbers are put in here
[[nodiscard]] std::string condition_message(const config::AlarmSettings& settings,
                                            const std::optional<alarms::Channel>& value, alarms::MessageFields f);

} // namespace oxherd::daemon
