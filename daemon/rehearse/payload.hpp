#pragma once

#include <string>

#include "daemon/rehearse/rehearsal.hpp"

namespace oxherd::daemon::rehearse {

/// What a rehearsal brought, as one JSON object: times RFC 3339 in UTC, durations in seconds (keys end in `_s`), values
/// SI with their unit as in the journal, and the caution.
[[nodiscard]] std::string rehearsal_payload(const Rehearsed& done);

} // namespace oxherd::daemon::rehearse
