#pragma once

#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "daemon/notify/escalation.hpp"

namespace oxherd::daemon::notify {

/// The state as it is kept over a restart. Times of the monotonic clock are written as ages.
[[nodiscard]] std::string to_json(const State& state, Now now);

/// Reads it back. What passed between is found from the civil clock; a step of it backwards counts as no time.
[[nodiscard]] tl::expected<State, std::string> state_from_json(std::string_view text, Now now);

} // namespace oxherd::daemon::notify
